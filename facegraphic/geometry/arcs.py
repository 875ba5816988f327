"""Cubic curves as circular arcs within a tolerance: what cutters that know no curves draw smoothly.

Each stretch of a cubic becomes two arcs that meet smoothly and have the curve's tangents at the ends (a biarc, with
both arms of equal length), and is as long as the tolerance allows.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from facegraphic.geometry.path import Path, Point, Segment

Points = npt.NDArray[np.float64]

ARC_TOLERANCE_MM = 0.005
STRAIGHT = 1e-6  # bulges below this are lines
CHECKS = np.linspace(0, 1, 18)[1:-1]
MOST_BIARCS = 200
HALVINGS = 7
SAME_MM = 0.003  # a cubic this near to one arc is meant to be that arc


@dataclass(frozen=True)
class ArcLine:
    """Lines and arcs end to end, in mm: each point with the bulge of the arc to the next.

    A bulge is the tangent of a quarter of the arc's angle, counter-clockwise positive, 0 for a line, as in DXF.
    """

    points: tuple[tuple[float, float, float], ...]
    closed: bool


def contours(path: Path) -> list[Path]:
    """The contours of a path, each as a path."""
    found: list[list[Segment]] = []
    for segment in path.segments:
        if segment[0] == "M":
            found.append([])
        found[-1].append(segment)
    return [Path(tuple(segments)) for segments in found]


def arc_lines(path: Path, tolerance: float = ARC_TOLERANCE_MM) -> list[ArcLine]:
    """A path's contours as lines and arcs; those without a "Z" are open. Points that fall together are dropped."""
    found: list[ArcLine] = []
    for start, steps, closed in _contours(path):
        points: list[tuple[float, float, float]] = []
        here = start
        for step in steps:
            if len(step) == 2:
                points.append((*here, 0.0))
            else:
                points += _arcs(np.array([*here, *step]).reshape(4, 2), tolerance)
            here = (step[-2], step[-1])
        if not closed or math.dist(here, start) > tolerance / 10:
            points.append((*here, 0.0))
        points = [p for i, p in enumerate(points) if i == 0 or math.dist(p[:2], points[i - 1][:2]) > 1e-7]
        if len(points) > 1:
            found.append(ArcLine(tuple(points), closed))
    return found


def _contours(path: Path) -> Iterator[tuple[Point, list[Sequence[float]], bool]]:
    start: Point = (0.0, 0.0)
    steps: list[Sequence[float]] = []
    for op, *values in path.segments:
        if op == "M":
            if steps:
                yield start, steps, False
            start, steps = (values[0], values[1]), []
        elif op == "Z":
            if steps:
                yield start, steps, True
            steps = []
        else:
            steps.append(values)
    if steps:
        yield start, steps, False


def _arcs(curve: Points, tolerance: float) -> list[tuple[float, float, float]]:
    """The points and bulges of arcs along a cubic, its end left out: each biarc as long as the tolerance allows."""
    single = _arc(curve)
    if single and _strays(curve, single) <= min(tolerance, SAME_MM):
        return single[:-1]
    points: list[tuple[float, float, float]] = []
    for _ in range(MOST_BIARCS):
        found = _biarc(curve)
        if found and _strays(curve, found) <= tolerance:
            return points + found[:-1]
        reach, low, high = 0.0, 0.0, 1.0
        best: list[tuple[float, float, float]] = []
        for _ in range(HALVINGS):
            t = (low + high) / 2
            part = _split(curve, t)[0]
            found = _biarc(part)
            if found and _strays(part, found) <= tolerance:
                reach, low, best = t, t, found
            else:
                high = t
        if not reach:
            break
        points += best[:-1]
        curve = _split(curve, reach)[1]
    return [*points, (float(curve[0, 0]), float(curve[0, 1]), 0.0)]


def _split(curve: Points, t: float) -> tuple[Points, Points]:
    """A cubic cut in two at a parameter (de Casteljau)."""
    a, b, c = curve[:-1] * (1 - t) + curve[1:] * t
    d, e = a * (1 - t) + b * t, b * (1 - t) + c * t
    middle = d * (1 - t) + e * t
    return np.array([curve[0], a, d, middle]), np.array([middle, e, c, curve[3]])


