"""What stands on a face as heights over a grid, and how much light gets past it: to the face, and to what stands there.

Parts grow out of their face, so that one height at each place says where they are. From every place a ray is walked
towards a light; how far something rises over the ray tells how deep in shadow the place lies.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from facegraphic.geometry.path import Box
from facegraphic.preview.model import Mesh, Pose
from facegraphic.preview.raster import NOTHING, Pixels, nearest, outward
from facegraphic.preview.studio import dome, rays
from facegraphic.preview.vectors import along

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]
Numbers = npt.NDArray[np.floating]

EDGE = 1.5  # mm over which a shadow's edge goes from light to dark
LEVELS = (0.0, 1.2, 2.6, 5.0, 8.0, 11.0, 14.0, 17.5)  # mm over the face at which light is known
FINE_CELLS, COARSE_CELLS = 30_000, 6_000
DOME, FEW = 36, 18  # rays from the room, to a face and into the air over it


@dataclass(frozen=True, eq=False)
class Heights:
    """Heights (rows from the lower edge) at the middles of cells `step` mm wide that fill `box` of a face."""

    box: Box
    step: float
    values: Floats


def heights(meshes: Sequence[Mesh], pose: Pose, box: Box, cells: int) -> Heights:
    """How high meshes stand over a face, in about as many cells."""
    step = math.sqrt(box.width * box.height / cells)
    columns, rows = max(1, round(box.width / step)), max(1, round(box.height / step))
    values = np.zeros(rows * columns, np.float32)
    if meshes:
        corners = np.concatenate([mesh.points[mesh.triangles] for mesh in meshes]).astype(float)
        local = along((corners - np.array(pose.centre)).reshape(-1, 3), (pose.right, pose.up, pose.out)).reshape(
            -1, 3, 3
        )
        scale = np.array([columns / box.width, rows / box.height])
        pixels = (local[..., :2] - np.array([box.x0, box.y0])) * scale
        # Looked at from outside y would run down: turned over, triangles that face outwards run the right way round.
        flipped = outward(
            pixels * np.array([1.0, -1.0]) + np.array([0.0, rows]), local[..., 2] - local[..., 2].min() + 1
        )
        found = nearest(flipped, Pixels(columns, rows))
        some = found != NOTHING
        tops = local[..., 2].max(axis=1)
        values[some] = tops[found[some]]
        values = values.reshape(rows, columns)[::-1]
    return Heights(box, step, np.maximum(values.reshape(rows, columns), 0).astype(np.float32))


def passed(ground: Heights, ray: Array, level: float) -> Floats:
    """The share of light from a direction (face coordinates, upwards) that reaches places `level` mm over the face."""
    return np.asarray(np.clip(1 - (_risen(ground, ray) - np.float32(level)) / np.float32(EDGE), 0, 1), np.float32)


def _risen(ground: Heights, ray: Array) -> Floats:
    """How far something rises over a ray from the face at each place of it, at most."""
    flat = math.hypot(ray[0], ray[1])
    rise = float(ray[2]) / max(flat, 1e-6)
    rows, columns = ground.values.shape
    risen, one = np.full((rows, columns), -EDGE, np.float32), np.empty((rows, columns), np.float32)
    if flat < 1e-6:
        return risen
    steps = min(int(float(ground.values.max()) / rise / ground.step) + 1, max(rows, columns))
    tall = np.pad(ground.values, steps + 1)
    for number in range(1, steps + 1):
        x = steps + 1 + round(ray[0] / flat * number)
        y = steps + 1 + round(ray[1] / flat * number)
        np.subtract(tall[y : y + rows, x : x + columns], np.float32(number * ground.step * rise), out=one)
        np.maximum(risen, one, out=risen)
    return risen


def _reaching(ground: Heights, ways: Array, weights: Array, levels: Sequence[float]) -> Floats:
    """The weighted share of light from some directions that reaches places at each level (levels × h × w)."""
    total = np.zeros((len(levels), *ground.values.shape), np.float32)
    if not len(ways) or not ground.values.any():
        return total + 1
    # 1 where the whole light passes, 0 from where EDGE rises over the ray.
    tops = 1 + np.array(levels, np.float32)[:, None, None] / np.float32(EDGE)
    for way, weight in zip(ways, weights / weights.sum(), strict=True):
        share = tops - _risen(ground, way) / np.float32(EDGE)
        np.clip(share, 0, 1, out=share)
        share *= np.float32(weight)
        total += share
    return total


@dataclass(frozen=True, eq=False)
class Lit:
    """How much of the key light and of the room's gets through to cells of a face (2 × h × w), `step` mm wide."""

    box: Box
    shares: Floats


