"""Pictures for processes that know no greys: error diffusion in dots no smaller than what transfers."""

import math

from fontTools.misc.transform import Transform
from PIL import Image as PILImage

from facegraphic.job.model import Picture

MOST_DOTS = 4_000_000


def dot_grid(transform: Transform, dot: float) -> tuple[int, int]:
    """How many dots of `dot` mm an image is wide and high where its transform places it, within reason."""
    xx, xy, yx, yy, _, _ = transform
    width, height = math.hypot(xx, xy) / dot, math.hypot(yx, yy) / dot
    scale = min(1.0, math.sqrt(MOST_DOTS / (width * height)))
    return max(1, round(width * scale)), max(1, round(height * scale))


def screened(picture: Picture, grid: tuple[int, int], tone: float) -> Picture:
    """A picture as opaque black and white dots on a grid, clear where it is clear, at `tone` of its strength.

    Uses Pillow's Floyd–Steinberg diffusion; tone is kept in mean, see the tests.
    """
    rgba = PILImage.frombytes("RGBA", (picture.width, picture.height), picture.pixels)
    paper = PILImage.new("RGBA", rgba.size, "white")
    grey = PILImage.blend(paper, PILImage.alpha_composite(paper, rgba), tone).convert("L")
    smaller = grid[0] < picture.width
    how = PILImage.Resampling.BOX if smaller else PILImage.Resampling.BICUBIC
    dots = grey.resize(grid, how).convert("1").convert("RGBA")
    dots.putalpha(rgba.getchannel("A").resize(grid, how).point(lambda value: 255 if value >= 128 else 0))
    return Picture(*grid, dots.tobytes())
