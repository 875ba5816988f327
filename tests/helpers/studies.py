"""Kinds of rendered pictures, drawn at random, and how far off what is measured in them."""

import math
from dataclasses import dataclass, replace

import numpy as np
from helpers.scans import Look, Rendered, TrueHole, random_holes, render

from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import Survey, survey

# Paint, ground and holes in linear light: bare metal and paints on black card, white lid or wood; holes black, or
# showing the white lid behind.
COLOURS = [
    ((0.55, 0.55, 0.57), (0.02, 0.02, 0.02), (0.03, 0.03, 0.03)),
    ((0.45, 0.45, 0.47), (0.90, 0.90, 0.88), (0.04, 0.04, 0.04)),
    ((0.02, 0.06, 0.09), (0.85, 0.85, 0.85), (0.80, 0.80, 0.80)),
    ((0.40, 0.03, 0.02), (0.35, 0.25, 0.15), (0.01, 0.01, 0.01)),
    ((0.80, 0.72, 0.55), (0.05, 0.05, 0.06), (0.02, 0.02, 0.02)),
    ((0.03, 0.20, 0.08), (0.80, 0.80, 0.82), (0.005, 0.005, 0.005)),
]


@dataclass(frozen=True)
class Errors:
    """Of one picture: each hole's distance from the truth, diameter error, both over their stated uncertainties; how
    many holes were missed and how many found that are none."""

    place: tuple[float, ...]
    across: tuple[float, ...]
    shares: tuple[float, ...]
    missed: int
    false: int


def look_of(kind: str, seed: int) -> Look:
    """A picture's look: "clean" (600 dpi), "dirty" (300 dpi) or "photo" (perspective)."""
    rng = np.random.default_rng(seed)
    face, ground, hole = COLOURS[seed % len(COLOURS)]
    look = Look(face, ground, hole, lean=float(rng.uniform(-4, 4)), blur=float(rng.uniform(0.6, 1.3)), corner=4.0)
    if kind == "clean":
        return replace(look, dpi=600, noise=1.5, margin=8.0)
    # In a darker shadow white paper has the tone of bare metal, and no edge is left to be found.
    darkest = 0.3 if seed % len(COLOURS) == 1 else 0.6
    look = replace(
        look, noise=3.0, vignette=0.2, shadow=float(rng.uniform(0, darkest)), burrs=2, glare=2, pencil=True, dirt=20,
        jpeg=88, margin=10.0,
    )  # fmt: skip
    if kind == "dirty":
        return replace(look, dpi=300)
    tilt = (float(rng.uniform(-22, 22)), float(rng.uniform(-22, 22)))
    return replace(look, dpi=300, tilt=tilt, distance=float(rng.uniform(300, 600)), blur=1.3, margin=20.0, burrs=1)


def picture(kind: str, seed: int, size: tuple[float, float]) -> Rendered:
    return render(random_holes(seed, size, oval=0.05), size, look_of(kind, seed), seed)


def measured(picture: Rendered) -> Survey:
    return survey(picture.pixels, Size(*picture.size))


def errors(holes: tuple[TrueHole, ...], found: Survey) -> Errors:
    place, across, shares, used = [], [], [], set()
    missed = 0
    for hole in holes:
        best = min(found.holes, key=lambda m: math.hypot(m.x - hole.x, m.y - hole.y))
        far = math.hypot(best.x - hole.x, best.y - hole.y)
        if far > 1 or abs(best.d - hole.d) > 1:
            missed += 1
            continue
        used.add(best.id)
        place.append(far)
        across.append(abs(best.d - hole.d))
        shares += [abs(best.x - hole.x) / best.ux, abs(best.y - hole.y) / best.uy, abs(best.d - hole.d) / best.ud]
    return Errors(tuple(place), tuple(across), tuple(shares), missed, len(found.holes) - len(used))
