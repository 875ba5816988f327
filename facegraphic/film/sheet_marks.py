"""What stands on a sheet beside its faces: the note with bars to measure, cut ticks, captions. Never mirrored.

Everything is given in page mm, x right, y up; boxes are where things are to stand.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from facegraphic.film.correction import correction_note
from facegraphic.film.face import Piece
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import bar
from facegraphic.job.model import Finish, Printer
from facegraphic.lettering.library import DEFAULT_FONT, load_named
from facegraphic.lettering.text import Block, Style, set_block
from facegraphic.scene.scene import Fill, Group, Item

NOTE, NOTE_SMALL = 21.0, 12.0  # heights of the note, as it should be and where room is short
NOTE_LEAST = 60.0  # width below which it could not be read
BAR = 100.0
BAR_LEAST = 50.0
BAR_ROOM = (4.5, 6.0)  # beside the upright bar, and beyond its ends
TICK = (1.0, 3.5)  # from the bleed's edge, from where to where
TICK_WIDE = 0.1
CAPTION = 2.5  # room below a piece for its caption, beside its ticks
FEW_LINES, MOST_LINES = 3, 6
TINY, FINE, SMALL, LARGE = 1.4, 1.6, 2.0, 2.8


@dataclass(frozen=True)
class SheetNote:
    """What the note says of a job (or of several on one sheet) and its process."""

    title: str
    finish: Finish
    printer: Printer | None = None

    @property
    def bits(self) -> int:
        """1 for a sheet in black and white only."""
        return self.finish.film.bits

    def lines(self, place: str, bars: Sequence[float]) -> tuple[str, ...]:
        """The note's lines: `place` says which sheet it is, `bars` how long the bars across and up are."""
        film = self.finish.film
        way = "MIRRORED" if self.finish.mirrored else "NOT MIRRORED"
        usual = self.finish.mirrored == film.mirrored
        down = film.down if usual else "not the usual way for this process: check which side goes down"
        measure = f"Print at 100 %, not fitted to the page. {measured(bars)}"
        return (
            f"{film.name} · {place} · {' '.join(self.title.split())}".rstrip(" ·"),
            f"{way}. {down[0].upper()}{down[1:]}.",
            f"{measure} {correction_note(self.printer)}" if self.printer else measure,
        )


def measured(bars: Sequence[float]) -> str:
    """What the bars across and up must measure."""
    if len(bars) == 2 and bars[0] == bars[1]:
        return f"Both bars must measure {bars[0]:g} mm."
    if len(bars) == 2:
        return f"The bars must measure {bars[0]:g} mm across and {bars[1]:g} mm up."
    return f"The bar must measure {bars[0]:g} mm."


def bar_length(room: float) -> float:
    """The longest bar up to 100 mm, in whole tens, that a room has place for."""
    return min(BAR, math.floor(room / 10) * 10.0)


def draw_note(lines: Sequence[str], room: Box, bars: Sequence[float]) -> Group:
    """The note in the upper part of a box, with the bar across below it."""
    font = load_named(DEFAULT_FONT)
    items: list[Item] = []
    large, small, pitch, low = (LARGE, SMALL, 5.0, 16.5) if room.height > NOTE_SMALL else (SMALL, FINE, 2.9, 9.9)
    many = len(lines) > FEW_LINES
    if many and room.height > NOTE_SMALL:
        lines = _wrapped(lines, small, room.width)
    pitch = min(pitch, (low - small) / len(lines))
    if many:
        large, small = min(large, 0.75 * pitch), min(small, 0.65 * pitch)
    for number, line in enumerate(lines):
        cap = large if number == 0 or (number == 1 and not many) else small
        block = _within(readable(line), cap, room.width, cut=number == 0)
        y = room.y1 - large / 2 - number * pitch
        items.append(Fill(block.path.moved(room.x0 - block.ink.x0, y), BLACK, id=f"note-{number + 1}"))
    y = room.y1 - low
    items += [Fill(path, BLACK) for path in _bar(bars[0], room.x0, y, upright=False)]
    mark = set_block(f"{bars[0]:g} mm", Style(font, SMALL))
    if room.x0 + bars[0] + 2 + mark.ink.width <= room.x1:
        items.append(Fill(mark.path.moved(room.x0 + bars[0] + 2 - mark.ink.x0, y), BLACK))
    return Group(tuple(items), "note")


