"""Paths as cairo contexts have them: how long they are, what they may cover, and where that lies."""

import itertools
import math
from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

Box = tuple[float, float, float, float]  # left, top, right, bottom
Point = tuple[float, float]
Piece = tuple[int, tuple[float, ...]]  # of a path as cairo copies it: move, line, curve or close, and its points
MOVE, LINE, CURVE, CLOSE = range(4)

FAR = 0.02  # chords of a curve far outside the drawing, beside those in it
CURVED = 4  # points that a curve counts as in a clip: cairo cuts it to chords, SVG and PDF write its control points


class Line(NamedTuple):
    """A path as it is asked for, in its own units: the boxes of its pieces with their control points, and how long they
    are together; how much of that is straight or curved, no piece longer than can be seen; and the most that it covers.
    """

    boxes: list[Box]
    long: float
    straight: float
    curved: float
    area: float


def _pieces(context: Any) -> Iterator[tuple[Point, list[Point]]]:
    """The pieces of a context's path: where its part began, and its points from end to end with control points between.

    All but moves, which draw nothing.
    """
    here = start = (0.0, 0.0)
    for kind, points in context.copy_path():
        if not kind:
            here = start = points
            continue
        ends = points or start
        corners = [here, *zip(ends[::2], ends[1::2], strict=True)]
        yield start, corners
        here = corners[-1]


def line_of(context: Any, most: float) -> Line:
    """A context's path; no piece counts as longer than `most`."""
    boxes: list[Box] = []
    long = straight = curved = area = 0.0
    for start, corners in _pieces(context):
        box = _around(corners)
        boxes.append(box)
        piece = sum(math.dist(one, other) for one, other in itertools.pairwise(corners))
        long += piece
        # What a path runs round lies in the triangles over the chords of its pieces, from where it began, and between
        # curves and their chords: those lie in the boxes of their control points.
        area += _triangle(start, corners[0], corners[-1])
        if len(corners) > 2:
            # What lies far outside is cut to chords as well, if to fewer.
            curved += min(piece, most) if piece <= most or not most else most * max(1.0, FAR * math.sqrt(piece / most))
            area += (box[2] - box[0]) * (box[3] - box[1])
        else:
            straight += min(piece, most)
    return Line(boxes, long, straight, curved, area)


def clip_boxes(context: Any) -> tuple[list[Box], int]:
    """The boxes of the pieces of a context's path, on the drawing, and how many points they come to."""
    found = [[context.user_to_device(*corner) for corner in corners] for _, corners in _pieces(context)]
    return [_around(corners) for corners in found], sum(CURVED if len(corners) > 2 else 1 for corners in found)


def is_rectangle(boxes: Sequence[Box]) -> bool:
    """Whether a path of such pieces is an upright rectangle, or nothing, which costs a clip nothing."""
    return len(boxes) <= 5 and all(left == right or top == bottom for left, top, right, bottom in boxes)


def all_around(boxes: Sequence[Box], by: float = 0.0) -> Box:
    """The box around some, grown on all sides."""
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts) - by, min(tops) - by, max(rights) + by, max(bottoms) + by


def on_device(context: Any, box: Box) -> Box:
    """The box on the drawing around a box in a context's own units."""
    return _around([context.user_to_device(x, y) for x in box[::2] for y in box[1::2]])


def stretch(context: Any) -> tuple[float, float]:
    """How many times lengths grow at most, and areas, from a context's own units to the drawing's."""
    (a, b), (c, d) = context.user_to_device_distance(1, 0), context.user_to_device_distance(0, 1)
    return longest(a, b, c, d), abs(a * d - b * c)


def longest(a: float, b: float, c: float, d: float) -> float:
    """How many times a matrix makes lengths grow at most: the larger of its two singular values."""
    squares, times = a * a + b * b + c * c + d * d, a * d - b * c
    return math.sqrt((squares + math.sqrt(max(0.0, squares * squares - 4 * times * times))) / 2)


def _around(corners: Sequence[Point]) -> Box:
    xs, ys = zip(*corners, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _triangle(one: Point, two: Point, three: Point) -> float:
    return abs((two[0] - one[0]) * (three[1] - one[1]) - (three[0] - one[0]) * (two[1] - one[1])) / 2


def area_of(path: Sequence[Piece]) -> float:
    """The area that a path runs round, less than nothing where it runs the other way.

    Of a curve: Green's theorem on its Bernstein polynomials.
    """
    area, here, start = 0.0, (0.0, 0.0), (0.0, 0.0)
    for kind, points in path:
        if kind == MOVE:
            area += _beside(here, start)  # a part that is left open is filled as if it were closed
            here = start = points[0], points[1]
            continue
        end = (points[-2], points[-1]) if points else start
        if kind == CURVE:
            (x0, y0), (x1, y1, x2, y2, x3, y3) = here, points
            area += x0 * (6 * y1 + 3 * y2 + y3) / 20 + 3 * x1 * (y2 + y3 - 2 * y0) / 20
            area += 3 * x2 * (2 * y3 - y0 - y1) / 20 - x3 * (y0 + 3 * y1 + 6 * y2) / 20
        else:
            area += _beside(here, end)
        here = end
    return area + _beside(here, start)


def turned_round(path: Sequence[Piece]) -> list[Piece]:
    """A path that is to be filled, run through from its end."""
    parts: list[list[Piece]] = []
    for piece in path:
        if piece[0] == MOVE or not parts:
            parts.append([])
        if piece[0] != CLOSE:
            parts[-1].append(piece)
    return [piece for part in parts for piece in _from_end(part)]


def _from_end(part: list[Piece]) -> Iterator[Piece]:
    """The pieces of one part the other way round, closed."""
    if not part:
        return
    yield MOVE, part[-1][1][-2:]
    for (_, before), (kind, points) in zip(part[-2::-1], part[:0:-1], strict=True):
        x, y = before[-2:]
        yield kind, (*points[2:4], *points[:2], x, y) if kind == CURVE else (x, y)
    yield CLOSE, ()


def _beside(here: Point, there: Point) -> float:
    """The area of the triangle from zero over a line."""
    return (here[0] * there[1] - there[0] * here[1]) / 2
