"""Rules about where things stand on a face: holes and parts, lettering, frames and lines, artwork."""

from collections.abc import Iterator, Mapping

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.checks.pairs import close_pairs
from facegraphic.errors import Finding
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.model import Face, Finish
from facegraphic.layout.cover import cover_region
from facegraphic.layout.model import FaceLayout, Legend

INWARDS = {
    "frame": "move what the frame or line belongs to inwards, lower its height, or shorten it",
    "position": "use a smaller knob or height, a shorter word, or move the hole inwards",
    "numeral": "use a smaller knob or height, or move the hole inwards",
}
PLAY = 0.05  # a hole this much under the thread still takes it
# What messages call a ruled mark, and how to mend one that meets something, or runs into the margin.
RULED: Mapping[str, tuple[str, str, str]] = {
    "frame": (
        "a frame",
        "frame other holes, move them, or use smaller knobs or labels",
        "move what it holds inwards, or lower [finish] margin",
    ),
    "line": (
        "the section line",
        "move its ends (from, to), split it in two, or move what it meets",
        "move its ends (from, to) inwards, or lower [finish] margin",
    ),
}


def _covers(face: Face) -> list[tuple[str, BaseGeometry]]:
    """What parts and knobs hide, each under its hole's name."""
    return [(f"hole {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]


def _kind(legend: Legend) -> str:
    """What messages call a kind of lettering."""
    return "title" if legend.role == "frame" else legend.role


def hole_over_edge(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A hole must lie wholly on the flat of its face: beyond it the metal is round (plain geometry)."""
    face = region(layout.face.outline.path)
    for placed in layout.holes:
        if not face.contains(disc_region(*placed.at, placed.hole.d)):
            message = f"hole {placed.hole.id} reaches into the rounded edge of the {layout.face.side} face"
            remedy = "move it inwards, or check its position and diameter"
            yield Finding("hole-over-edge", "warning", message, remedy, layout.face.side, placed.at)


def hole_misfits_part(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A hole takes the part's thread, and its nut or washer must not fall through (sizes: parts table)."""
    for hole in layout.face.holes:
        control = layout.face.control(hole.id)
        part = control.part if control else None
        if part is None:
            continue
        message = f"hole {hole.id} is {hole.d:g} mm wide; {part.name} wants {part.hole:g} mm"
        at = (hole.x, hole.y)
        if hole.d < part.thread - PLAY:
            remedy = 'check the diameter and its unit, as in d = "1/2 in"'
            yield Finding("hole-too-small", "warning", message, remedy, layout.face.side, at)
        elif hole.d >= max(part.nut, part.washer, part.bezel) > 0:
            remedy = "check the diameter: the part would fall through"
            yield Finding("hole-too-large", "warning", message, remedy, layout.face.side, at)


def parts_collide(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """What parts and knobs cover on top of the panel must not overlap (plain geometry)."""
    face = layout.face
    covers = _covers(face)
    areas = [area for _, area in covers]
    for i, j in close_pairs(areas):
        overlap = areas[i].intersection(areas[j])
        if overlap.area > 1e-6:
            message = f"what sits in {covers[j][0]} and {covers[i][0]} overlaps"
            remedy = "use smaller knobs, or move the holes apart"
            at = (overlap.centroid.x, overlap.centroid.y)
            yield Finding("parts-collide", "warning", message, remedy, face.side, at)


def legend_collides(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """No lettering may touch a cover, a hole, or other lettering: measured on the true outlines.

    What the layout has said already of a legend is not said again.
    """
    face = layout.face
    told = {finding.at for finding in layout.findings if finding.severity == "error"}
    outlines = [region(legend.path) for legend in layout.legends]
    covers = _covers(face)
    for number, (legend, outline) in enumerate(zip(layout.legends, outlines, strict=True)):
        meets = [owner for owner, cover in covers if shapely.intersects(cover, outline)]
        meets += [
            other.name
            for other, area in zip(layout.legends[:number], outlines[:number], strict=True)
            if shapely.intersects(area, outline)
        ]
        if meets and legend.box.centre not in told:
            message = f"the {_kind(legend)} {legend.name} meets {', '.join(meets)}"
            control = face.control(legend.hole) if legend.hole else None
            nudged = control is not None and legend.role == "label" and control.nudge != (0.0, 0.0)
            remedy = "lessen or undo its nudge" if nudged else "move or shorten it"
            yield Finding("legend-collides", "error", message, remedy, face.side, legend.box.centre)


def legend_over_edge(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Lettering past the face's edge is cut off with the bleed (plain geometry)."""
    face = region(layout.face.outline.path)
    told = {finding.at for finding in layout.findings if finding.severity == "error"}
    for legend in layout.legends:
        if legend.box.centre not in told and not face.contains(region(legend.path)):
            message = f"the {_kind(legend)} {legend.name} runs over the edge of the {layout.face.side} face"
            remedy = INWARDS.get(legend.role, "move it inwards, or make it smaller")
            yield Finding("legend-over-edge", "error", message, remedy, layout.face.side, legend.box.centre)


def frame_collides(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Frames and section lines must stand on the face, clear of covers, lettering and scales (plain geometry).

    What a frame holds lies inside its line, and a line's own title in the gap that it leaves. Section lines stand
    before scales and texts, so what the layout has said already of those is not said again.
    """
    face = layout.face
    edge, inside = region(face.outline.path), region(face.outline.grown(-finish.margin).path)
    told = {finding.at for finding in layout.findings if finding.severity == "error"}
    covers = _covers(face)
    placed = [(legend.name, region(legend.path), legend.box.centre) for legend in layout.legends]
    for placed_hole in layout.holes:
        id = placed_hole.hole.id
        placed += [(f"the scale of {id}", region(m.path), placed_hole.at) for m in layout.marks if m.hole == id]
    for mark in (mark for mark in layout.marks if mark.role in RULED):
        name, apart, inwards = RULED[mark.role]
        band = region(mark.path, mark.rule)
        taken = covers + [(owner, area) for owner, area, at in placed if mark.role == "frame" or at not in told]
        meets = list(dict.fromkeys(owner for owner, area in taken if shapely.intersects(area, band)))
        meets += [] if edge.contains(band) else ["the edge of the face"]
        x, y = at = mark.path.bounds.centre
        name += f" round {x:.1f}, {y:.1f} mm" if mark.role == "line" else ""
        if meets:
            yield Finding(f"{mark.role}-collides", "error", f"{name} meets {', '.join(meets)}", apart, face.side, at)
        elif not inside.contains(band):
            message = f"{name} runs into the margin"
            yield Finding(f"{mark.role}-over-margin", "warning", message, inwards, face.side, at)


def art_off_face(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Artwork with a region of its own that misses the face prints nothing (plain geometry)."""
    face = region(layout.face.outline.grown(finish.bleed).path)
    for art in layout.face.arts:
        if art.region is not None and not face.intersects(shapely.box(*art.region)):
            message = f"the artwork {art.name} lies off the {layout.face.side} face, so nothing of it would print"
            remedy = "check at = [x, y]: it is the middle of the artwork"
            yield Finding("art-off-face", "error", message, remedy, layout.face.side, art.region.centre)
