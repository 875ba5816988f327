"""Scenes as PNG: RGB, or black and white at one bit a pixel, with the resolution in pHYs."""

import io
from collections.abc import Iterator
from typing import IO, TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from facegraphic.errors import Problem, UserError
from facegraphic.output.bands import Bands, Rows
from facegraphic.output.png_chunks import SLOTS, Header, write_chunks
from facegraphic.scene.scene import Scene
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL import Image

WIDEST = 32_767  # pixels in a row of a cairo surface
MOST_PIXELS = limit("png-pixels")


def pixel_size(scene: Scene, dpi: int) -> tuple[int, int]:
    """Width and height in pixels: the nearest whole number for the scene's millimetres."""
    return (
        max(1, round(scene.width * dpi / MM_PER_INCH)),
        max(1, round(scene.height * dpi / MM_PER_INCH)),
    )


def render(scene: Scene, dpi: int) -> "Image.Image":
    """Draw a scene true to scale about its centre, on white; in mode "RGB", or "1" when the scene has one bit.

    One millimetre is dpi/25.4 pixels exactly; only the outermost pixels are cut or added to make whole numbers.
    UserError when it would be too large.
    """
    from PIL import Image

    bands = _bands(scene, dpi)
    size = (bands.width, bands.height)
    if scene.bits == 1:
        return Image.frombytes("1", size, b"".join(rows.tobytes() for rows in bands.bits()))
    page, top = np.empty((bands.height, bands.width, 3), np.uint8), 0
    for rows in bands.pixels():
        page[top : top + len(rows) - 1] = rows[1:, :, 2::-1]
        top += len(rows) - 1
    return Image.fromarray(page)


def png_bytes(scene: Scene, dpi: int) -> bytes:
    """A scene as a PNG file."""
    out = io.BytesIO()
    write_png(scene, dpi, out)
    return out.getvalue()


def write_png(scene: Scene, dpi: int, out: IO[bytes]) -> None:
    """Write a scene into a binary file as a PNG, its rows packed by other threads while the next are drawn.

    Of the picture only a few rows are in memory at any time. UserError when it would be too large.
    """
    bands, one_bit = _bands(scene, dpi), scene.bits == 1
    header = Header(bands.width, bands.height, one_bit, dpi)
    write_chunks(out, header, _bit_lines(bands, header) if one_bit else _colour_lines(bands, header))


def _bands(scene: Scene, dpi: int) -> Bands:
    width, height = pixel_size(scene, dpi)
    if width > WIDEST or width * height > MOST_PIXELS:
        what = f"a PNG of {width} × {height} pixels, at {dpi} to the inch, is too large to draw"
        raise UserError(Problem(what, "choose a lower dpi, or leave PNG out with --format svg,pdf"))
    return Bands(scene, dpi, (width, height))


def pixels_bytes(pixels: npt.NDArray[np.uint8], dpi: int | None = None) -> bytes:
    """RGB pixels as a PNG file; with a resolution where they are true to scale."""
    from PIL import Image

    out = io.BytesIO()
    size = {"dpi": (dpi, dpi)} if dpi else {}
    Image.fromarray(pixels).save(out, "PNG", compress_level=6, **size)
    return out.getvalue()


def _slots(bands: Bands, header: Header) -> Iterator[Rows]:
    """Room for the rows of a band with their filter's number ahead of each, over and over the same few."""
    slots = [np.full((bands.rows, 1 + header.row), header.filter, np.uint8) for _ in range(SLOTS)]
    while True:
        yield from slots


def _bit_lines(bands: Bands, header: Header) -> Iterator[Rows]:
    """A PNG's rows of one bit a pixel, as they are."""
    for rows, slot in zip(bands.bits(), _slots(bands, header), strict=False):
        lines = slot[: len(rows)]
        lines[:, 1:] = rows
        yield lines


def _colour_lines(bands: Bands, header: Header) -> Iterator[Rows]:
    """A PNG's rows of red, green and blue, each less the one above it."""
    for rows, slot in zip(bands.pixels(), _slots(bands, header), strict=False):
        lines = slot[: len(rows) - 1]
        change = np.subtract(rows[1:], rows[:-1])
        colours = lines[:, 1:].reshape(len(lines), bands.width, 3, copy=False)
        for channel, byte in enumerate((2, 1, 0)):
            colours[:, :, channel] = change[:, :, byte]
        yield lines
