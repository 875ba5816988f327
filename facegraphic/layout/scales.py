"""Scales round turning controls: marks over the part's true travel, with their figures or words.

Bearings are degrees clockwise from straight up. A part with 300° of travel has its ends at −150° and +150°.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import combinations

from facegraphic.geometry.path import Box, Point
from facegraphic.geometry.shapes import polar
from facegraphic.job.model import Control, Finish, Hole, Scale
from facegraphic.layout.cover import cover_diameter
from facegraphic.layout.dial_marks import MARK_CLEAR, MARK_LONG, Ring, thinner
from facegraphic.layout.model import Legend, LegendRole, Mark
from facegraphic.lettering.fitting import SHARES
from facegraphic.lettering.text import Block, Style, set_block
from facegraphic.stock.tables import Part

NUMERAL_CLEAR = 0.7
WORD_CLEAR = 1.1  # a word's strokes must not join its mark into a dash
WORDS_OUT = 10.0  # how far words may move outwards, in mm
SMALLER_COSTS = 8.0  # words set a tenth smaller are as bad as words 0.8 mm farther out
WORD_GAP = 0.8  # between words, as a share of their capitals' height: nearer, they would read as one
BESIDE = 0.35  # from this sine of the bearing on a word begins at its mark
NUMERAL_SHARE = 0.75  # of the label's capital height


@dataclass(frozen=True)
class Dial:
    """A control's marks and the legends at them; `thinned` when the face had no room for all of these."""

    marks: tuple[Mark, ...] = ()
    legends: tuple[Legend, ...] = ()
    thinned: bool = False


def bearings(part: Part, scale: Scale) -> list[float]:
    """The bearing of each mark: over the whole travel, or one at each detent of a part that has them."""
    if part.step:
        count = len(scale.texts)
        return [part.step * (i - (count - 1) / 2) for i in range(count)]
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
    told: Sequence[int] = range(len(figures)) if scale.words else ()
    thinned = False
    if not scale.words and scale.numerals != "none":
        told, thinned = _told(figures, turns, fits)
    ring = Ring((hole.x, hole.y), radius, finish.least_line, finish.least_gap)
    paths = [*ring.marks(scale.style, turns, told)]
    if scale.detent is not None:
        paths.append(ring.detent(part.travel * (scale.share(scale.detent) - 0.5)))
    legends = tuple(figures[i] for i in told if figures[i].text)
    return Dial(tuple(Mark(path, "tick", finish.ink, hole.id) for path in paths), legends, thinned)


def _asked(control: Control) -> Scale | None:
    return Scale(words=control.positions) if control.positions else control.scale


def _figures(hole: Hole, control: Control, finish: Finish, scale: Scale, turns: Sequence[float]) -> list[Legend]:
    """Every mark's legend where it would stand outside the marks, upright or with its foot to the hole."""
    cap = max(control.cap * (1.0 if scale.words else NUMERAL_SHARE), finish.least_text)
    radius = cover_diameter(hole, control) / 2 + MARK_CLEAR + MARK_LONG + NUMERAL_CLEAR
    if scale.detent is not None:
        radius += Ring((hole.x, hole.y), radius, finish.least_line, finish.least_gap).detent_high
    if scale.words:
        radius += WORD_CLEAR - NUMERAL_CLEAR
        shares = [share for share in SHARES if cap * share >= finish.least_text - 1e-9]
        figures = _words(hole, scale, [Style(finish.font, cap * share) for share in shares or [1.0]], radius, turns)
    else:
        blocks = [set_block(text, Style(finish.font, cap)) for text in scale.texts]
        figures = _ring(hole, scale, blocks, radius, turns)
    role: LegendRole = "position" if scale.words else "numeral"
    return [
        Legend(block, role, "around", finish.ink, hole.id, angle=-turn if scale.numerals == "radial" else 0.0)
        for turn, block in zip(turns, figures, strict=True)
    ]


def _ring(hole: Hole, scale: Scale, blocks: list[Block], radius: float, turns: Sequence[float]) -> list[Block]:
    """Figures outside a circle, turned with their marks if the scale asks for it."""
    if scale.numerals == "radial":
        return [_radial(hole, block, radius, turn) for turn, block in zip(turns, blocks, strict=True)]
    return _upright(hole, blocks, radius, turns)


