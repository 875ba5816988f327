"""Boxes as solids for tests: a model without a job, with plain looks, and ways to look at meshes."""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from facegraphic.geometry.path import Box
from facegraphic.preview.assemble import placed
from facegraphic.preview.body import body, poses
from facegraphic.preview.hardware import Fitted, hardware
from facegraphic.preview.model import FaceLook, Mesh, Model
from facegraphic.preview.tones import Tones, material
from facegraphic.stock.faces import Side, face_outline
from facegraphic.stock.tables import BoxSize, boxes

Array = npt.NDArray[np.float64]
COMMON = "112x60x31"


def lying(box: BoxSize, upright: bool = True) -> tuple[float, float]:
    """How wide and deep a box lies."""
    long, short, _ = box.size
    return (short, long) if upright else (long, short)


def model(
    name: str = COMMON,
    standing: Sequence[tuple[Side, tuple[float, float], Fitted]] = (),
    paint: str = "#808080",
    lit: bool = True,
) -> Model:
    """A stock box, upright, with parts at places of its faces."""
    box = boxes()[name]
    across, deep = lying(box)
    stood, tones = poses(box, across, deep), Tones.of(paint, lit)
    meshes = list(body(box, across, deep, tones.paint, material("hollow")))
    for number, (side, at, fitted) in enumerate(standing):
        meshes += [placed(mesh, stood[side], at, f"hole {number}") for mesh in hardware(fitted, tones)]
    return Model((across, deep, box.size[2]), tuple(meshes), stood)


def plain_looks(colours: Mapping[Side, str], name: str = COMMON) -> dict[Side, FaceLook]:
    """Faces in one colour each."""
    box = boxes()[name]
    across, deep = lying(box)
    looks: dict[Side, FaceLook] = {}
    for side, colour in colours.items():
        extent = face_outline(box, side, across, deep).box
        rgb = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
        pixels = np.tile(np.array(rgb, np.uint8), (round(extent.height * 6), round(extent.width * 6), 1))
        looks[side] = FaceLook(pixels, Box(*extent))
    return looks


def facets(mesh: Mesh) -> Array:
    """Triangles' normals, as long as twice their areas."""
    a, b, c = (mesh.points[mesh.triangles[:, i]].astype(float) for i in range(3))
    return np.asarray(np.cross(b - a, c - a))


def welded(meshes: Sequence[Mesh], near: float = 2e-3) -> tuple[Array, npt.NDArray[np.int64]]:
    """Points and triangles of some meshes as one, points nearer than a rounding step being the same."""
    points = np.vstack([mesh.points for mesh in meshes]).astype(float)
    starts = np.cumsum([0, *(len(mesh.points) for mesh in meshes)])
    triangles = np.vstack([mesh.triangles + start for mesh, start in zip(meshes, starts, strict=False)])
    _, first, back = np.unique(np.round(points / near).astype(int), axis=0, return_index=True, return_inverse=True)
    return points[first], back.reshape(-1)[triangles].astype(np.int64)


def sides_of(triangles: npt.NDArray[np.int64]) -> tuple[set[tuple[int, int]], int]:
    """All directed sides of triangles, and how many there are more than once."""
    kept = triangles[(triangles != np.roll(triangles, 1, axis=1)).all(axis=1)]
    every = [(int(a), int(b)) for t in kept for a, b in zip(t, np.roll(t, -1), strict=True)]
    return set(every), len(every) - len(set(every))
