"""The drill guide: the box folded out at true size to wrap round it, then a table of its holes and their bits.

Pages are as large as the sheet's paper, or A4 where that is film too small for a guide. If the net does not fit on one,
each face has a page; a face that does not fit either goes over several that overlap. Never mirrored: it is laid on the
box as it is seen. Page mm, x right, y up, round the page centre.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from fontTools.misc.transform import Transform

from facegraphic.film.correction import printable
from facegraphic.film.guide_face import Laid, Numbered, alone, box_of, draw, whole_net
from facegraphic.film.guide_net import Panel, panels, unfolded
from facegraphic.film.guide_table import Row, Table
from facegraphic.film.guide_text import FINE, PLAIN, Column, height_of, line
from facegraphic.film.guide_tiles import Tiling, tile_group, tiled
from facegraphic.film.guide_words import MEASURING, Words, after_table, box_words, head, hooking, title, wrapping
from facegraphic.film.marks import BLACK
from facegraphic.film.sheet_marks import bar_length
from facegraphic.geometry.path import IDENTITY, Box
from facegraphic.geometry.shapes import bar
from facegraphic.job.model import Job, Sheet
from facegraphic.layout.model import FaceLayout, PlacedHole
from facegraphic.scene.scene import Fill, Group, Item, Scene
from facegraphic.stock.drilling import wants_step_drill
from facegraphic.stock.faces import SIDES, Side
from facegraphic.stock.tables import papers

_Drawer = Callable[[Box], Group]
_Plan = tuple[str, _Drawer]
LEAST = (80.0, 125.0)  # what can be printed of a page must be as large as this
STAND_IN = "A4"
LEFT, LOW = 7.0, 7.0  # room for the bars
MOST_TILES = 40


@dataclass(frozen=True)
class Guide:
    """The pages in true mm, and the faces that are too large to be drawn and have their figures in the table only."""

    pages: tuple[Scene, ...]
    left_out: tuple[Side, ...]


def guide_sheet(sheet: Sheet) -> Sheet:
    """The paper that a guide is printed on: the job's own, or A4 if that is too small."""
    left, upper, right, lower = sheet.edge
    width, height = sheet.paper.size
    if width - left - right >= LEAST[0] and height - upper - lower >= LEAST[1]:
        return sheet
    return replace(sheet, paper=papers()[STAND_IN], edge=(8.0, 8.0, 8.0, 8.0))


def _planned(placed: PlacedHole) -> PlacedHole:
    """A hole where it is to be drilled, wherever it was measured after that."""
    hole = placed.hole
    if hole.planned is None:
        return placed
    return replace(placed, hole=replace(hole, x=hole.planned[0], y=hole.planned[1], planned=None))


def guide(job: Job, layouts: Sequence[FaceLayout]) -> Guide:
    """The guide of a job, from the holes as they are planned."""
    holes: dict[Side, tuple[Numbered, ...]] = {}
    by_side = {layout.face.side: layout for layout in layouts}
    count = 0
    for side in SIDES:
        if side in by_side:
            holes[side] = tuple(Numbered(count + n, _planned(one)) for n, one in enumerate(by_side[side].holes, 1))
            count += len(holes[side])
    return _Desk(job, panels(job), holes).guide()


