"""Places where a bridge could hold an island of a stencil, and the best one or two of them.

A place is a straight line over the opening, from the island's edge to the nearest point of what may hold it, so it
meets that edge at a right angle. Length decides; among places that are hardly longer than the shortest the choice is
made by what a stencil cutter looks for: square on both edges, away from corners and other bridges, in the island's
middle, upright or level.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

Floats = npt.NDArray[np.float64]

SLACK = 0.05  # a better place may be this much longer than the shortest
MOST_PLACES = 240
CORNER_DEGREES = 30.0
TOUCHING = 1000.0  # pieces nearer than the width by this are taken to touch
DEEPEST = 3.0  # widths that a bridge may reach into a piece
OPPOSITE_DEGREES = (120.0, 90.0, 60.0, 0.0)  # seen from the island's middle
FAR_SHORTER = 0.5


@dataclass(frozen=True)
class Places:
    """Lines from an island to its holders: ends as (n, 2), in mm; the piece each leads to; bearings from the middle."""

    starts: Floats
    ends: Floats
    holders: npt.NDArray[np.int64]
    lengths: Floats
    bearings: Floats

    def __len__(self) -> int:
        return len(self.lengths)

    def only(self, mask: Any) -> "Places":
        """The places that a mask or list of numbers picks."""
        return Places(self.starts[mask], self.ends[mask], self.holders[mask], self.lengths[mask], self.bearings[mask])


@dataclass(frozen=True)
class Setting:
    """What the choice looks at: the material and its pieces, and how wide bridges are, mm."""

    material: BaseGeometry
    pieces: Sequence[Polygon]
    width: float
    corners: BaseGeometry
    known: "dict[tuple[int, tuple[int, ...]], tuple[Places, Floats]]" = field(default_factory=dict)

    @classmethod
    def of(cls, material: BaseGeometry, pieces: Sequence[Polygon], width: float) -> "Setting":
        shapely.prepare(material)
        found = [point for piece in pieces for ring in rings(piece) for point in corners(ring)]
        return cls(material, pieces, width, MultiPoint(found))

    def found(self, island: int, holders: Sequence[int]) -> tuple[Places, Floats]:
        """The places from an island to these holders and their flaws, other bridges aside; looked for once only."""
        key = (island, tuple(holders))
        if key not in self.known:
            found = places(self, island, holders)
            self.known[key] = found, _flaws(self, island, found)
        return self.known[key]


def rings(piece: Polygon) -> list[Any]:
    return [piece.exterior, *piece.interiors]


def corners(ring: Any) -> Floats:
    """The points of a ring where it turns by more than CORNER_DEGREES, as (n, 2)."""
    points = np.asarray(ring.coords)[:-1]
    ahead = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(ahead[:, 1], ahead[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + math.pi) % math.tau - math.pi)
    return np.asarray(points[turn > math.radians(CORNER_DEGREES)])


def places(setting: Setting, island: int, holders: Sequence[int]) -> Places:
    """All places from an island to the pieces that may hold it, whose line runs over the opening alone."""
    piece = setting.pieces[island]
    target = shapely.MultiPolygon([setting.pieces[number] for number in holders])
    nearest = shapely.get_coordinates(shapely.shortest_line(piece, target))
    lines = shapely.shortest_line(shapely.points(_samples(piece, setting.width)), target)
    found = [nearest, shapely.get_coordinates(lines), *_upright(piece, target)]
    ends = np.concatenate([points.reshape(-1, 2, 2) for points in found])
    free = _over_opening(setting.material, ends)
    free[0] = True
    ends = ends[free]
    tree = shapely.STRtree([setting.pieces[number] for number in holders])
    numbers = np.asarray(holders)[tree.nearest(shapely.points(ends[:, 1]))]
    middle = np.array(piece.centroid.coords[0])
    away = ends.mean(axis=1) - middle
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    bearings = np.degrees(np.arctan2(away[:, 1], away[:, 0]))
    return Places(ends[:, 0], ends[:, 1], numbers, lengths, bearings)


def _upright(piece: Polygon, target: BaseGeometry) -> list[Floats]:
    """Lines straight up, down and sideways from an island's middle: flattened curves tilt what is square on them."""
    (x, y), (x0, y0, x1, y1) = piece.centroid.coords[0], shapely.union(piece, target).bounds
    found = []
    for far in ((x, y1 + 1), (x, y0 - 1), (x0 - 1, y), (x1 + 1, y)):
        way = shapely.LineString([(x, y), far])
        rim = shapely.get_coordinates(way.intersection(piece.exterior))
        if len(rim):
            start = shapely.Point(max(rim, key=lambda point: math.dist(point, (x, y))))
            hit = shapely.LineString([start, far]).intersection(target)
            if not hit.is_empty:
                found.append(shapely.get_coordinates(shapely.shortest_line(start, hit)))
    return found


