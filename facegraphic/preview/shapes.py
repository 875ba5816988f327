"""Surfaces of triangles in plain shapes: lofts through rings, turned bodies, hexagons; and how they become meshes.

A surface's own coordinates are those of a face: x right, y up, z out of the panel. Rings run anticlockwise seen from
outside the panel, and a loft goes from ring to ring so that its outside is to the right of its way: upwards outside,
inwards on top.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt

from facegraphic.preview.model import Material, Mesh

Array: TypeAlias = npt.NDArray[np.float64]
CREASE = 38.0  # degrees between two triangles from which their edge is sharp
NEAR = 1e-6  # mm within which points are one
TINY = 1e-12


class Surface(NamedTuple):
    """Points (n × 3, mm) and triangles (m × 3, anticlockwise from outside)."""

    points: Array
    triangles: npt.NDArray[np.int64]


def joined(surfaces: Sequence[Surface]) -> Surface:
    starts = np.cumsum([0, *(len(surface.points) for surface in surfaces)])
    triangles = [surface.triangles + start for surface, start in zip(surfaces, starts, strict=False)]
    return Surface(np.vstack([surface.points for surface in surfaces]), np.vstack(triangles))


def loft(rings: Sequence[Array], closed: bool = False) -> Surface:
    """The surface through rings of as many points each; `closed` goes from the last ring to the first as well."""
    count = len(rings[0])
    points = np.vstack(rings)
    here = np.arange(count)
    after = np.roll(here, -1)
    quads = []
    for number in range(len(rings) if closed else len(rings) - 1):
        a, b = number * count, (number + 1) % len(rings) * count
        quads += [np.stack([a + here, a + after, b + after], 1), np.stack([a + here, b + after, b + here], 1)]
    return cleaned(points, np.vstack(quads))


def cleaned(points: Array, triangles: npt.NDArray[np.int64]) -> Surface:
    """A surface whose equal points are one, without triangles of no area."""
    keys = np.round(points / NEAR).astype(np.int64)
    _, first, back = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    welded = back.reshape(-1)[triangles]
    a, b, c = welded.T
    return Surface(points[first], welded[(a != b) & (b != c) & (c != a)])


def circle(radius: float, z: float, count: int, at: tuple[float, float] = (0.0, 0.0)) -> Array:
    turn = np.arange(count) * (math.tau / count)
    return np.stack([at[0] + radius * np.cos(turn), at[1] + radius * np.sin(turn), np.full(count, z)], 1)


def lathe(profile: Sequence[tuple[float, float]], count: int = 48) -> Surface:
    """A body turned round z from a profile of (radius, z): upwards on the outside, then inwards on top."""
    return loft([circle(radius, z, count) for radius, z in profile])


def hexagon(across: float, low: float, high: float, bore: float, chamfer: float) -> Surface:
    """A hexagon nut `across` its corners, from `low` to `high`, its upper corners cut by a `chamfer` in degrees."""
    count = 72
    turn = np.arange(count) * (math.tau / count)
    flat = across / 2 * math.cos(math.pi / 6)
    radius = flat / np.cos((turn + math.pi / 6) % (math.pi / 3) - math.pi / 6)

    def ring(r: Array, z: Array | float) -> Array:
        return np.stack([r * np.cos(turn), r * np.sin(turn), np.broadcast_to(z, count)], 1)

    inner, fall = flat * 0.97, math.tan(math.radians(chamfer))
    shoulder = high - (radius - inner) * fall
    bored = np.full(count, bore / 2)
    return loft([ring(radius, low), ring(radius, shoulder), ring(np.full(count, inner), high), ring(bored, high)])


def moved(surface: Surface, x: float, y: float, z: float = 0.0) -> Surface:
    return Surface(surface.points + np.array([x, y, z]), surface.triangles)


def turned(surface: Surface, bearing: float) -> Surface:
    """Turned about z by degrees clockwise as seen from outside the panel."""
    cos, sin = math.cos(math.radians(bearing)), math.sin(math.radians(bearing))
    x, y, z = surface.points.T
    return Surface(np.stack([x * cos + y * sin, y * cos - x * sin, z], 1), surface.triangles)


def tilted(surface: Surface, lean: float, towards: tuple[float, float], at: float) -> Surface:
    """Leaning from z by degrees towards a direction in the plane, about a point `at` mm up."""
    x, y, z = surface.points.T
    along = x * towards[0] + y * towards[1]
    cos, sin = math.cos(math.radians(lean)), math.sin(math.radians(lean))
    shift = along * (cos - 1) + (z - at) * sin
    up = at + (z - at) * cos - along * sin
    return Surface(np.stack([x + shift * towards[0], y + shift * towards[1], up], 1), surface.triangles)


def facing(surface: Surface) -> Array:
    """Triangles' normals, as long as twice their areas (m × 3)."""
    a, b, c = (surface.points[surface.triangles[:, i]] for i in range(3))
    return np.asarray(np.cross(b - a, c - a), float)


def mesh(surface: Surface, material: Material, hole: str | None = None, crease: float = CREASE) -> Mesh:
    """A mesh with smooth normals, its edges sharp where two triangles meet at more than `crease` degrees."""
    across = facing(surface)
    long = np.linalg.norm(across, axis=1)
    kept = long > TINY
    surface, across, long = Surface(surface.points, surface.triangles[kept]), across[kept], long[kept]
    normals = _corner_normals(surface, across, across / long[:, None], math.cos(math.radians(crease)))
    keys = np.hstack([surface.triangles.reshape(-1, 1), np.round(normals * 1e4).astype(np.int64)])
    _, first, back = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    points = surface.points[surface.triangles.reshape(-1)[first]]
    corners = back.reshape(-1, 3).astype(np.int32)
    return Mesh(points.astype(np.float32), normals[first].astype(np.float32), corners, material, hole=hole)


def _corner_normals(surface: Surface, weights: Array, units: Array, least: float) -> Array:
    """For each corner of each triangle, the mean normal of those triangles round it that it is smooth with."""
    corners = surface.triangles.reshape(-1)
    order = np.argsort(corners, kind="stable")
    counts = np.bincount(corners, minlength=len(surface.points))
    starts = np.cumsum(counts) - counts
    each = counts[corners]
    one = np.repeat(np.arange(len(corners)), each)
    step = np.arange(len(one)) - np.repeat(np.cumsum(each) - each, each)
    other = order[starts[corners[one]] + step]
    near = np.einsum("ij,ij->i", units[one // 3], units[other // 3]) >= least
    one, other = one[near], other[near]
    total = np.stack([np.bincount(one, weights[other // 3, axis], len(corners)) for axis in range(3)], 1)
    return np.asarray(total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), TINY), float)
