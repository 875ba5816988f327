"""Lines, blocks and arcs of text as outlines in mm.

A block stands round its own origin: the centre of its *body*, the box from the last baseline up to the first
line's capital height. Set by bodies, labels in a row share a baseline whatever tails their letters have.
"""

import math
from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import accumulate
from typing import Literal

from fontTools.misc.transform import Transform

from facegraphic.errors import Problem, UserError
from facegraphic.geometry.crowds import crossing
from facegraphic.geometry.path import IDENTITY, Box, Path, Point
from facegraphic.lettering.font import Font
from facegraphic.stock.limits import limit

Align = Literal["left", "centre", "right"]
MOST_SEGMENTS, MOST_CROSSINGS = limit("line-segments"), limit("line-crossings")
MANY = 200  # segments of a line, of which no number of pairs is too many


@dataclass(frozen=True)
class Style:
    """How text is set: `cap` is the capitals' height in mm, `tracking` mm between letters, `leading` × cap."""

    font: Font
    cap: float
    tracking: float = 0.0
    leading: float = 1.7
    align: Align = "centre"

    def at(self, cap: float) -> "Style":
        return replace(self, cap=cap, tracking=self.tracking * cap / self.cap)


@dataclass(frozen=True)
class Block:
    """Text as one path round the centre of its body (mm)."""

    text: str
    path: Path
    body: Box
    cap: float

    @cached_property
    def ink(self) -> Box:
        return self.path.bounds if self.path else self.body

    def moved(self, dx: float, dy: float) -> "Block":
        return replace(self, path=self.path.moved(dx, dy), body=self.body.moved(dx, dy))

    def turned(self, degrees: float) -> "Block":
        """The block turned counter-clockwise about the origin; its body grows to hold the turned box."""
        turn = IDENTITY.rotate(math.radians(degrees))
        path = self.path.transformed(turn)
        return replace(self, path=path, body=path.bounds if path else self.body)


@dataclass(frozen=True)
class _Set:
    """A glyph outline in mm round its own origin, where that origin stands on the line, and its advance."""

    outline: Path
    x: float
    advance: float


@dataclass(frozen=True)
class _Line:
    """Glyphs along a straight baseline from x = 0, and their length without trailing space."""

    glyphs: tuple[_Set, ...]
    length: float

    @cached_property
    def ink(self) -> Box | None:
        """The box of the outlines; None where all is blank."""
        boxes = [glyph.outline.bounds.moved(glyph.x, 0) for glyph in self.glyphs if glyph.outline]
        return Box.around(boxes) if boxes else None

    def at(self, x: float, y: float) -> Path:
        """The outlines with the line's origin at a place."""
        return Path.joined(glyph.outline.moved(glyph.x + x, y) for glyph in self.glyphs)


@lru_cache(maxsize=1024)  # a face has few texts, which are set again for every place that is tried
def _set_line(text: str, style: Style) -> _Line:
    x = 0.0
    placed: list[_Set] = []
    for font, run in style.font.runs(text):
        factor = font.scale(style.cap)[0]
        for glyph in font.shape(run):
            place = Transform(factor, 0, 0, factor, glyph.dx * factor, glyph.dy * factor)
            advance = glyph.advance * factor + style.tracking
            placed.append(_Set(_outline(font, glyph.index, place), x, advance))
            x += advance
    line = _Line(tuple(placed), x - style.tracking if placed else 0.0)
    _check_outlines(line, text, style)
    return line


def _check_outlines(line: _Line, text: str, style: Style) -> None:
    """Refuse a line of outlines that cannot be filled and measured in a moment. UserError names text and font."""
    segments = sum(len(glyph.outline.segments) for glyph in line.glyphs)
    crowded = MANY < segments <= MOST_SEGMENTS and _may_be_crowded(line)
    if segments > MOST_SEGMENTS or (crowded and crossing(line.at(0, 0), MOST_CROSSINGS) > MOST_CROSSINGS):
        what = f"{text[:40]!r} set in the font {style.font.name} has too {'crowded' if crowded else 'many'} outlines"
        raise UserError(Problem(what, "give a plainer font, or shorten the text"))


