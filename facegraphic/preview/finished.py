"""Faces as they look in the end, straight on and never mirrored: ink on film on paint, the film cut on its line.

What is printed is drawn as it is printed, without hole marks, cut line and printer correction, then laid on the paint
as `film/colour.py` says of the process; holes are dark, since marks fall out with them. A look has the pixels of the
face's art at its dpi, those past the edge left out. Prints that are black or nothing, which are white plates too, are
drawn as finely as the job prints them and then shown coarser, so that dots keep the tone that they have.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from PIL import Image as PILImage

from facegraphic.film.colour import coded, halftone, to_coded, to_linear
from facegraphic.film.face import face_art
from facegraphic.film.plate import plates
from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import path_of
from facegraphic.geometry.shapes import disc, rectangle
from facegraphic.job.model import Job
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.cut import body_paint
from facegraphic.masks.regions import FaceCoat, covers
from facegraphic.preview.model import FaceLook, Pixels
from facegraphic.preview.relief import etched, filling
from facegraphic.scene.scene import NOWHERE, Fill, Item, Scene
from facegraphic.stock.faces import Outline, Side, face_outline
from facegraphic.units import MM_PER_INCH

Draw: TypeAlias = Callable[[Scene, int], PILImage.Image]
Light: TypeAlias = npt.NDArray[np.float32]

DPI = 200
MOST = 6_000_000  # pixels of a look: larger boxes, a third of a metre and more, are seen less finely
MOST_PRINTED = 30_000_000  # pixels that a print without greys is drawn on
FINEST = 1200  # dpi that prints without greys are drawn at, at most: a pixel is then a tenth of the finest line
DARK = "#101113"  # a hole, as one looks into the box
FILM_EDGE = 0.07  # mm of a white film's core that shows where it is cut (a choice, by looking)
BLACK, WHITE = "#000000", "#ffffff"
STEPS = 65_535  # of linear light, so fine that every coded value comes back


@dataclass(frozen=True)
class Eye:
    """What looks at a job: `draw` renders a scene at some dpi, 1 mm as dpi/25.4 pixels; `dpi` is that of the looks."""

    job: Job
    draw: Draw
    dpi: int = DPI

    def page(self, size: tuple[int, int], items: Sequence[Item], dpi: int = 0, bits: int = 24) -> PILImage.Image:
        """A page of just so many pixels, round the same centre as a face."""
        width, height = (count * MM_PER_INCH / (dpi or self.dpi) for count in size)
        return self.draw(Scene(width, height, tuple(items), bits), dpi or self.dpi)

    def colours(self, size: tuple[int, int], items: Sequence[Item]) -> Pixels:
        return np.asarray(self.page(size, items).convert("RGB"))


def held(job: Job, dpi: int) -> int:
    """The dpi at which looks of a job are drawn where some dpi is asked for: no face has more than `MOST` pixels."""
    largest = max(job.across * job.deep, job.across * job.box.size[2], job.deep * job.box.size[2])
    return max(1, min(dpi, math.floor(math.sqrt(MOST / largest) * MM_PER_INCH)))


def finished(eye: Eye, layout: FaceLayout, coats: Sequence[FaceCoat] = ()) -> FaceLook:
    """A face once all coats are sprayed and the print is on; `coats` are the face's, as their masks leave them open."""
    finish, outline = eye.job.finish, layout.face.outline
    size = _size(outline, finish.bleed, eye.dpi)
    last = len(eye.job.coats)
    under = _paint(eye, layout, coats, last, size)
    laid = _laid(eye, layout, under, size)
    inside, edge, holes = _masks(eye, layout, size)
    laid = _mixed(_mixed(under, laid, inside), DARK, holes)
    if finish.film.look == "white":
        laid = _mixed(laid, WHITE, np.minimum(edge, 255 - holes))
    film = np.minimum(inside, 255 - holes) if finish.film.stays and _is_printed(layout) else None
    return FaceLook(laid, _extent(size, eye.dpi), film)


