"""Rings of many points fitted back to few lines and cubic curves, as cutters and drawing programs like them.

True corners and straight edges are found first and kept to the point. What lies between is fitted by least squares
with the tangents at both ends given; the points are moved to their nearest parameters and the fit repeated, and what
still strays is cut in two where it strays most (the method that Schneider published in Graphics Gems, 1990).
Every path is checked as a whole before it is handed out: within the tolerance both ways, and not crossing itself.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LinearRing, LineString, Polygon
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import FLATNESS_MM, Path, Segment
from facegraphic.geometry.regions import path_of
from facegraphic.geometry.shapes import arc_segments

Points = npt.NDArray[np.float64]

TOLERANCE_MM = 0.02
SHARE = 0.6  # of the tolerance goes to the fit at the points; the rest is for what the chords between them cut off
NOISE_MM = 0.0005  # points this near to a straight line say nothing
SAGITTA_MM = 2 * FLATNESS_MM  # a chord of a flattened curve strays less than this
ROUND_MM = 0.002  # points this near to a circle, or as four cubics are, lie on it
SHARP_DEGREES = 20.0
SHARPER = 2.5  # times as sharp as its neighbours: a corner among the small turns of a flattened curve
LONGER = 4.0  # times as long as its neighbours: a straight edge among chords
ROUNDS = 6


def fitted(area: BaseGeometry, tolerance: float = TOLERANCE_MM) -> Path:
    """The outlines of a region as a path of few segments, nowhere further than `tolerance` mm from them.

    Outer rings run counter-clockwise, holes clockwise. Where fitted rings would cross, the fit is made closer, and
    in the end the ring's own points are taken. Of an empty region there are none.
    """
    parts = [shapely.geometry.polygon.orient(part) for part in polygons_of(area)]
    if not parts:
        return Path()
    drawn = [_polygon(part, tolerance) for part in parts]
    # Parts that all but touch must not reach into each other by what their fits stray.
    shapes = [_flat([path]) for path in drawn]
    tree = shapely.STRtree(shapes)
    for first, second in tree.query(shapes, predicate="intersects").T.tolist():
        apart = not parts[first].intersects(parts[second])
        if first < second and (apart or shapes[first].intersection(shapes[second]).area > 0):
            drawn[first], drawn[second] = path_of(parts[first]), path_of(parts[second])
    return Path.joined(drawn)


def polygons_of(area: BaseGeometry) -> list[Polygon]:
    """The polygons of any region, collections unfolded, all else left out."""
    if isinstance(area, Polygon):
        return [] if area.is_empty else [area]
    return [part for geometry in getattr(area, "geoms", ()) for part in polygons_of(geometry)]


def node_count(path: Path) -> int:
    """How many nodes a cutter sees: the ends of lines and curves, a contour's start counted with its last."""
    ends = sum(segment[0] in "LC" for segment in path.segments)
    closing = [number for number, segment in enumerate(path.segments) if segment[0] == "Z"]
    return ends + sum(not _returns(path.segments, number) for number in closing)


def _returns(segments: Sequence[Segment], close: int) -> bool:
    """Whether a contour comes back to its start before it is closed."""
    start = next(s for s in reversed(segments[:close]) if s[0] == "M")
    return math.dist(start[1:], segments[close - 1][-2:]) < 1e-9


def _polygon(part: Polygon, tolerance: float) -> Path:
    rings = [part.exterior, *part.interiors]
    for closeness in (tolerance, tolerance / 2, tolerance / 4):
        found = [fitted_ring(ring, closeness) for ring in rings]
        if _flat(found).is_valid:
            return Path.joined(found)
    return path_of(part)


def _flat(paths: Sequence[Path]) -> Polygon:
    """The polygon of an outer ring and its holes, one path or several."""
    outer, *holes = Path.joined(paths).rings(FLATNESS_MM / 5)
    return Polygon(outer, holes)


