"""Lettering of the drill guide: lines put at a place, made to fit, or broken to a width. Page mm, x right, y up."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from facegraphic.film.marks import BLACK
from facegraphic.film.sheet_marks import readable
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Align, Style, line_at, line_length, set_block
from facegraphic.scene.scene import Fill
from facegraphic.units import format_number

TITLE, HEADING, TEXT, SMALL = 4.6, 3.4, 2.6, 2.2  # 2.6 mm are 15 arcmin at 0.6 m, an arm's length (NUREG-0700)
LEADING = 1.65


@dataclass(frozen=True)
class Hand:
    """A cut and height of lettering."""

    cap: float = TEXT
    cut: str = "tagstrip-regular"

    @property
    def style(self) -> Style:
        return Style(load_named(self.cut), self.cap, leading=LEADING)

    @property
    def step(self) -> float:
        return self.cap * LEADING

    def block(self, text: str) -> Path:
        """A text of one or more lines as outlines, its ink centred round the origin, sideways."""
        return _outlines(text, self)

    def width(self, text: str) -> float:
        """The length of a line, word by word, so that words that come again are measured once."""
        words = text.split()
        return sum(_length(word, self) for word in words) + max(0, len(words) - 1) * self.space

    @property
    def space(self) -> float:
        """How far two words stand apart."""
        return _length("n n", self, "nn")


@lru_cache(4096)
def _length(text: str, hand: Hand, less: str = "") -> float:
    """How long a text is, less another."""
    long = line_length(readable(text), hand.style)
    return long - line_length(less, hand.style) if less else long


@lru_cache(4096)
def _outlines(text: str, hand: Hand) -> Path:
    return set_block("\n".join(readable(part) for part in text.split("\n")), hand.style).path


PLAIN, BOLD = Hand(), Hand(cut="tagstrip-bold")
HEAD, TITLED, FINE = Hand(HEADING, "tagstrip-bold"), Hand(TITLE, "tagstrip-bold"), Hand(SMALL)


def line(text: str, hand: Hand, at: Point, align: Align = "left") -> Fill:
    """One line whose ink begins, has its middle or ends at a place; that is also the middle of its capitals' height."""
    return Fill(line_at(readable(text), hand.style, (at[0], at[1] - hand.cap / 2), align), BLACK)


def broken(text: str, hand: Hand, width: float) -> list[str]:
    """A text in lines that are no wider than asked: between words, or within one that is too long by itself."""
    lines: list[list[str]] = []
    long = 0.0
    for word in text.split():
        longer = long + hand.space + hand.width(word)
        if lines and longer <= width:
            lines[-1].append(word)
            long = longer
        else:
            lines += [[piece] for piece in _pieces(word, hand, width)]
            long = hand.width(lines[-1][0])
    return [" ".join(words) for words in lines] or [""]


def _pieces(word: str, hand: Hand, width: float) -> list[str]:
    """A word cut where it must be, after a hyphen or the like if there is one in the second half of the line."""
    pieces = []
    while len(word) > 1 and hand.width(word) > width:
        most = next((n for n in range(len(word) - 1, 1, -1) if hand.width(word[:n]) <= width), 1)
        at = max((word.rfind(sign, most // 2, most) + 1 for sign in "-_/."), default=0)
        pieces.append(word[: at or most])
        word = word[at or most :]
    return [*pieces, word]


def figure(length: float) -> str:
    """A length in mm to the hundredth, halves rounded up as one does by hand: 9.525 is 9.53."""
    return format_number(rounded(length), 2)


def rounded(length: float) -> float:
    """A length to the hundredth, halves away from nought, whatever a float makes of them."""
    return math.copysign(math.floor(abs(length) * 100 + 0.5 + 1e-6) / 100, length) + 0.0


@dataclass
class Column:
    """Lines set one below the other in a box from its top down; `y` is where the next one begins."""

    box: Box
    y: float
    fills: list[Fill]

    @classmethod
    def within(cls, box: Box) -> "Column":
        return cls(box, box.y1, [])

    def put(self, text: str, hand: Hand = PLAIN, indent: float = 0.0) -> None:
        for part in broken(text, hand, self.box.width - indent):
            self.fills.append(line(part, hand, (self.box.x0 + indent, self.y - hand.cap / 2)))
            self.y -= hand.step

    def space(self, height: float) -> None:
        self.y -= height


def height_of(texts: Sequence[tuple[str, Hand]], width: float) -> float:
    """How much a column takes for some texts."""
    return sum(len(broken(text, hand, width)) * hand.step for text, hand in texts)