@dataclass(frozen=True)
class _Desk:
    """A job about to be drawn."""

    job: Job
    panels: Mapping[Side, Panel]
    holes: Mapping[Side, tuple[Numbered, ...]]

    @property
    def sheet(self) -> Sheet:
        return guide_sheet(self.job.sheet)

    @property
    def size(self) -> tuple[float, float]:
        return printable(self.sheet.paper, self.job.printer).size

    @property
    def area(self) -> Box:
        (width, height), (left, upper, right, lower) = self.size, self.sheet.edge
        return Box(left - width / 2, lower - height / 2, width / 2 - right, height / 2 - upper)

    def guide(self) -> Guide:
        """All pages; their count is known once the table is broken into pages."""
        plans, left_out = self.plans()
        table = self.table_pages(left_out)
        total = len(plans) + len(table)
        pages = []
        for number, (how, group_in) in enumerate(plans, 1):
            page = f"page {number} of {total}"
            pages.append(self.scene((*self.around(page, how), group_in(self.room(page, how)))))
        for number, rows in enumerate(table, len(plans) + 1):
            pages.append(self.scene((Group((*self.titled(f"page {number} of {total}"), *rows), "guide-table"),)))
        return Guide(tuple(pages), left_out)

    def scene(self, items: tuple[Item, ...]) -> Scene:
        return Scene(*self.size, items)

    def above(self, page: str, how: str) -> tuple[Words, tuple[float, float]]:
        """A page's head, and the bars as long as they can be below it."""
        area = self.area
        bars = (bar_length(area.width - LEFT), 100.0)
        high = height_of(head(self.job, page, bars, how, area.width), area.width)
        bars = (bars[0], bar_length(area.height - LOW - high - 3))
        return head(self.job, page, bars, how, area.width), bars

    def room(self, page: str, how: str) -> Box:
        """What head and bars leave of a page for its faces."""
        words, area = self.above(page, how)[0], self.area
        return Box(area.x0 + LEFT, area.y0 + LOW, area.x1, area.y1 - height_of(words, area.width) - 1.5)

    def around(self, page: str, how: str) -> tuple[Item, ...]:
        """A page's head and bars."""
        words, bars = self.above(page, how)
        column = Column.within(self.area)
        for text, hand in words:
            column.put(text, hand)
        return (Group(tuple(column.fills), "guide-head"), draw_bars(self.area, bars))

    def plans(self) -> tuple[list[_Plan], tuple[Side, ...]]:
        """How each page of faces is used, and what draws it in the room that is left; then the faces left out."""
        net = whole_net(self.panels, unfolded(self.panels), self.holes)
        how = wrapping(self.job)
        room = self.room("page 10 of 10", how)
        turn = _turn(box_of(net), room)
        if turn is not None:
            return [(how, _in_middle([one.carried(turn) for one in net]))], ()
        plans: list[_Plan] = []
        left_out: list[Side] = []
        wanted = [side for side in SIDES if self.holes.get(side)] or [side for side in SIDES if side in self.holes]
        for side in wanted:
            found = list(self.face_plans(alone(self.panels[side], self.holes.get(side, ()))))
            plans += found
            left_out += [] if found else [side]
        return plans, tuple(left_out)

    def face_plans(self, one: Laid) -> Iterator[_Plan]:
        """One page for a face, or the tiles that it is cut into; none if they would be too many."""
        side = one.panel.side
        room = self.room("page 10 of 10", hooking(side, ""))
        turn = _turn(one.box, room)
        if turn is not None:
            yield hooking(side, ""), _in_middle([one.carried(turn)])
            return
        room = self.room("page 10 of 10", hooking(side, ", part 10 of 10"))
        ways = [tiled(one.carried(way), room) for way in (IDENTITY, IDENTITY.rotate(math.pi / 2))]
        tiling = min(ways, key=lambda own: len(own.windows))
        if len(tiling.windows) > MOST_TILES:
            return
        group = tile_group(tiling)
        for number in range(len(tiling.windows)):
            part = f", part {number + 1} of {len(tiling.windows)}"
            yield hooking(side, part), _in_window(tiling, group, number)

    def titled(self, page: str) -> list[Fill]:
        column = Column.within(self.area)
        for text, hand in self.table_head(page):
            column.put(text, hand)
        return column.fills

    def table_head(self, page: str) -> Words:
        return [title(self.job, page, self.area.width), (f"{box_words(self.job)} Seen from outside.", PLAIN)]

    def table_pages(self, left_out: Sequence[Side]) -> list[list[Item]]:
        """The table and what goes with it, broken into pages."""
        area = self.area
        flow = _Flow(area, area.y1 - height_of(self.table_head("page 10 of 10"), area.width) - 1)
        table = Table.of(area.width, self.panels, self.holes)
        flow.words([(MEASURING, FINE)])
        if left_out:
            flow.words([(f"Too large to be drawn on this paper: {', '.join(left_out)}.", PLAIN)])
        if any(self.holes.values()):
            flow.rows(table, table.heads())
        else:
            flow.words([("There are no holes in this job.", PLAIN)])
        for side, holes in self.holes.items():
            for number, rows in enumerate(table.rows(self.panels[side], holes) if holes else ()):
                # A heading keeps with the first hole below it.
                more = max((row.height for row in rows), default=0) * 2 if number == 0 else 0
                flow.rows(table, rows, more, table.heads())
        flow.space(3)
        large = any(wants_step_drill(one.placed.hole.d) for own in self.holes.values() for one in own)
        flow.words(after_table(large))
        return flow.pages


