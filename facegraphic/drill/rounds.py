"""Telling circles from what only looks like them, after any transform.

A circle under a transform is given by its middle and two radius vectors that stood at right angles before it.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from facegraphic.drill.model import far
from facegraphic.geometry.path import Point

# A thousandth of a diameter is far below what a drill holds, and far above what files round away.
ROUND_SHARE = 1e-3
ROUND_MM = 0.002
FARTHEST = 1e7
SAME_POINT = 1e-6
FEWEST_CORNERS = 24  # of a polygon that stands for a circle: nuts have six, and twelve are drawn for looks
ANGLE_GAP = math.radians(0.1)
SAME_MM = 0.02  # arcs that belong together share middle and radius to this


@dataclass(frozen=True)
class Round:
    """A circle: middle and radius."""

    at: Point
    r: float


@dataclass(frozen=True)
class Arc:
    """A part of a circle, counterclockwise from `start` by `sweep` radians."""

    at: Point
    r: float
    start: float
    sweep: float


def sane(*points: Point) -> bool:
    """Whether figures are finite and none so large that it can only be a mistake, or meant to do harm."""
    return all(abs(figure) <= FARTHEST for point in points for figure in point)


def farthest(*points: Point) -> str:
    """What is wrong with figures that are not sane: how far out they are, or that they have no end."""
    figures = [abs(figure) for point in points for figure in point]
    worst = max(figures) if all(map(math.isfinite, figures)) else math.inf
    return f"lies {far(worst)} mm out" if math.isfinite(worst) else "has figures that are not finite"


def tolerance(r: float) -> float:
    return max(ROUND_MM, r * ROUND_SHARE)


def radius(u: Point, v: Point) -> float | None:
    """The radius of the ellipse with conjugate radius vectors u and v if it is a circle, else None."""
    # Singular values of the matrix with the columns u and v are the half axes.
    square = u[0] ** 2 + u[1] ** 2 + v[0] ** 2 + v[1] ** 2
    area = u[0] * v[1] - u[1] * v[0]
    root = math.sqrt(max(square * square - 4 * area * area, 0.0))
    long = math.sqrt((square + root) / 2)
    short = abs(area) / long if long else 0.0
    if short == 0 or long - short > tolerance(long):
        return None
    return (long + short) / 2


def circle_through(points: Sequence[Point], nodes: Sequence[Point] = ()) -> Round | None:
    """The circle that all points of a ring lie on, once round; None if there is none.

    It is laid through the nodes if there are three: curves between them are only nearly round.
    """
    ring, nodes = _opened(points), _opened(nodes)
    if len(ring) < 3:
        return None
    through = nodes if len(nodes) >= 3 else ring
    third = len(through) // 3
    found = _circumcircle(through[0], through[third], through[2 * third])
    if found is None:
        return None
    if any(abs(math.dist(point, found.at) - found.r) > tolerance(found.r) for point in ring):
        return None
    angles = [math.atan2(y - found.at[1], x - found.at[0]) for x, y in ring]
    turns = [_wrapped(after - before) for before, after in zip(angles, angles[1:] + angles[:1], strict=True)]
    once = abs(abs(sum(turns)) - 2 * math.pi) < 1e-6
    one_way = all(turn > 0 for turn in turns) or all(turn < 0 for turn in turns)
    return found if once and one_way else None


def polygon_circle(corners: Sequence[Point]) -> Round | None:
    """The circle that a closed polygon of many even sides stands for; None if it stands for none."""
    found = circle_through(corners)
    if found is None:
        return None
    ring = _opened(corners)
    sides = [math.dist(a, b) for a, b in itertools.pairwise([*ring, ring[0]])]
    if len(sides) < FEWEST_CORNERS or max(sides) > 4 * math.pi * found.r / FEWEST_CORNERS:
        return None
    return found


def arc_through(points: Sequence[Point]) -> Arc | None:
    """The arc, less than a whole turn, that points stand on in their order; None if they stand on none."""
    if len(points) < 3:
        return None
    found = _circumcircle(points[0], points[len(points) // 2], points[-1])
    if found is None or any(abs(math.dist(point, found.at) - found.r) > tolerance(found.r) for point in points):
        return None
    angles = [math.atan2(y - found.at[1], x - found.at[0]) for x, y in points]
    turns = [_wrapped(after - before) for before, after in itertools.pairwise(angles)]
    sweep = sum(turns)
    if not (all(turn > 0 for turn in turns) or all(turn < 0 for turn in turns)) or abs(sweep) >= 2 * math.pi:
        return None
    return Arc(found.at, found.r, angles[0] if sweep > 0 else angles[-1], abs(sweep))


@dataclass(frozen=True)
class Joint:
    """A circle made of arcs."""

    circle: Round
    arcs: tuple[Arc, ...]


def joined(arcs: Sequence[Arc]) -> tuple[list[Joint], list[Arc]]:
    """Circles that arcs make together, and the arcs that make none."""
    groups: list[list[Arc]] = []
    by_cell: dict[tuple[int, int, int], list[Arc]] = {}
    for arc in arcs:
        cell = (round(arc.at[0] / SAME_MM), round(arc.at[1] / SAME_MM), round(arc.r / SAME_MM))
        around = (tuple(map(sum, zip(cell, step, strict=True))) for step in itertools.product((0, -1, 1), repeat=3))
        group = next((by_cell[near] for near in around if near in by_cell), None)
        if group is None:
            group = by_cell[cell] = []
            groups.append(group)
        group.append(arc)
    circles: list[Joint] = []
    loose: list[Arc] = []
    for group in groups:
        if not _covers(group):
            loose += group
            continue
        weight = sum(arc.sweep for arc in group)
        x = sum(arc.at[0] * arc.sweep for arc in group) / weight
        y = sum(arc.at[1] * arc.sweep for arc in group) / weight
        circle = Round((x, y), sum(arc.r * arc.sweep for arc in group) / weight)
        circles.append(Joint(circle, tuple(group)))
    return circles, loose


def _opened(points: Sequence[Point]) -> list[Point]:
    """A ring without points that repeat the one before them."""
    ring: list[Point] = []
    for point in points:
        if not ring or math.dist(point, ring[-1]) > SAME_POINT:
            ring.append(point)
    while len(ring) > 1 and math.dist(ring[0], ring[-1]) <= SAME_POINT:
        ring.pop()
    return ring


def _covers(arcs: Sequence[Arc]) -> bool:
    """Whether arcs of one circle go all the way round it together."""
    full = 2 * math.pi
    spans = sorted((arc.start % full, arc.start % full + arc.sweep) for arc in arcs)
    reach = spans[0][0]
    for start, end in spans:
        if start > reach + ANGLE_GAP:
            return False
        reach = max(reach, end)
    return reach >= spans[0][0] + full - ANGLE_GAP


def _circumcircle(a: Point, b: Point, c: Point) -> Round | None:
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    area = 2 * (bx * cy - by * cx)
    if abs(area) < 1e-12:
        return None
    x = (cy * (bx * bx + by * by) - by * (cx * cx + cy * cy)) / area
    y = (bx * (cx * cx + cy * cy) - cx * (bx * bx + by * by)) / area
    return Round((a[0] + x, a[1] + y), math.hypot(x, y))


def _wrapped(angle: float) -> float:
    return (angle + math.pi) % (2 * math.pi) - math.pi
