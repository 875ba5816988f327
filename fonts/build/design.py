"""Proportions of the family and the list of its cuts.

The proportions are those of ISO 3098-0, lettering type B, with the capital height h divided
into ten: stroke h/10, lower case 7h/10, descender 3h/10, gap between letters 2h/10, gap
between words 6h/10.  Skeletons are drawn for the regular stroke; other strokes keep the outer
heights, so the centre lines move inwards or outwards by half the difference.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fonts.build.geometry import Mapping

UNITS_PER_EM = 2000
GRID = 140  # font units in one grid unit
CAP = 10 * GRID
X_HEIGHT = 7 * GRID
DESCENDER = -3 * GRID
LETTER_GAP = 2 * GRID
WORD_GAP = 6 * GRID
ASCENT, DESCENT = 2100, -560  # line limits: accented capitals and the lowest mark fit inside
FAMILY = "Tagstrip"


class Zone(StrEnum):
    """How the heights of a skeleton follow the weight."""

    UPPER = "upper"  # between baseline and capital height
    LOWER = "lower"  # with x-height, ascender and descender
    ABOVE = "above"  # mark above: keeps its lower edge
    BELOW = "below"  # mark below: keeps its upper edge
    SYMBOL = "symbol"  # scaled as a whole, so that circles stay circles
    FIXED = "fixed"  # does not move


@dataclass(frozen=True, slots=True)
class Cut:
    """One file of the family.

    :ivar pen: stroke width in grid units (h = 10).
    :ivar stretch: factor on the widths of skeletons, never on the stroke.
    :ivar bridge: width of stencil bridges in grid units, 0 for none.
    :ivar weight: OS/2 weight class.
    """

    width: str
    style: str
    pen: float
    weight: int
    stretch: float = 1.0
    bridge: float = 0.0

    @property
    def family(self) -> str:
        """Family name, width included."""
        return f"{FAMILY} {self.width}".strip()

    @property
    def file_stem(self) -> str:
        """PostScript name, and file name without its ending."""
        return f"{self.family}-{self.style}".replace(" ", "")

    def mapping(self, zone: Zone) -> Mapping:
        """Return the map from the drawn skeleton to this cut's, both in grid units."""
        pen, stretch = self.pen, self.stretch
        grow = (pen - 1) / 2
        if zone is Zone.SYMBOL:
            scale = (10 - pen) / 9
            return lambda p: complex(p.real * scale, 5 + (p.imag - 5) * scale)

        def height(y: float) -> float:
            match zone:
                case Zone.UPPER:
                    return 5 + (y - 5) * (10 - pen) / 9
                case Zone.LOWER if y <= 0.5:
                    return y + grow
                case Zone.LOWER if y >= 6.5:
                    return y - grow
                case Zone.LOWER:
                    return 3.5 + (y - 3.5) * (7 - pen) / 6
                case Zone.ABOVE:
                    return y + grow
                case Zone.BELOW:
                    return y - grow
                case _:
                    return y

        return lambda p: complex(p.real * stretch, height(p.imag))


LIGHT, REGULAR, BOLD = 10 / 14, 1.0, 10 / 7
CONDENSED = 0.76

UPRIGHT_CUTS = (
    Cut("", "Light", LIGHT, 300),
    Cut("", "Regular", REGULAR, 400),
    Cut("", "Bold", BOLD, 700),
)
CUTS = (
    *UPRIGHT_CUTS,
    Cut("Condensed", "Light", LIGHT, 300, CONDENSED),
    Cut("Condensed", "Regular", REGULAR, 400, CONDENSED),
    Cut("Condensed", "Bold", BOLD, 700, CONDENSED),
    Cut("Stencil", "Regular", REGULAR, 400, bridge=0.8),
    Cut("Stencil", "Bold", BOLD, 700, bridge=1.0),
)
