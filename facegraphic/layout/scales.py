"""Scales round turning controls: marks over the part's true travel, with their figures or words.

Bearings are degrees clockwise from straight up. A part with 300° of travel has its ends at −150° and +150°.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from facegraphic.geometry.path import Box
from facegraphic.geometry.shapes import polar
from facegraphic.job.model import Control, Finish, Hole, Scale
from facegraphic.layout.cover import cover_diameter
from facegraphic.layout.dial_marks import MARK_CLEAR, MARK_LONG, Ring
from facegraphic.layout.model import Legend, LegendRole, Mark
from facegraphic.lettering.fitting import SHARES
from facegraphic.lettering.text import Block, Style, set_block
from facegraphic.stock.tables import Part

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


def bearings(part: Part, scale: Scale) -> list[float]:
    """The bearing of each mark: over the whole travel, or for words at the detents of a part that has them."""
    if part.step and scale.words:
        return [part.step * (i - (len(scale.words) - 1) / 2) for i in range(len(scale.words))]
    return [part.travel * (share - 0.5) for share in scale.shares]


def dial(hole: Hole, control: Control, finish: Finish, fits: Callable[[Box], bool]) -> Dial:
    """Lay out a control's scale, or the positions of a rotary switch; empty when it has neither.

    Figures that would crowd each other, or for which `fits` finds no room on the face, are thinned out by whole
    strides, down to none; marks are thinned so that the process can hold them apart; words are never left out.
    """
    part = control.part
    scale = _asked(control)
    if part is None or scale is None or not part.turns:
        return Dial()
    turns = bearings(part, scale)
    radius = cover_diameter(hole, control) / 2 + MARK_CLEAR
    figures = _figures(hole, control, finish, scale, turns)
    stride, thinned = 0, False
    if scale.words:
        stride = 1
    elif scale.numerals != "none":
        stride, thinned = _stride(figures, fits)
    ring = Ring((hole.x, hole.y), radius, finish.film.line, finish.film.gap)
    paths = [*ring.marks(scale.style, turns, stride)]
    if scale.detent is not None:
        paths.append(ring.detent(part.travel * (scale.share(scale.detent) - 0.5)))
    legends = tuple(legend for legend in figures[::stride] if legend.text) if stride else ()
    return Dial(tuple(Mark(path, "tick", finish.ink, hole.id) for path in paths), legends, thinned)


def _asked(control: Control) -> Scale | None:
    return Scale(words=control.positions) if control.positions else control.scale


def _figures(hole: Hole, control: Control, finish: Finish, scale: Scale, turns: Sequence[float]) -> list[Legend]:
    """Every mark's legend where it would stand outside the marks, upright or with its foot to the hole.

    Words cannot be thinned out as figures can: they move outwards together, then are set smaller in fixed steps,
    until they are clear of each other.
    """
    cap = max(control.cap * (1.0 if scale.words else NUMERAL_SHARE), finish.film.text)
    shares = [share for share in SHARES if cap * share >= finish.film.text - 1e-9] if scale.words else [1.0]
    radius = cover_diameter(hole, control) / 2 + MARK_CLEAR + MARK_LONG + NUMERAL_CLEAR
    if scale.detent is not None:
        radius += Ring((hole.x, hole.y), radius, finish.film.line, finish.film.gap).detent_high
    figures: list[Block] = []
    for share, step in product(shares, range(WORDS_OUT + 1 if scale.words else 1)):
        style = Style(finish.font, cap * share)
        blocks = [set_block(text, style) for text in scale.texts]
        out = radius + step / 4
        if scale.numerals == "radial":
            figures = [_radial(hole, block, out, turn) for turn, block in zip(turns, blocks, strict=True)]
        else:
            figures = _upright(hole, blocks, out, turns)
        if not any(_near(a.ink, b.ink, style.cap / 2) for a, b in pairwise(figures)):
            break
    role: LegendRole = "position" if scale.words else "numeral"
    return [
        Legend(block, role, "around", finish.ink, hole.id, angle=-turn if scale.numerals == "radial" else 0.0)
        for turn, block in zip(turns, figures, strict=True)
    ]


def _radial(hole: Hole, block: Block, radius: float, turn: float) -> Block:
    """A figure turned with its mark, its foot on a circle of some radius."""
    return block.turned(-turn).moved(*polar((hole.x, hole.y), radius + block.cap / 2, turn))


def _upright(hole: Hole, blocks: Sequence[Block], radius: float, turns: Sequence[float]) -> list[Block]:
    """Figures beyond a circle at their bearings, those that face each other across the dial on one baseline.

    Both of such a pair stand as high or low as the larger must, so that 0 and 10 end a scale at the same height.
    """
    places = [_beyond(_room(block), radius, turn) for block, turn in zip(blocks, turns, strict=True)]
    heights: dict[float, float] = {}
    for (_, y), turn in zip(places, turns, strict=True):
        side = round(abs(turn), 3)
        heights[side] = max(heights.get(side, y), y, key=abs)
    return [
        block.moved(hole.x + x, hole.y + heights[round(abs(turn), 3)])
        for block, (x, _), turn in zip(blocks, places, turns, strict=True)
    ]


def _room(block: Block) -> tuple[float, float]:
    """Width and height of a block's ink, the latter as far as it goes from the middle of its body."""
    return block.ink.width, max(block.body.height, -2 * block.ink.y0, 2 * block.ink.y1)


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


def _beyond(room: tuple[float, float], radius: float, turn: float) -> tuple[float, float]:
    """Where the centre of a box (width, height) must stand so that it just clears a circle's tangent at a bearing."""
    ux, uy = polar((0.0, 0.0), 1.0, turn)
    reach = radius + room[0] / 2 * abs(ux) + room[1] / 2 * abs(uy)
    return ux * reach, uy * reach


def _near(a: Box, b: Box, gap: float) -> bool:
    return a.x0 - gap < b.x1 and b.x0 - gap < a.x1 and a.y0 - gap < b.y1 and b.y0 - gap < a.y1
