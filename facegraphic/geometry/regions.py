"""Paths as shapely regions, for measuring, clearing and offsetting, and back again."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import polygonize, unary_union

from facegraphic.geometry.path import FLATNESS_MM, Path, Ring, Segment

Points = npt.NDArray[np.float64]

GRID_MM = 1e-9
LEAST = 1e-15  # of the largest figure of a shape: less is a rounding, which no face needs to be found for
AT_ONCE = 1000  # points that are looked at together
NEEDLE = 10.0  # corners sharper than about 11 degrees lose their tips where necks are taken out


def region(path: Path, rule: str = "nonzero", flatness: float = FLATNESS_MM) -> BaseGeometry:
    """The filled area of a path as a shapely region, by SVG's nonzero or evenodd rule.

    Shapes are asked for again and again by the rules, so the path keeps it. Regions do not change once they are made.
    """
    key = (rule, flatness)
    if key not in path.kept:
        path.kept[key] = filled(path.rings(flatness), rule)
    area: BaseGeometry = path.kept[key]
    return area


def filled(rings: Sequence[Ring], rule: str = "nonzero") -> BaseGeometry:
    """The area inside some rings by SVG's nonzero or evenodd rule, however they cross themselves and each other."""
    rings = [ring for ring in rings if len(ring) > 2]
    if not rings:
        return Polygon()
    if len(rings) == 1 and (single := Polygon(rings[0])).is_valid:
        return single
    if rule == "nonzero" and (alike := _all_one_way(rings)) is not None:
        return alike
    rings = _plain(rings)
    network = unary_union([LineString([*ring, ring[0]]) for ring in rings])
    faces = list(polygonize(network))
    turns = _windings(rings, shapely.get_coordinates(shapely.point_on_surface(faces)))
    inside = turns % 2 != 0 if rule == "evenodd" else turns != 0
    return _joined([face for face, kept in zip(faces, inside.tolist(), strict=True) if kept])


def _plain(rings: Sequence[Ring]) -> list[Ring]:
    """Rings with nought for figures that are less than a rounding of the largest."""
    arrays = [np.asarray(ring, dtype=float) for ring in rings]
    least = LEAST * max(float(np.abs(ring).max()) for ring in arrays)
    return [list(map(tuple, np.where(np.abs(ring) < least, 0.0, ring).tolist())) for ring in arrays]


def _joined(faces: Sequence[BaseGeometry]) -> BaseGeometry:
    """Faces of one network as one region: they meet edge on edge, which makes it quick, but for a rounding."""
    try:
        joined = shapely.coverage_union_all(faces)
    except shapely.errors.GEOSException:
        return unary_union(faces)
    return joined if joined.is_valid else unary_union(faces)


def _all_one_way(rings: Sequence[Ring]) -> BaseGeometry | None:
    """The area of rings that all run the same way round and cross themselves nowhere: no winding takes another back."""
    outlines = [shapely.LinearRing(ring) for ring in rings]
    if len({bool(ring.is_ccw) for ring in outlines}) > 1:
        return None
    parts = [Polygon(ring) for ring in outlines]
    return unary_union(parts) if all(part.is_valid for part in parts) else None


def _windings(rings: Sequence[Ring], points: Points) -> npt.NDArray[np.int64]:
    """How often all rings run round each point, counter-clockwise positive: by what a ray to its right meets."""
    ends = np.concatenate([np.asarray(ring, dtype=float) for ring in rings])
    starts = np.concatenate([np.roll(np.asarray(ring, dtype=float), 1, axis=0) for ring in rings])
    tree = shapely.STRtree(shapely.linestrings(np.stack([starts, ends], axis=1)))
    right = ends[:, 0].max() + 1
    turns = np.zeros(len(points), np.int64)
    for first in range(0, len(points), AT_ONCE):
        some = points[first : first + AT_ONCE]
        beyond = np.stack([np.full(len(some), right), some[:, 1]], axis=1)
        number, edge = tree.query(shapely.linestrings(np.stack([some, beyond], axis=1)))
        (x, y), (x0, y0), (x1, y1) = some[number].T, starts[edge].T, ends[edge].T
        side = (x1 - x0) * (y - y0) - (x - x0) * (y1 - y0)
        rises, falls = (y0 <= y) & (y1 > y) & (side > 0), (y0 > y) & (y1 <= y) & (side < 0)
        np.add.at(turns, first + number, rises.astype(np.int64) - falls)
    return turns


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


def areal(area: BaseGeometry) -> BaseGeometry:
    """A geometry without the points and lines that meetings of edges leave in it."""
    if isinstance(area, Polygon | MultiPolygon):
        return area
    return unary_union(_polygons(area))


def on_grid(area: BaseGeometry) -> BaseGeometry:
    """A region with its points on the grid of the overlays below, so that edges that lie on each other stay so."""
    return _loose(shapely.set_precision(area, GRID_MM))


def minus(area: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What of a region lies outside another. On a grid: else edges that lie on each other but for a rounding leave
    spikes and cracks of no width, or the overlay fails.
    """
    return _loose(shapely.difference(areal(area), areal(other), grid_size=GRID_MM))


def shared(area: BaseGeometry, other: BaseGeometry) -> BaseGeometry:
    """What two regions have in common, on the grid."""
    return _loose(shapely.intersection(areal(area), areal(other), grid_size=GRID_MM))


def joined(areas: Sequence[BaseGeometry]) -> BaseGeometry:
    """Regions as one, on the grid."""
    return _loose(shapely.union_all([areal(area) for area in areas], grid_size=GRID_MM)) if areas else Polygon()


def _loose(area: BaseGeometry) -> BaseGeometry:
    """A result that no longer asks what follows to keep to the grid: offsets would take many times as long."""
    return areal(shapely.set_precision(area, 0, mode="pointwise"))


def without_necks(area: BaseGeometry, width: float) -> BaseGeometry:
    """A region without necks and slits narrower than a width, mm; corners and all that is wider stay."""
    half = width / 2
    for by in (half, -2 * half, half):
        area = area.buffer(by, join_style="mitre", mitre_limit=NEEDLE)
    return areal(area)


def disc_region(x: float, y: float, diameter: float) -> BaseGeometry:
    """A disc as a polygon that contains the true circle, so that clear of it is clear of the circle."""
    quarter = 24
    radius = diameter / 2 / math.cos(math.pi / (4 * quarter))
    return shapely.Point(x, y).buffer(radius, quad_segs=quarter)
