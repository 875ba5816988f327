"""A font as HarfBuzz reads it: glyph outlines and shaping, with sizes by capital height."""

import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Any

import uharfbuzz as hb
from fontTools.misc.transform import Transform
from fontTools.unicodedata import script as script_of

from facegraphic.errors import Problem, UserError, brief
from facegraphic.geometry.crowds import crossing
from facegraphic.geometry.path import Path, PathPen
from facegraphic.lettering.directory import FontError, check_tables, damaged
from facegraphic.stock.limits import limit

FIGURES = "figures"
MOST_SEGMENTS, MOST_GLYPHS = limit("glyph-points"), limit("glyphs-of-line")
MOST_CROSSINGS = limit("glyph-crossings")
FEW = 75  # segments, of which no number of pairs is too many
ANOTHER = "give another font"
FEATURES = {"kern": True, "liga": False}


SymbolFonts = Callable[[float], "Font"]


def is_symbol(character: str) -> bool:
    """Whether a character is of the private use area, where symbols have their codes."""
    return 0xE000 <= ord(character) <= 0xF8FF


def scripts(text: str, figures_apart: bool = False) -> list[tuple[str, int, str]]:
    """A line cut where its script changes (Unicode's Script property): each script, where it begins, and its text.

    Spaces, marks and signs are of no script of their own and go with what stands before them; so do figures, which
    are told apart (as FIGURES) in lines written to the left, because they are written to the right even there.
    """
    found: list[tuple[str, int, str]] = []
    for index, character in enumerate(text):
        script = script_of(character)
        script = "" if script in ("Zyyy", "Zinh", "Zzzz") else script
        if figures_apart and unicodedata.bidirectional(character) in ("EN", "AN"):
            script = FIGURES
        if found and (not script or script == found[-1][0] or not found[-1][0]):
            before, start, run = found[-1]
            found[-1] = (before or script, start, run + character)
        else:
            found.append((script, index, character))
    return found


@dataclass(frozen=True)
class Glyph:
    """A shaped glyph in font units: its index, the character it starts at, its advance and its own offset."""

    index: int
    cluster: int
    advance: float
    dx: float
    dy: float


class Font:
    """One face of a TTF or OTF file. Raises FontError for bytes that hold no usable outlines."""

    def __init__(self, name: str, data: bytes, symbols: "SymbolFonts | None" = None) -> None:
        self.name = name
        self._data = data
        self._symbols = symbols
        check_tables(data)
        try:
            self._face = hb.Face(data)
            self._font = hb.Font(self._face)
            held = bool(self._face.glyph_count and self._face.unicodes)
        except (hb.HarfBuzzError, ValueError, MemoryError) as error:
            raise FontError(f"it is damaged ({brief(error)})") from None
        if not held:
            raise FontError("the file holds no characters")
        self.outline = lru_cache(maxsize=None)(self._outline)
        try:
            sound = 0 < self.cap_height < 100 * self.units_per_em and 0 < self.stem < 100
        except UserError as error:
            raise FontError(error.problems[0].what) from None
        if not sound:
            raise FontError("its capitals have no sound size")

    def __reduce__(self) -> Any:
        """A font goes to another process as its file: what HarfBuzz has made of it cannot."""
        return Font, (self.name, self._data, self._symbols)

    @cached_property
    def damage(self) -> str:
        """What is wrong with its file, which can be read all the same; "" if nothing is."""
        if not (tables := damaged(self._data)):
            return ""
        do = f"table{'s do' if len(tables) > 1 else ' does'}"
        told = f'the font "{self.name}" is damaged: its {" and ".join(tables)} {do} not add up'
        return f"{told}; letters may be wrong or missing"

    @cached_property
    def units_per_em(self) -> int:
        return int(self._face.upem)

    @cached_property
    def characters(self) -> frozenset[int]:
        """The code points that the font has glyphs for."""
        return frozenset(self._face.unicodes)

    @cached_property
    def cap_height(self) -> float:
        """Height of the capital H as it is drawn, in font units; the em's usual 0.7 where there is no H."""
        index = self._font.get_nominal_glyph(ord("H"))
        path = self.outline(index) if index else Path()
        return path.bounds.y1 if path else 0.7 * self.units_per_em

    @cached_property
    def stem(self) -> float:
        """Width of the capital I as a share of the capital height: how heavy the font is; 0.1 where it has no I."""
        index = self._font.get_nominal_glyph(ord("I"))
        path = self.outline(index) if index else Path()
        return path.bounds.width / self.cap_height if path else 0.1

    @cached_property
    def companion(self) -> "Font | None":
        """The font that lends this one its symbols: of those there are, the one nearest in weight."""
        return self._symbols(self.stem) if self._symbols else None

    def missing(self, text: str) -> list[str]:
        """The characters of a text that neither font nor companion has a glyph for, each once, line breaks aside."""
        return [c for c in dict.fromkeys(text) if c != "\n" and ord(c) not in self.font_of(c).characters]

    def font_of(self, character: str) -> "Font":
        """The font that sets a character: this one, but for symbols, which only the companion has."""
        if is_symbol(character) and ord(character) not in self.characters and self.companion:
            return self.companion
        return self

    def runs(self, text: str) -> list[tuple["Font", str]]:
        """A line cut into runs of one font each."""
        return [(font, "".join(run)) for font, run in groupby(text, self.font_of)]

    def shape(self, text: str) -> list[Glyph]:
        """Set one line of text, kerned, in font units, from left to right as it reads on the box.

        HarfBuzz shapes one script at a time: letters of one script would stay unjoined when set as another's.
        """
        backwards = any(unicodedata.bidirectional(c) in ("R", "AL") for c in text)
        pieces = scripts(text, figures_apart=backwards)
        glyphs: list[Glyph] = []
        for script, start, piece in reversed(pieces) if backwards else pieces:
            buffer = hb.Buffer()
            buffer.add_str(piece)
            buffer.guess_segment_properties()
            if backwards:
                buffer.direction = "ltr" if script == FIGURES else "rtl"
            self._shape(buffer, text)
            glyphs += [
                Glyph(info.codepoint, start + info.cluster, position.x_advance, position.x_offset, position.y_offset)
                for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)
            ]
        return glyphs

    def _shape(self, buffer: Any, text: str) -> None:
        """HarfBuzz gives up, as if there were no memory, on a font that puts ever more glyphs for one."""
        try:
            hb.shape(self._font, buffer, FEATURES)
            held = len(buffer.glyph_infos) <= MOST_GLYPHS
        except (hb.HarfBuzzError, MemoryError):
            held = False
        if not held:
            raise UserError(Problem(f"the font {self.name} sets {text[:40]!r} in too many glyphs", ANOTHER))

    def _outline(self, index: int) -> Path:
        """A glyph's outline in font units, y up, to be filled nonzero."""
        pen = PathPen()
        self._font.draw_glyph_with_pen(index, pen)
        if len(pen.segments) > MOST_SEGMENTS:
            raise UserError(Problem(f"the font {self.name} has glyphs of more than {MOST_SEGMENTS} segments", ANOTHER))
        path = pen.path
        if len(path.segments) > FEW and crossing(path, MOST_CROSSINGS) > MOST_CROSSINGS:
            raise UserError(Problem(f"the font {self.name} has glyphs whose outlines cross too often", ANOTHER))
        return path

    def scale(self, cap: float) -> Transform:
        """From font units to mm for capitals `cap` mm high."""
        factor = cap / self.cap_height
        return Transform(factor, 0, 0, factor, 0, 0)
