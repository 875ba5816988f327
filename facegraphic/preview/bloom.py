"""Light of lamps that spreads in the eye and the lens: a halo round every lit lamp in the picture."""

import numpy as np
import numpy.typing as npt

from facegraphic.film.colour import coded, to_linear
from facegraphic.preview.camera import Camera
from facegraphic.preview.model import Mesh, Model

Floats = npt.NDArray[np.float32]

STRENGTH = 0.30
REACH = 5.0  # lamp radii beyond which there is no halo


def bloomed(picture: Floats, model: Model, camera: Camera) -> None:
    """Add halos to a picture (h × w × 3, as it is shown)."""
    for mesh in model.meshes:
        if mesh.material.glow and _turned_to(mesh, camera):
            _halo(picture, mesh, camera)


def _turned_to(mesh: Mesh, camera: Camera) -> bool:
    """Whether a lamp stands on a face that the camera sees: on the whole its normals look out of the face."""
    out = mesh.normals.astype(float).mean(axis=0)
    return bool(np.subtract(camera.position, mesh.points.astype(float).mean(axis=0)) @ out > 0)


def _halo(picture: Floats, mesh: Mesh, camera: Camera) -> None:
    spots = camera.project(mesh.points)
    low, high = spots.min(axis=0), spots.max(axis=0)
    middle, radius = (low + high) / 2, float((high - low).max()) / 2
    x0, y0 = (max(0, int(v)) for v in middle - REACH * radius)
    x1, y1 = (int(v) for v in np.minimum(middle + REACH * radius, camera.size))
    if x1 <= x0 or y1 <= y0:
        return
    x = (np.arange(x0, x1) + 0.5 - middle[0]) / radius
    y = (np.arange(y0, y1) + 0.5 - middle[1])[:, None] / radius
    away = x * x + y * y
    share = np.maximum(1 / (1 + away) - 1 / (1 + REACH * REACH), 0) ** 1.5
    colour = STRENGTH * mesh.material.glow * to_linear(coded(mesh.material.colour))
    part = picture[y0:y1, x0:x1]
    part += (share[..., None] * colour * (1 - part)).astype(np.float32)
