"""Four straight edges that make a box face, where its colour does not tell it from its ground: every two pairs of
lines in a picture tried, and those kept along which edges are really seen."""

import math
from itertools import combinations

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.vision import Array, cv

LINES = 28  # the most that are looked at
KEPT = 4
SEEN = 0.55  # of each side must lie on an edge
ALIKE = (4.0, 0.03)  # lines nearer than so many pixels and radians are one


def find_quads(grey: Array) -> list[Array]:
    """Corners (clockwise from the upper left, y down) of the likeliest faces in a small grey picture, best first."""
    c = cv()
    smooth = c.GaussianBlur(grey, (0, 0), 1.2)
    edges = c.Canny(np.clip(smooth, 0, 255).astype(np.uint8), 12, 30)
    found = c.HoughLines(edges, 1, math.pi / 720, round(0.12 * min(grey.shape)))
    if found is None:
        return []
    lines = _each_once(found.reshape(-1, found.shape[-1])[:400, :2].astype(float))
    off = np.minimum(c.distanceTransform((edges == 0).astype(np.uint8), c.DIST_L2, 3), 10)
    pairs = [(i, j) for i, j in combinations(range(len(lines)), 2) if _apart(lines[i][1], lines[j][1]) < 0.45]
    crossing = [
        (one, other)
        for one, other in combinations(pairs, 2)
        if not set(one) & set(other) and _apart(lines[one[0]][1], lines[other[0]][1]) > 1.0
    ]
    if not crossing:
        return []
    quads = np.array(
        [[_cross(lines[a], lines[b]) for a, b in ((i, k), (i, m), (j, m), (j, k))] for (i, j), (k, m) in crossing]
    )
    good = _inside(quads, grey.shape)
    quads = quads[good]
    if not len(quads):
        return []
    seen = _seen(quads, off)
    worth = np.where(seen.min(1) > SEEN, seen.min(1) + 0.5 * seen.mean(1), 0)
    order = np.argsort(-worth)
    return [_clockwise(quads[i]) for i in order[:KEPT] if worth[i] > 0]


def _each_once(lines: Array) -> list[tuple[float, float]]:
    """Distances and angles of lines, strongest first, without those that say the same."""
    kept: list[tuple[float, float]] = []
    for rho, theta in lines.tolist():
        alike = False
        for other, angle in kept:
            turn = theta - angle
            flip = abs(turn) > math.pi / 2
            near = abs(rho + other) if flip else abs(rho - other)
            alike |= near < ALIKE[0] and _apart(theta, angle) < ALIKE[1]
        if not alike:
            kept.append((rho, theta))
        if len(kept) == LINES:
            break
    return kept


def _apart(one: float, other: float) -> float:
    """The angle between two lines, 0 to a right angle."""
    turn = abs(one - other) % math.pi
    return min(turn, math.pi - turn)


def _cross(one: tuple[float, float], other: tuple[float, float]) -> Array:
    matrix = np.array([[math.cos(one[1]), math.sin(one[1])], [math.cos(other[1]), math.sin(other[1])]])
    return np.asarray(np.linalg.solve(matrix, [one[0], other[0]]))


def _inside(quads: Array, shape: tuple[int, ...]) -> Array:
    """Quads that lie in the picture, are large enough, and long enough on every side."""
    ahead = np.roll(quads, -1, axis=1)
    area = np.abs((quads[..., 0] * ahead[..., 1] - ahead[..., 0] * quads[..., 1]).sum(1)) / 2
    sides = np.linalg.norm(ahead - quads, axis=2).min(1)
    within = (quads > 2).all((1, 2)) & (quads < np.array([shape[1] - 3, shape[0] - 3])).all((1, 2))
    return np.asarray(within & (area > limits.LEAST_SHARE * shape[0] * shape[1]) & (sides > 0.1 * min(shape[:2])))


def _seen(quads: Array, off: Array) -> Array:
    """For each side of each quad, how much of its middle lies on an edge."""
    shares = np.linspace(limits.SIDE_ENDS, 1 - limits.SIDE_ENDS, 48)[:, None]
    ahead = np.roll(quads, -1, axis=1)
    points = quads[:, :, None] + shares * (ahead - quads)[:, :, None]
    x, y = points[..., 0].round().astype(int), points[..., 1].round().astype(int)
    return np.asarray((off[y, x] <= 1.5).mean(2))


def _clockwise(corners: Array) -> Array:
    middle = corners.mean(0)
    corners = corners[np.argsort(np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0]))]
    return np.roll(corners, -int(np.argmin(corners.sum(1))), axis=0)