def _samples(piece: Polygon, width: float) -> Floats:
    """Points along an island's rim: evenly spaced, the middles of its edges, and right above and beside its middle."""
    rim = piece.exterior
    step = max(min(width / 3, rim.length / 48), rim.length / MOST_PLACES)
    even = shapely.line_interpolate_point(rim, np.arange(0, rim.length, step))
    points = np.asarray(rim.coords)
    longer = np.hypot(*np.diff(points, axis=0).T) > width
    middles = ((points[1:] + points[:-1]) / 2)[longer]
    (x, y), (x0, y0, x1, y1) = piece.centroid.coords[0], piece.bounds
    axes = shapely.MultiLineString([[(x, y0 - 1), (x, y1 + 1)], [(x0 - 1, y), (x1 + 1, y)]])
    return np.concatenate([shapely.get_coordinates(even), middles, shapely.get_coordinates(axes.intersection(rim))])


def _over_opening(material: BaseGeometry, ends: Floats) -> npt.NDArray[np.bool_]:
    """Whether each line, its very ends left out, keeps clear of all material."""
    inner = np.stack([ends[:, 0] * 0.999 + ends[:, 1] * 0.001, ends[:, 0] * 0.001 + ends[:, 1] * 0.999], axis=1)
    return np.asarray(shapely.disjoint(material, shapely.linestrings(inner)))


def bridge_shapes(found: Places, width: float) -> Any:
    """Rectangles `width` wide over each place, reaching half a width into what they join.

    Where pieces touch there is no direction: the shape is a disc then.
    """
    along = found.ends - found.starts
    unit = along / np.maximum(found.lengths, 1e-12)[:, None]
    a, b = found.starts - unit * width / 2, found.ends + unit * width / 2
    side = np.stack([-unit[:, 1], unit[:, 0]], axis=1) * width / 2
    shapes = shapely.polygons(np.stack([a + side, a - side, b - side, b + side], axis=1))
    discs = shapely.buffer(shapely.points(found.starts), width / 2)
    return np.where(found.lengths > width / TOUCHING, shapes, discs)


def landed(setting: Setting, found: Places, number: int, island: int) -> Polygon:
    """The full shape of a bridge: as far into both pieces as it takes for them to be as wide as the bridge.

    Half a width will do on an edge, more on a corner. Where a piece is thinner than the bridge all along it is half
    a width, too.
    """
    width = setting.width
    start, end = found.starts[number], found.ends[number]
    length = float(found.lengths[number])
    both = (setting.pieces[island], start), (setting.pieces[int(found.holders[number])], end)
    if length <= width / TOUCHING:
        return _strip([_nearest_core(*both[0], width), start, _nearest_core(*both[1], width)], width)
    unit = (end - start) / length
    depths = [_depth(*both[0], -unit, width), _depth(*both[1], unit, width)]
    a, b = start - unit * (depths[0] or width / 2), end + unit * (depths[1] or width / 2)
    side = np.array([-unit[1], unit[0]]) * width / 2
    parts = [Polygon([a + side, a - side, b - side, b + side])]
    for (piece, at), depth in zip(both, depths, strict=True):
        if depth is None and (tip := _nearest_core(piece, at, width)) is not at:
            parts.append(_strip([at, tip], width))
    return shapely.union_all(parts)


def _strip(points: Sequence[Floats], width: float) -> Polygon:
    """A strip with round ends, so that a disc of the full width runs along it."""
    return shapely.LineString(points).buffer(width / 2 / math.cos(math.pi / 64), quad_segs=16)


def _depth(piece: Polygon, at: Floats, into: Floats, width: float) -> float | None:
    """How far a line goes into a piece until a disc of the width fits there, half a width at least; None if nowhere."""
    reach = shapely.LineString([at, at + into * DEEPEST * width])
    core = piece.intersection(shapely.box(*reach.buffer(2 * width).bounds)).buffer(-width / 2)
    if not reach.intersects(core):
        return None
    return max(width / 2, float(reach.intersection(core).distance(shapely.Point(at))))


