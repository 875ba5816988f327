"""A sheet before its pieces: what of it can be printed, where its note stands, and what is free.

Rectangles are mm, right and down from the upper left corner of the *reach*: as much of the paper as the printer
reaches, centred on it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from facegraphic.film.correction import printable
from facegraphic.film.face import Piece
from facegraphic.film.packing import Rect, without
from facegraphic.film.sheet_marks import (
    BAR,
    BAR_LEAST,
    BAR_ROOM,
    CAPTION,
    NOTE,
    NOTE_LEAST,
    NOTE_SMALL,
    TICK,
    bar_length,
)
from facegraphic.geometry.path import Box, Point
from facegraphic.job.model import Printer, Sheet

WIDE_ENOUGH = 0.7  # of the widest place for a note: a higher place goes before a wider one


@dataclass(frozen=True)
class Ground:
    """Where note and bars stand on a sheet, what is free for pieces, and the room of the upright bar."""

    note: Rect
    bars: tuple[float, ...]
    free: tuple[Rect, ...]
    upright: Rect | None = None
    started: bool = False


@dataclass(frozen=True)
class Desk:
    """A sheet's paper as a printer reaches it: `reach` is its size in true mm, centred on the paper."""

    sheet: Sheet
    reach: tuple[float, float]

    @property
    def over(self) -> float:
        """How far a piece's ticks stand out of its room."""
        return max(0.0, TICK[1] - self.sheet.gap / 2)

    @property
    def area(self) -> Rect:
        """What the printer prints."""
        left, upper, right, lower = self.sheet.edge
        return Rect(left, upper, self.reach[0] - left - right, self.reach[1] - upper - lower)

    @property
    def shift(self) -> Point:
        """From the paper's upper left corner to that of the reach."""
        (width, height), (wide, high) = self.sheet.paper.size, self.reach
        return ((width - wide) / 2, (height - high) / 2)

    def room(self, piece: Piece) -> Box:
        """What a piece takes of a sheet, round its own centre."""
        grown = piece.bled.grown(self.sheet.gap / 2)
        return grown._replace(y0=grown.y0 - CAPTION)

    def ground(self, started: bool = False, note: float = NOTE) -> Ground | None:
        """A fresh or a started sheet with its note, `note` mm high; None if there is no room for that."""
        area, over = self.area, self.over
        inner = Rect(area.x + over, area.y, area.w - 2 * over, area.h - over)
        taken = [self._blocked(box) for box in self.sheet.used] if started else []
        place = _note_room(_free([area], taken), note)
        if place is None:
            return None
        free = tuple(_free([inner], [*taken, place]))
        return Ground(place, (bar_length(place.w),), free, started=started)

    def with_bar(self, ground: Ground, pieces: Sequence[Rect] = ()) -> Ground:
        """A ground with the bar up the page in what some pieces leave free; as it is where that is too little."""
        taken = [self._blocked(box) for box in self.sheet.used] if ground.started else []
        free = _free([self.area], [*taken, ground.note, *(self._ticked(rect) for rect in pieces)])
        upright = _bar_room(free, BAR_LEAST if ground.started else BAR)
        if upright is None:
            return ground
        block = self._ticked(upright)
        bars = (ground.bars[0], upright.h - BAR_ROOM[1])
        return replace(ground, bars=bars, upright=upright, free=tuple(_free(list(ground.free), [block])))

    def _ticked(self, rect: Rect) -> Rect:
        """A room with what its neighbours' ticks stand out of theirs, or its own do."""
        over = self.over
        return Rect(rect.x - over, rect.y - over, rect.w + 2 * over, rect.h + 2 * over)

    def _blocked(self, box: Box) -> Rect:
        """A used region where no piece's room may stand, so that no tick runs into it."""
        dx, dy = self.shift
        return self._ticked(Rect(box.x0 - dx, box.y0 - dy, box.width, box.height))


def desk_for(sheet: Sheet, printer: Printer | None) -> Desk:
    return Desk(sheet, printable(sheet.paper, printer).size)


def grounds(desk: Desk, started: bool = False) -> list[Ground]:
    """A sheet's grounds to try in turn: with a note as it should be, and with a smaller one where room is short."""
    found = [desk.ground(started, note) for note in (NOTE, NOTE_SMALL)]
    return [ground for ground in found if ground is not None]


def _free(area: list[Rect], taken: Iterable[Rect]) -> list[Rect]:
    for rect in taken:
        area = without(area, rect)
    return area


def _note_room(free: Sequence[Rect], height: float) -> Rect | None:
    """The uppermost place for the note that is about as wide as any, so that the rest stays in one piece."""
    fitting = [rect for rect in free if rect.h >= height and rect.w >= NOTE_LEAST]
    if not fitting:
        return None
    widest = max(rect.w for rect in fitting)
    best = min((rect for rect in fitting if rect.w >= WIDE_ENOUGH * widest), key=lambda rect: (rect.y, -rect.w, rect.x))
    return Rect(best.x, best.y, best.w, height)


def _bar_room(free: Sequence[Rect], longest: float) -> Rect | None:
    """The leftmost, then uppermost place for the longest upright bar; None if there is none that would be of use."""
    wide, ends = BAR_ROOM
    fitting = [rect for rect in free if rect.w >= wide and rect.h >= BAR_LEAST + ends]
    if not fitting:
        return None
    length = min(longest, max(bar_length(rect.h - ends) for rect in fitting))
    best = min((rect for rect in fitting if rect.h >= length + ends), key=lambda rect: (rect.x, rect.y))
    return Rect(best.x, best.y, wide, length + ends)
