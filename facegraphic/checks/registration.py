"""Rules about what drilling, printing and placing may part: bare rings beside covers, film over holes, legends under.

The figures are reckoned in film/registration.py, which says what RSS and worst case mean. All that is told of one rule
stands in one finding a face, or two where some of it is worse, since an error in placing meets all holes at once.
"""

import math
from collections.abc import Iterator, Sequence

import shapely

from facegraphic.checks.told import several
from facegraphic.errors import Finding, Severity
from facegraphic.film.registration import Fit, Spread, fits
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.model import Finish
from facegraphic.layout.cover import cover_region
from facegraphic.layout.model import FaceLayout

SURE = 1e-9
Told = tuple[Fit, Spread]


def _amounts(spread: Spread) -> str:
    """Both sums in words, leaving out what cannot happen."""
    if spread.rss <= SURE:
        return f"{spread.worst:.2f} mm in the worst case"
    return f"{spread.rss:.2f} mm (RSS; {spread.worst:.2f} mm in the worst case)"


def _worst(told: Sequence[Told]) -> Told:
    return max(told, key=lambda one: one[1].worst)


def _round(told: Sequence[Told]) -> str:
    """Names holes and the amount, the largest one where there are more."""
    fit, spread = _worst(told)
    names = several([fit.hole.id for fit, _ in told])
    return f"{names}, {f'most at {fit.hole.id}: ' if len(told) > 1 else ''}by up to {_amounts(spread)}"


def _at(told: Sequence[Told]) -> tuple[float, float]:
    hole = _worst(told)[0].hole
    return (hole.x, hole.y)


def _wider(fit: Fit, finish: Finish) -> str:
    """Advise on one cover that mends all that is told of a hole, beside what covers it now."""
    width = fit.enough(finish.tolerance.size, finish.holes == "clear")
    return f"fit {fit.hole.id} with a washer or rim {math.ceil(width * 10 - 1e-6) / 10:.1f} mm wide{_fitted(fit)}"


def _fitted(fit: Fit) -> str:
    """The cover that a part brings, as a caliper and the eye have it: nuts are measured across their corners."""
    part = fit.part
    if part is None or fit.bare:
        return ""
    if part.bezel:
        return f" (its rim: {part.bezel:.1f})"
    if part.washer >= part.hides:
        return f" (its washer: {part.washer:.1f})"
    return f" (its nut: {part.nut:.1f}, {part.hides:.1f} over its flats)"


def _looked_under(fit: Fit, layout: FaceLayout) -> bool:
    """Whether a knob hides a hole's whole opening from above, wherever that strays."""
    control = layout.face.control(fit.hole.id)
    knob = control.knob.diameter / 2 if control and control.knob else 0.0
    return knob >= fit.rim + fit.clear + fit.seat.worst


