"""Ladders of lines, gaps and lettering, each from too fine to easy, black on bare and bare on black."""

from collections.abc import Iterator

from facegraphic.film.marks import BARE, BLACK
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import bar, rounded_rectangle
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.scene.scene import Fill, Group, Item
from facegraphic.units import format_number

WIDTHS = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
CAPS = (1.0, 1.2, 1.5, 1.8, 2.1, 2.5, 3.0, 3.5)
SAMPLE = "RATE 869"
NAMES = 27.0  # room for the rows' names
ROW = 9.0
LONG, SHORT = 6.6, 5.0  # of an upright and a level stroke
EITHER_SIDE = 1.0  # width of what stands either side of a gap
SMALL = 1.7
CUTS = ("tagstrip-regular", "tagstrip-bold")


def line_ladder(width: float) -> Group:
    """Lines and gaps of `WIDTHS`, upright and level, positive then reversed; hangs from its upper left corner."""
    each = (width - NAMES) / len(WIDTHS)
    items: list[Item] = []
    for column, wide in enumerate(WIDTHS):
        items.append(_label(format_number(wide), NAMES + (column + 0.5) * each, -0.9))
    top = -3.2
    for ink, under in ((BLACK, BARE), (BARE, BLACK)):
        if under == BLACK:
            items.append(Fill(rounded_rectangle(Box(NAMES, top - 2 * ROW - 0.6, width, top), 1.5), BLACK, id="dark"))
            top -= 0.3
        for kind in ("line", "gap"):
            middle = top - ROW / 2
            items.append(_label(kind if ink == BLACK else f"{kind}, reversed", 0, middle, left=True))
            for column, wide in enumerate(WIDTHS):
                strokes = Path.joined(_strokes(kind, wide, NAMES + (column + 0.5) * each, middle))
                way = "" if ink == BLACK else "reversed-"
                items.append(Fill(strokes, ink, id=f"{way}{kind}-{wide:g}"))
            top -= ROW
        top -= 0.8
    return Group(tuple(items), "lines")


def _strokes(kind: str, wide: float, x: float, y: float) -> Iterator[Path]:
    """An upright and a level stroke side by side round a place, or two pairs of broad ones with a gap between."""
    up, level = x - 4.0, (x - 1.0, x - 1.0 + SHORT)
    if kind == "line":
        yield bar((up, y - LONG / 2), (up, y + LONG / 2), wide)
        yield bar((level[0], y), (level[1], y), wide)
        return
    for way in (-1, 1):
        off = way * (wide + EITHER_SIDE) / 2
        yield bar((up + off, y - LONG / 2), (up + off, y + LONG / 2), EITHER_SIDE)
        yield bar((level[0], y + off), (level[1], y + off), EITHER_SIDE)


def type_ladder(width: float) -> Group:
    """A word and figures at `CAPS` in two weights, positive then reversed; hangs from its upper left corner."""
    broad = [set_block(SAMPLE, Style(load_named(CUTS[-1]), cap)).ink.width for cap in CAPS]
    gap = (width - NAMES - 6 - sum(broad)) / (len(CAPS) - 1)
    lefts = [NAMES + 3 + sum(broad[:column]) + column * gap for column in range(len(CAPS))]
    items: list[Item] = []
    for left, cap in zip(lefts, CAPS, strict=True):
        items.append(_label(format_number(cap), left, -0.9, left=True))
    top = -4.4
    for ink in (BLACK, BARE):
        if ink == BARE:
            items.append(Fill(rounded_rectangle(Box(NAMES, top - 14.4, width, top), 1.5), BLACK, id="dark-lettering"))
            top -= 1.6
        for cut in CUTS:
            weight = cut.rpartition("-")[2]
            middle = top - 2.6
            items.append(_label(weight if ink == BLACK else f"{weight}, reversed", 0, middle, left=True))
            for left, cap in zip(lefts, CAPS, strict=True):
                block = set_block(SAMPLE, Style(load_named(cut), cap))
                items.append(Fill(block.path.moved(left - block.ink.x0, middle), ink))
            top -= 6.0
        top -= 0.6
    return Group(tuple(items), "lettering")


def _label(text: str, x: float, y: float, left: bool = False) -> Fill:
    block = set_block(text, Style(load_named("tagstrip-regular"), SMALL))
    return Fill(block.path.moved(x - (block.ink.x0 if left else block.ink.centre[0]), y), BLACK)
