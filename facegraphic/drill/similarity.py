"""The best similarity or rigid motion between two sets of matched points, in closed form.

S. Umeyama, "Least-squares estimation of transformation parameters between two point patterns", IEEE PAMI 13(4),
1991: with the covariance U D Vᵀ of target and source, the turn is U E Vᵀ and the scale tr(D E) / variance of the
source, where E turns the last sign so that the motion never mirrors unless it is told to.
"""

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Points: TypeAlias = NDArray[np.float64]
Matrix: TypeAlias = NDArray[np.float64]


@dataclass(frozen=True)
class Similarity:
    """target = scale · R(angle) · source + shift; when mirrored, the source's x changes sign before anything else.

    `angle` is in degrees against the clock, above −180 and up to 180.
    """

    scale: float = 1.0
    angle: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)
    mirrored: bool = False

    @property
    def matrix(self) -> Matrix:
        """The 2 × 2 part."""
        turn = math.radians(self.angle)
        flip = -1.0 if self.mirrored else 1.0
        c, s = self.scale * math.cos(turn), self.scale * math.sin(turn)
        return np.array([[flip * c, -s], [flip * s, c]])

    def apply(self, points: Points) -> Points:
        """Carry n × 2 points over."""
        carried: Points = np.asarray(points, float) @ self.matrix.T + np.asarray(self.shift)
        return carried


def of_matrix(matrix: Matrix, shift: Points, mirrored: bool) -> Similarity:
    """The similarity with a given 2 × 2 part and shift."""
    angle = math.degrees(math.atan2(-matrix[0, 1], matrix[1, 1]))
    return Similarity(math.hypot(matrix[0, 1], matrix[1, 1]), angle, (float(shift[0]), float(shift[1])), mirrored)


def best_similarity(
    source: Points, target: Points, weights: Points | None = None, scaled: bool = True, mirrored: bool = False
) -> Similarity:
    """The similarity (rigid motion if not `scaled`) with the least weighted sum of squares between n ≥ 1 pairs.

    It mirrors if and only if `mirrored` is set. One point, or all in one place, gives a pure shift.
    """
    flip = np.array([-1.0 if mirrored else 1.0, 1.0])
    x, y = np.asarray(source, float) * flip, np.asarray(target, float)
    w = np.full(len(x), 1 / len(x)) if weights is None else np.asarray(weights, float) / np.sum(weights)
    mean_x, mean_y = w @ x, w @ y
    dx, dy = x - mean_x, y - mean_y
    variance = float(w @ (dx**2).sum(1))
    if variance < 1e-18:
        rotation, scale = np.eye(2), 1.0
    else:
        u, d, vt = np.linalg.svd((dy * w[:, None]).T @ dx)
        sign = np.array([1.0, 1.0 if np.linalg.det(u) * np.linalg.det(vt) > 0 else -1.0])
        rotation = (u * sign) @ vt
        scale = float(d @ sign) / variance if scaled else 1.0
    return of_matrix(scale * rotation, mean_y - scale * rotation @ mean_x, mirrored)