def fitted_ring(ring: LinearRing, tolerance: float = TOLERANCE_MM) -> Path:
    """One closed ring as a closed path, in the ring's own direction."""
    points = np.asarray(ring.simplify(NOISE_MM).coords)[:-1]
    if len(points) < 3:
        return Path((("M", *ring.coords[0]), *(("L", *p) for p in ring.coords[1:-1]), ("Z",)))
    for closeness in (tolerance, tolerance / 2, tolerance / 4):
        pieces = _circle(points) or _closed(points, closeness * SHARE)
        path = _path(pieces)
        if _true(path, ring, tolerance):
            return path
    return Path((("M", *points[0]), *(("L", *p) for p in points[1:]), ("Z",)))


def fitted_line(line: LineString, tolerance: float = TOLERANCE_MM) -> Path:
    """An open run of points as an open path ("M" and segments, no "Z"). Its ends stay where they are."""
    points = np.asarray(line.simplify(NOISE_MM).coords)
    if len(points) < 3:
        return Path((("M", *points[0].tolist()), *(("L", *p) for p in points[1:].tolist())))
    breaks, smooth = _breaks(points, closed=False)
    pieces = _runs(points, [0, *breaks, len(points) - 1], smooth, tolerance * SHARE)
    return _path(pieces, closed=False)


def _true(path: Path, ring: LinearRing, tolerance: float) -> bool:
    """Whether a closed path is within the tolerance of a ring, both ways, and does not cross itself."""
    flat = path.rings(tolerance / 40)
    if len(flat) != 1:
        return False
    drawn = LinearRing(flat[0])
    if not drawn.is_simple or drawn.is_ccw != ring.is_ccw:
        return False
    # Curves are near straight between their points, so that the distance is found at the points and between them.
    there, back = shapely.segmentize(drawn, tolerance * 2), shapely.segmentize(ring, tolerance * 2)
    far = max(
        shapely.distance(shapely.points(shapely.get_coordinates(a)), b).max() for a, b in ((there, ring), (back, drawn))
    )
    return bool(far <= tolerance)


def _path(pieces: Sequence[Points], closed: bool = True) -> Path:
    segments: list[Segment] = [("M", *pieces[0][0].tolist())]
    for piece in pieces:
        segments.append(("L" if len(piece) == 2 else "C", *piece[1:].ravel().tolist()))
    if closed:
        if segments[-1][0] == "L":
            segments.pop()  # closing draws the last line
        else:
            segments[-1] = (*segments[-1][:-2], *segments[0][1:])
        segments.append(("Z",))
    return Path(tuple(segments))


def _circle(points: Points) -> list[Points]:
    """Four cubics if the points are those of a flattened circle, else none."""
    if len(points) < 8:
        return []
    system = np.column_stack([2 * points, np.ones(len(points))])
    (x, y, c), *_ = np.linalg.lstsq(system, (points**2).sum(axis=1), rcond=None)
    radius = math.sqrt(max(c + x * x + y * y, 0.0))
    away = points - (x, y)
    chords = np.hypot(*(np.roll(points, -1, axis=0) - points).T)
    sagitta = chords**2 / 8 / max(radius, 1e-9)
    if np.abs(np.hypot(*away.T) - radius).max() > max(ROUND_MM, 3e-4 * radius) or sagitta.max() > SAGITTA_MM:
        return []
    bearing = np.arctan2(away[:, 1], away[:, 0])
    turn = math.tau if (((np.roll(bearing, -1) - bearing) + math.pi) % math.tau - math.pi).sum() > 0 else -math.tau
    here, pieces = np.array([x + radius, y]), []
    for segment in arc_segments((float(x), float(y)), radius, 0.0, turn):
        piece = np.vstack([here, np.array(segment[1:]).reshape(3, 2)])
        pieces.append(piece)
        here = piece[-1]
    return pieces


def _turns(points: Points, closed: bool) -> tuple[Points, Points]:
    """Lengths of the edges that begin at each point, and how far the ring turns there (radians, unsigned)."""
    ahead = np.roll(points, -1, axis=0) - points
    heading = np.arctan2(ahead[:, 1], ahead[:, 0])
    turn = np.abs((heading - np.roll(heading, 1) + math.pi) % math.tau - math.pi)
    length = np.hypot(*ahead.T)
    if not closed:
        turn[[0, -1]] = math.pi
        length[-1] = 0
    return length, turn


