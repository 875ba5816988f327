"""The card that gives a scan or photo its scale, as a page to print: see `drill/scan/card.py`."""

from facegraphic.drill.scan.card import DOT, EYE, LONG, PITCH, RING, SHORT, WIDE, dots
from facegraphic.film.correction import correction_note
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Path, Point
from facegraphic.geometry.shapes import disc, outline_band, polygon
from facegraphic.job.model import Printer
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.scene.scene import Fill, Item, Scene
from facegraphic.stock.tables import Paper

EDGE = 10.0
HAIR = 0.15
LINES = (
    "Print at 100 % on stiff matt paper, then measure: from the ring's middle to the last dot of the long arm it",
    f"must be {LONG * PITCH:.0f} mm, up the short arm {SHORT * PITCH:.0f} mm. If not: facegraphic ruler --measured.",
    "Cut the card out along the thin line and lay it flat round the face, in one plane with it: on the scanner's glass",
    "beside it, printed side down; for a photo on blocks as high as the box. Keep a finger's breadth between.",
    "Then: facegraphic holes PICTURE --card",
)


def size() -> tuple[float, float]:
    """The card's own, in mm."""
    return (LONG * PITCH + WIDE, SHORT * PITCH + WIDE)


def holds_card(paper: Paper) -> bool:
    return all(a >= b + 2 * EDGE for a, b in zip(paper.size, (max(size()[0], 150.0), size()[1] + 40), strict=True))


def card(paper: Paper, printer: Printer | None = None) -> Scene:
    """The page in true mm."""
    width, height = size()
    corner = (-width / 2, -height / 2 + 20)
    ring = (corner[0] + WIDE / 2, corner[1] + WIDE / 2)
    items: list[Item] = [Fill(_outline(corner, width, height), BLACK, "evenodd", "cut")]
    for number, (x, y) in enumerate(dots()):
        at = (ring[0] + x, ring[1] + y)
        path = outline_band(disc(at, RING), disc(at, EYE)) if number == 0 else disc(at, DOT)
        items.append(Fill(path, BLACK, "evenodd", "ring" if number == 0 else f"dot-{number}"))
    lines = [*LINES, correction_note(printer)] if printer else LINES
    for number, line in enumerate(lines):
        items.append(Fill(_text(line, (corner[0], corner[1] - 8 - 4.4 * number)), BLACK))
    return Scene(*paper.size, tuple(items))


def _outline(corner: Point, width: float, height: float) -> Path:
    """The L to cut along, as a hair line."""
    x, y = corner
    ends = [
        (x, y),
        (x + width, y),
        (x + width, y + WIDE),
        (x + WIDE, y + WIDE),
        (x + WIDE, y + height),
        (x, y + height),
    ]
    h = HAIR
    inner = [(x + h, y + h), (x + width - h, y + h), (x + width - h, y + WIDE - h), (x + WIDE - h, y + WIDE - h)]
    inner += [(x + WIDE - h, y + height - h), (x + h, y + height - h)]
    return polygon(ends) + polygon(inner)


def _text(line: str, place: Point) -> Path:
    block = set_block(line, Style(load_named("tagstrip-regular"), 2.0))
    return block.path.moved(place[0] - block.ink.x0, place[1])
