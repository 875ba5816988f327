"""Settle images that a 1-bit process must show in dots: the same dots in every format."""

from dataclasses import replace
from functools import cache

from PIL import Image as PILImage

from facegraphic.film.screen import dot_grid, screened
from facegraphic.job.model import Drawing, Picture
from facegraphic.output.drawings import is_black_and_white, recording
from facegraphic.output.engine import cairo
from facegraphic.scene.scene import Image

FINER = 3  # drawings are drawn this much finer than the dots before they are screened


@cache
def settled(image: Image) -> Image:
    """An image as it is to be shown: screened if it must be, with nothing left to do."""
    if not image.dots:
        return image
    if isinstance(image.content, Drawing) and image.tone == 1 and is_black_and_white(image.content):
        return replace(image, dots=0.0)
    grid = dot_grid(image.transform, image.dots)
    picture = image.content
    if isinstance(picture, Drawing):
        picture = _raster(picture, grid[0] * FINER, grid[1] * FINER)
    return replace(image, content=screened(picture, grid, image.tone), dots=0.0, crisp=True)


def _raster(drawing: Drawing, width: int, height: int) -> Picture:
    engine = cairo()
    source, wide, high = recording(drawing)
    surface = engine.ImageSurface(engine.FORMAT_ARGB32, width, height)
    context = engine.Context(surface)
    context.scale(width / wide, height / high)
    context.set_source_surface(source)
    context.paint()
    surface.flush()
    pixels = PILImage.frombuffer(
        "RGBa", (width, height), bytes(surface.get_data()), "raw", "BGRa", surface.get_stride()
    )
    return Picture(width, height, pixels.convert("RGBA").tobytes())
