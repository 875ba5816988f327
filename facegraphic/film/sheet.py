"""Sheets of paper or film with the faces of one job or of several on them, packed to use as little as can be.

A sheet is laid out on as much of its paper as the printer reaches, in true mm; each piece has cut ticks and a caption,
each sheet a note in plain reading and bars to measure. Sheets that would be alike are one, to be printed several times.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import shapely

from facegraphic.film.correction import printable
from facegraphic.film.face import Piece
from facegraphic.film.names import name
from facegraphic.film.packing import Rect, Spot, Stack, pack, without
from facegraphic.film.sheet_marks import (
    BAR_LEAST,
    BAR_ROOM,
    CAPTION,
    NOTE,
    NOTE_LEAST,
    TICK,
    SheetNote,
    bar_length,
    draw_caption,
    draw_note,
    draw_ticks,
    draw_upright_bar,
)
from facegraphic.geometry.path import IDENTITY, Box, Point
from facegraphic.job.model import Printer, Sheet
from facegraphic.scene.scene import Group, Item, Scene
from facegraphic.stock.faces import Side
from facegraphic.stock.tables import papers


@dataclass(frozen=True)
class Lot:
    """The faces of one job, each to be printed so many times."""

    title: str
    pieces: tuple[Piece, ...]
    copies: int = 1


@dataclass(frozen=True)
class Lying:
    """Where a piece lies on its sheet: `at` is the face's centre, right and down from the paper's upper left corner.

    `area` (mm²) is what it takes of the film with bleed, ticks and its share of the gaps; `share` its share of what
    the sheet uses up.
    """

    lot: int
    side: Side
    at: Point
    turned: bool
    area: float
    share: float


@dataclass(frozen=True)
class Page:
    """A sheet to be printed `prints` times.

    `used` is what is used up of it then, right and down from the paper's upper left corner, in whole mm, as
    `[sheet] used` takes it; `film` (mm²) is what this print adds to that.
    """

    scene: Scene
    prints: int
    lying: tuple[Lying, ...]
    used: tuple[Box, ...]
    film: float
    bars: tuple[float, ...]
    started: bool = False


@dataclass(frozen=True)
class _Ground:
    """One sheet before the pieces: where note and bar stand, what is free; right and down from the reach's corner."""

    note: Rect
    bars: tuple[float, ...]
    upright: Rect | None
    free: tuple[Rect, ...]


@dataclass(frozen=True)
class _Desk:
    """A sheet's paper as a printer reaches it: `reach` is its size in true mm, centred on the paper."""

    sheet: Sheet
    reach: tuple[float, float]

    @property
    def over(self) -> float:
        """How far a piece's ticks stand out of its room."""
        return max(0.0, TICK[1] - self.sheet.gap / 2)

    def shift(self) -> Point:
        """From the paper's upper left corner to that of the reach."""
        (width, height), (wide, high) = self.sheet.paper.size, self.reach
        return ((width - wide) / 2, (height - high) / 2)

    def ground(self, used: Iterable[Box]) -> _Ground | None:
        """A sheet with note and bar in place; None if there is no room for the note."""
        left, upper, right, lower = self.sheet.edge
        area = Rect(left, upper, self.reach[0] - left - right, self.reach[1] - upper - lower)
        inner = Rect(area.x + self.over, area.y, area.w - 2 * self.over, area.h - self.over)
        taken = [self._blocked(box) for box in used]
        note = _note_room(_free([area], taken))
        if note is None:
            return None
        upright = _bar_room(_free([area], [*taken, note]))
        bars = (bar_length(note.w), upright.h - BAR_ROOM[1]) if upright else (bar_length(note.w),)
        blocks = [*taken, note, upright] if upright else [*taken, note]
        return _Ground(note, bars, upright, tuple(_free([inner], blocks)))

    def _blocked(self, box: Box) -> Rect:
        """A used region where no piece's room may stand, so that no tick runs into it."""
        dx, dy = self.shift()
        return Rect(
            box.x0 - dx - self.over, box.y0 - dy - self.over, box.width + 2 * self.over, box.height + 2 * self.over
        )

    def room(self, piece: Piece) -> Box:
        """What a piece takes of a sheet, round its own centre."""
        grown = piece.bled.grown(self.sheet.gap / 2)
        return grown._replace(y0=grown.y0 - CAPTION)


