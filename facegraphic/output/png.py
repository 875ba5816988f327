"""Scenes as PNG: RGB, or black and white at one bit a pixel, with the resolution in pHYs."""

import io
from typing import IO, TYPE_CHECKING

import numpy as np

from facegraphic.errors import Problem, UserError
from facegraphic.output.bands import Bands, Rows, bits_of, rows_of
from facegraphic.output.png_chunks import BLACK_AND_WHITE, DRAWING, SLOTS, VIEW, Header, write_chunks
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
        return Image.frombytes("1", size, b"".join(bits_of(black).tobytes() for black in bands.coverage()))
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
    bands = _bands(scene, dpi)
    if scene.bits == 1:
        header = Header(bands.width, bands.height, BLACK_AND_WHITE, dpi)
        write_chunks(out, header, bands.coverage(SLOTS), _bit_lines)
    else:
        header = Header(bands.width, bands.height, DRAWING, dpi)
        write_chunks(out, header, bands.pixels(SLOTS), _colour_lines)


def _bands(scene: Scene, dpi: int) -> Bands:
    width, height = pixel_size(scene, dpi)
    if width > WIDEST or width * height > MOST_PIXELS:
        what = f"a PNG of {width} × {height} pixels, at {dpi} to the inch, is too large to draw"
        raise UserError(Problem(what, "choose a lower dpi, or leave PNG out with --format svg,pdf"))
    return Bands(scene, dpi, (width, height))


def pixels_bytes(pixels: Rows, dpi: int | None = None) -> bytes:
    """RGB pixels (rows, columns, 3) as a PNG file; with a resolution where they are true to scale."""
    height, width, _ = pixels.shape
    out = io.BytesIO()
    rows = rows_of(width)
    write_chunks(out, Header(width, height, VIEW, dpi), np.split(pixels, range(rows, height, rows)), _view_lines)
    return out.getvalue()


def _bit_lines(black: Rows) -> Rows:
    """A PNG's rows of one bit a pixel."""
    bits = bits_of(black)
    lines = np.full((bits.shape[0], 1 + bits.shape[1]), BLACK_AND_WHITE.filter, np.uint8)
    lines[:, 1:] = bits
    return lines


def _colour_lines(rows: Rows) -> Rows:
    """A PNG's rows of red, green and blue, each less the one above it."""
    change = np.subtract(rows[1:], rows[:-1])
    height, width, _ = change.shape
    lines = np.full((height, 1 + 3 * width), DRAWING.filter, np.uint8)
    colours = lines[:, 1:].reshape(height, width, 3, copy=False)
    for channel, byte in enumerate((2, 1, 0)):
        colours[:, :, channel] = change[:, :, byte]
    return lines


def _view_lines(pixels: Rows) -> Rows:
    """A PNG's rows of red, green and blue, each pixel less the one before it."""
    lines = np.full((len(pixels), 1 + 3 * pixels.shape[1]), VIEW.filter, np.uint8)
    lines[:, 1:4] = pixels[:, 0]
    np.subtract(pixels[:, 1:], pixels[:, :-1], out=lines[:, 4:].reshape(len(lines), -1, 3, copy=False))
    return lines
