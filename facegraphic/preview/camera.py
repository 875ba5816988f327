"""A pinhole camera, and where it stands for a view of a box."""

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from facegraphic.preview.model import Model, Vector
from facegraphic.preview.vectors import along

View = Literal["three-quarter", "top"]
VIEWS: tuple[View, ...] = get_args(View)
Array = npt.NDArray[np.float64]

ELEVATION = 59.0  # degrees that the camera stands over the table: legends on top are read, two walls are seen
AZIMUTH = 24.0  # degrees that it stands to the right of straight before the box
FIELD = 24.0  # degrees that the box fills: a long lens, as products are photographed with
MARGIN = 0.075  # of the picture that is left free round the box, at least
OVERHEAD = 16.0  # degrees of the field straight from above, where far knobs would lean outwards


@dataclass(frozen=True)
class Camera:
    """A pinhole at `position` that looks at `target`, `up` upwards; `focal` px long, for a picture of `size` px.

    `centre` is where the line of sight meets the picture, in px from its upper left corner, whose pixels' middles
    stand at halves.
    """

    position: Vector
    target: Vector
    up: Vector
    focal: float
    size: tuple[int, int]
    centre: tuple[float, float]

    def coarser(self, step: int) -> "Camera":
        """The camera with pixels `step` times as wide, as many as it takes to fill the picture."""
        width, height = self.size
        centre = (self.centre[0] / step, self.centre[1] / step)
        return replace(self, focal=self.focal / step, size=(-(-width // step), -(-height // step)), centre=centre)

    @property
    def axes(self) -> Array:
        """Unit vectors as rows: right in the picture, down in it, and away from the camera."""
        ahead = np.subtract(self.target, self.position)
        ahead = ahead / np.linalg.norm(ahead)
        right = np.cross(ahead, self.up)
        right = right / np.linalg.norm(right)
        return np.array([right, np.cross(ahead, right), ahead])

    def seen(self, points: npt.ArrayLike) -> Array:
        """Points in box space (n × 3) as right, down and away from the camera, in mm."""
        return along(np.asarray(points, float).reshape(-1, 3) - np.array(self.position), self.axes)

    def project(self, points: npt.ArrayLike) -> Array:
        """Points in box space (n × 3) as pixels right and down from the picture's upper left corner (n × 2)."""
        seen = self.seen(points)
        return np.asarray(self.focal * seen[:, :2] / seen[:, 2:] + np.array(self.centre))


def camera_for(model: Model, view: View = "three-quarter", size: tuple[int, int] = (1600, 1200)) -> Camera:
    """A camera from which the box with its hardware fills a picture of `size` px; ValueError for an unknown view."""
    if view not in VIEWS:
        raise ValueError(f'no view is called "{view}"; there are {", ".join(VIEWS)}')
    points = np.vstack([mesh.points for mesh in model.meshes]).astype(float)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    if view == "top":
        way, up, field = (0.0, 0.0, 1.0), (0.0, 1.0, 0.0), OVERHEAD
    else:
        low, side = math.radians(ELEVATION), math.radians(AZIMUTH)
        way = (math.sin(side) * math.cos(low), -math.cos(side) * math.cos(low), math.sin(low))
        up, field = (0.0, 0.0, 1.0), FIELD
    across = float(np.linalg.norm(np.ptp(points, axis=0)))
    away = across / 2 / math.tan(math.radians(field) / 2)
    position = middle + away * np.array(way)
    return _filled(points, Camera(_vector(position), _vector(middle), up, 1.0, size, (0.0, 0.0)))


def _filled(points: Array, camera: Camera) -> Camera:
    """The camera with that focal length and middle at which the points just leave the margin free."""
    seen = camera.seen(points)
    flat = seen[:, :2] / seen[:, 2:]
    low, high = flat.min(axis=0), flat.max(axis=0)
    room = np.array(camera.size) - 2 * MARGIN * min(camera.size)
    focal = float((room / (high - low)).min())
    centre = np.array(camera.size) / 2 - focal * (low + high) / 2
    return Camera(camera.position, camera.target, camera.up, focal, camera.size, (float(centre[0]), float(centre[1])))


def _vector(values: npt.ArrayLike) -> Vector:
    x, y, z = (float(value) for value in np.asarray(values))
    return (x, y, z)
