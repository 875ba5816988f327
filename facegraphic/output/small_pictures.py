"""Pictures for a page in one file: no larger than a screen shows, and in few bytes, packed by threads.

How they are packed was measured on the pages of the examples. Drawings have few colours: without loss and with little
effort they are as small as with much. What is shaded takes forty times as long to pack well without loss as to pack
it so at once, for a third of its bytes; and a photograph packed near enough takes a twentieth of the bytes that it
would without loss, which need not be tried.
"""

import base64
import io
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np
from PIL import Image, features

from facegraphic.preview.model import Pixels

MOST_PIXELS = 1600  # of the longer side: beyond it a page shows no more
PLAIN_ENOUGH = 180_000  # bytes up to which a picture may be kept without loss
QUALITY = 90  # of those that are not: lettering shows no fringes yet
DRAWN = 1024  # colours that a drawing has, at most
THREADS = 2


class Urls:
    """Pictures as data URLs: all are asked for, then packed by threads while the page is put together."""

    def __init__(self, pool: ThreadPoolExecutor) -> None:
        self._pool = pool
        self._asked: dict[int, tuple[Pixels, Future[str]]] = {}  # by identity; pictures are kept, so that none recurs
        self._alike: dict[tuple[tuple[int, ...], bytes], Future[str]] = {}

    def ask(self, pixels: Pixels, photograph: bool = False) -> None:
        """Begin to pack rows of grey or RGB."""
        self._asked[id(pixels)] = pixels, self._pool.submit(data_url, of_pixels(pixels), photograph)

    def ask_alike(self, pixels: Pixels) -> None:
        """The same for pictures of which many are equal: each is packed once."""
        key = (pixels.shape, pixels.tobytes())
        if key not in self._alike:
            self._alike[key] = self._pool.submit(data_url, of_pixels(pixels))
        self._asked[id(pixels)] = pixels, self._alike[key]

    def url(self, pixels: Pixels) -> str:
        """The URL of a picture that was asked for; waits until it is packed."""
        return self._asked[id(pixels)][1].result()


def data_url(picture: Image.Image, photograph: bool = False) -> str:
    """A picture as a data URL: without loss where that is small, else as a photograph would be kept."""
    kind, content = _small(_reduced(picture, MOST_PIXELS), photograph)
    return f"data:image/{kind};base64," + base64.b64encode(content).decode("ascii")


def of_pixels(pixels: Pixels) -> Image.Image:
    """Rows of grey or RGB as a picture."""
    return Image.fromarray(np.ascontiguousarray(pixels))


def _reduced(picture: Image.Image, most: int) -> Image.Image:
    scale = most / max(picture.size)
    if scale >= 1:
        return picture
    size = (max(1, round(picture.width * scale)), max(1, round(picture.height * scale)))
    return picture.resize(size, Image.Resampling.LANCZOS)


def _small(picture: Image.Image, photograph: bool) -> tuple[str, bytes]:
    if not features.check("webp"):
        return "png", _written(picture, "PNG", optimize=True)
    full = picture.convert("RGB") if picture.mode == "L" else picture
    if photograph:
        return "webp", _near(full)
    exact = _written(full, "WEBP", lossless=True, quality=0, method=int(full.getcolors(DRAWN) is not None))
    return "webp", exact if len(exact) <= PLAIN_ENOUGH else min(exact, _near(full), key=len)


def _near(picture: Image.Image) -> bytes:
    return _written(picture, "WEBP", quality=QUALITY, method=2)


def _written(picture: Image.Image, kind: str, **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **options)
    return out.getvalue()
