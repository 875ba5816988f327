"""Rules about measured holes: how far off their plan they are, which are missing, and how the scan lies."""

import math
from collections.abc import Iterator

import numpy as np

from facegraphic.checks.told import several
from facegraphic.drill.fit import Fit
from facegraphic.drill.measured import best_fit
from facegraphic.errors import Finding
from facegraphic.job.model import Finish
from facegraphic.layout.model import FaceLayout

# ISO 2768-1, lengths over 30 to 120 mm: 0.3 mm in class m (medium), 0.8 mm in class c (coarse).
MEDIUM, COARSE = 0.3, 0.8
WRONG_SIZE = 0.5  # ISO 2768-1 c, lengths over 6 to 30 mm


def holes_off_plan(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """The art follows the hole; whether the circuit behind it does is for a person to say (ISO 2768-1)."""
    fit, side = layout.face.fit, layout.face.side
    common = _shift(fit) if fit else None
    for pair in fit.pairs if fit else ():
        alone = math.dist(pair.off, common or (0.0, 0.0))
        if pair.distance > MEDIUM and alone > MEDIUM:
            x, y = pair.off
            message = f"hole {pair.planned.id} is {pair.distance:.2f} mm off its plan ({x:+.2f}, {y:+.2f})"
            remedy = "the art follows the hole as measured; see that its part still fits, and its neighbours"
            yield Finding(
                "hole-off-plan", "warning" if pair.distance > COARSE else "note", message, remedy, side, pair.back
            )
        if pair.planned.d and pair.measured.d and abs(pair.measured.d - pair.planned.d) > WRONG_SIZE:
            message = f"hole {pair.planned.id} measures {pair.measured.d:.2f} mm across, planned are {pair.planned.d:g}"
            remedy = "drill it up, or correct its d; hole marks are drawn as planned"
            yield Finding("hole-other-size", "warning", message, remedy, side, pair.back)


def holes_missing(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """What is planned but not drilled, and drilled but not planned, is one mistake or another."""
    fit, side = layout.face.fit, layout.face.side
    if fit is None:
        return
    for spot in fit.missing:
        message = f"hole {spot.id} was not found where it was measured, so it stands as planned"
        remedy = "is it drilled yet? If so, look at the picture of facegraphic holes --picture"
        yield Finding("hole-not-found", "warning", message, remedy, side, (spot.x, spot.y))
    back = np.linalg.inv(fit.motion.matrix)
    for spot in fit.extra:
        x, y = (back @ (np.array([spot.x, spot.y]) - np.asarray(fit.motion.shift))).tolist()
        message = f"{spot.id} was measured, {spot.d:.1f} mm across, but no hole is planned there"
        remedy = "add it to the face's holes, so that the art keeps clear of it"
        yield Finding("hole-not-planned", "warning", message, remedy, side, (x, y))


def scan_off(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Holes drilled by hand stray each its own way; all one way, or wider apart, is the measuring (ISO 2768-1)."""
    fit, side = layout.face.fit, layout.face.side
    if fit is None:
        return
    common = _shift(fit)
    if common:
        x, y = common
        message = f"all measured holes lie {math.hypot(x, y):.2f} mm off their plan the same way ({x:+.2f}, {y:+.2f})"
        remedy = 'was the outline in the scan the whole face? If not: measured_from = "holes"; else the drilling is off'
        yield Finding("scan-shifted", "warning", message, remedy, side)
    best = best_fit(fit)
    places = np.array([(pair.planned.x, pair.planned.y) for pair in fit.pairs])
    reach = float(np.linalg.norm(places - places.mean(0), axis=1).max())
    if len(fit.pairs) > 2 and abs(best.scale - 1) * reach > MEDIUM:
        way = "wider apart" if best.scale > 1 else "closer together"
        message = f"the measured holes lie {100 * abs(best.scale - 1):.1f} % {way} than planned"
        yield Finding("scan-scaled", "warning", message, "check the size or dpi that they were measured by", side)


def _shift(fit: Fit) -> tuple[float, float] | None:
    """How far three holes or more are off in common, if that is what they nearly all are."""
    off = np.array([pair.off for pair in fit.pairs])
    if len(off) < 3:
        return None
    x, y = np.median(off, axis=0).tolist()
    alike = np.hypot(off[:, 0] - x, off[:, 1] - y) < MEDIUM
    return (x, y) if math.hypot(x, y) > MEDIUM and alike.mean() >= 0.75 else None


def scan_lies(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A scan that lies turned is set right; one that could lie in several ways is a guess."""
    fit, side = layout.face.fit, layout.face.side
    if fit is None:
        return
    lies = ["mirrored"] if fit.mirrored else []
    lies += [f"turned by {fit.turned}° against the clock"] if fit.turned else []
    if lies:
        message = f"the holes were measured {' and '.join(lies)}; they are set right"
        remedy = "was it scanned from the inside? Else look whether it is this box" if fit.mirrored else "nothing to do"
        yield Finding("scan-turned", "note", message, remedy, side)
    if fit.ambiguous:
        message = f"the measured holes would fit the plan {several(fit.ambiguous)} as well"
        remedy = "see that the scan lies as the face is planned, or give its holes the ids of the plan"
        yield Finding("scan-ambiguous", "note", message, remedy, side)


RULES = (holes_off_plan, holes_missing, scan_off, scan_lies)