def registration_gap(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """The opening round a hole is to stay under nut, washer or rim (RSS and worst case: handbooks of tolerancing).

    What RSS shows is a warning; what only the worst case shows, or only a look from the side under a knob, is a note.
    """
    if finish.holes != "clear":
        return
    told = [(fit, gap) for fit in _covered(layout, finish) if (gap := fit.past_cover) and gap.worst > SURE]
    bad = [(fit, gap) for fit, gap in told if gap.rss > SURE and not _looked_under(fit, layout)]
    for severity, some in (("warning", bad), ("note", [one for one in told if one not in bad])):
        if some:
            yield _gap(layout, finish, some, "warning" if severity == "warning" else "note")


def _covered(layout: FaceLayout, finish: Finish) -> list[Fit]:
    """All fits but those of parts without a rim whose opening was chosen: `film_over_hole` says all there is to say."""
    return [fit for fit in fits(layout.face, finish) if not (fit.bare and fit.chosen and fit.stays)]


def _gap(layout: FaceLayout, finish: Finish, told: Sequence[Told], severity: Severity) -> Finding:
    under = all(_looked_under(fit, layout) for fit, _ in told)
    seen = ", seen only from the side under the knob" if under else ""
    where = "round the uncovered edge of" if all(fit.bare for fit, _ in told) else "past the cover of"
    message = f"the opening in the art could show {where} {_round(told)}{seen}"
    most = _worst(told)[0]
    ways = [] if all(fit.chosen for fit, _ in told) else ['use clear = "auto"']
    ways.append(_wider(most, finish))
    ways.append('open the holes after laying (holes = "mark")' if most.stays else 'print over them (holes = "through")')
    return Finding("registration-gap", severity, message, ", or ".join(ways), layout.face.side, _at(told))


def film_over_hole(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Film that by RSS hangs over a hole must be cut before the part goes in (common practice).

    It can be cut, so it is a note, and the worst case alone is not told. Where the opening was chosen, the cover is too
    small for both: the window between hole and cover is closed.
    """
    if finish.holes != "clear":
        return
    told = [(fit, film) for fit in fits(layout.face, finish) if (film := fit.over_hole) and film.rss > SURE]
    if not told:
        return
    message = f"film could hang over the hole at {_round(told)}"
    ways = ["cut it away after laying"]
    narrow = [fit for fit, _ in told if fit.chosen and fit.lacks > SURE]
    if narrow:
        most = max(narrow, key=lambda fit: fit.lacks)
        short = "is missing" if most.bare else f"is {2 * most.lacks:.2f} mm too narrow"
        message += f"; a wider opening could show past the cover, which {short}"
        message += f" at {most.hole.id}" if len(told) > 1 else ""
        ways += [_wider(most, finish), "lay it more closely and say so ([tolerance] place)"]
    if not all(fit.chosen for fit, _ in told):
        ways.append('use clear = "auto"')
    yield Finding("film-over-hole", "note", message, ", or ".join(ways), layout.face.side, _at(told))


def hole_past_cover(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A nut, washer or rim is to hide the hole's own edge, wherever the part sits in it (plain geometry).

    The hole's size counts twice: a wider hole reaches further, and leaves its part more room to move.
    """
    found: dict[Severity, list[Told]] = {"warning": [], "note": []}
    for fit in fits(layout.face, finish):
        if fit.cover is None or fit.bare:
            continue
        play, over = fit.play, fit.rim - fit.cover
        spread = Spread.of(finish.tolerance.size, play)
        shows = Spread(over + spread.rss, over + spread.worst)
        if shows.worst > SURE:
            found["warning" if shows.rss > SURE else "note"].append((fit, shows))
    for severity, told in found.items():
        if told:
            message = f"the hole itself could show past the cover of {_round(told)}"
            fit, shows = _worst(told)
            remedy = f"check the diameter, or {_wider(fit, finish)}"
            yield Finding("hole-past-cover", severity, message, remedy, layout.face.side, _at(told))


def legend_near_cover(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Lettering nearer to a part or knob than RSS lets them part could come to lie under it (common practice).

    Measured from the outlines to all that hides the face; what meets it already is told by `legend_collides`.
    """
    face = layout.face
    if not layout.legends:
        return
    outlines = shapely.STRtree([region(legend.path) for legend in layout.legends])
    found: dict[int, tuple[float, float, Fit]] = {}
    for fit in fits(face, finish):
        cover = cover_region(fit.hole, face.control(fit.hole.id))
        for number in outlines.query(cover, predicate="dwithin", distance=fit.seat.rss):
            apart = float(cover.distance(outlines.geometries[number]))
            under = fit.seat.rss - apart
            if apart > 0 and under > SURE and under > found.get(number, (0.0,))[0]:
                found[number] = (under, apart, fit)
    if found:
        number, (under, apart, fit) = max(found.items(), key=lambda item: item[1][0])
        names = several([layout.legends[n].name for n in sorted(found)])
        most = f", {layout.legends[number].name} most" if len(found) > 1 else ""
        message = (
            f"{names} could come to lie under a part or knob{most}: {apart:.2f} mm away, where drilling, printing and "
            f"placing may part them by {fit.seat.rss:.2f} mm (RSS; {fit.seat.worst:.2f} mm in the worst case)"
        )
        gap = math.ceil(fit.seat.rss * 10 - 1e-6) / 10
        remedy = f"keep [finish] gap at {gap:.1f} mm or more, or work more closely and say so ([tolerance])"
        yield Finding("legend-near-cover", "warning", message, remedy, face.side, layout.legends[number].box.centre)


def legend_in_opening(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Lettering in the opening round a hole is not printed (plain geometry)."""
    if finish.holes != "clear" or not layout.legends:
        return
    outlines = shapely.STRtree([region(legend.path) for legend in layout.legends])
    for fit in fits(layout.face, finish):
        gone = disc_region(fit.hole.x, fit.hole.y, max(0.0, 2 * (fit.rim + fit.clear)))
        for number in sorted(outlines.query(gone, predicate="intersects")):
            legend = layout.legends[number]
            message = f"the opening round hole {fit.hole.id} cuts into {legend.name}"
            remedy = "lower clear, or move the lettering"
            yield Finding("legend-in-opening", "error", message, remedy, layout.face.side, legend.box.centre)