def _free(area: list[Rect], taken: Iterable[Rect]) -> list[Rect]:
    for rect in taken:
        area = without(area, rect)
    return area


def _note_room(free: Sequence[Rect]) -> Rect | None:
    """The uppermost place for the note that is as wide as any, so that the rest stays in one piece."""
    fitting = [rect for rect in free if rect.h >= NOTE and rect.w >= NOTE_LEAST]
    if not fitting:
        return None
    widest = max(rect.w for rect in fitting)
    best = min((rect for rect in fitting if rect.w > widest - 1), key=lambda rect: (rect.y, rect.x))
    return Rect(best.x, best.y, best.w, NOTE)


def _bar_room(free: Sequence[Rect]) -> Rect | None:
    """The leftmost, then uppermost place for the longest upright bar; None if there is none that would be of use."""
    wide, ends = BAR_ROOM
    fitting = [rect for rect in free if rect.w >= wide and rect.h >= BAR_LEAST + ends]
    if not fitting:
        return None
    length = max(bar_length(rect.h - ends) for rect in fitting)
    best = min((rect for rect in fitting if rect.h >= length + ends), key=lambda rect: (rect.x, rect.y))
    return Rect(best.x, best.y, wide, length + ends)


@dataclass(frozen=True)
class Packed:
    """Where every piece of some lots lies, not yet drawn: the sheets in order, those that are alike once."""

    desk: _Desk
    lots: tuple[Lot, ...]
    sheets: tuple["_Sheet", ...]

    def pages(self, note: SheetNote, first: int = 1, total: int | None = None) -> tuple[Page, ...]:
        """The sheets drawn; the first of them has the number `first` of `total`."""
        drawn = []
        for number, sheet in enumerate(self.sheets, first):
            place = f"sheet {number} of {total or len(self.sheets)}"
            place += f", to be printed {sheet.prints} times" if sheet.prints > 1 else ""
            lines = note.lines(place, sheet.ground.bars)
            drawn.append(_Drawn(self.desk, sheet, self.lots).page(lines, note.finish.film.bits))
        return tuple(drawn)


@dataclass(frozen=True)
class _Sheet:
    """One sheet with its pieces in place: the lot and number of each, and its spot."""

    ground: _Ground
    spots: tuple[tuple[tuple[int, int], Spot], ...]
    prints: int
    started: bool


def pack_sheets(lots: Sequence[Lot], sheet: Sheet, printer: Printer | None = None) -> Packed:
    """Every piece of every lot on sheets; there are no sheets when a piece does not fit on an empty one."""
    desk = _Desk(sheet, printable(sheet.paper, printer).size)
    fresh, started = desk.ground(()), desk.ground(sheet.used) if sheet.used else None
    kinds = [(i, j) for i, lot in enumerate(lots) for j in range(len(lot.pieces)) for _ in range(lot.copies)]
    layout = None
    if fresh and kinds:
        rooms = [desk.room(lots[i].pieces[j]) for i, j in kinds]
        stack = Stack(fresh.free, started.free if started else None)
        layout = pack([(room.width, room.height) for room in rooms], stack, sheet.turn)
    if fresh is None or layout is None:
        return Packed(desk, tuple(lots), ())
    alike: dict[tuple[object, ...], _Sheet] = {}
    for number, spots in enumerate(layout):
        first = started if number == 0 else None
        key = (bool(first), *sorted((kinds[spot.number], spot.rect, spot.turned) for spot in spots))
        placed = tuple((kinds[spot.number], spot) for spot in spots)
        prints = alike[key].prints + 1 if key in alike else 1
        if spots:
            alike[key] = _Sheet(first or fresh, placed, prints, bool(first))
    return Packed(desk, tuple(lots), tuple(alike.values()))


def fits(pieces: Iterable[Piece], sheet: Sheet, printer: Printer | None = None, used: Sequence[Box] = ()) -> list[bool]:
    """Which pieces fit on an empty sheet of a paper, or on what `used` regions leave of one."""
    desk = _Desk(sheet, printable(sheet.paper, printer).size)
    ground = desk.ground(used)
    if ground is None:
        return [False for _ in pieces]
    rooms = [desk.room(piece) for piece in pieces]
    return [pack([(room.width, room.height)], Stack(ground.free), sheet.turn) is not None for room in rooms]