def _breaks(points: Points, closed: bool) -> tuple[list[int], set[int]]:
    """The points where a new segment must begin, and those of them through which the ring runs smoothly."""
    length, turn = _turns(points, closed)
    before, after = np.roll(length, 1), length
    bulge = np.minimum(before, after) * np.tan(np.minimum(turn, 3.0) / 2) / 4
    beside = np.maximum(np.roll(turn, 1), np.roll(turn, -1))
    sharp = (turn > math.radians(SHARP_DEGREES)) & (turn > SHARPER * beside)
    corner = (bulge > SAGITTA_MM) | sharp | (turn > math.radians(100))
    least_turn = np.minimum(turn, np.roll(turn, -1))
    neighbours = np.maximum(np.roll(length, 1), np.roll(length, -1))
    straight = (length * np.tan(np.minimum(least_turn, 3.0) / 2) / 4 > SAGITTA_MM) | (length > LONGER * neighbours)
    straight |= corner & np.roll(corner, -1)
    ends = straight | np.roll(straight, 1) | corner
    if not closed:
        ends[[0, -1]] = False
    return [int(i) for i in np.flatnonzero(ends)], {int(i) for i in np.flatnonzero(ends & ~corner)}


def _closed(points: Points, tolerance: float) -> list[Points]:
    breaks, smooth = _breaks(points, closed=True)
    if not breaks:
        # A smooth ring begins at its rightmost point, where drawing programs too set a node.
        first = int(np.argmax(points[:, 0]))
        breaks, smooth = [first], {first}
    points = np.roll(points, -breaks[0], axis=0)
    count, first = len(points), breaks[0]
    points = np.vstack([points, points[0]])
    moved = [(i - first) % count for i in breaks]
    smooth = {(i - first) % count for i in smooth}
    if 0 in smooth:
        smooth.add(count)
    return _runs(points, [*moved, count], smooth, tolerance)


def _runs(points: Points, breaks: Sequence[int], smooth: set[int], tolerance: float) -> list[Points]:
    """Lines between breaks that are neighbours, curves over what lies between the others."""
    pieces: list[Points] = []
    count = len(points) - 1
    closed = bool(np.allclose(points[0], points[-1]))
    for start, end in pairwise(breaks):
        run = points[start : end + 1]
        if len(run) == 2:
            pieces.append(run)
            continue
        before = points[start - 1] if start else (points[-2] if closed else run[0])
        after = points[end + 1] if end < count else (points[1] if closed else run[-1])
        lone = len(breaks) == 2 and closed and start in smooth  # a ring without a corner
        first = _smooth_tangent(before, run[0], run[1], lone) if start in smooth else _end_tangent(run)
        last = -first if lone else (
            -_smooth_tangent(run[-2], run[-1], after, False) if end in smooth else _end_tangent(run[::-1])
        )  # fmt: skip
        pieces += _fit(run, first, last, tolerance)
    return pieces


def _unit(vector: Points) -> Points:
    return vector / max(float(np.hypot(*vector)), 1e-12)


def _smooth_tangent(before: Points, here: Points, after: Points, chords: bool) -> Points:
    """The tangent where a run passes smoothly: of the circle through three points, or along a straight edge."""
    into, out = here - before, after - here
    a, b = float(np.hypot(*into)), float(np.hypot(*out))
    if not chords and max(a, b) > LONGER / 2 * min(a, b):
        return _unit(into if a > b else out)
    return _unit(into / max(a, 1e-12) * b + out / max(b, 1e-12) * a)


def _end_tangent(run: Points) -> Points:
    """The tangent at a run's first point: of the circle through its first three points."""
    if len(run) < 3:
        return _unit(run[1] - run[0])
    a, b = run[1] - run[0], run[2] - run[1]
    la, lb = max(float(np.hypot(*a)), 1e-12), max(float(np.hypot(*b)), 1e-12)
    # The parabola's slope at its end: the first chord, and as much again of how the chords turn.
    return _unit(a / la + (a / la - b / lb) * la / (la + lb))