def painted(eye: Eye, layout: FaceLayout, coats: Sequence[FaceCoat], number: int) -> FaceLook:
    """A face after the coats up to `number`, without its print; 0 is the bare box."""
    size = _size(layout.face.outline, eye.job.finish.bleed, eye.dpi)
    _, _, holes = _masks(eye, layout, size)
    return FaceLook(_mixed(_paint(eye, layout, coats, number, size), DARK, holes), _extent(size, eye.dpi))


def bare(eye: Eye, side: Side, number: int | None = None) -> FaceLook:
    """A side that the job says nothing of, after the coats up to `number` (None: all)."""
    outline = face_outline(eye.job.box, side, eye.job.across, eye.job.deep)
    size = _size(outline, eye.job.finish.bleed, eye.dpi)
    ink = body_paint(eye.job, number)
    return FaceLook(np.broadcast_to(_bytes(ink), (size[1], size[0], 3)).copy(), _extent(size, eye.dpi))


def _pixels(length: float, dpi: int) -> int:
    return max(1, round(length * dpi / MM_PER_INCH))


def _size(outline: Outline, bleed: float, dpi: int) -> tuple[int, int]:
    """The pixels of a look: as many of those of the bled art, round its middle, as come nearest to the face's size."""

    def count(length: float) -> int:
        whole, own = _pixels(length + 2 * bleed, dpi), length * dpi / MM_PER_INCH
        return max(1, whole - 2 * round((whole - own) / 2))

    width, height = map(count, outline.size)
    return (width, height)


def _extent(size: tuple[int, int], dpi: int) -> Box:
    width, height = (count * MM_PER_INCH / dpi for count in size)
    return Box.centred(width, height)


def _is_printed(layout: FaceLayout) -> bool:
    """Whether anything of a face is printed, so that film is laid on it at all."""
    return bool(layout.legends or layout.marks or layout.face.arts or layout.face.ground)


def _masks(eye: Eye, layout: FaceLayout, size: tuple[int, int]) -> tuple[Pixels, Pixels, Pixels]:
    """How far each pixel lies within the outline, on the film's cut edge, and in a hole (0 to 255)."""
    outline = layout.face.outline
    ring = outline.path + outline.grown(-FILM_EDGE).path if min(outline.size) > 1 else NOWHERE
    page = rectangle(_extent(size, eye.dpi).grown(1))
    discs = [Fill(disc((hole.x, hole.y), hole.d), "#0000ff") for hole in layout.face.holes]
    # Red, green and blue tell three things of a pixel at once; a hole goes before the rest.
    items = [Fill(page, BLACK), Fill(outline.path, "#ff0000"), Fill(ring, "#ffff00", "evenodd"), *discs]
    told = eye.colours(size, items)
    holes = told[..., 2].copy()
    return np.maximum(told[..., 0], holes), told[..., 1].copy(), holes


def _paint(eye: Eye, layout: FaceLayout, coats: Sequence[FaceCoat], number: int, size: tuple[int, int]) -> Pixels:
    """The paint of a face, coat upon coat as they are sprayed: areas beside each other would leave a seam."""
    body, face = body_paint(eye.job, number), eye.job.paint
    shown: list[Item] = []
    for one in coats:
        if one.number <= number and covers(one.coat):
            paint = one.coat.paint or face
            if one.whole:  # nothing of what was there is left
                face, shown = paint, []
            else:
                shown.append(Fill(path_of(one.opening), paint, "evenodd"))
    if face != body:
        shown.insert(0, Fill(layout.face.outline.path, face))
    if not shown:
        return np.broadcast_to(_bytes(body), (size[1], size[0], 3)).copy()
    return eye.colours(size, [Fill(rectangle(_extent(size, eye.dpi).grown(1)), body), *shown])


