"""Artwork once it is read: pixels, or a checked drawing; and how a process without greys shows it."""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

from facegraphic.units import MM_PER_INCH

ScreenKind = Literal["diffusion", "ordered", "dots"]


@dataclass(frozen=True)
class Picture:
    """Pixels in sRGB: 8-bit RGBA rows from the top, `pixels` being width × height × 4 bytes."""

    width: int
    height: int
    pixels: bytes

    @property
    def size(self) -> tuple[float, float]:
        """Natural size in mm: 300 pixels to the inch, which print houses ask of pictures."""
        return (self.width * MM_PER_INCH / 300, self.height * MM_PER_INCH / 300)

    @cached_property
    def tones(self) -> int:
        """How many colours it has, 3 standing for more than two."""
        import numpy as np  # which job files without pictures are read without

        pixels = np.frombuffer(self.pixels, np.uint32)
        others = pixels[pixels != pixels[0]]
        if not others.size:
            return 1
        return 2 if (others == others[0]).all() else 3


@dataclass(frozen=True)
class Drawing:
    """A checked SVG without anything outside itself; `size` is its natural width and height in mm.

    `work` is what drawing it once comes to, in steps of some 10 microseconds.
    """

    svg: bytes
    size: tuple[float, float]
    name: str = ""
    work: int = 0


@dataclass(frozen=True)
class Screen:
    """How a process without greys shows them; round dots stand at a `ruling` (lines to the inch) and an `angle`."""

    kind: ScreenKind = "diffusion"
    ruling: float = 25.0
    angle: float = 45.0
