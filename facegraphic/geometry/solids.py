"""Convex solids with six flat sides, and how far two of them reach into each other.

Two convex solids are apart just when a plane parts them, and one of those planes then stands square to a side of
either or to an edge of each (the separating axis theorem). Along these axes the least overlap is the depth of
penetration, and the way out in any given direction follows from the same figures, since they are the sides of the
solids' Minkowski difference. Lengths are mm.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Vector = tuple[float, float, float]
_TINY = 1e-9
_RINGS = ((0, 1, 2, 3), (4, 5, 6, 7), (0, 1, 5, 4), (1, 2, 6, 5), (2, 3, 7, 6), (3, 0, 4, 7))


@dataclass(frozen=True, eq=False)
class Solid:
    """Eight corners (a lower ring, then an upper one in the same order), and the directions of its sides and edges."""

    corners: Array
    normals: Array
    edges: Array

    @property
    def low(self) -> Array:
        return np.asarray(self.corners.min(axis=0), dtype=float)

    @property
    def high(self) -> Array:
        return np.asarray(self.corners.max(axis=0), dtype=float)

    def moved(self, by: Array) -> "Solid":
        return Solid(self.corners + by, self.normals, self.edges)


@dataclass(frozen=True)
class Plane:
    """What lies on the inner side of a plane: all x with normal · x <= reach; `normal` has length 1."""

    normal: Vector
    reach: float

    def overrun(self, solid: Solid) -> float:
        """How far a solid reaches past the plane (mm); negative: how far it stays short of it."""
        return float((solid.corners @ np.array(self.normal)).max()) - self.reach


def hexahedron(lower: Array, upper: Array) -> Solid:
    """A convex solid between two rings of four corners each."""
    corners = np.vstack([lower, upper]).astype(float)
    sides = [np.cross(corners[b] - corners[a], corners[d] - corners[a]) for a, b, _, d in _RINGS]
    edges = [corners[ring[i]] - corners[ring[i - 1]] for ring in _RINGS for i in range(4)]
    return Solid(corners, _directions(np.array(sides)), _directions(np.array(edges)))


def block(origin: Array, axes: Array, low: Vector, high: Vector) -> Solid:
    """A box with its edges along the rows of `axes`, reaching from `low` to `high` along them from `origin`."""
    ring = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    lower, upper = (np.array([(x, y, z) for x, y in ring]) @ axes + origin for z in (low[2], high[2]))
    return hexahedron(lower, upper)


def overlap(one: Solid, other: Solid) -> float:
    """How deep two solids reach into each other; negative when a gap of at least so much parts them."""
    if (gap := float(np.maximum(one.low - other.high, other.low - one.high).max())) > 0:
        return -gap
    _, down, up = _pushes(one, other)
    return float(min(down.min(), up.min()))


def way_out(one: Solid, other: Solid, direction: Array) -> float:
    """How far `one` has to go along a unit vector until it is clear of `other`; 0 when it is clear already."""
    axes, down, up = _pushes(one, other)
    if min(down.min(), up.min()) <= 0:
        return 0.0
    along = axes @ direction
    ways = np.concatenate([up[along > _TINY] / along[along > _TINY], down[along < -_TINY] / -along[along < -_TINY]])
    return float(ways.min())


def _pushes(one: Solid, other: Solid) -> tuple[Array, Array, Array]:
    """The axes that may part two solids, and how far `one` must go down and up each to be clear."""
    crossed = np.cross(one.edges[:, None, :], other.edges[None, :, :]).reshape(-1, 3)
    axes = _directions(np.vstack([one.normals, other.normals, crossed]))
    ours, theirs = one.corners @ axes.T, other.corners @ axes.T
    return axes, ours.max(axis=0) - theirs.min(axis=0), theirs.max(axis=0) - ours.min(axis=0)


def _directions(vectors: Array) -> Array:
    """Vectors at unit length, without those of no length and without those told already, whichever way they point."""
    long = np.linalg.norm(vectors, axis=1)
    units = vectors[long > _TINY] / long[long > _TINY, None]
    leading = np.take_along_axis(units, (np.abs(units) > _TINY).argmax(axis=1)[:, None], axis=1)
    _, first = np.unique(np.round(units * np.sign(leading), 9), axis=0, return_index=True)
    return np.asarray(units[np.sort(first)], dtype=float)
