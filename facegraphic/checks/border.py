"""Rules about the border of toner round a face that is etched."""

import math
from collections.abc import Iterator

import shapely

from facegraphic.checks.told import several
from facegraphic.errors import Finding
from facegraphic.geometry.regions import region
from facegraphic.job.model import Finish
from facegraphic.layout.ground import mark_owner
from facegraphic.layout.model import FaceLayout


def lost_in_border(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """What lies in the border of toner cannot be told from it: black in black, or bare and covered (plain geometry)."""
    if not finish.border:
        return
    face = region(layout.face.outline.path)
    inside = region(layout.face.outline.grown(-finish.border).path)
    areas = [(item.name, region(item.path)) for item in layout.legends if item.path]
    areas += [(mark_owner(mark), region(mark.path, mark.rule)) for mark in layout.marks]
    # What runs over the edge of the face is told as that.
    lost = [(name, area) for name, area in areas if face.contains(area) and not inside.contains(area)]
    if not lost:
        return
    edge = face.exterior
    room = min(edge.distance(area) for _, area in lost) - max(finish.film.gap, finish.film.gap_reversed)
    at = shapely.union_all([area.difference(inside) for _, area in lost]).representative_point()
    names = list(dict.fromkeys(name for name, _ in lost))
    message = (
        f"{several(names)} {'lies' if len(names) == 1 else 'lie'} in the border of toner, {finish.border:g} mm wide"
    )
    message += f" round the {layout.face.side} face, and what of it lies there is lost"
    narrow = math.floor(room * 10 + 1e-6) / 10
    narrower = f"use [finish] border = {narrow:g} or less, or " if narrow > 0 else ""
    remedy = f"{narrower}move it inwards or make it smaller, with all that belongs to it"
    yield Finding("lost-in-border", "error", message, remedy, layout.face.side, (at.x, at.y))