def _in_middle(laid: Sequence[Laid]) -> _Drawer:
    """Draws panels in the middle of a room."""

    def drawn(room: Box) -> Group:
        (cx, cy), (x, y) = room.centre, box_of(laid).centre
        return draw([one.carried(IDENTITY.translate(cx - x, cy - y)) for one in laid], room)

    return drawn


def _in_window(tiling: Tiling, group: Group, number: int) -> _Drawer:
    """Draws one window of a tiled face in the middle of a room."""
    return lambda room: tiling.window(group, number, room)


def _turn(box: Box, room: Box) -> Transform | None:
    """The turn at which a box fits in a room: none or a quarter; None if neither does."""
    if box.width <= room.width and box.height <= room.height:
        return IDENTITY
    if box.height <= room.width and box.width <= room.height:
        return IDENTITY.rotate(math.pi / 2)
    return None


def draw_bars(area: Box, bars: tuple[float, float]) -> Group:
    """Bars along the lower and the left edge of an area, with a mark every 10 mm, and what they measure."""
    x, y = area.x0 + LEFT, area.y0 + 1.6
    across = [bar((x, y), (x + bars[0], y), 0.2)]
    across += [bar((x + at, y - 1.2), (x + at, y + 1.2), 0.1) for at in _tens(bars[0])]
    items: list[Item] = [Fill(path, BLACK) for path in across]
    said = f"{bars[0]:g} mm"
    beside = bars[0] + 3 + FINE.width(said) <= area.width - LEFT
    place = (x + bars[0] + 3, y) if beside else (x + 5, y + 2.6)
    items.append(line(said, FINE, place))
    x, y = area.x0 + 1.6, area.y0 + LOW
    up = [bar((x, y), (x, y + bars[1]), 0.2)]
    up += [bar((x - 1.2, y + at), (x + 1.2, y + at), 0.1) for at in _tens(bars[1])]
    items += [Fill(path, BLACK) for path in up]
    turned = FINE.block(f"{bars[1]:g} mm").transformed(IDENTITY.rotate(math.pi / 2))
    items.append(Fill(turned.moved(x + 3.6, y + bars[1] / 2), BLACK))
    return Group(tuple(items), "guide-bars")


def _tens(length: float) -> Iterator[float]:
    return (10.0 * n for n in range(round(length / 10) + 1))


class _Flow:
    """Rows and texts one below the other over as many pages as they need."""

    def __init__(self, area: Box, top: float) -> None:
        self.area, self.top = area, top
        self.y = top
        self.pages: list[list[Item]] = [[]]

    def fits(self, height: float) -> bool:
        return self.y - height >= self.area.y0

    def turn(self) -> None:
        self.pages.append([])
        self.y = self.top

    def space(self, height: float) -> None:
        self.y -= height

    def words(self, words: Words) -> None:
        for number, (text, hand) in enumerate(words):
            height = height_of([(text, hand)], self.area.width)
            # A heading keeps with the text below it.
            more = height_of(words[number + 1 : number + 2], self.area.width) if hand.cap > PLAIN.cap else 0
            if not self.fits(height + more):
                self.turn()
            elif more:
                self.space(2)
            column = Column(self.area, self.y, [])
            column.put(text, hand)
            self.pages[-1] += column.fills
            self.y = column.y - 0.8

    def rows(self, table: Table, rows: Sequence[Row], more: float = 0.0, heads: Sequence[Row] = ()) -> None:
        """Rows that keep together, and with `more` mm of what follows; `heads` again on a new page."""
        if not self.fits(sum(row.height for row in rows) + more):
            self.turn()
            for row in heads:
                self._row(table, row)
        for row in rows:
            self._row(table, row)

    def _row(self, table: Table, row: Row) -> None:
        self.pages[-1] += table.draw(row, self.area, self.y)
        self.y -= row.height + (1.0 if row.ruled else 0.0)
