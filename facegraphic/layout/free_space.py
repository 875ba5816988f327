"""All the largest empty rectangles between boxes, found exactly, and boxes that cover shapes which are none.

A rectangle is maximal when none of its sides can move out: each touches an obstacle or the container. Coordinates
are ranked, so that the plane becomes a grid of cells that are free or taken as a whole; over every row of it that
rests on something, the rectangles are those of a skyline (the free height of each column), walked with a stack.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box

SLACK = 1e-6  # far over the rounding of shapely's cuts, far under anything that can be printed
STEP = 1e-3  # edges of covering boxes lie on whole microns, so that nearly equal ones become one

Grid = NDArray[np.int64]
Lengths = NDArray[np.float64]
Shapes = NDArray[np.object_]  # of shapely geometries


def free_rectangles(container: Box, obstacles: Sequence[Box]) -> list[Box]:
    """Every maximal empty rectangle of a container, from the bottom up and from the left.

    Boxes without area inside the container are no obstacles; rectangles and obstacles may touch.
    """
    inside = [clipped for box in obstacles if (clipped := _clipped(box, container))]
    edges = np.array([container, *inside], dtype=np.float64)
    xs, ys = np.unique(edges[:, [0, 2]]), np.unique(edges[:, [1, 3]])
    if len(xs) < 2 or len(ys) < 2:
        return []
    taken = np.zeros((len(ys) - 1, len(xs) - 1), dtype=np.bool_)
    left, low = np.searchsorted(xs, edges[1:, 0]), np.searchsorted(ys, edges[1:, 1])
    right, high = np.searchsorted(xs, edges[1:, 2]), np.searchsorted(ys, edges[1:, 3])
    for x0, y0, x1, y1 in zip(left.tolist(), low.tolist(), right.tolist(), high.tolist(), strict=True):
        taken[y0:y1, x0:x1] = True
    x, y = xs.tolist(), ys.tolist()
    return [Box(x[x0], y[y0], x[x1], y[y1]) for y0, x0, y1, x1 in sorted(_maximal(taken))]


def without(rooms: Sequence[Box], obstacle: Box) -> list[Box]:
    """What `free_rectangles` would find with one obstacle more, from what it found.

    A rectangle that the obstacle cuts leaves up to four beside it, and of those the ones that no other contains.
    """
    old = np.array(rooms, dtype=np.float64).reshape(-1, 4)
    cut = (old[:, :2] < obstacle[2:]).all(axis=1) & (old[:, 2:] > obstacle[:2]).all(axis=1)
    if not cut.any():
        return list(rooms)
    pieces = []
    for side, (edge, other) in enumerate(zip(obstacle, (2, 3, 0, 1), strict=True)):
        piece = old[cut]  # what lies left of, under, right of and above the obstacle
        piece[:, other] = edge
        low = side % 2
        pieces.append(piece[piece[:, low] < piece[:, low + 2]])
    new = np.unique(np.concatenate(pieces), axis=0)
    kept = old[~cut]
    beside = kept[(kept[:, :2] <= obstacle[2:]).all(axis=1) & (kept[:, 2:] >= obstacle[:2]).all(axis=1)]
    new = new[[_holders(piece, new) + _holders(piece, beside) == 1 for piece in new]]
    found = np.concatenate([kept, new])
    order = np.lexsort(found.T[[2, 3, 0, 1]])
    return [Box(*room) for room in found[order].tolist()]


def _holders(piece: Lengths, rooms: Lengths) -> int:
    """How many of some rectangles contain a piece; itself too, if it is one of them."""
    return int(((rooms[:, :2] <= piece[:2]).all(axis=1) & (rooms[:, 2:] >= piece[2:]).all(axis=1)).sum())


def _clipped(box: Box, container: Box) -> Box | None:
    """What of a box lies in the container; None when that has no area."""
    clipped = Box(
        max(box.x0, container.x0), max(box.y0, container.y0), min(box.x1, container.x1), min(box.y1, container.y1)
    )
    return clipped if clipped.x0 < clipped.x1 and clipped.y0 < clipped.y1 else None


def _maximal(taken: NDArray[np.bool_]) -> Iterator[tuple[int, int, int, int]]:
    """The maximal free rectangles of a grid, as ranks of their edges: low, left, high, right."""
    rows, columns = taken.shape
    ceiling = np.full(columns, rows, dtype=np.int64)
    for row in range(rows - 1, -1, -1):
        ceiling[taken[row]] = row
        below = taken[row - 1] if row else np.ones(columns, dtype=np.bool_)
        if not (below & ~taken[row]).any():
            continue  # nothing that starts here rests on anything
        resting = np.concatenate([[0], np.cumsum(below)])
        for left, right, high in _under(ceiling, row):
            if resting[right] > resting[left]:
                yield row, left, high, right


def _under(skyline: Grid, floor: int) -> Iterator[tuple[int, int, int]]:
    """The rectangles on a floor that can grow neither sideways nor up under a skyline: left, right, height."""
    starts = np.flatnonzero(np.diff(skyline, prepend=-1))
    open_: list[tuple[int, int]] = []  # left edge and height, both rising
    for start, height in zip([*starts.tolist(), len(skyline)], [*skyline[starts].tolist(), floor], strict=True):
        left = start
        while open_ and open_[-1][1] > height:
            left, high = open_.pop()
            yield left, start, high
        if height > floor and (not open_ or open_[-1][1] < height):
            open_.append((left, height))


def slabs(shapes: Shapes, tolerance: float) -> list[Box]:
    """Boxes that together cover some shapes, each a slice of one from left to right.

    Every point of a box lies within `tolerance` + 0.002 mm of its shape: slices are halved until that is so. It is so
    once a slice is lower or narrower than the tolerance, as it holds connected parts, which reach from side to side.
    """
    found: list[Box] = []
    waiting = _polygons(shapes)
    while len(waiting):
        bounds = shapely.bounds(waiting)
        done = ((bounds[:, 2:] - bounds[:, :2]) <= tolerance).any(axis=1)
        thick = ~done
        done[thick] = shapely.covers(shapely.buffer(waiting[thick], tolerance), shapely.box(*bounds[thick].T))
        found += _outward(bounds[done])
        x0, y0, x1, y1 = bounds[~done].T
        middle = (y0 + y1) / 2
        halves = [shapely.box(x0, y0, x1, middle), shapely.box(x0, middle, x1, y1)]
        waiting = _polygons(np.concatenate([shapely.intersection(waiting[~done], half) for half in halves]))
    return found


def _polygons(shapes: Shapes) -> Shapes:
    """The connected parts of shapes that have area."""
    parts = shapely.get_parts(shapes)
    while (shapely.get_num_geometries(parts) > 1).any():
        parts = shapely.get_parts(parts)
    large: Shapes = parts[shapely.area(parts) > 0]
    return large


def _outward(bounds: Lengths) -> list[Box]:
    """Boxes moved out to whole microns, and past them where they are too near to be told from them."""
    low, high = np.floor((bounds[:, :2] - SLACK) / STEP) * STEP, np.ceil((bounds[:, 2:] + SLACK) / STEP) * STEP
    return [Box(*box) for box in np.concatenate([low, high], axis=1).tolist()]


def grown(areas: Shapes, by: float, tolerance: float) -> list[Box]:
    """Boxes that hold all places nearer than `by` to any shape: one for a box, with sharp corners; slabs for others."""
    areas = areas[~shapely.is_empty(areas)]
    boxes = shapely.area(shapely.envelope(areas)) - shapely.area(areas) < SLACK * STEP
    quarter = 16
    # A buffer's round parts are polygons inside the true ones; a little more holds them.
    round_ = shapely.buffer(areas[~boxes], by / math.cos(math.pi / (4 * quarter)), quad_segs=quarter)
    square = shapely.bounds(areas[boxes]) + np.array([-by, -by, by, by])
    return _outward(square) + slabs(round_, tolerance)


def free_in(inside: BaseGeometry, taken: Sequence[BaseGeometry], gap: float, tolerance: float) -> list[Box]:
    """Every maximal rectangle inside a shape that keeps a gap to all that is taken.

    Beside what is not a box it may be short of what is free by the tolerance, at a corner of a box by 0.42 of the gap.
    """
    if inside.is_empty:
        return []
    obstacles = slabs(np.array([shapely.envelope(inside).difference(inside)]), tolerance)
    obstacles += grown(np.array(taken, dtype=object), gap, tolerance)
    bounds = Box(*inside.bounds)
    # Snapped like the obstacles, and inwards: what touches a side must still be contained.
    x0, y0 = (math.ceil((value + SLACK) / STEP) * STEP for value in (bounds.x0, bounds.y0))
    x1, y1 = (math.floor((value - SLACK) / STEP) * STEP for value in (bounds.x1, bounds.y1))
    return free_rectangles(Box(x0, y0, x1, y1), obstacles) if x0 < x1 and y0 < y1 else []