def draw_upright_bar(room: Box, length: float) -> Group:
    """The bar up the page, along the left of its room, from the top down, its length written beside it."""
    top = room.y1 - BAR_ROOM[1] / 2
    items: list[Item] = [Fill(path, BLACK) for path in _bar(length, room.x0 + 1.2, top, upright=True)]
    mark = set_block(f"{length:g} mm", Style(load_named(DEFAULT_FONT), SMALL)).turned(90)
    items.append(Fill(mark.path.moved(room.x0 + 3.4 - mark.ink.centre[0], top - length / 4), BLACK))
    return Group(tuple(items), "upright-bar")


def _bar(length: float, x: float, y: float, upright: bool) -> list[Path]:
    """A bar with marks at both ends and in the middle, rightwards or downwards from its first end."""
    along = (0.0, -length) if upright else (length, 0.0)
    side = (1.2, 0.0) if upright else (0.0, 1.2)
    parts = [bar((x, y), (x + along[0], y + along[1]), 0.2)]
    for share in (0.0, 0.5, 1.0):
        at = (x + share * along[0], y + share * along[1])
        parts.append(bar((at[0] - side[0], at[1] - side[1]), (at[0] + side[0], at[1] + side[1]), 0.1))
    return parts


def readable(text: str) -> str:
    """A text with a question mark for whatever the note's font does not have."""
    font = load_named(DEFAULT_FONT)
    return "".join(c if not font.missing(c) else "?" for c in " ".join(text.split()))


def _wrapped(lines: Sequence[str], cap: float, width: float) -> list[str]:
    """Lines of a note, those after the first broken between words where they are too long; the second one, the longest
    as a rule, is cut short where that would be too many lines.
    """
    broken = [_broken(readable(line), cap, width) for line in lines[1:]]
    room = MOST_LINES - 1 - sum(len(parts) for parts in broken[1:])
    if len(broken[0]) > max(1, room):
        broken[0] = [*broken[0][: max(1, room) - 1], f"{broken[0][max(1, room) - 1][:-12].rstrip()} … (steps.md)"]
    return [lines[0], *(part for parts in broken for part in parts)]


def _broken(text: str, cap: float, width: float) -> list[str]:
    parts, here = [], ""
    for word in text.split():
        longer = f"{here} {word}".strip()
        if here and _set(longer, cap).ink.width > width:
            parts.append(here)
            longer = word
        here = longer
    return [*parts, here]


def _within(text: str, cap: float, width: float, cut: bool) -> Block:
    """A line as high as asked; on a small sheet smaller, and with `cut` cut short rather than too small to read."""
    block = _set(text, cap)
    if block.ink.width <= width:
        return block
    fitting = cap * width / block.ink.width
    if not cut:
        return _set(text, fitting)
    cap = max(TINY, fitting)
    while (block := _set(text, cap)).ink.width > width and len(text) > 2:
        text = f"{text[:-2].rstrip()}…"
    return block


@lru_cache(maxsize=64)
def _set(text: str, cap: float) -> Block:
    """A line as it is set; notes of one job say the same on every page."""
    return set_block(text, Style(load_named(DEFAULT_FONT), cap))


def draw_caption(piece: Piece, title: str) -> Fill:
    """What a piece is, between the ticks below it: with the job's title where there is room."""
    width = piece.trim.width - 2
    style = Style(load_named(DEFAULT_FONT), SMALL)
    texts = [" · ".join(filter(None, (title, piece.caption))), piece.caption, piece.said or piece.side]
    blocks = [set_block(readable(text), style) for text in texts]
    block = next((block for block in blocks if block.ink.width * TINY / SMALL <= width), blocks[-1])
    if block.ink.width > width:
        block = set_block(block.text, style.at(max(TINY, SMALL * width / block.ink.width)))
    return Fill(block.path.moved(-block.ink.centre[0], piece.bled.y0 - TICK[0] - SMALL / 2), BLACK)


def draw_ticks(trim: Box, bled: Box) -> list[Fill]:
    """Where the trim's edges run on, outside the bleed."""
    near, far = TICK
    ticks = []
    for x in (trim.x0, trim.x1):
        for y, way in ((bled.y0, -1), (bled.y1, 1)):
            ticks.append(Fill(bar((x, y + way * near), (x, y + way * far), TICK_WIDE), BLACK))
    for y in (trim.y0, trim.y1):
        for x, way in ((bled.x0, -1), (bled.x1, 1)):
            ticks.append(Fill(bar((x + way * near, y), (x + way * far, y), TICK_WIDE), BLACK))
    return ticks
