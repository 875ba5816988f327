"""Rules about where things stand: lettering, frames, artwork, and holes against their parts."""

from collections.abc import Iterator, Sequence

import shapely

from facegraphic.errors import Finding
from facegraphic.geometry.regions import region
from facegraphic.job.model import Job
from facegraphic.layout.cover import cover_region
from facegraphic.layout.model import FaceLayout

PLAY = 0.05  # a hole this much under the thread still takes it


def legend_over_edge(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """Lettering past the face's edge is cut off with the bleed (plain geometry)."""
    for layout in layouts:
        face = region(layout.face.outline.path)
        for legend in layout.legends:
            if not face.contains(region(legend.path)):
                x, y = legend.box.centre
                message = f'the {legend.role} "{legend.text}" runs over the edge of the {layout.face.side} face'
                remedy = "move it inwards, or make it smaller"
                at = (round(x, 3), round(y, 3))
                yield Finding("legend-over-edge", "error", message, remedy, layout.face.side, at)


def frame_collides(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """A frame must stand on the face, clear of covers, lettering and scales: its own lie inside it."""
    for layout in layouts:
        face = layout.face
        edge, inside = region(face.outline.path), region(face.outline.grown(-job.finish.margin).path)
        taken = [(f"hole {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]
        taken += [(f'"{legend.text}"', region(legend.path)) for legend in layout.legends]
        taken += [(f"the scale of {mark.hole}", region(mark.path)) for mark in layout.marks if mark.hole]
        for mark in (mark for mark in layout.marks if mark.role == "frame"):
            band = region(mark.path, mark.rule)
            meets = list(dict.fromkeys(owner for owner, area in taken if shapely.intersects(area, band)))
            meets += [] if edge.contains(band) else ["the edge of the face"]
            x, y = mark.path.bounds.centre
            at = (round(x, 3), round(y, 3))
            if meets:
                remedy = "frame other holes, move them, or use smaller knobs or labels"
                yield Finding("frame-collides", "error", f"a frame meets {', '.join(meets)}", remedy, face.side, at)
            elif not inside.contains(band):
                remedy = "move what it holds inwards, or lower [finish] margin"
                yield Finding("frame-over-margin", "warning", "a frame runs into the margin", remedy, face.side, at)


def hole_misfits_part(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """A hole takes the part's thread, and its nut or washer must not fall through (sizes: parts table)."""
    for layout in layouts:
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


def art_off_face(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """Artwork with a region of its own that misses the face prints nothing (plain geometry)."""
    for layout in layouts:
        face = region(layout.face.outline.grown(job.finish.bleed).path)
        for art in layout.face.arts:
            if art.region is not None and not face.intersects(shapely.box(*art.region)):
                message = f"the artwork {art.name} lies off the {layout.face.side} face, so nothing of it would print"
                remedy = "check at = [x, y]: it is the middle of the artwork"
                yield Finding("art-off-face", "error", message, remedy, layout.face.side, art.region.centre)
