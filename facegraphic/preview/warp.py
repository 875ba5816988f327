"""A face's look as a camera sees it: made as fine as it is seen, then laid into the picture by its homography."""

import numpy as np
import numpy.typing as npt
from PIL import Image

from facegraphic.film.colour import to_linear
from facegraphic.preview.camera import Camera
from facegraphic.preview.model import FaceLook, Pose

Floats = npt.NDArray[np.float32]
FINE = 1.15  # pixels of a look, made smaller, for each pixel of the picture
_LINEAR = to_linear(np.arange(256) / 255).astype(np.float32)


def warped(look: FaceLook, pose: Pose, camera: Camera) -> Floats:
    """A look's linear light in every pixel of the camera's picture; of no use beyond the face."""
    small = _as_fine(look, pose, camera)
    laid = laid_in(small, _to_pixels(look, small.size), pose, camera, Image.Resampling.BICUBIC)
    return np.asarray(_LINEAR[np.asarray(laid)])


def homography(pose: Pose, camera: Camera) -> npt.NDArray[np.float64]:
    """From face coordinates (x, y, 1) to the picture's pixels, up to scale (3 × 3)."""
    frame = np.array([pose.right, pose.up, np.subtract(pose.centre, camera.position)]) @ camera.axes.T
    lens = np.array([[camera.focal, 0, camera.centre[0]], [0, camera.focal, camera.centre[1]], [0, 0, 1]])
    return np.asarray(lens @ frame.T)


def laid_in(
    picture: Image.Image, to_face: npt.NDArray[np.float64], pose: Pose, camera: Camera, way: Image.Resampling
) -> Image.Image:
    """A picture laid into the camera's; `to_face` goes from face coordinates to its pixels (3 × 3)."""
    back = to_face @ np.linalg.inv(homography(pose, camera))
    back = back / back[2, 2]
    return picture.transform(camera.size, Image.Transform.PERSPECTIVE, tuple(back.reshape(-1)[:8]), way)


def _to_pixels(look: FaceLook, size: tuple[int, int]) -> npt.NDArray[np.float64]:
    """From face coordinates to pixels of a look that was made `size` px large with a rim of PAD px on each side."""
    box = look.extent
    sx, sy = (size[0] - 2 * PAD) / box.width, (size[1] - 2 * PAD) / box.height
    return np.array([[sx, 0, PAD - sx * box.x0], [0, -sy, PAD + sy * box.y1], [0, 0, 1]])


PAD = 3


def _as_fine(look: FaceLook, pose: Pose, camera: Camera) -> Image.Image:
    """A look made as coarse as it is seen, with a rim that goes on as its edge is."""
    box = look.extent
    corners = pose.carry(
        [(x, y, 0) for x, y in ((box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1))]
    )
    a, b, c, d = camera.project(corners)
    across = max(np.linalg.norm(b - a), np.linalg.norm(c - d)) * FINE
    up = max(np.linalg.norm(d - a), np.linalg.norm(c - b)) * FINE
    picture = Image.fromarray(look.picture)
    size = (max(1, min(picture.width, round(across))), max(1, min(picture.height, round(up))))
    small = picture.resize(size, Image.Resampling.LANCZOS) if size != picture.size else picture
    return Image.fromarray(np.pad(np.asarray(small), ((PAD, PAD), (PAD, PAD), (0, 0)), mode="edge"))
