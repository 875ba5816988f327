"""Rules about where things stand on a face: holes and parts, lettering, frames, artwork."""

from collections.abc import Iterator

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.errors import Finding
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.model import Face, Finish
from facegraphic.layout.cover import cover_region
from facegraphic.layout.model import FaceLayout

PLAY = 0.05  # a hole this much under the thread still takes it


def _covers(face: Face) -> list[tuple[str, BaseGeometry]]:
    """What parts and knobs hide, each under its hole's name."""
    return [(f"hole {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]


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
    for i, (a, area) in enumerate(covers):
        for b, other in covers[:i]:
            overlap = area.intersection(other)
            if overlap.area > 1e-6:
                message = f"what sits in {b} and {a} overlaps"
                remedy = "use smaller knobs, or move the holes apart"
                yield Finding(
                    "parts-collide", "warning", message, remedy, face.side, (overlap.centroid.x, overlap.centroid.y)
                )


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
            message = f"the {legend.role} {legend.name} meets {', '.join(meets)}"
            control = face.control(legend.hole) if legend.hole else None
            nudged = control is not None and legend.role == "label" and control.nudge != (0.0, 0.0)
            remedy = "lessen or undo its nudge" if nudged else "move or shorten it"
            yield Finding("legend-collides", "error", message, remedy, face.side, legend.box.centre)


def legend_over_edge(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Lettering past the face's edge is cut off with the bleed (plain geometry)."""
    face = region(layout.face.outline.path)
    for legend in layout.legends:
        if not face.contains(region(legend.path)):
            message = f"the {legend.role} {legend.name} runs over the edge of the {layout.face.side} face"
            remedy = "move it inwards, or make it smaller"
            yield Finding("legend-over-edge", "error", message, remedy, layout.face.side, legend.box.centre)


def frame_collides(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A frame must stand on the face, clear of covers, lettering and scales: its own lie inside it."""
    face = layout.face
    edge, inside = region(face.outline.path), region(face.outline.grown(-finish.margin).path)
    taken = _covers(face)
    taken += [(legend.name, region(legend.path)) for legend in layout.legends]
    taken += [(f"the scale of {mark.hole}", region(mark.path)) for mark in layout.marks if mark.hole]
    for mark in (mark for mark in layout.marks if mark.role == "frame"):
        band = region(mark.path, mark.rule)
        meets = list(dict.fromkeys(owner for owner, area in taken if shapely.intersects(area, band)))
        meets += [] if edge.contains(band) else ["the edge of the face"]
        at = mark.path.bounds.centre
        if meets:
            remedy = "frame other holes, move them, or use smaller knobs or labels"
            yield Finding("frame-collides", "error", f"a frame meets {', '.join(meets)}", remedy, face.side, at)
        elif not inside.contains(band):
            remedy = "move what it holds inwards, or lower [finish] margin"
            yield Finding("frame-over-margin", "warning", "a frame runs into the margin", remedy, face.side, at)


def art_off_face(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Artwork with a region of its own that misses the face prints nothing (plain geometry)."""
    face = region(layout.face.outline.grown(finish.bleed).path)
    for art in layout.face.arts:
        if art.region is not None and not face.intersects(shapely.box(*art.region)):
            message = f"the artwork {art.name} lies off the {layout.face.side} face, so nothing of it would print"
            remedy = "check at = [x, y]: it is the middle of the artwork"
            yield Finding("art-off-face", "error", message, remedy, layout.face.side, art.region.centre)
