"""A face's look as a camera sees it: made as fine as it is seen, then laid into the picture by its homography."""

from collections.abc import Callable

import numpy as np
import numpy.typing as npt
from PIL import Image

from facegraphic.film.colour import to_linear
from facegraphic.geometry.path import Box
from facegraphic.preview.camera import Camera
from facegraphic.preview.model import FaceLook, Pixels, Pose

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]
FINE = 1.15  # pixels of a look, made smaller, for each pixel of the picture
WIDE = 8  # points that a grid goes on beyond its edge
ENOUGH = 1.75  # pixels from point to point of a grid that show all of it
MOST_STEP = 4
RIM = 3  # pixels that a look goes on beyond its edge
LINEAR = to_linear(np.arange(256) / 255).astype(np.float32)
SHARES = (np.arange(256) / 255).astype(np.float32)


def warped(look: FaceLook, pose: Pose, camera: Camera) -> tuple[Floats, Floats | None]:
    """A look in every pixel of the camera's picture, no use beyond the face: linear light, and film's shares."""
    small = _as_fine(look, pose, camera)
    to_small = _to_pixels(look.extent, small.size, RIM)
    laid = np.asarray(laid_in(small, to_small, pose, camera, Image.Resampling.BICUBIC))
    return LINEAR.take(laid[..., :3]), None if look.film is None else SHARES.take(laid[..., 3])


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


def spread(grid: Floats, box: Box, pose: Pose, camera: Camera, beyond: float = 0.0) -> Floats:
    """What is known over a grid that fills a box of a face (rows from the lower edge), in every pixel of a picture.

    Beyond the grid it goes on for a little as its edge is, then it is `beyond`.
    """
    rows, columns = grid.shape
    picture = Image.fromarray(np.ascontiguousarray(np.pad(grid[::-1], WIDE, mode="edge")), "F")
    to_grid = _to_pixels(box, (columns + 2 * WIDE, rows + 2 * WIDE), WIDE)
    return np.asarray(laid_in(picture, to_grid, pose, camera, Image.Resampling.BILINEAR, beyond), np.float32)


def enlarged(picture: Floats, step: int, size: tuple[int, int]) -> Floats:
    """A picture seen by a camera that is `step` times as coarse, in all pixels of some size, going over softly."""
    if step == 1:
        return picture
    rows, columns = picture.shape
    large = Image.fromarray(picture, "F").resize((columns * step, rows * step), Image.Resampling.BILINEAR)
    return np.asarray(large, np.float32)[: size[1], : size[0]]


def coarse(box: Box, cells: tuple[int, int], pose: Pose, camera: Camera) -> int:
    """How many times as coarse a camera still sees all of a grid of some columns and rows that fills a box."""
    (across, up), (columns, rows) = _seen(box, pose, camera, min), cells
    return min(MOST_STEP, max(1, round(min(across / columns, up / rows) / ENOUGH)))


def _to_pixels(box: Box, size: tuple[int, int], rim: int) -> Array:
    sx, sy = (size[0] - 2 * rim) / box.width, (size[1] - 2 * rim) / box.height
    return np.array([[sx, 0, rim - sx * box.x0], [0, -sy, rim + sy * box.y1], [0, 0, 1]])


def _as_fine(look: FaceLook, pose: Pose, camera: Camera) -> Image.Image:
    """A look made as coarse as it is seen, with a rim that goes on as its edge is."""
    across, up = _seen(look.extent, pose, camera, max)
    picture = _together(look)
    size = (max(1, min(picture.width, round(across * FINE))), max(1, min(picture.height, round(up * FINE))))
    small = np.asarray(picture.resize(size, Image.Resampling.LANCZOS) if size != picture.size else picture)
    return _four(np.pad(small, [(RIM, RIM), (RIM, RIM), (0, 0)], mode="edge"))


def _together(look: FaceLook) -> Image.Image:
    """Picture and film in one, so that they go the same way together."""
    return _four(look.picture if look.film is None else np.dstack([look.picture, look.film]))


def _four(pixels: Pixels) -> Image.Image:
    """Pixels of three or four values as a picture whose fourth is no alpha, which would be multiplied with the rest."""
    if pixels.shape[2] == 3:
        return Image.fromarray(pixels)
    high, wide = pixels.shape[:2]
    return Image.frombuffer("RGBX", (wide, high), np.ascontiguousarray(pixels), "raw", "RGBX", 0, 1)


def _seen(box: Box, pose: Pose, camera: Camera, which: Callable[[float, float], float]) -> tuple[float, float]:
    """How long a box of a face is seen across and up, in px: the shorter or the longer of both edges."""
    edges = ((box.x0, box.y0, 0), (box.x1, box.y0, 0), (box.x1, box.y1, 0), (box.x0, box.y1, 0))
    a, b, c, d = camera.project(pose.carry(edges))
    lengths = [float(np.linalg.norm(one - other)) for one, other in ((b, a), (c, d), (d, a), (c, b))]
    return which(*lengths[:2]), which(*lengths[2:])
