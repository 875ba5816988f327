"""Paths as shapely regions, for measuring, clearing and offsetting, and back again."""

import math
from typing import Any

import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize, unary_union

from facegraphic.geometry.path import FLATNESS_MM, Path, Ring, Segment


def region(path: Path, rule: str = "nonzero", flatness: float = FLATNESS_MM) -> BaseGeometry:
    """The filled area of a path as a shapely region, by SVG's nonzero or evenodd rule."""
    rings = path.rings(flatness)
    if not rings:
        return Polygon()
    if len(rings) == 1 and (single := Polygon(rings[0])).is_valid:
        return single
    network = unary_union([LineString([*ring, ring[0]]) for ring in rings])
    filled = []
    for face in polygonize(network):
        point = face.representative_point()
        winding = sum(_winding(ring, point.x, point.y) for ring in rings)
        if winding % 2 if rule == "evenodd" else winding:
            filled.append(face)
    return unary_union(filled)


def _winding(ring: Ring, x: float, y: float) -> int:
    """How often a ring runs round a point, counter-clockwise positive."""
    count = 0
    x0, y0 = ring[-1]
    for x1, y1 in ring:
        if (y0 <= y) != (y1 <= y):
            side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
            if y1 > y0 and side > 0:
                count += 1
            elif y1 < y0 and side < 0:
                count -= 1
        x0, y0 = x1, y1
    return count


def path_of(area: BaseGeometry) -> Path:
    """A shapely region as a path (outer rings one way, holes the other)."""
    segments: list[Segment] = []
    for part in _polygons(area):
        whole = shapely.geometry.polygon.orient(part)
        for ring in (whole.exterior, *whole.interiors):
            (x, y), *rest = list(ring.coords)[:-1]
            segments += [("M", x, y), *(("L", *point) for point in rest), ("Z",)]
    return Path(tuple(segments))


def _polygons(area: BaseGeometry) -> list[Any]:
    if isinstance(area, Polygon):
        return [] if area.is_empty else [area]
    if isinstance(area, MultiPolygon):
        return list(area.geoms)
    return [part for geometry in getattr(area, "geoms", ()) for part in _polygons(geometry)]


def disc_region(x: float, y: float, diameter: float) -> BaseGeometry:
    """A disc as a polygon that contains the true circle, so that clear of it is clear of the circle."""
    quarter = 24
    radius = diameter / 2 / math.cos(math.pi / (4 * quarter))
    return shapely.Point(x, y).buffer(radius, quad_segs=quarter)
