"""Sheets of paper or film with the faces on them, each with cut ticks and a caption, under a note in plain reading.

Nothing outside the faces is ever mirrored, so the note reads right as printed. Pieces are packed without turning;
the densest packing is a later matter.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import rectpack

from facegraphic.film.correction import correction_note, printable
from facegraphic.film.face import Piece
from facegraphic.film.marks import BLACK
from facegraphic.film.names import name
from facegraphic.geometry.path import IDENTITY, Box, Point
from facegraphic.geometry.shapes import bar
from facegraphic.job.model import Finish, Printer
from facegraphic.lettering.library import DEFAULT_FONT, load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.scene.scene import Fill, Group, Item, Scene
from facegraphic.stock.tables import Paper, papers

EDGE = 8.0  # most printers leave 4 to 6 mm bare (common practice)
NOTE = 21.0
GAP = 6.0
CAPTION = 4.0
TICK = (1.0, 3.5)  # from the bleed's edge, from where to where
TICK_WIDE = 0.1
BAR = 50.0
SMALL, LARGE = 2.0, 2.8
TENTHS = 10


def _room(piece: Piece) -> tuple[float, float]:
    """Width and height of a piece on a sheet: bleed, ticks and caption."""
    grown = piece.bled.grown(GAP / 2 + 1)
    return grown.width, grown.height + CAPTION


@dataclass(frozen=True)
class SheetNote:
    """What the note says of a job and its process."""

    title: str
    finish: Finish
    printer: Printer | None = None

    def lines(self, number: int, count: int) -> tuple[str, ...]:
        film = self.finish.film
        bar_note = "Print at 100 %, not fitted to the page. The bar must measure 50 mm."
        way = "MIRRORED" if self.finish.mirrored else "NOT MIRRORED"
        usual = self.finish.mirrored == film.mirrored
        down = film.down if usual else "not the usual way for this process: check which side goes down"
        return (
            f"{' '.join(self.title.split())} · {film.name} · sheet {number} of {count}".lstrip(" ·"),
            f"{way}. {down[0].upper()}{down[1:]}.",
            f"{bar_note} {correction_note(self.printer)}" if self.printer else bar_note,
        )


def sheets(pieces: Sequence[Piece], paper: Paper, note: SheetNote) -> list[Scene]:
    """Pages with every piece on them; none when a piece is larger than the paper."""
    width, height = paper.size
    bins = _pack(pieces, paper)
    scenes = []
    for number, placed in enumerate(bins, 1):
        items: list[Item] = [_note(note.lines(number, len(bins)), width, height)]
        for index, (x, y) in placed:
            at = (x - width / 2 + EDGE, height / 2 - EDGE - NOTE - y)
            items.append(_on_sheet(pieces[index], at, index + 1))
        scenes.append(Scene(width, height, tuple(items), note.finish.film.bits))
    return scenes


def fits(pieces: Sequence[Piece], paper: Paper) -> bool:
    """Whether sheets of a paper can hold every piece."""
    return bool(_pack(pieces, paper))


def paper_that_holds(pieces: Sequence[Piece], printer: Printer | None = None) -> str | None:
    """The smallest paper of the table that holds every piece, printed by a printer that needs correction if need be."""
    by_area = sorted(papers().values(), key=lambda paper: paper.size[0] * paper.size[1])
    return next((paper.name for paper in by_area if fits(pieces, printable(paper, printer))), None)


def _pack(pieces: Sequence[Piece], paper: Paper) -> list[list[tuple[int, Point]]]:
    """Upper left corners of the pieces, sheet by sheet, in mm right and down; empty when one finds no room."""
    width, height = paper.size[0] - 2 * EDGE, paper.size[1] - 2 * EDGE - NOTE
    room = (int(width * TENTHS), int(height * TENTHS))
    sizes = [tuple(-int(-side * TENTHS // 1) for side in _room(piece)) for piece in pieces]
    if not all(w <= room[0] and h <= room[1] for w, h in sizes):
        return []
    packer = rectpack.newPacker(rotation=False, sort_algo=rectpack.SORT_NONE)
    order = sorted(range(len(sizes)), key=lambda i: (-sizes[i][1], -sizes[i][0], i))
    for index in order:
        packer.add_rect(*sizes[index], rid=index)
    packer.add_bin(*room, count=len(pieces))
    packer.pack()
    bins: dict[int, list[tuple[int, Point]]] = {}
    for sheet, x, y, _, _, index in packer.rect_list():
        bins.setdefault(sheet, []).append((index, (x / TENTHS, y / TENTHS)))
    return [sorted(bins[sheet]) for sheet in sorted(bins)]


def _on_sheet(piece: Piece, corner: Point, number: int) -> Group:
    """A piece with ticks and caption, its room's upper left corner at a place on the page."""
    width, height = _room(piece)
    centre = (corner[0] + width / 2, corner[1] - (height - CAPTION) / 2)
    caption = set_block(piece.caption, Style(load_named(DEFAULT_FONT), SMALL))
    below = piece.bled.y0 - TICK[1] - 0.6 - SMALL / 2
    items: tuple[Item, ...] = (piece.group, *_ticks(piece.trim, piece.bled), Fill(caption.path.moved(0, below), BLACK))
    return Group(items, f"piece-{number}-{name(piece.caption)}", transform=IDENTITY.translate(*centre))


def _ticks(trim: Box, bled: Box) -> list[Fill]:
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


def _note(lines: tuple[str, ...], width: float, height: float) -> Group:
    """The note and the measuring bar along the sheet's upper edge."""
    font = load_named(DEFAULT_FONT)
    left, top = EDGE - width / 2, height / 2 - EDGE
    items: list[Item] = []
    for number, line in enumerate(lines):
        readable = "".join(c if not font.missing(c) else "?" for c in line)
        block = set_block(readable, Style(font, LARGE if number < 2 else SMALL))
        if block.ink.width > width - 2 * EDGE:
            # A small sheet or a long title: smaller rather than cut off.
            block = set_block(readable, Style(font, block.cap * (width - 2 * EDGE) / block.ink.width))
        y = top - LARGE / 2 - number * 5.0
        items.append(Fill(block.path.moved(left - block.ink.x0, y), BLACK, id=f"note-{number + 1}"))
    y = top - 16.5
    ends = (left, left + BAR)
    ruler = [bar((ends[0], y), (ends[1], y), 0.2)]
    ruler += [bar((x, y - 1.2), (x, y + 1.2), 0.1) for x in (ends[0], left + BAR / 2, ends[1])]
    items += [Fill(path, BLACK) for path in ruler]
    return Group(tuple(items), "note")
