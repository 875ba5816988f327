"""Telling circles from what only looks like them, after any transform.

A circle under a transform is given by its middle and two radius vectors that stood at right angles before it.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from facegraphic.geometry.path import Point

# A thousandth of a diameter is far below what a drill holds, and far above what files round away.
ROUND_SHARE = 1e-3
ROUND_MM = 0.002
FEWEST_CORNERS = 24  # of a polygon that stands for a circle: nuts have six, and twelve are drawn for looks
ANGLE_GAP = math.radians(0.1)
SAME_MM = 0.01  # arcs that belong together share middle and radius to this


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


def circle_through(points: Sequence[Point]) -> Round | None:
    """The circle that all points of a ring lie on, once round; None if there is none."""
    ring = list(points[:-1]) if len(points) > 1 and math.dist(points[0], points[-1]) < ROUND_MM else list(points)
    if len(ring) < 3:
        return None
    third = len(ring) // 3
    found = _circumcircle(ring[0], ring[third], ring[2 * third])
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
    closed = [*corners, corners[0]]
    sides = [side for a, b in zip(closed, closed[1:], strict=False) if (side := math.dist(a, b)) > ROUND_MM]
    if len(sides) < FEWEST_CORNERS or max(sides) > 4 * math.pi * found.r / FEWEST_CORNERS:
        return None
    return found


def joined(arcs: Sequence[Arc]) -> tuple[list[Round], list[Arc]]:
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
    circles: list[Round] = []
    loose: list[Arc] = []
    for group in groups:
        if not _covers(group):
            loose += group
            continue
        weight = sum(arc.sweep for arc in group)
        x = sum(arc.at[0] * arc.sweep for arc in group) / weight
        y = sum(arc.at[1] * arc.sweep for arc in group) / weight
        circles.append(Round((x, y), sum(arc.r * arc.sweep for arc in group) / weight))
    return circles, loose


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
