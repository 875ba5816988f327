"""Scenes as PNG: RGB, or black and white at one bit a pixel, with the resolution in pHYs."""

import io

import numpy as np
from PIL import Image

from facegraphic.errors import Problem, UserError
from facegraphic.output.engine import cairo
from facegraphic.output.paint import paint
from facegraphic.scene.scene import Scene
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_INCH

BAND_ROWS = 512
WIDEST = 32_767  # pixels in a row of a cairo surface
MOST_PIXELS = limit("png-pixels")
HALF = 128


def pixel_size(scene: Scene, dpi: int) -> tuple[int, int]:
    """Width and height in pixels: the nearest whole number for the scene's millimetres."""
    return (
        max(1, round(scene.width * dpi / MM_PER_INCH)),
        max(1, round(scene.height * dpi / MM_PER_INCH)),
    )


def render(scene: Scene, dpi: int) -> Image.Image:
    """Draw a scene true to scale about its centre, on white; in mode "RGB", or "1" when the scene has one bit.

    One millimetre is dpi/25.4 pixels exactly; only the outermost pixels are cut or added to make whole numbers.
    UserError when it would be too large.
    """
    engine = cairo()
    width, height = pixel_size(scene, dpi)
    if width > WIDEST or width * height > MOST_PIXELS:
        what = f"a PNG of {width} × {height} pixels, at {dpi} to the inch, is too large to draw"
        raise UserError(Problem(what, "choose a lower dpi, or leave PNG out with --format svg,pdf"))
    one_bit = scene.bits == 1
    bands = []
    for top in range(0, height, BAND_ROWS):
        rows = min(BAND_ROWS, height - top)
        surface = engine.ImageSurface(engine.FORMAT_RGB24, width, rows)
        context = engine.Context(surface)
        context.set_source_rgb(1, 1, 1)
        context.paint()
        paint(context, scene, dpi / MM_PER_INCH, (width / 2, height / 2 - top))
        surface.flush()
        stride = surface.get_stride() // 4
        pixels = np.frombuffer(surface.get_data(), np.uint32).reshape(rows, stride)[:, :width]
        if one_bit:
            # Inks are black or white, so any channel tells how much of a pixel is covered.
            bands.append(np.packbits((pixels & 0xFF) >= HALF, axis=1))
        else:
            bands.append(np.stack([(pixels >> shift & 0xFF).astype(np.uint8) for shift in (16, 8, 0)], axis=-1))
    data = np.concatenate(bands)
    return Image.frombytes("1", (width, height), data.tobytes()) if one_bit else Image.fromarray(data)


def png_bytes(scene: Scene, dpi: int) -> bytes:
    """A scene as a PNG file; Pillow writes pHYs as whole pixels to the metre."""
    out = io.BytesIO()
    render(scene, dpi).save(out, "PNG", dpi=(dpi, dpi), compress_level=6)
    return out.getvalue()
