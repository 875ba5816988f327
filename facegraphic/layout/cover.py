"""What parts and knobs hide of a face: no legend may stand there."""

import math

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import disc_region
from facegraphic.job.model import Control, Hole

LEVER_MM = 4.0  # a mini toggle's lever is about 3 mm thick at its tip (from memory), with room for a fingernail


def cover_diameter(hole: Hole, control: Control | None) -> float:
    """Diameter of the circle round the hole that its part and knob hide, a lever's swing aside (mm)."""
    diameter = hole.d
    if control and control.part:
        diameter = max(diameter, control.part.seat)
    if control and control.knob:
        diameter = max(diameter, control.knob.diameter)
    return diameter


def lever_direction(control: Control) -> tuple[float, float]:
    """Unit vector from the hole to the first throw: up, or to the left."""
    return (0.0, 1.0) if control.lever == "upright" else (-1.0, 0.0)


def cover_region(hole: Hole, control: Control | None) -> BaseGeometry:
    """The region of the face that is hidden, lever swing included."""
    region = disc_region(hole.x, hole.y, cover_diameter(hole, control))
    if control and control.part and control.part.swing:
        dx, dy = (component * control.part.swing for component in lever_direction(control))
        tips = shapely.LineString([(hole.x - dx, hole.y - dy), (hole.x + dx, hole.y + dy)])
        region = region.union(tips.buffer(LEVER_MM / 2, quad_segs=16))
    return region


def reach(hole: Hole, control: Control | None, bearing: float) -> float:
    """How far from the hole's centre the cover reaches at a bearing (degrees, 0 = up), for circles and levers."""
    radius = cover_diameter(hole, control) / 2
    if control and control.part and control.part.swing:
        dx, dy = lever_direction(control)
        along = abs(math.sin(math.radians(bearing)) * dx + math.cos(math.radians(bearing)) * dy)
        if along > 0.9:
            radius = max(radius, control.part.swing + LEVER_MM / 2)
    return radius
