"""Pictures for processes that know no greys: error diffusion in dots no smaller than what transfers."""

import math

from fontTools.misc.transform import Transform
from PIL import Image as PILImage

from facegraphic.job.model import Picture

MOST_DOTS = 4_000_000


def screened(picture: Picture, transform: Transform, opacity: float, dot: float) -> Picture:
    """A picture as black dots of `dot` mm on nothing, for the size at which its transform places it.

    Uses Pillow's Floyd–Steinberg diffusion; tone is kept in mean, see the tests.
    """
    xx, xy, yx, yy, _, _ = transform
    width = max(1, round(math.hypot(xx, xy) / dot))
    height = max(1, round(math.hypot(yx, yy) / dot))
    if width * height > MOST_DOTS:
        scale = math.sqrt(MOST_DOTS / (width * height))
        width, height = max(1, int(width * scale)), max(1, int(height * scale))
    rgba = PILImage.frombytes("RGBA", (picture.width, picture.height), picture.pixels)
    paper = PILImage.new("RGBA", rgba.size, "white")
    grey = PILImage.blend(paper, PILImage.alpha_composite(paper, rgba), opacity).convert("L")
    dots = grey.resize((width, height), PILImage.Resampling.BOX if width < picture.width else 3).convert("1")
    black = PILImage.new("RGBA", dots.size, (0, 0, 0, 255))
    black.putalpha(dots.convert("L").point(lambda value: 255 - value))
    return Picture(width, height, black.tobytes())