def _fit(run: Points, first: Points, last: Points, tolerance: float) -> list[Points]:
    """Cubics along a run of points. `first` points into the run at its start, `last` into it at its end."""
    if len(run) == 2:
        reach = float(np.hypot(*(run[1] - run[0]))) / 3
        return [np.array([run[0], run[0] + first * reach, run[1] + last * reach, run[1]])]
    steps = np.hypot(*np.diff(run, axis=0).T)
    u = np.concatenate([[0.0], np.cumsum(steps)]) / steps.sum()
    worst, split = math.inf, len(run) // 2
    for _ in range(ROUNDS):
        curve = _least_squares(run, u, first, last)
        error, split = _error(curve, run, u)
        if error <= tolerance:
            return [curve]
        if error > 4 * tolerance and error > 0.95 * worst:
            break
        worst = min(worst, error)
        u = _nearer(curve, run, u)
    tangent = _smooth_tangent(run[split - 1], run[split], run[split + 1], False)
    return _fit(run[: split + 1], first, -tangent, tolerance) + _fit(run[split:], tangent, last, tolerance)


def _basis(u: Points) -> Points:
    v = 1 - u
    return np.stack([v**3, 3 * u * v**2, 3 * u**2 * v, u**3], axis=1)


def _least_squares(run: Points, u: Points, first: Points, last: Points) -> Points:
    """The cubic with these ends and tangents that is nearest to the points at the parameters u."""
    b = _basis(u)
    a1, a2 = b[:, 1:2] * first, b[:, 2:3] * last
    rest = run - (b[:, :2].sum(axis=1)[:, None] * run[0] + b[:, 2:].sum(axis=1)[:, None] * run[-1])
    c11, c12, c22 = (a1 * a1).sum(), (a1 * a2).sum(), (a2 * a2).sum()
    x1, x2 = (a1 * rest).sum(), (a2 * rest).sum()
    determinant = c11 * c22 - c12 * c12
    chord = float(np.hypot(*(run[-1] - run[0])))
    length = float(np.hypot(*np.diff(run, axis=0).T).sum())
    reach_1 = reach_2 = chord / 3
    if abs(determinant) > 1e-12:
        r1, r2 = (x1 * c22 - x2 * c12) / determinant, (c11 * x2 - c12 * x1) / determinant
        if min(r1, r2) > 1e-3 * length and max(r1, r2) < 2 * length:
            reach_1, reach_2 = float(r1), float(r2)
    return np.array([run[0], run[0] + first * reach_1, run[-1] + last * reach_2, run[-1]])


def _error(curve: Points, run: Points, u: Points) -> tuple[float, int]:
    """How far a cubic strays from the points, and from the chords between them; and the point to cut at."""
    at = np.hypot(*(_basis(u) @ curve - run).T)
    middle = _basis((u[1:] + u[:-1]) / 2) @ curve
    chord = np.diff(run, axis=0)
    length = np.maximum(np.hypot(*chord.T), 1e-12)
    away = middle - run[:-1]
    off = np.abs(chord[:, 0] * away[:, 1] - chord[:, 1] * away[:, 0]) / length
    split = min(max(int(np.argmax(at)), 1), len(run) - 2)
    return float(max(at.max(), off.max() - FLATNESS_MM)), split


def _nearer(curve: Points, run: Points, u: Points) -> Points:
    """The parameters after one step of Newton's towards the curve's nearest points."""
    d1 = 3 * np.diff(curve, axis=0)
    d2 = 2 * np.diff(d1, axis=0)
    v = 1 - u
    off = _basis(u) @ curve - run
    slope = np.stack([v**2, 2 * u * v, u**2], axis=1) @ d1
    bend = np.stack([v, u], axis=1) @ d2
    below = (slope**2).sum(axis=1) + (off * bend).sum(axis=1)
    step = np.where(np.abs(below) > 1e-12, (off * slope).sum(axis=1) / np.where(below == 0, 1, below), 0)
    moved = np.clip(u - step, 0, 1)
    moved[[0, -1]] = 0, 1
    return moved if bool(np.all(np.diff(moved) >= 0)) else u