def _tangent(*ways: Points) -> Points | None:
    for way in ways:
        if (length := float(np.hypot(*way))) > 1e-9:
            return np.asarray(way / length)
    return None


def _arc(curve: Points) -> list[tuple[float, float, float]]:
    """Start and end of the one arc between a cubic's ends that comes nearest to its tangents there."""
    p, q = curve[0], curve[3]
    first, last = _tangent(curve[1] - p), _tangent(q - curve[2])
    if first is None or last is None or math.dist(p, q) < 1e-9:
        return []
    bulge = (_bulge(p, q, first) - _bulge(q, p, -last)) / 2
    bulge = bulge if abs(bulge) > STRAIGHT else 0.0
    return [(float(p[0]), float(p[1]), bulge), (float(q[0]), float(q[1]), 0.0)]


def _biarc(curve: Points) -> list[tuple[float, float, float]]:
    """Start, joint and end with bulges of the two arcs that replace a cubic; nothing where there are none."""
    p, q = curve[0], curve[3]
    first = _tangent(curve[1] - p, curve[2] - p, q - p)
    last = _tangent(q - curve[2], q - curve[1], q - p)
    if first is None or last is None:
        return []
    across = q - p
    # Arms of length d: |across - d (first + last)| = 2 d.
    a = 2 * (float(first @ last) - 1)
    b, c = -2 * float(across @ (first + last)), float(across @ across)
    if abs(a) < 1e-12:
        if b >= -1e-12:
            return []
        arm = -c / b
    else:
        arm = (-b - math.sqrt(max(b * b - 4 * a * c, 0.0))) / (2 * a)
    joint = (p + q + arm * (first - last)) / 2
    out = _bulge(p, joint, first)
    back = -_bulge(q, joint, -last)
    return [(float(p[0]), float(p[1]), out), (float(joint[0]), float(joint[1]), back), (float(q[0]), float(q[1]), 0.0)]


def _bulge(start: Points, end: Points, tangent: Points) -> float:
    """The bulge of the arc from start to end that leaves along a tangent: half of the arc lies between it and chord."""
    chord = end - start
    turn = math.atan2(tangent[0] * chord[1] - tangent[1] * chord[0], float(tangent @ chord))
    bulge = math.tan(turn / 2)
    return bulge if abs(bulge) > STRAIGHT else 0.0


def _strays(curve: Points, found: Sequence[tuple[float, float, float]]) -> float:
    """How far points of a cubic lie from its arcs; infinite where an arc is more than a half circle."""
    u, v = CHECKS, 1 - CHECKS
    on = np.stack([v**3, 3 * u * v**2, 3 * u**2 * v, u**3], axis=1) @ curve
    if max(abs(bulge) for *_, bulge in found) > 1:
        return math.inf
    return float(np.min([_from_arc(on, a, b) for a, b in pairwise(found)], axis=0).max())


def _from_arc(on: Points, start: tuple[float, float, float], end: tuple[float, float, float]) -> Points:
    """Distances of points from one arc of at most a half circle, or from its ends beside it."""
    a, b, bulge = np.array(start[:2]), np.array(end[:2]), start[2]
    chord = b - a
    length = float(np.hypot(*chord))
    ends = np.minimum(np.hypot(*(on - a).T), np.hypot(*(on - b).T))
    if length < 1e-9:
        return np.asarray(ends)
    along = (on - a) @ chord / length
    beside = ((on - a) @ np.array([-chord[1], chord[0]])) / length
    if abs(bulge) <= STRAIGHT:  # the centre is too far off to reckon with
        return np.asarray(np.where((along >= 0) & (along <= length), np.abs(beside), ends))
    # The centre lies on the chord's middle line, on the left of it for a positive bulge.
    height = length * (1 - bulge**2) / (4 * bulge)
    centre = (a + b) / 2 + np.array([-chord[1], chord[0]]) / length * height
    away = on - centre
    reach = np.hypot(*away.T)
    turn = math.copysign(1.0, bulge)
    after = turn * (((a - centre)[0]) * away[:, 1] - (a - centre)[1] * away[:, 0]) >= 0
    before = turn * (away[:, 0] * (b - centre)[1] - away[:, 1] * (b - centre)[0]) >= 0
    radius = float(np.hypot(*(a - centre)))
    return np.asarray(np.where(after & before, np.abs(reach - radius), ends))
