"""Pictures for a page in one file: no larger than a screen shows, and in the fewest bytes."""

import base64
import io

import numpy as np
from PIL import Image, features

from facegraphic.preview.model import Pixels

MOST_PIXELS = 1600  # of the longer side: beyond it a page shows no more
PLAIN_ENOUGH = 120_000  # bytes up to which a picture may be kept without loss
QUALITY = 90  # of those that are not: lettering shows no fringes yet


def data_url(picture: Image.Image) -> str:
    """A picture as a data URL: without loss where that is small, else as a photograph would be kept."""
    kind, content = _smallest(_reduced(picture, MOST_PIXELS))
    return f"data:image/{kind};base64," + base64.b64encode(content).decode("ascii")


def of_pixels(pixels: Pixels) -> Image.Image:
    """Rows of grey or RGB as a picture."""
    return Image.fromarray(np.ascontiguousarray(pixels))


def of_bytes(content: bytes) -> Image.Image:
    """An image file's picture in grey, RGB or RGBA."""
    picture = Image.open(io.BytesIO(content))
    if picture.mode in ("L", "RGB", "RGBA"):
        return picture
    return picture.convert("RGBA" if "transparency" in picture.info else "RGB")


def _reduced(picture: Image.Image, most: int) -> Image.Image:
    scale = most / max(picture.size)
    if scale >= 1:
        return picture
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    return picture.resize(size, Image.Resampling.LANCZOS)


def _smallest(picture: Image.Image) -> tuple[str, bytes]:
    if not features.check("webp"):
        return "png", _written(picture, "PNG", optimize=True)
    full = picture.convert("RGB") if picture.mode == "L" else picture
    exact = _written(full, "WEBP", lossless=True, quality=40, method=2)
    if len(exact) <= PLAIN_ENOUGH:
        return "webp", exact
    near = _written(full, "WEBP", quality=QUALITY, method=4)
    return "webp", min(exact, near, key=len)


def _written(picture: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()
