"""A face's look as a camera sees it: made as fine as it is seen, then laid into the picture by its homography."""

import numpy as np
import numpy.typing as npt
from PIL import Image

from facegraphic.film.colour import to_linear
from facegraphic.geometry.path import Box
from facegraphic.preview.camera import Camera
from facegraphic.preview.model import FaceLook, Pose

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]
FINE = 1.15  # pixels of a look, made smaller, for each pixel of the picture
RIM = 3  # pixels that a look goes on beyond its edge
LINEAR = to_linear(np.arange(256) / 255).astype(np.float32)
SHARES = (np.arange(256) / 255).astype(np.float32)


def warped(look: FaceLook, pose: Pose, camera: Camera) -> Floats:
    """A look in every pixel of the camera's picture, of no use beyond the face: linear light, or shares of a mask."""
    small = _as_fine(look, pose, camera)
    to_small = _to_pixels(look.extent, small.size, RIM)
    laid = np.asarray(laid_in(small, to_small, pose, camera, Image.Resampling.BICUBIC))
    return np.asarray(LINEAR[laid] if laid.ndim == 3 else SHARES[laid])


def homography(pose: Pose, camera: Camera) -> Array:
    """From face coordinates (x, y, 1) to the picture's pixels, up to scale (3 × 3)."""
    frame = np.array([pose.right, pose.up, np.subtract(pose.centre, camera.position)]) @ camera.axes.T
    lens = np.array([[camera.focal, 0, camera.centre[0]], [0, camera.focal, camera.centre[1]], [0, 0, 1]])
    return np.asarray(lens @ frame.T)


def laid_in(
    picture: Image.Image, to_picture: Array, pose: Pose, camera: Camera, way: Image.Resampling, beyond: float = 0.0
) -> Image.Image:
    """A picture laid into the camera's; `to_picture` goes from face coordinates to its pixels (3 × 3)."""
    back = to_picture @ np.linalg.inv(homography(pose, camera))
    back = (back / back[2, 2]).reshape(-1)[:8].tolist()
    return picture.transform(camera.size, Image.Transform.PERSPECTIVE, back, way, fillcolor=beyond or None)


def grid_to_pixels(box: Box, columns: int, rows: int) -> Array:
    """From face coordinates to the pixels of a grid that fills a box, drawn from its upper row with a rim of one."""
    return _to_pixels(box, (columns + 2, rows + 2), 1)


def _to_pixels(box: Box, size: tuple[int, int], rim: int) -> Array:
    sx, sy = (size[0] - 2 * rim) / box.width, (size[1] - 2 * rim) / box.height
    return np.array([[sx, 0, rim - sx * box.x0], [0, -sy, rim + sy * box.y1], [0, 0, 1]])


def _as_fine(look: FaceLook, pose: Pose, camera: Camera) -> Image.Image:
    """A look made as coarse as it is seen, with a rim that goes on as its edge is."""
    box = look.extent
    edges = ((box.x0, box.y0, 0), (box.x1, box.y0, 0), (box.x1, box.y1, 0), (box.x0, box.y1, 0))
    a, b, c, d = camera.project(pose.carry(edges))
    across = max(np.linalg.norm(b - a), np.linalg.norm(c - d)) * FINE
    up = max(np.linalg.norm(d - a), np.linalg.norm(c - b)) * FINE
    picture = Image.fromarray(look.picture)
    size = (max(1, min(picture.width, round(across))), max(1, min(picture.height, round(up))))
    small = np.asarray(picture.resize(size, Image.Resampling.LANCZOS) if size != picture.size else picture)
    return Image.fromarray(np.pad(small, [(RIM, RIM), (RIM, RIM), (0, 0)][: small.ndim], mode="edge"))
