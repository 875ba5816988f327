"""The box after each coat of paint, side by side, each picture numbered and its paint told in words."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from facegraphic.film.colour import coded, to_linear
from facegraphic.film.guide_text import Hand, broken, line
from facegraphic.film.vision import difference, lab
from facegraphic.geometry.path import Box
from facegraphic.geometry.shapes import rectangle, rounded_rectangle
from facegraphic.job.model import Coat, Job
from facegraphic.preview.finished import Draw
from facegraphic.preview.model import Pixels
from facegraphic.scene.scene import Fill, Item, Scene
from facegraphic.stock.tables import colours
from facegraphic.units import MM_PER_INCH

DPI = 254  # ten pixels to the mm of the captions
PER_MM = DPI / MM_PER_INCH
NUMBER, WORDS, SMALL = Hand(2.4, "tagstrip-bold"), Hand(1.7, "tagstrip-bold"), Hand(1.5)
SWATCH = 5.0  # mm
PAD = 2.4  # mm round a caption and between pictures
HIGH = 10.0  # mm that a caption takes
GROUND, INK, FAINT = "#f4f4f2", "#1b1d1f", "#b9bbbd"
MOST_ABREAST = 5


@dataclass(frozen=True)
class Stage:
    """A picture of the strip: what it shows, its number and words, and its colour if it has one."""

    picture: Pixels
    number: str
    words: str
    told: str
    colour: str | None = None


@cache
def in_words(colour: str) -> str:
    """The nearest name of a colour (CIEDE2000)."""
    own = lab(to_linear(coded(colour)))
    return min(colours(), key=lambda name: difference(own, lab(to_linear(coded(colours()[name])))))


def stages(job: Job, pictures: Sequence[Pixels], end: Pixels) -> tuple[Stage, ...]:
    """The stages of a job: the bare box and each coat in `pictures`, one more than coats, and the finished box."""
    first = Stage(pictures[0], "0", f"bare box, {in_words(job.paint)}", job.paint, job.paint)
    coats = [
        _stage(picture, number, coat)
        for number, (coat, picture) in enumerate(zip(job.coats, pictures[1:], strict=True), 1)
    ]
    return (first, *coats, Stage(end, "", "finished", job.finish.film.title))


def told(coat: Coat) -> str:
    """A coat in words: what it is, and the nearest name of its colour."""
    if coat.paint is None:
        return "clear coat"
    return f"{'primer, ' if coat.kind == 'primer' else ''}{in_words(coat.paint)}"


def _stage(picture: Pixels, number: int, coat: Coat) -> Stage:
    where = " ".join(filter(None, (coat.paint, _where(coat))))
    return Stage(picture, str(number), told(coat), where, coat.paint)


def _where(coat: Coat) -> str:
    return f"on {', '.join(coat.sides)}"


def strip(shown: Sequence[Stage], draw: Draw) -> Pixels:
    """The stages in rows of as many, all pictures of one size; captions below them."""
    high, wide = shown[0].picture.shape[:2]
    rows = math.ceil(len(shown) / MOST_ABREAST)
    abreast = math.ceil(len(shown) / rows)
    pad, below = round(PAD * PER_MM), round(HIGH * PER_MM)
    size = (abreast * (wide + pad) + pad, rows * (high + below + pad) + pad)
    corners = [
        (pad + number % abreast * (wide + pad), pad + number // abreast * (high + below + pad))
        for number in range(len(shown))
    ]
    items: list[Item] = [Fill(rectangle(Box.centred(size[0], size[1])), GROUND)]
    for stage, (left, top) in zip(shown, corners, strict=True):
        x, y = left / PER_MM - size[0] / PER_MM / 2, size[1] / PER_MM / 2 - (top + high) / PER_MM
        items += _caption(stage, Box(x, y - HIGH, x + wide / PER_MM, y))
    page = draw(Scene(size[0] / PER_MM, size[1] / PER_MM, tuple(items)), DPI)
    picture = np.array(page.convert("RGB"))
    for stage, (left, top) in zip(shown, corners, strict=True):
        picture[top : top + high, left : left + wide] = stage.picture
    return picture


def _caption(stage: Stage, room: Box) -> list[Item]:
    """A swatch of the paint with the stage's number in it, and two lines beside it."""
    items: list[Item] = []
    middle, x = room.y1 - PAD - SWATCH / 2, room.x0
    if stage.colour:
        box = Box.centred(SWATCH, SWATCH, (x + SWATCH / 2, middle))
        items += [Fill(rounded_rectangle(box.grown(0.12), 0.9), FAINT), Fill(rounded_rectangle(box, 0.8), stage.colour)]
        x += SWATCH + 1.4
    if stage.number:
        number = line(stage.number, NUMBER, (x, middle))
        items.append(Fill(number.path, INK))
        x = number.path.bounds.x1 + 1.4
    for text, hand, y in ((stage.words, WORDS, middle + 1.4), (stage.told, SMALL, middle - 1.4)):
        first = broken(text, hand, room.x1 - x)[0]
        items.append(Fill(line(first, hand, (x, y)).path, INK))
    return items