def lit_face(ground: Heights, pose: Pose) -> Lit:
    """Light that reaches the face itself."""
    (key,), (room,) = _key(ground, pose, (0.0,), (6, 4)), _room(ground, (0.0,), DOME)
    return Lit(ground.box, np.stack([softened(key), softened(room)]))


def softened(shares: Floats) -> Floats:
    """Each point meaned with its neighbours."""
    rim = np.pad(shares, 1, mode="edge")
    rows = (rim[:-2] + 2 * rim[1:-1] + rim[2:]) / 4
    return np.asarray((rows[:, :-2] + 2 * rows[:, 1:-1] + rows[:, 2:]) / 4, np.float32)


def _key(ground: Heights, pose: Pose, levels: Sequence[float], spread: tuple[int, int]) -> Floats:
    local = along(rays("key", *spread), (pose.right, pose.up, pose.out))
    local = local[local[:, 2] > 0.05]
    return _reaching(ground, local, local[:, 2], levels)


def _room(ground: Heights, levels: Sequence[float], count: int) -> Floats:
    return _reaching(ground, dome(count), np.ones(count), levels)


@dataclass(frozen=True, eq=False)
class Air:
    """Light at LEVELS over a face: key, room, and 1 where there is air, else nothing (levels × h × w × 3)."""

    ground: Heights
    values: Floats

    def at(self, points: Numbers) -> tuple[Floats, Floats]:
        """The shares of key light and of the room's that reach points over the face (n × 3, face coordinates)."""
        levels, rows, columns, _ = self.values.shape
        box = self.ground.box
        x = np.clip((points[:, 0] - box.x0) / box.width * columns - 0.5, 0, columns - 1.001)
        y = np.clip((points[:, 1] - box.y0) / box.height * rows - 0.5, 0, rows - 1.001)
        z = np.clip(np.interp(points[:, 2], LEVELS, np.arange(levels)), 0, levels - 1.001)
        i, j, k = z.astype(np.int64), y.astype(np.int64), x.astype(np.int64)
        fz, fy, fx = ((a - b).astype(np.float32) for a, b in ((z, i), (y, j), (x, k)))
        flat = self.values.reshape(-1, 3)
        start = (i * rows + j) * columns + k
        total = np.zeros((len(points), 3), np.float32)
        for number in range(8):
            up, back, right = number >> 2 & 1, number >> 1 & 1, number & 1
            weight = (fz if up else 1 - fz) * (fy if back else 1 - fy) * (fx if right else 1 - fx)
            total += weight[:, None] * flat[start + (up * rows + back) * columns + right]
        air = np.maximum(total[:, 2], 1e-3)
        return np.asarray(total[:, 0] / air, np.float32), np.asarray(total[:, 1] / air, np.float32)


def air_over(meshes: Sequence[Mesh], pose: Pose, box: Box) -> Air:
    """Light in the air over a face, for what stands there."""
    ground = heights(meshes, pose, box, COARSE_CELLS)
    levels = np.array(LEVELS, np.float32)[:, None, None]
    free = np.where(ground.values <= levels + np.float32(0.05), np.float32(1), np.float32(1e-3))
    key, room = _key(ground, pose, LEVELS, (3, 2)), _room(ground, LEVELS, FEW)
    return Air(ground, np.stack([key * free, room * free, free], -1))
