"""The printer test page: bars to measure, and ladders that show what a printer and its material still hold.

Everything stands in a block of `BLOCK` mm in the middle of the page; places on it are given from its upper left corner,
right and down, and turned into page coordinates in one place (`_Sheet.at`).
"""

from dataclasses import dataclass, field

from facegraphic.film.correction import correction_note
from facegraphic.film.ladders import line_ladder, type_ladder
from facegraphic.film.marks import BLACK
from facegraphic.film.mirror import as_printed
from facegraphic.geometry.path import IDENTITY, Box, Path, Point
from facegraphic.geometry.shapes import bar, rectangle, rounded_rectangle
from facegraphic.job.model import Printer
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Align, Style, set_block
from facegraphic.scene.scene import Fill, Group, Item, Scene
from facegraphic.stock.tables import Paper, papers

BLOCK = (186.0, 254.0)
EDGE = 7.0  # most printers leave 4 to 6 mm bare (common practice)
LENGTH = 100.0
CORNER = (16.0, 136.0)  # where both bars begin
TITLE, HEADING, TEXT, SMALL = 6.0, 3.0, 2.2, 1.7
RULE = 0.2
TICKS = ((10, 5.0, 0.2), (5, 3.2, 0.15), (1, 2.0, 0.1))  # every so many mm, how long, how wide
SIDE = 126.0  # where the right column begins
GREYS = tuple(range(10, 101, 10))
# Full strength of the printer's inks, alone and by twos.
COLOURS = (
    ("cyan", "#00ffff"),
    ("magenta", "#ff00ff"),
    ("yellow", "#ffff00"),
    ("red", "#ff0000"),
    ("green", "#00ff00"),
    ("blue", "#0000ff"),
)


@dataclass
class _Sheet:
    """The page being filled; places are mm right and down from the block's upper left corner."""

    items: list[Item] = field(default_factory=list)

    def at(self, u: float, v: float) -> Point:
        return (u - BLOCK[0] / 2, BLOCK[1] / 2 - v)

    def box(self, u: float, v: float, width: float, height: float) -> Box:
        x, y = self.at(u, v)
        return Box(x, y - height, x + width, y)

    def fill(self, path: Path, ink: str = BLACK, id: str = "") -> None:
        self.items.append(Fill(path, ink, id=id))

    def rule(self, start: Point, end: Point, width: float) -> None:
        self.fill(bar(self.at(*start), self.at(*end), width))

    def text(self, text: str, place: Point, cap: float = TEXT, align: Align = "left", turned: float = 0.0) -> None:
        """One line, its body's left end, middle or right end at a place; signs that the font lacks become "?"."""
        font = load_named("tagstrip-bold" if cap >= HEADING else "tagstrip-regular")
        readable = "".join("?" if font.missing(c) else c for c in text)
        block = set_block(readable, Style(font, cap))
        if block.ink.width > BLOCK[0]:  # a long printer's name: smaller rather than over the edge
            block = set_block(readable, Style(font, cap * BLOCK[0] / block.ink.width))
        block = block.turned(turned)
        shift = {"left": -block.ink.x0, "centre": -block.ink.centre[0], "right": -block.ink.x1}[align]
        x, y = self.at(*place)
        self.fill(block.path.moved(x + shift, y))

    def heading(self, text: str, place: Point) -> None:
        self.text(text, place, HEADING)


def papers_for_ruler() -> list[str]:
    """The papers of the table that hold the page."""
    return [p.name for p in papers().values() if all(a >= b + 2 * EDGE for a, b in zip(p.size, BLOCK, strict=True))]


def holds_ruler(paper: Paper) -> bool:
    """Whether a paper, or what a printer makes of it, has room for the block itself."""
    return paper.size[0] >= BLOCK[0] and paper.size[1] >= BLOCK[1]


def ruler(paper: Paper, printer: Printer | None = None) -> Scene:
    """The page in true mm. With a printer it says that it is corrected for it; `corrected` is what makes it so."""
    sheet = _Sheet()
    _head(sheet, printer)
    _bars(sheet)
    _mirror_test(sheet)
    _to_fill_in(sheet, printer)
    _density(sheet)
    sheet.heading("4  Lines and gaps", (0, 158))
    sheet.text("the first column that prints whole and open is the finest to use; widths in mm", (45, 158), SMALL)
    sheet.items.append(_placed(line_ladder(BLOCK[0]), sheet.at(0, 162)))
    sheet.heading("5  Lettering", (0, 213.5))
    sheet.text("the first that reads whole is the smallest to use; heights of capitals in mm", (45, 213.5), SMALL)
    sheet.items.append(_placed(type_ladder(BLOCK[0]), sheet.at(0, 217.5)))
    return Scene(*paper.size, (Group(tuple(sheet.items), "ruler"),))


def _placed(group: Group, corner: Point) -> Group:
    """A group that hangs from its own upper left corner, hung on the page."""
    return Group((group,), transform=IDENTITY.translate(*corner))


def _head(sheet: _Sheet, printer: Printer | None) -> None:
    sheet.text("Printer test page", (0, 3), TITLE)
    sheet.text("Print it at 100 %, not fitted to the page, on the material and with the settings meant for", (0, 11.5))
    sheet.text("the real thing. What is lost here is lost on the box.", (0, 15.5))
    if printer:
        sheet.text(correction_note(printer) + " Both bars must measure 100 mm.", (0, 19.5))
    sheet.rule((0, 22.5), (BLOCK[0], 22.5), RULE)


