"""A page that shows a font as it will stand on boxes: sizes, characters, symbols, reversed, and a ladder for toner.

Print it with the process in question: what cannot be read on the print is too small or too light for it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from facegraphic.film.marks import BARE, BLACK
from facegraphic.geometry.path import Box
from facegraphic.geometry.shapes import rounded_rectangle
from facegraphic.lettering.font import Font
from facegraphic.lettering.text import Style, set_block
from facegraphic.scene.scene import Fill, Group, Item, Scene

PAGE = (210.0, 297.0)
EDGE = 14.0
SIZES = (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0)  # ISO 3098-0 nominal heights
LADDER = (1.0, 1.2, 1.5, 1.8, 2.1, 2.5, 3.0)
WORDS = "LEVEL Tone 0-10 RATE Wave Mix"
ALPHABET = (
    "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
    "abcdefghijklmnopqrstuvwxyz",
    "0123456789 &@#%?!()+−×÷=±°µΩ",
    "ÀÅÄÇÉÊÑÖØÜŁŠŽ àåäçéêñöøüßłšž",
    "ĀĂĄĆĐĒĘĞĦĪĮĶĻŃŇŐŘŚŞŢŤŪŮŰŴŶŹŻ āăąćđēęğħīįķļńňőřśşţťūůűŵŷźż",
    "¼½¾⅓⅔⅛ ←↑→↓ ∞ – — … • ‘’ “” «»",
)
SYMBOLS_IN_ROW = 12
SMALL = 2.0


@dataclass
class _Page:
    """A page being filled from the top; `y` is where the next line's top comes."""

    y: float
    items: list[Item] = field(default_factory=list)

    @property
    def left(self) -> float:
        return EDGE - PAGE[0] / 2

    def line(self, text: str, style: Style, x: float | None = None, ink: str = BLACK) -> None:
        """One line flush left at the page's edge or at x, its capitals' top at y; characters not there are left out."""
        text = "".join(c for c in text if not style.font.missing(c))
        block = set_block(text, style)
        left = self.left if x is None else x
        self.items.append(Fill(block.path.moved(left - block.ink.x0, self.y - style.cap / 2), ink))

    def heading(self, text: str, font: Font) -> None:
        self.y -= 4
        self.line(text, Style(font, SMALL))
        self.y -= SMALL + 2.5


def specimen(font: Font, family: Sequence[Font], symbols: Sequence[tuple[str, str]]) -> Scene:
    """A page for a font; `family` are the weights of the ladder, `symbols` names with their characters."""
    page = _Page(PAGE[1] / 2 - EDGE)
    page.line(font.name, Style(font, 7))
    page.y -= 10
    page.heading("heights of ISO 3098-0, in mm", font)
    for cap in SIZES:
        page.line(f"{cap:g}", Style(font, SMALL))
        page.line(WORDS if cap < 10 else WORDS[:20] if cap < 14 else WORDS[:15], Style(font, cap), page.left + 9)
        page.y -= cap * 1.45 + 0.8
    page.heading("characters", font)
    for text in ALPHABET:
        page.line(text, Style(font, 4))
        page.y -= 7
    _symbols(page, font, symbols)
    _reversed(page, font)
    _ladder(page, font, family)
    return Scene(*PAGE, (Group(tuple(page.items), "specimen"),))


def _symbols(page: _Page, font: Font, symbols: Sequence[tuple[str, str]]) -> None:
    page.heading("symbols, each by its name in braces", font)
    wide = (PAGE[0] - 2 * EDGE) / SYMBOLS_IN_ROW
    for start in range(0, len(symbols), SYMBOLS_IN_ROW):
        for column, (name, character) in enumerate(symbols[start : start + SYMBOLS_IN_ROW]):
            x = page.left + (column + 0.5) * wide
            block = set_block(character, Style(font, 4))
            page.items.append(Fill(block.path.moved(x - block.ink.centre[0], page.y - 2), BLACK))
            label = set_block(name.replace("-", "-\n", 1) if len(name) > 10 else name, Style(font, 1.4, leading=1.6))
            page.items.append(Fill(label.path.moved(x, page.y - 6.2 - label.body.height / 2), BLACK))
        page.y -= 14


def _reversed(page: _Page, font: Font) -> None:
    """Light lettering out of a dark panel, where strokes fill in."""
    page.heading("reversed", font)
    right = PAGE[0] / 2 - EDGE
    page.items.append(Fill(rounded_rectangle(Box(page.left, page.y - 11, right, page.y), 2), BLACK))
    x = page.left + 4
    for cap in (1.8, 2.5, 3.5, 5.0):
        block = set_block("RATE Depth 10", Style(font, cap))
        page.items.append(Fill(block.path.moved(x - block.ink.x0, page.y - 5.5), BARE))
        x += block.ink.width + 6
    page.y -= 12


def _ladder(page: _Page, font: Font, family: Sequence[Font]) -> None:
    """Every weight at the heights where toner and film begin to lose it."""
    page.heading("ladder for toner: the first column that prints whole is the smallest to use", font)
    wide = (PAGE[0] - 2 * EDGE - 46) / len(LADDER)
    for column, cap in enumerate(LADDER):
        page.line(f"{cap:g} mm", Style(font, 1.6), page.left + 46 + column * wide)
    page.y -= 4
    for member in family:
        page.line(member.name, Style(font, 1.8))
        for column, cap in enumerate(LADDER):
            page.line("RATE 869", Style(member, cap), page.left + 46 + column * wide)
        page.y -= 4.6