def _may_be_crowded(line: _Line) -> bool:
    """False where a line has no more crossings than it may, by its glyphs alone: their own are counted once and for
    all, and of two that lie over each other every segment is taken to cross every one of the other's."""
    drawn = [(_span(glyph.outline), glyph) for glyph in line.glyphs if glyph.outline]
    spans = sorted((left + g.x, right + g.x, len(g.outline.segments)) for (_, left, right), g in drawn)
    before = [0, *accumulate(count for _, _, count in spans)]
    most = sum(own for (own, _, _), _ in drawn)
    for number, (_, right, count) in enumerate(spans, 1):
        most += count * (before[bisect_right(spans, right, key=lambda span: span[0])] - before[number])
    return most > MOST_CROSSINGS


@lru_cache(4096)
def _span(outline: Path) -> tuple[int, float, float]:
    """How many pairs of a glyph's segments cross, and how far it reaches left and right, handles and all."""
    across = [x for segment in outline.segments for x in segment[1::2]]
    return crossing(outline, MOST_CROSSINGS), min(across), max(across)


@lru_cache(4096)
def _outline(font: Font, index: int, place: Transform) -> Path:
    """A glyph at a size, measured; the same letters come again and again."""
    outline = font.outline(index).transformed(place)
    return outline.measured if outline else outline


@lru_cache(maxsize=1024)
def set_block(text: str, style: Style) -> Block:
    """Set text of one or more lines, aligned by their ink, round the centre of the block's body."""
    lines = [_set_line(line, style) for line in text.split("\n")]
    width = max((line.ink.width for line in lines if line.ink), default=0.0)
    step = style.cap * style.leading
    height = style.cap + step * (len(lines) - 1)
    placed = []
    for number, line in enumerate(lines):
        if not line.ink:
            continue
        room = width - line.ink.width
        left = {"left": 0.0, "centre": room / 2, "right": room}[style.align] - width / 2
        placed.append(line.at(0, 0).moved(left - line.ink.x0, height / 2 - style.cap - number * step))
    return Block(text, Path.joined(placed), Box.centred(width, height), style.cap)


def line_at(text: str, style: Style, at: Point, align: Align) -> Path:
    """One line whose ink begins, has its middle or ends at a place, its baseline level with it."""
    line = _set_line(text, style)
    if not line.ink:
        return Path()
    edge = {"left": line.ink.x0, "centre": line.ink.centre[0], "right": line.ink.x1}[align]
    return line.at(at[0] - edge, at[1])


def line_length(text: str, style: Style) -> float:
    """Length in mm of a line's advances, kerned and tracked."""
    return _set_line(text, style).length


def set_arc(text: str, style: Style, radius: float, bearing: float = 0.0, under: bool = False) -> Block:
    """Set one line along a circle round the origin, its middle at a bearing (0 = up, clockwise positive).

    Over the top it reads clockwise with the baseline at `radius`; `under` reads counter-clockwise with the
    capitals' tops at `radius`, so either way the letters stand outside it. Advances are true arc lengths along that
    inner circle, where letters come closest: their inner corners keep the distance they have on a straight line.
    """
    frames = arc_frames(text, style, radius, bearing, under)
    pieces = [
        glyph.outline.transformed(frame.translate(-(glyph.advance - style.tracking) / 2, 0))
        for glyph, frame in zip(_set_line(text, style).glyphs, frames, strict=True)
    ]
    path = Path.joined(pieces)
    return Block(text, path, path.bounds if path else Box(0, 0, 0, 0), style.cap)


def arc_frames(text: str, style: Style, radius: float, bearing: float = 0.0, under: bool = False) -> list[Transform]:
    """Where each glyph of `set_arc` stands: transforms of a frame whose origin is the middle of the glyph's advance.

    That origin lies on the baseline's circle, which is `radius` over the top and `radius` + cap under it.
    """
    line = _set_line(text, style)
    baseline = radius + style.cap if under else radius
    way = -1.0 if under else 1.0
    frames = []
    for glyph in line.glyphs:
        middle = glyph.x + (glyph.advance - style.tracking) / 2
        angle = math.radians(bearing) + way * (middle - line.length / 2) / radius
        turn = -angle + (math.pi if under else 0.0)
        frames.append(IDENTITY.translate(baseline * math.sin(angle), baseline * math.cos(angle)).rotate(turn))
    return frames