def _bars(sheet: _Sheet) -> None:
    """Two bars of 100 mm with a tick each mm, outwards; a tick's middle is its place."""
    u, v = CORNER
    sheet.heading("1  Length", (0, 28))
    for index in range(int(LENGTH) + 1):
        long, wide = next((length, width) for every, length, width in TICKS if index % every == 0)
        sheet.rule((u + index, v), (u + index, v + long), wide)
        sheet.rule((u, v - index), (u - long, v - index), wide)
        if index % 10 == 0:
            sheet.text(str(index), (u + index, v + 7.2), SMALL, "centre")
            sheet.text(str(index), (u - 6.2, v - index), SMALL, "right")
    sheet.fill(bar(sheet.at(u - RULE / 2, v), sheet.at(u + LENGTH + RULE / 2, v), RULE), id="bar-across")
    sheet.fill(bar(sheet.at(u, v + RULE / 2), sheet.at(u, v - LENGTH - RULE / 2), RULE), id="bar-up")
    sheet.text("across: 100 mm from the first tick's middle to the last's", (u + LENGTH / 2, v + 11), SMALL, "centre")
    sheet.text("up: 100 mm", (u - 14, v - LENGTH / 2), SMALL, "centre", 90)


def _mirror_test(sheet: _Sheet) -> None:
    """One panel as printed, its twin mirrored."""
    left, top, wide, high = 25.0, 36.0, 41.0, 28.0
    sheet.heading("2  Which way round", (left, 28))
    for column, (mirrored, says) in enumerate(((False, "as printed"), (True, "turned over"))):
        twin = _Sheet()
        panel = Box.centred(wide, high)
        outline = rounded_rectangle(panel, 3) + rounded_rectangle(panel.grown(-0.4), 2.6)
        twin.items.append(Fill(outline, BLACK, "evenodd"))
        for text, y, cap in (("READS", 7.0, 5.0), ("RIGHT", -0.5, 5.0), (says, -8.0, 2.8)):
            twin.items.append(Fill(_centred(text, cap).moved(0, y), BLACK))
        group = as_printed(Group(tuple(twin.items), "mirrored" if mirrored else "straight"), mirrored)
        corner = sheet.at(left + column * (wide + 5) + wide / 2, top + high / 2)
        sheet.items.append(_placed(group, corner))
    lines = (
        "Look at the print as it came out: the left panel must read right.",
        "If the right one does, the printer mirrors by itself: turn that off.",
        "Held to a window face down, or ironed on, the right panel reads right.",
    )
    for number, line in enumerate(lines):
        sheet.text(line, (left, top + high + 5 + number * 3.4), SMALL)


def _centred(text: str, cap: float) -> Path:
    block = set_block(text, Style(load_named("tagstrip-bold"), cap))
    return block.path.moved(-block.ink.centre[0], 0)


def _to_fill_in(sheet: _Sheet, printer: Printer | None) -> None:
    """Blanks for what is measured, and what to do with it."""
    left, top = 25.0, 87.0
    sheet.heading("Measured", (left, top))
    blanks = (("across", 0.0, "mm"), ("up", 46.0, "mm"))
    for word, u, unit in blanks:
        sheet.text(word, (left + u, top + 8.5))
        start = left + u + (13 if u == 0 else 7)
        sheet.rule((start, top + 9.8), (start + 20, top + 9.8), 0.15)
        sheet.text(unit, (start + 21.5, top + 8.5))
    sheet.text("printer and material", (left, top + 17.5))
    sheet.rule((left + 33, top + 18.8), (left + 87, top + 18.8), 0.15)
    lines = (
        ("If a bar is off still, print the page without --printer,", "measure that one, and keep it again.")
        if printer
        else (
            "Keep it once, then print every job for this printer:",
            "facegraphic ruler --measured ACROSS UP --save NAME",
            "facegraphic make JOB --printer NAME",
        )
    )
    for number, line in enumerate(lines):
        sheet.text(line, (left, top + 25.5 + number * 3.6), SMALL)


def _density(sheet: _Sheet) -> None:
    """Greys by tens, the printer's colours, and a solid to hold to the light."""
    wide = BLOCK[0] - SIDE
    sheet.heading("3  Density", (SIDE, 28))
    each = wide / len(GREYS)
    for column, share in enumerate(GREYS):
        level = round(255 * (1 - share / 100))
        ink = f"#{level:02x}{level:02x}{level:02x}"
        sheet.fill(rectangle(sheet.box(SIDE + column * each, 36, each, 16)), ink, f"grey-{share}")
        sheet.text(str(share), (SIDE + (column + 0.5) * each, 54.4), SMALL, "centre")
    sheet.text("grey in %: every step must differ from the next", (SIDE, 58.4), SMALL)
    each = wide / len(COLOURS)
    for column, (name, ink) in enumerate(COLOURS):
        sheet.fill(rectangle(sheet.box(SIDE + column * each, 64, each, 14)), ink, name)
        sheet.text(name, (SIDE + (column + 0.5) * each, 80.4), 1.4, "centre")
    sheet.text("inks at full strength, even and without streaks", (SIDE, 84.4), SMALL)
    sheet.fill(rectangle(sheet.box(SIDE, 90, wide, 36)), id="solid")
    lines = (
        "Solid: hold it to a lamp. Pinholes and pale",
        "bands are gaps in the toner. For transfer, set",
        "the highest density and turn toner saving off.",
    )
    for number, line in enumerate(lines):
        sheet.text(line, (SIDE, 129.5 + number * 3.4), SMALL)
