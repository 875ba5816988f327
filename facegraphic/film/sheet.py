"""Sheets of paper or film with the faces of one job or of several on them, packed to use as little as can be.

A sheet is laid out on as much of its paper as the printer reaches, in true mm; each piece has cut ticks and a caption,
each sheet a note in plain reading and bars to measure. Sheets that would be alike are one, to be printed several times.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely

from facegraphic.film.face import Piece
from facegraphic.film.names import name
from facegraphic.film.packing import Rect, Size, Spot, Stack, pack
from facegraphic.film.sheet_ground import Desk, Ground, desk_for, grounds
from facegraphic.film.sheet_marks import SheetNote, draw_caption, draw_note, draw_ticks, draw_upright_bar
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
    paper: tuple[float, float]
    started: bool = False


@dataclass(frozen=True)
class Filled:
    """One sheet with its pieces in place: the lot and number of each, and its spot; to be printed `prints` times."""

    ground: Ground
    spots: tuple[tuple[tuple[int, int], Spot], ...]
    prints: int = 1


@dataclass(frozen=True)
class Packed:
    """Where every piece of some lots lies, not yet drawn: the sheets in order, those that are alike once.

    Pieces that do not fit on an empty sheet are on none. `least` is how few sheets the area alone would ask for.
    """

    desk: Desk
    lots: tuple[Lot, ...]
    sheets: tuple[Filled, ...]
    least: int = 0

    def pages(self, note: SheetNote, first: int = 1, total: int | None = None) -> tuple[Page, ...]:
        """The sheets drawn; the first of them has the number `first` of `total`."""
        drawn = []
        for number, sheet in enumerate(self.sheets, first):
            place = f"sheet {number} of {total or len(self.sheets)}"
            place += ", on the started sheet" if sheet.ground.started else ""
            place += f", to be printed {sheet.prints} times" if sheet.prints > 1 else ""
            lines = note.lines(place, sheet.ground.bars)
            drawn.append(_Drawn(self.desk, sheet, self.lots).page(lines, note.bits))
        return tuple(drawn)


def pack_sheets(lots: Sequence[Lot], sheet: Sheet, printer: Printer | None = None) -> Packed:
    """Every piece of every lot that fits on an empty sheet, on sheets."""
    desk = desk_for(sheet, printer)
    kinds = [(i, j) for i, lot in enumerate(lots) for j in range(len(lot.pieces))]
    held = fits([lots[i].pieces[j] for i, j in kinds], sheet, printer)
    copies = [kind for kind, holds in zip(kinds, held, strict=True) if holds for _ in range(lots[kind[0]].copies)]
    rooms = [desk.room(lots[i].pieces[j]) for i, j in copies]
    sizes = [(room.width, room.height) for room in rooms]
    sheets = _merged(_filled(desk, sizes), copies) if copies else ()
    area = desk.area.w * desk.area.h
    return Packed(desk, tuple(lots), sheets, math.ceil(sum(w * h for w, h in sizes) / area))


def _filled(desk: Desk, sizes: Sequence[Size]) -> list[tuple[Ground, list[Spot]]]:
    """Sheets with all pieces and, where there is room beside them, the bar up the page.

    Tried with a place kept for the bar along the left, then without; with a note as it should be, then with a small
    one. Fewer sheets win, then the order in which it was tried.
    """
    found = []
    for fresh in grounds(desk):
        for kept in (True, False):
            first = desk.ground(started=True, note=fresh.note.h) if desk.sheet.used else None
            bare = [ground for ground in (first, fresh) if ground]
            tried = [desk.with_bar(ground) for ground in bare] if kept else bare
            stack = Stack(tried[-1].free, tried[0].free if first else None)
            layout = pack(sizes, stack, desk.sheet.turn)
            if layout is not None:
                found.append([(tried[0] if n == 0 else tried[-1], spots) for n, spots in enumerate(layout)])
    best = min(found, key=lambda sheets: sum(not ground.started for ground, _ in sheets))
    return [
        (ground if ground.upright else desk.with_bar(ground, [spot.rect for spot in spots]), spots)
        for ground, spots in best
        if spots
    ]


def _merged(sheets: Sequence[tuple[Ground, list[Spot]]], copies: Sequence[tuple[int, int]]) -> tuple[Filled, ...]:
    """Sheets that are alike but for which copy of a piece they carry become one, to be printed so many times."""
    alike: dict[tuple[object, ...], Filled] = {}
    for ground, spots in sheets:
        key = (ground.started, *sorted((copies[spot.number], spot.rect, spot.turned) for spot in spots))
        placed = tuple((copies[spot.number], spot) for spot in spots)
        alike[key] = Filled(ground, placed, alike[key].prints + 1 if key in alike else 1)
    return tuple(alike.values())


def fits(pieces: Sequence[Piece], sheet: Sheet, printer: Printer | None = None, started: bool = False) -> list[bool]:
    """Which pieces fit on an empty sheet of a paper, or on what is left of a started one."""
    desk = desk_for(sheet, printer)
    rooms = [desk.room(piece) for piece in pieces]
    frees = [ground.free for ground in grounds(desk, started)]
    return [
        any(pack([(room.width, room.height)], Stack(free), sheet.turn) is not None for free in frees) for room in rooms
    ]


def needs(piece: Piece, sheet: Sheet) -> Size:
    """Width and height that a piece takes of a sheet, with bleed, ticks, caption and gaps."""
    room = desk_for(sheet, None).room(piece)
    return (room.width, room.height)


def largest_free(sheet: Sheet, printer: Printer | None = None) -> Size:
    """Width and height of the largest free rectangle of an empty sheet; nothing where not even the note fits."""
    free = [rect for ground in grounds(desk_for(sheet, printer)) for rect in ground.free]
    best = max(free, key=lambda rect: rect.w * rect.h, default=None)
    return (best.w, best.h) if best else (0.0, 0.0)


@dataclass(frozen=True)
class _Drawn:
    """One sheet about to be drawn."""

    desk: Desk
    sheet: Filled
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
        before = self.desk.sheet.used if self.sheet.ground.started else ()
        return Page(
            scene=Scene(*self.desk.reach, tuple(items), bits),
            prints=self.sheet.prints,
            lying=tuple(lying),
            used=used,
            film=_covered((*before, *used)) - _covered(before),
            bars=ground.bars,
            paper=self.desk.sheet.paper.size,
            started=self.sheet.ground.started,
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
        ticks = draw_ticks(piece.trim, piece.bled) if piece.ticks else ()
        items: tuple[Item, ...] = (piece.group, *ticks, draw_caption(piece, title))
        place = IDENTITY.translate(*at).transform(turn)
        group = Group(items, f"piece-{number}-{name(piece.caption)}", transform=place, within=f"piece-{number}-")
        return group, at

    def used(self) -> tuple[Box, ...]:
        """What is used up once this is printed: a strip down to the lowest piece, and what reaches out of it."""
        dx, dy = self.desk.shift
        note, bar = self.sheet.ground.note, self.sheet.ground.upright
        lowest = [spot.rect.y + spot.rect.h + self.desk.over for _, spot in self.sheet.spots]
        width, height = self.desk.sheet.paper.size
        low = min(height, math.ceil(max(note.y + note.h, *lowest) + dy - 1e-6))
        outside = list(self.desk.sheet.used) if self.sheet.ground.started else []
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
