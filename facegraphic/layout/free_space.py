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
    return [Box(x[x0], y[y0], x[x1], y[y1]) for x0, y0, x1, y1 in _maximal(taken)]


def _clipped(box: Box, container: Box) -> Box | None:
    """What of a box lies in the container; None when that has no area."""
    clipped = Box(
        max(box.x0, container.x0), max(box.y0, container.y0), min(box.x1, container.x1), min(box.y1, container.y1)
    )
    return clipped if clipped.x0 < clipped.x1 and clipped.y0 < clipped.y1 else None


def _maximal(taken: NDArray[np.bool_]) -> Iterator[tuple[int, int, int, int]]:
    """The maximal free rectangles of a grid, as ranks of their edges: left, low, right, high."""
    rows, columns = taken.shape
    ceilings = np.empty((rows, columns), dtype=np.int64)
    ceiling = np.full(columns, rows, dtype=np.int64)
    for row in range(rows - 1, -1, -1):
        ceiling = np.where(taken[row], row, ceiling)
        ceilings[row] = ceiling
    for row in range(rows):
        below = taken[row - 1] if row else np.ones(columns, dtype=np.bool_)
        if not (below & ~taken[row]).any():
            continue  # nothing that starts here rests on anything
        resting = [0, *np.cumsum(below).tolist()]
        for left, right, high in _under(ceilings[row], row):
            if resting[right] > resting[left]:
                yield left, row, right, high


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


def slabs(geometry: BaseGeometry, tolerance: float) -> list[Box]:
    """Boxes that together cover a shape, each a slice of it from left to right.

    Every point of a box lies within `tolerance` + 0.002 mm of the shape: slices are halved until that is so. It is so
    once a slice is lower or narrower than the tolerance, as it holds connected parts, which reach from side to side.
    """
    found: list[Box] = []
    waiting = _polygons(geometry)
    while waiting:
        part = waiting.pop()
        box = Box(*part.bounds)
        if box.height <= tolerance or box.width <= tolerance or part.buffer(tolerance).covers(shapely.box(*box)):
            found.append(_outward(box))
            continue
        middle = (box.y0 + box.y1) / 2
        for half in (Box(box.x0, box.y0, box.x1, middle), Box(box.x0, middle, box.x1, box.y1)):
            waiting += _polygons(part.intersection(shapely.box(*half)))
    return found


def _polygons(geometry: BaseGeometry) -> list[BaseGeometry]:
    """The connected parts of a shape that have area."""
    parts: list[BaseGeometry] = []
    for part in shapely.get_parts(geometry):
        parts += _polygons(part) if shapely.get_num_geometries(part) > 1 else [part] if part.area > 0 else []
    return parts


def _outward(box: Box) -> Box:
    """A box moved out to whole microns, and past them where they are too near to be told from it."""
    x0, y0 = (math.floor((value - SLACK) / STEP) * STEP for value in (box.x0, box.y0))
    x1, y1 = (math.ceil((value + SLACK) / STEP) * STEP for value in (box.x1, box.y1))
    return Box(x0, y0, x1, y1)


def grown(area: BaseGeometry, by: float, tolerance: float) -> list[Box]:
    """Boxes that hold all places nearer than `by` to a shape: one for a box, with sharp corners; slabs for others."""
    if area.is_empty:
        return []
    if shapely.envelope(area).area - area.area < SLACK * STEP:
        return [_outward(Box(*area.bounds).grown(by))]
    quarter = 16
    # A buffer's round parts are polygons inside the true ones; a little more holds them.
    return slabs(area.buffer(by / math.cos(math.pi / (4 * quarter)), quad_segs=quarter), tolerance)


def free_in(inside: BaseGeometry, taken: Sequence[BaseGeometry], gap: float, tolerance: float) -> list[Box]:
    """Every maximal rectangle inside a shape that keeps a gap to all that is taken.

    Beside what is not a box it may be short of what is free by the tolerance, at a corner of a box by 0.42 of the gap.
    """
    if inside.is_empty:
        return []
    obstacles = slabs(shapely.envelope(inside).difference(inside), tolerance)
    for area in taken:
        obstacles += grown(area, gap, tolerance)
    bounds = Box(*inside.bounds)
    # Snapped like the obstacles, and inwards: what touches a side must still be contained.
    x0, y0 = (math.ceil((value + SLACK) / STEP) * STEP for value in (bounds.x0, bounds.y0))
    x1, y1 = (math.floor((value - SLACK) / STEP) * STEP for value in (bounds.x1, bounds.y1))
    return free_rectangles(Box(x0, y0, x1, y1), obstacles) if x0 < x1 and y0 < y1 else []