@dataclass(frozen=True)
class _Drawn:
    """One sheet about to be drawn."""

    desk: _Desk
    sheet: _Sheet
    lots: tuple[Lot, ...]

    def page(self, lines: Sequence[str], bits: int) -> Page:
        ground, used = self.sheet.ground, self.used()
        items: list[Item] = [draw_note(lines, self.on_page(ground.note), ground.bars)]
        if ground.upright:
            items.append(draw_upright_bar(self.on_page(ground.upright), ground.bars[1]))
        lying = []
        width, height = self.desk.sheet.paper.size
        area = sum(spot.rect.w * spot.rect.h for _, spot in self.sheet.spots)
        for number, ((lot, index), spot) in enumerate(self.sheet.spots, 1):
            piece = self.lots[lot].pieces[index]
            group, at = self.on_sheet(piece, self.lots[lot].title, spot, number)
            items.append(group)
            taken = spot.rect.w * spot.rect.h
            lying.append(
                Lying(lot, piece.side, (at[0] + width / 2, height / 2 - at[1]), spot.turned, taken, taken / area)
            )
        before = self.desk.sheet.used if self.sheet.started else ()
        return Page(
            scene=Scene(*self.desk.reach, tuple(items), bits),
            prints=self.sheet.prints,
            lying=tuple(lying),
            used=used,
            film=_covered((*before, *used)) - _covered(before),
            bars=ground.bars,
            started=self.sheet.started,
        )

    def on_page(self, rect: Rect) -> Box:
        """From right and down from the reach's upper left corner to page mm."""
        width, height = self.desk.reach
        return Box(rect.x - width / 2, height / 2 - rect.y - rect.h, rect.x + rect.w - width / 2, height / 2 - rect.y)

    def on_sheet(self, piece: Piece, title: str, spot: Spot, number: int) -> tuple[Group, Point]:
        """A piece with ticks and caption in its place, and where its centre is then."""
        room, place = self.desk.room(piece), self.on_page(spot.rect)
        turn = IDENTITY.rotate(math.pi / 2) if spot.turned else IDENTITY
        if spot.turned:
            room = Box(-room.y1, room.x0, -room.y0, room.x1)
        at = (place.x0 - room.x0, place.y1 - room.y1)
        items: tuple[Item, ...] = (piece.group, *draw_ticks(piece.trim, piece.bled), draw_caption(piece, title))
        group = Group(items, f"piece-{number}-{name(piece.caption)}", transform=IDENTITY.translate(*at).transform(turn))
        return group, at

    def used(self) -> tuple[Box, ...]:
        """What is used up once this is printed: a strip down to the lowest piece, and what reaches out of it."""
        dx, dy = self.desk.shift()
        note, bar = self.sheet.ground.note, self.sheet.ground.upright
        lowest = [spot.rect.y + spot.rect.h + self.desk.over for _, spot in self.sheet.spots]
        width, height = self.desk.sheet.paper.size
        low = min(height, math.ceil(max(note.y + note.h, *lowest) + dy - 1e-6))
        outside = list(self.desk.sheet.used) if self.sheet.started else []
        if bar:
            outside.append(Box(bar.x + dx, bar.y + dy, bar.x + bar.w + dx, bar.y + bar.h + dy))
        below = [_whole(box._replace(y0=max(box.y0, low))) for box in outside if box.y1 > low]
        return (Box(0.0, 0.0, width, low), *below)


def _whole(box: Box) -> Box:
    """A box grown to whole mm."""
    return Box(math.floor(box.x0 + 1e-6), math.floor(box.y0 + 1e-6), math.ceil(box.x1 - 1e-6), math.ceil(box.y1 - 1e-6))


def _covered(boxes: Sequence[Box]) -> float:
    return float(shapely.union_all([shapely.box(*box) for box in boxes]).area) if boxes else 0.0


def paper_that_holds(pieces: Sequence[Piece], sheet: Sheet, printer: Printer | None = None) -> str | None:
    """The smallest paper of the table whose sheets hold every piece as the printer prints it."""
    by_area = sorted(papers().values(), key=lambda paper: paper.size[0] * paper.size[1])
    return next((paper.name for paper in by_area if all(fits(pieces, replace(sheet, paper=paper), printer))), None)