def _nearest_core(piece: Polygon, at: Floats, width: float) -> Floats:
    """The nearest point of a piece round which a disc of the width fits; `at` itself where none is near."""
    spot = shapely.Point(at)
    core = piece.buffer(-width / 2)
    if core.is_empty or core.distance(spot) > DEEPEST * width:
        return at
    return np.asarray(shapely.get_coordinates(shapely.shortest_line(spot, core))[1])


def _flaws(setting: Setting, island: int, found: Places) -> Floats:
    """How ill each place would look and hold, 0 for none: the higher the worse, without unit."""
    width, piece = setting.width, setting.pieces[island]
    shapes = bridge_shapes(found, width)
    added = shapely.area(shapely.difference(shapes, setting.material)) / width - found.lengths
    poor_landing = np.clip(added / width, 0, 2)
    corner = np.zeros(len(found))
    if not setting.corners.is_empty:
        for end in (found.starts, found.ends):
            corner += np.clip(1 - shapely.distance(shapely.points(end), setting.corners) / (1.5 * width), 0, 1)
    along = found.ends - found.starts
    heading = np.arctan2(along[:, 1], along[:, 0])
    slant = np.sin(2 * heading) ** 2 + 0.3 * np.cos(heading) ** 2  # level is next to upright, a slant worst
    away = np.array(piece.centroid.coords[0]) - found.starts
    unit = along / np.maximum(found.lengths, 1e-12)[:, None]
    aside = np.abs(unit[:, 0] * away[:, 1] - unit[:, 1] * away[:, 0]) / _extent(piece)
    return np.asarray(3 * poor_landing + 2 * corner + 0.4 * slant + 1.5 * aside)


def crowding(found: Places, width: float, others: Sequence[BaseGeometry]) -> Floats:
    """The flaw of standing near other bridges: 3 on top of one, 0 from three widths on."""
    if not others:
        return np.zeros(len(found))
    gap = shapely.distance(bridge_shapes(found, width), shapely.GeometryCollection(list(others)))
    return np.asarray(3 * np.clip(1 - gap / (3 * width), 0, 1))


def _extent(piece: Polygon) -> float:
    x0, y0, x1, y1 = piece.bounds
    return math.hypot(x1 - x0, y1 - y0) / 2


def best_one(found: Places, flaw: Floats) -> int:
    """The number of the best single place."""
    allowed = found.lengths <= found.lengths.min() * (1 + SLACK) + 1e-9
    return int(np.argmin(np.where(allowed, flaw, np.inf)))


def between(a: Any, b: Any) -> Any:
    """The angle between two bearings, 0 to 180 degrees."""
    return np.abs((a - b + 180) % 360 - 180)


def best_two(first: Places, second: Places, flaw: tuple[Floats, Floats], extent: float) -> tuple[int, int]:
    """The best pair of places, one of each, about opposite each other as seen from the island's middle."""
    angle = between(first.bearings[:, None], second.bearings[None, :])
    total = first.lengths[:, None] + second.lengths[None, :]
    bound = opposite_bound(angle, total)
    least = total[angle >= bound].min()
    allowed = (angle >= bound) & (total <= least * (1 + SLACK) + 1e-9)
    apart = np.hypot(*np.moveaxis(first.starts[:, None] - second.starts[None, :], -1, 0)) / (2 * extent)
    score = flaw[0][:, None] + flaw[1][None, :] + 2 * (1 - angle / 180) - 0.8 * apart
    i, j = np.unravel_index(np.argmin(np.where(allowed, score, np.inf)), score.shape)
    return int(i), int(j)


def opposite_bound(angle: Floats, total: Floats) -> float:
    """The least angle between two bridges: 120 degrees, or 90 where that takes less than half the length.

    Only where there are no such places, beside an opening that runs off the face, is it less.
    """
    reach = {wanted: float(total[angle >= wanted].min(initial=math.inf)) for wanted in OPPOSITE_DEGREES}
    if reach[90.0] < FAR_SHORTER * reach[120.0]:
        return 90.0
    return next((wanted for wanted in OPPOSITE_DEGREES if reach[wanted] < math.inf), 0.0)