def _words(hole: Hole, scale: Scale, styles: list[Style], radius: float, turns: Sequence[float]) -> list[Block]:
    """Words cannot be thinned out as figures can: where two meet, both and those across the dial move outwards.

    They are set smaller, in fixed steps, rather than moved out far. Without room at all they stand as asked.
    """
    first: list[Block] = []
    best: tuple[float, list[Block]] | None = None
    for style in styles:
        blocks = [set_block(text, style) for text in scale.texts]
        placed = _parted(hole, scale, blocks, radius, turns)
        first = first or _fan(hole, scale, blocks, [radius] * len(turns), turns)
        if placed:
            cost = placed[0] + SMALLER_COSTS * (1 - style.cap / styles[0].cap)
            best = min(best or (cost, placed[1]), (cost, placed[1]), key=lambda found: found[0])
    return best[1] if best else first


def _parted(
    hole: Hole, scale: Scale, blocks: list[Block], radius: float, turns: Sequence[float]
) -> tuple[float, list[Block]] | None:
    """Move words outwards until none meets another; gives how far the farthest went, or None without an end."""
    out = [0.0] * len(turns)
    gap = WORD_GAP * blocks[0].cap
    while max(out) < WORDS_OUT:
        placed = _fan(hole, scale, blocks, [radius + o for o in out], turns)
        meeting = {
            index
            for (i, a), (j, b) in combinations(enumerate(placed), 2)
            if a.text and b.text and _near(a.ink, b.ink, gap)
            for index in (i, j)
        }
        if not meeting:
            return max(out), placed
        sides = {round(abs(turns[index]), 3) for index in meeting}
        out = [o + 0.25 if round(abs(turn), 3) in sides else o for o, turn in zip(out, turns, strict=True)]
    return None


def _fan(hole: Hole, scale: Scale, blocks: list[Block], radii: Sequence[float], turns: Sequence[float]) -> list[Block]:
    """Words each at a radius of its own: beside the dial they begin or end at their mark, on top they are centred."""
    if scale.numerals == "radial":
        return [_radial(hole, block, r, turn) for block, r, turn in zip(blocks, radii, turns, strict=True)]
    height = max(_room(block)[1] for block in blocks)
    places = []
    for block, radius, turn in zip(blocks, radii, turns, strict=True):
        ux, uy = polar((0.0, 0.0), 1.0, turn)
        width = block.ink.width
        x = radius * ux + min(max(ux / BESIDE, -1.0), 1.0) * width / 2
        y = radius * uy + min(max(uy / BESIDE, -1.0), 1.0) * height / 2
        # A box that is centred on its mark is cut by the circle on either side of it; it moves out along the mark.
        nearest = math.hypot(max(abs(x) - width / 2, 0.0), max(abs(y) - height / 2, 0.0))
        extra = max(0.0, radius - nearest)
        places.append((x + extra * ux, y + extra * uy))
    return _level(hole, blocks, places, turns)


def _radial(hole: Hole, block: Block, radius: float, turn: float) -> Block:
    """A figure turned with its mark, its foot on a circle of some radius."""
    return block.turned(-turn).moved(*polar((hole.x, hole.y), radius + block.cap / 2, turn))


def _upright(hole: Hole, blocks: Sequence[Block], radius: float, turns: Sequence[float]) -> list[Block]:
    """Figures beyond a circle at their bearings, those that face each other across the dial on one baseline.

    Both of such a pair stand as high or low as the larger must, so that 0 and 10 end a scale at the same height.
    """
    places = [_beyond(_room(block), radius, turn) for block, turn in zip(blocks, turns, strict=True)]
    return _level(hole, blocks, places, turns)


def _level(hole: Hole, blocks: Sequence[Block], places: Sequence[Point], turns: Sequence[float]) -> list[Block]:
    """Blocks at places round the hole, each as high or low as the farther of the two that face each other."""
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


def _told(figures: Sequence[Legend], turns: Sequence[float], fits: Callable[[Box], bool]) -> tuple[Sequence[int], bool]:
    """The figures to show: as many as keep clear of each other and find room, both ends always among them.

    The second value tells whether room on the face, not their own crowding, thinned them out.
    """
    gap = figures[0].block.cap / 2

    def apart(i: int, j: int) -> bool:
        return not _near(figures[i].box, figures[j].box, gap)

    thinned = False
    for told in thinner(turns, apart):
        if not apart(told[0], told[-1]):
            continue
        if all(fits(figures[i].box) for i in told):
            return told, thinned
        thinned = True
    return (), True


def _beyond(room: tuple[float, float], radius: float, turn: float) -> tuple[float, float]:
    """Where the centre of a box (width, height) must stand so that it just clears a circle's tangent at a bearing."""
    ux, uy = polar((0.0, 0.0), 1.0, turn)
    reach = radius + room[0] / 2 * abs(ux) + room[1] / 2 * abs(uy)
    return ux * reach, uy * reach


def _near(a: Box, b: Box, gap: float) -> bool:
    return a.x0 - gap < b.x1 and b.x0 - gap < a.x1 and a.y0 - gap < b.y1 and b.y0 - gap < a.y1