def _laid(eye: Eye, layout: FaceLayout, under: Pixels, size: tuple[int, int]) -> Pixels:
    """The print on the paint, past the outline too."""
    finish = eye.job.finish
    art = face_art(layout, finish, marked=False)
    look = finish.film.look
    if look == "white":
        return eye.colours(size, (art,))
    if look == "clear":
        return _coded(_linear(eye.colours(size, (art,))) * _linear(under))
    if look == "plate":
        parts = plates(Scene(0, 0, (art,)))
        white = 1 - _shares(eye, layout, parts["white"].items, size)[..., np.newaxis]
        colour = _linear(eye.colours(size, parts["colour"].items))
        return _coded(colour * (white + (1 - white) * _linear(under)))
    bare_share = _shares(eye, layout, (art,), size)
    if look == "relief":
        filled = filling(eye.job)
        below = _linear(under if filled is None else np.broadcast_to(_bytes(filled), under.shape))
        return _coded(etched(below, bare_share, eye.dpi))
    # Dots of black on the paint, by the model of `film/colour.py`; with solid black it comes down to one factor.
    factor = _toner()[np.rint(bare_share * 255).astype(np.uint8)]
    return _coded(_linear(under) * factor[..., np.newaxis])


def _shares(eye: Eye, layout: FaceLayout, items: Sequence[Item], size: tuple[int, int]) -> Light:
    """How much of each pixel a print of black or nothing leaves bare, from the pixels that the job prints."""
    finish = eye.job.finish
    box = layout.face.outline.box.grown(finish.bleed)
    dpi = _print_dpi(finish.dpi, box)
    ratio = dpi / eye.dpi
    more = 2 * math.ceil(ratio)  # so that no pixel of the look hangs over the page
    fine = (_pixels(box.width, dpi) + more, _pixels(box.height, dpi) + more)
    printed = eye.page(fine, items, dpi, bits=1).convert("L")
    half = [count * ratio / 2 for count in size]
    part = (fine[0] / 2 - half[0], fine[1] / 2 - half[1], fine[0] / 2 + half[0], fine[1] / 2 + half[1])
    return np.asarray(printed.resize(size, PILImage.Resampling.BOX, box=part), np.float32) / np.float32(255)


def _print_dpi(dpi: int, box: Box) -> int:
    """The dpi that a print without greys is drawn at: its own, or a whole part of it where it is finer than needed."""
    finest = min(FINEST, math.sqrt(MOST_PRINTED / (box.width * box.height)) * MM_PER_INCH)
    return max(1, dpi // math.ceil(dpi / finest))


@cache
def _toner() -> Light:
    """By the share of a pixel that is bare, in 255 parts: how much of the paint's light comes back."""
    return halftone(1 - np.arange(256) / 255, np.zeros(1), np.ones(1)).astype(np.float32)


@cache
def _tables() -> tuple[Light, Pixels]:
    """Coded bytes to linear light, and steps of linear light to coded bytes."""
    back = np.rint(to_coded(np.arange(STEPS + 1) / STEPS) * 255).astype(np.uint8)
    return to_linear(np.arange(256) / 255).astype(np.float32), back


def _linear(picture: Pixels) -> Light:
    return _tables()[0][picture]


def _coded(light: Light) -> Pixels:
    return _tables()[1][(light * np.float32(STEPS) + np.float32(0.5)).astype(np.uint16)]


def _bytes(ink: str) -> Pixels:
    return np.rint(coded(ink) * 255).astype(np.uint8)


def _mixed(below: Pixels, above: Pixels | str, share: Pixels) -> Pixels:
    """One picture or colour over another, as soft as a mask (0 to 255) says."""
    if not share.any():
        return below
    top = _bytes(above) if isinstance(above, str) else above
    # Most pixels are all of one or all of the other: only the rest has to be reckoned.
    usual = 255 if 2 * np.count_nonzero(share) > share.size else 0
    mixed = np.broadcast_to(top if usual else below, below.shape).copy()
    rest = np.nonzero(share != usual)
    weight = share[rest][:, np.newaxis].astype(np.uint16)
    over = top[rest] if top.ndim == 3 else top
    mixed[rest] = (over * weight + below[rest] * (255 - weight) + 127) // 255
    return mixed
