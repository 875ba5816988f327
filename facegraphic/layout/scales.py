"""Scales round turning controls: marks over the part's true travel, with their figures or words.

Bearings are degrees clockwise from straight up. A part with 300° of travel has its ends at −150° and +150°.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import bar, disc, polar
from facegraphic.job.model import Control, Finish, Hole, Scale
from facegraphic.layout.cover import cover_diameter
from facegraphic.layout.model import Legend, LegendRole, Mark
from facegraphic.lettering.text import Style, set_block
from facegraphic.stock.tables import Part

TICK_CLEAR = 0.9  # from the knob's skirt to a mark, in mm
TICK_LONG = 1.7
TICK_SHORT = 1.1
TICK_WIDE = 0.28
DOT_LARGE = 0.9
DOT_SMALL = 0.6
NUMERAL_CLEAR = 0.7
WORDS_OUT = 40  # quarter millimetres that words may move outwards
NUMERAL_SHARE = 0.75  # of the label's capital height
STRIDES = (1, 2, 5, 10, 20, 50)


@dataclass(frozen=True)
class Dial:
    """A control's marks and the legends at them; `thinned` when the face had no room for all of these."""

    marks: tuple[Mark, ...] = ()
    legends: tuple[Legend, ...] = ()
    thinned: bool = False


def bearings(part: Part, count: int, words: bool = False) -> list[float]:
    """Bearings of `count` marks: end to end of the travel, or at the detents of a part that has them."""
    if part.step and words:
        return [part.step * (i - (count - 1) / 2) for i in range(count)]
    return [-part.travel / 2 + part.travel * i / (count - 1) for i in range(count)]


def dial(hole: Hole, control: Control, finish: Finish, fits: Callable[[Box], bool]) -> Dial:
    """Lay out a control's scale, or the positions of a rotary switch; empty when it has neither.

    Figures that would crowd each other, or for which `fits` finds no room on the face, are thinned out by whole
    strides, down to none; words are never left out.
    """
    part = control.part
    scale = _asked(control)
    if part is None or scale is None or not part.turns:
        return Dial()
    turns = bearings(part, len(scale.marks), bool(scale.words))
    radius = cover_diameter(hole, control) / 2 + TICK_CLEAR
    figures = _figures(hole, control, finish, scale, list(zip(turns, scale.marks, strict=True)))
    stride, thinned = (1, False) if scale.words else _stride(figures, fits)
    told = [bool(stride) and number % stride == 0 for number in range(len(turns))]
    marks = tuple(
        Mark(_mark(hole, finish, scale, (radius, turn, long or not stride)), "tick", finish.ink, hole.id)
        for turn, long in zip(turns, told, strict=True)
    )
    legends = tuple(legend for legend, long in zip(figures, told, strict=True) if long and legend.text)
    return Dial(marks, legends if scale.numerals else (), thinned and scale.numerals)


def _asked(control: Control) -> Scale | None:
    if control.positions:
        return Scale(0, len(control.positions) - 1, 1, words=control.positions)
    return control.scale


def _mark(hole: Hole, finish: Finish, scale: Scale, at: tuple[float, float, bool]) -> Path:
    """One tick or dot at (radius, bearing, whether it is a long one)."""
    radius, turn, long = at
    centre = (hole.x, hole.y)
    if scale.style == "dots":
        size = DOT_LARGE if long else DOT_SMALL
        return disc(polar(centre, radius + TICK_LONG / 2, turn), max(size, finish.film.line))
    tip = radius + (TICK_LONG if long else TICK_SHORT)
    return bar(polar(centre, radius, turn), polar(centre, tip, turn), max(TICK_WIDE, finish.film.line))


def _figures(
    hole: Hole, control: Control, finish: Finish, scale: Scale, marks: Sequence[tuple[float, str]]
) -> list[Legend]:
    """Every mark's legend where it would stand, upright, outside the marks."""
    share = 1.0 if scale.words else NUMERAL_SHARE
    style = Style(finish.font, max(control.cap * share, finish.film.text))
    blocks = [(turn, set_block(text, style)) for turn, text in marks]
    radius = cover_diameter(hole, control) / 2 + TICK_CLEAR + TICK_LONG + NUMERAL_CLEAR
    # Words cannot be thinned out as figures can: they move outwards together until they are clear of each other.
    reach = WORDS_OUT if scale.words else 0
    for step in range(reach + 1):
        figures = [block.moved(*_beyond(hole, block.ink, radius + step / 4, turn)) for turn, block in blocks]
        if not any(_near(a.ink, b.ink, style.cap / 2) for a, b in pairwise(figures)):
            break
    role: LegendRole = "position" if scale.words else "numeral"
    return [Legend(block, role, "around", finish.ink, hole.id) for block in figures]


def _stride(figures: Sequence[Legend], fits: Callable[[Box], bool]) -> tuple[int, bool]:
    """The smallest stride at which figures keep clear of each other and find room; 0 shows none.

    The second value tells whether room on the face, not their own crowding, thinned them out.
    """
    gap = figures[0].block.cap / 2
    last = len(figures) - 1
    thinned = False
    for stride in (*(s for s in STRIDES if s < last and last % s == 0), last):
        told = [figure.box for figure in figures[::stride]]
        if any(_near(a, b, gap) for a, b in pairwise(told)):
            continue
        if all(map(fits, told)):
            return stride, thinned
        thinned = True
    return 0, True


def _beyond(hole: Hole, box: Box, radius: float, turn: float) -> tuple[float, float]:
    """Where a box's centre must stand so that the box just clears a circle's tangent at a bearing."""
    ux, uy = polar((0.0, 0.0), 1.0, turn)
    reach = radius + box.width / 2 * abs(ux) + box.height / 2 * abs(uy)
    return hole.x + ux * reach, hole.y + uy * reach


def _near(a: Box, b: Box, gap: float) -> bool:
    return a.x0 - gap < b.x1 and b.x0 - gap < a.x1 and a.y0 - gap < b.y1 and b.y0 - gap < a.y1
