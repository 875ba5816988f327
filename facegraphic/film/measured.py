"""A measured face to look at: the picture seen straight on, with every rim, its middle, id and diameter drawn in."""

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.drill.fit import Fit
from facegraphic.drill.scan.rectify import Frame, flattened
from facegraphic.drill.scan.survey import Survey
from facegraphic.drill.scan.vision import Pixels
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.geometry.shapes import bar, disc, outline_band, rectangle
from facegraphic.job.image import Picture
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.scene.scene import Fill, Image, Item, Scene

MARGIN = 4.0
FOOT = 7.0  # mm under the picture, for what is told there
PER_MM = 12.0
RIM, MIDDLE, PLAN, PAPER, TEXT = "#ff00c8", "#ff00c8", "#00a0ff", "#ffffff", "#101010"
CAP, SMALL = 1.9, 1.6


def measured_scene(pixels: Pixels, survey: Survey, fit: Fit | None = None) -> Scene:
    """The page. With a fit, planned places and names stand in it too; what is out of place is joined to its plan."""
    frame = survey.frame
    width, height = (length + 2 * MARGIN for length in frame.size)
    page = (width, height + FOOT)
    lift = FOOT / 2
    items: list[Item] = [_picture(pixels, frame, (width, height), lift)]
    moved = (-frame.centre[0], lift - frame.centre[1])
    if frame.origin == "outline":
        box = Box.centred(*frame.size, (0.0, lift))
        items.append(Fill(outline_band(rectangle(box.grown(0.12)), rectangle(box.grown(-0.12))), RIM, "evenodd"))
    if fit:
        items += _plan(fit, moved)
    names = {pair.measured.id: pair.planned.id for pair in fit.pairs} if fit else {}
    for hole in survey.holes:
        at = (hole.x + moved[0], hole.y + moved[1])
        items += _ring(at, hole.d, RIM, 0.16)
        items += _cross(at, min(1.2, 0.3 * hole.d), MIDDLE)
        name = f"{hole.id} {names[hole.id]}" if hole.id in names else hole.id
        items += _note(f"{name}  {hole.d:.2f}", (at[0], at[1] - hole.d / 2 - 1.9), (width, height))
    words = f"{len(survey.holes)} holes; x right and y up from the cross, mm" if not fit else _told(fit)
    items.append(Fill(rectangle(Box(-page[0] / 2, -page[1] / 2, page[0] / 2, -page[1] / 2 + FOOT)), PAPER))
    items += _cross((moved[0], moved[1]), 3.0, PLAN)
    items.append(Fill(_line(words, SMALL, page[0] - 4).moved(-page[0] / 2 + 2, -page[1] / 2 + 2.6), TEXT))
    return Scene(*page, tuple(items))


def _picture(pixels: Pixels, frame: Frame, size: tuple[float, float], lift: float) -> Image:
    per_mm = min(PER_MM, frame.pixels_per_mm(frame.centre))
    view = flattened(pixels, frame, per_mm, MARGIN)
    opaque = np.dstack([view, np.full(view.shape[:2], 255, np.uint8)])
    picture = Picture(view.shape[1], view.shape[0], opaque.tobytes())
    return Image(picture, Transform(size[0], 0, 0, size[1], -size[0] / 2, lift - size[1] / 2))


def _ring(at: Point, d: float, ink: str, wide: float) -> list[Item]:
    band = outline_band(disc(at, d + wide), disc(at, max(0.01, d - wide)))
    return [Fill(band, ink, "evenodd")]


def _cross(at: Point, half: float, ink: str) -> list[Item]:
    x, y = at
    return [
        Fill(bar((x - half, y), (x + half, y), 0.14), ink),
        Fill(bar((x, y - half), (x, y + half), 0.14), ink),
    ]


def _line(text: str, cap: float, most: float) -> Path:
    font = load_named("tagstrip-regular")
    readable = "".join("?" if font.missing(c) else c for c in text)
    block = set_block(readable, Style(font, cap))
    if block.ink.width > most:
        block = set_block(readable, Style(font, cap * most / block.ink.width))
    return block.path.moved(-block.ink.x0, 0)


def _note(text: str, at: Point, size: tuple[float, float]) -> list[Item]:
    """A line on a label of its own, middle at a place but never over the page's edge."""
    path = _line(text, CAP, size[0] - 2)
    box = path.bounds
    x = min(max(at[0] - box.width / 2, -size[0] / 2 + 1), size[0] / 2 - 1 - box.width)
    path = path.moved(x, at[1] - CAP / 2)
    return [Fill(rectangle(path.bounds.grown(0.5)), PAPER), Fill(path, TEXT)]


def _plan(fit: Fit, moved: Point) -> list[Item]:
    """Planned holes carried to where they would lie in the picture."""
    items: list[Item] = []
    planned = [(pair.planned, pair.measured if pair.outlier else None) for pair in fit.pairs]
    for spot, strayed in [*planned, *((spot, None) for spot in fit.missing)]:
        x, y = fit.motion.apply(np.array([(spot.x, spot.y)]))[0].tolist()
        at = (x + moved[0], y + moved[1])
        items += _ring(at, max(spot.d, 1.0), PLAN, 0.12)
        if strayed:
            items.append(Fill(bar(at, (strayed.x + moved[0], strayed.y + moved[1]), 0.3), PLAN))
    for spot in fit.missing:
        x, y = fit.motion.apply(np.array([(spot.x, spot.y)]))[0].tolist()
        items += _note(f"{spot.id}  not found", (x + moved[0], y + moved[1]), (1e3, 1e3))
    return items


def _told(fit: Fit) -> str:
    lies = "mirrored " * fit.mirrored + (f"turned by {fit.turned}° " if fit.turned else "")
    parts = [f"{len(fit.pairs)} holes found"]
    parts += [f"{len(fit.outliers)} out of place"] if fit.outliers else []
    parts += [f"{len(fit.missing)} not found"] if fit.missing else []
    parts += [f"{len(fit.extra)} not planned"] if fit.extra else []
    return f"{lies}{', '.join(parts)}; planned blue, measured magenta"
