"""Scans and photos of a drilled face from disk: upright, in sRGB, what is transparent shown on white."""

import io
import math
import warnings

import numpy as np
from PIL import Image

from facegraphic.drill.scan.limits import LEAST_DPI, MOST_PIXELS
from facegraphic.drill.scan.vision import Pixels
from facegraphic.errors import Problem, UserError
from facegraphic.job.pictures import FORMATS, read_picture

SIGNS = (b"\x89PNG", b"\xff\xd8\xff", b"II*\0", b"MM\0*")


def looks_like_picture(data: bytes) -> bool:
    """Whether a file's first bytes are those of PNG, JPEG or TIFF."""
    return data.startswith(SIGNS)


def scan_dpi(data: bytes) -> float | None:
    """The dots to the inch that a picture's bytes tell of both ways alike (PNG pHYs, JFIF, TIFF or EXIF), else None.
    Fewer than any scanner has are none: a TIFF without them is read as 1."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            told = Image.open(io.BytesIO(data), formats=FORMATS).info.get("dpi", (0.0, 0.0))
        across, along = (float(figure) for figure in told)
    except (OSError, SyntaxError, ValueError, TypeError, ArithmeticError, Image.DecompressionBombError):
        return None  # a tag that cannot be read tells nothing
    if not (math.isfinite(across) and across >= LEAST_DPI and abs(along / across - 1) < 0.001):
        return None
    return across


def scan_pixels(data: bytes, name: str) -> Pixels:
    """The pixels of a picture's bytes, red first, rows from the top."""
    try:
        picture = read_picture(data, MOST_PIXELS)
    except ValueError as error:
        raise UserError(Problem("this cannot be used as a scan or photo", str(error), name)) from None
    pixels = np.frombuffer(picture.pixels, np.uint8).reshape(picture.height, picture.width, 4)
    alpha = pixels[..., 3:]
    if alpha.min() == 255:
        return np.ascontiguousarray(pixels[..., :3])
    shown = (pixels[..., :3].astype(np.uint16) * alpha + 255 * (255 - alpha.astype(np.uint16)) + 127) // 255
    return np.asarray(shown, np.uint8)
