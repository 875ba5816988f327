"""The box itself as meshes: its flat faces, its rounded edges and corners, the lid with its seam.

A wall leans inwards from the rim by the draft; between the walls stand corners of one radius; between walls and top
runs an edge of another radius (see boxes.toml). The flat faces are just those that are printed on.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from facegraphic.preview.model import Material, Mesh, Pose, Vector
from facegraphic.preview.shapes import Array
from facegraphic.stock.cavity import stand
from facegraphic.stock.faces import SIDES, Side
from facegraphic.stock.shown import shapes
from facegraphic.stock.tables import BoxSize

CORNER_STEPS = 10  # pieces of a quarter turn
EDGE_STEPS = 6  # pieces of the edge between wall and top
WALLS: tuple[Side, ...] = ("front", "right", "back", "left")  # anticlockwise from above, as rings run


@dataclass(frozen=True, eq=False)
class _Ring:
    """A level of the box: anticlockwise from the front's left end, corner by corner; `tilt` is its normals' slope."""

    points: Array
    flat: Array

    def normals(self, tilt: float) -> Array:
        """Unit normals that rise by some radians over the level."""
        rise = np.full((len(self.flat), 1), math.sin(tilt))
        return np.hstack([self.flat * math.cos(tilt), rise])


def poses(box: BoxSize, across: float, deep: float) -> Mapping[Side, Pose]:
    """Where the faces stand of a box that lies `across` mm wide and `deep` mm deep before its user."""
    found: dict[Side, Pose] = {}
    for side in SIDES:
        at = stand(box, side, across, deep)
        right, up, inwards = (_vector(axis) for axis in at.axes)
        found[side] = Pose(_vector(at.middle), right, up, (-inwards[0], -inwards[1], -inwards[2]))
    return found


def body(box: BoxSize, across: float, deep: float, paint: Material, seam: Material) -> tuple[Mesh, ...]:
    """The box's shell: five faces that wear looks, then what is rounded in `paint`, the seam over the lid.

    Together the meshes are closed, the lid's foot on the table.
    """
    figures = shapes()["seam"]
    lean = math.radians(box.draft)
    high, edge = box.size[2], box.edge * math.tan((math.pi / 2 - lean) / 2)
    crown, gap = high - edge * math.cos(lean), min(figures["gap"], box.lid / 3)
    foot = min(figures["foot"], (box.lid - gap) / 2)

    def wall(z: float, inset: float = 0.0) -> _Ring:
        return _ring(across, deep, z, z * math.tan(lean) + inset, box.corner)

    low = [wall(foot * (1 - math.cos(t)), foot * (1 - math.sin(t))) for t in np.linspace(0, math.pi / 2, 4)]
    tilts = [float(t) - math.pi / 2 for t in np.linspace(0, math.pi / 2, 4)]
    step = figures["deep"]
    groove = [wall(box.lid - gap), wall(box.lid - gap, step), wall(box.lid, step), wall(box.lid)]
    rings, slopes = _rounding(box, across, deep, crown)
    faces, corners = _walls(groove[-1], rings[0], lean, poses(box, across, deep))
    shell = [
        _strips(low, tilts),
        _strips([low[-1], groove[0]], [0.0, 0.0] if not lean else [lean, lean]),
        corners,
        _strips(rings, slopes),
        _cap(low[0], down=True),
    ]
    hollow = [
        _strips(list(pair), [tilt] * 2)
        for pair, tilt in zip(pairwise(groove), (math.pi / 2, lean, -math.pi / 2), strict=True)
    ]
    top = replace(_mesh(*_cap(rings[-1], down=False), paint), side="top")
    top = replace(top, on_face=np.ascontiguousarray(top.points[:, :2]))
    painted = [replace(one, material=paint) for one in faces]
    return (top, *painted, _mesh(*_together(shell), paint), _mesh(*_together(hollow), seam))


_Part = tuple[Array, Array, Array]  # points, normals, triangles


def _ring(across: float, deep: float, z: float, inset: float, radius: float) -> _Ring:
    x, y = across / 2 - inset - radius, deep / 2 - inset - radius
    turns = np.linspace(0, math.pi / 2, CORNER_STEPS + 1)
    points, flat = [], []
    for corner, (cx, cy) in enumerate(((x, -y), (x, y), (-x, y), (-x, -y))):
        turn = turns + (corner - 1) * math.pi / 2
        out = np.round(np.stack([np.cos(turn), np.sin(turn)], 1), 15)
        flat.append(out)
        points.append(np.hstack([np.array([cx, cy]) + radius * out, np.full((len(turn), 1), z)]))
    return _Ring(np.vstack(points), np.vstack(flat))


def _rounding(box: BoxSize, across: float, deep: float, crown: float) -> tuple[list[_Ring], list[float]]:
    """The rings of the edge between walls and top, from the walls' crown up, and their normals' slopes."""
    lean, high = math.radians(box.draft), box.size[2]
    edge = box.edge * math.tan((math.pi / 2 - lean) / 2)
    middle = crown * math.tan(lean) + box.edge * math.cos(lean)
    rings, slopes = [], []
    for share in np.linspace(0, 1, EDGE_STEPS + 1):
        slope = lean + float(share) * (math.pi / 2 - lean)
        inset = middle - box.edge * math.cos(slope)
        z = high - box.edge * (1 - math.sin(slope))
        # The top's corners are those of its outline; the walls' straight ends those of theirs.
        rings.append(_ring(across, deep, z, inset, max(0.0, box.corner - edge * float(share))))
        slopes.append(slope)
    return rings, slopes


def _walls(low: _Ring, high: _Ring, lean: float, stood: Mapping[Side, Pose]) -> tuple[list[Mesh], _Part]:
    """The four flat walls as faces, and the corners between them."""
    count = CORNER_STEPS + 1
    faces = []
    for number, side in enumerate(WALLS):
        start, end = (number - 1) % 4 * count + count - 1, number * count
        points = np.array([low.points[start], low.points[end], high.points[end], high.points[start]])
        pose = stood[side]
        local = (points - np.array(pose.centre)) @ np.array([pose.right, pose.up]).T
        normals = np.tile(np.array(pose.out), (4, 1))
        mesh = _mesh(points, normals, np.array([[0, 1, 2], [0, 2, 3]]), _NOTHING)
        faces.append(replace(mesh, side=side, on_face=local.astype(np.float32)))
    points, normals, triangles = _strips([low, high], [lean, lean])
    bends = np.concatenate([np.arange(c * count, (c + 1) * count - 1) for c in range(4)])
    return faces, (points, normals, triangles.reshape(2, -1, 3)[:, bends].reshape(-1, 3))


def _strips(rings: Sequence[_Ring], tilts: Sequence[float]) -> _Part:
    """The surface from ring to ring."""
    count = len(rings[0].points)
    here, after = np.arange(count), np.roll(np.arange(count), -1)
    triangles = []
    for number in range(len(rings) - 1):
        a, b = number * count, (number + 1) * count
        triangles += [np.stack([a + here, a + after, b + after], 1), np.stack([a + here, b + after, b + here], 1)]
    points = np.vstack([ring.points for ring in rings])
    normals = np.vstack([ring.normals(tilt) for ring, tilt in zip(rings, tilts, strict=True)])
    return points, normals, np.vstack(triangles)


def _cap(ring: _Ring, down: bool) -> _Part:
    """The flat between the points of a ring, round its middle."""
    count = len(ring.points)
    middle = ring.points.mean(axis=0)
    here, after = np.arange(count), np.roll(np.arange(count), -1)
    triangles = np.stack([np.full(count, count), *((after, here) if down else (here, after))], 1)
    normals = np.tile(np.array([0.0, 0.0, -1.0 if down else 1.0]), (count + 1, 1))
    return np.vstack([ring.points, middle]), normals, triangles


def _together(parts: Sequence[_Part]) -> _Part:
    starts = np.cumsum([0, *(len(part[0]) for part in parts)])
    triangles = np.vstack([part[2] + start for part, start in zip(parts, starts, strict=False)])
    return np.vstack([part[0] for part in parts]), np.vstack([part[1] for part in parts]), triangles


_NOTHING = Material("nothing", "#000000", 1.0)


def _mesh(points: Array, normals: Array, triangles: Array, material: Material) -> Mesh:
    return Mesh(points.astype(np.float32), normals.astype(np.float32), triangles.astype(np.int32), material)


def _vector(values: Array) -> Vector:
    x, y, z = (float(value) for value in values)
    return (x, y, z)
