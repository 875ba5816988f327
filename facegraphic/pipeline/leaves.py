"""What the preview's page shows beside the box: prints, masks and drill guide as flat pictures, and the coats."""

import math
from collections.abc import Iterator

import numpy as np

from facegraphic.film.face import art_scene
from facegraphic.film.plate import plates
from facegraphic.masks.cut import body_paint
from facegraphic.masks.drawn import mask_piece
from facegraphic.masks.spraying import order_line
from facegraphic.output.png import render
from facegraphic.pipeline.masking import MaskNote, own_page
from facegraphic.pipeline.preparing import Prepared
from facegraphic.pipeline.seeing import coat_looks, looks
from facegraphic.preview.coats import told
from facegraphic.preview.model import Pixels
from facegraphic.preview.pages import Leaf, PreviewPages, Stage
from facegraphic.preview.tones import material
from facegraphic.scene.scene import Scene
from facegraphic.units import MM_PER_INCH

BOX_DPI = 200  # of the faces on the turning box
LEAF_DPI = 120  # of what is printed, cut and drilled
MOST = 2_000_000  # pixels of one of those: large ones are shown less finely
BARE = "Bare box"


def preview_pages(prepared: Prepared, still: Pixels) -> PreviewPages:
    """All that the page shows; `still` is the picture that stands in where no script runs."""
    return PreviewPages(
        still=still,
        finished=looks(prepared, BOX_DPI),
        coats=tuple(_coats(prepared)),
        printed=tuple(_printed(prepared)),
        masks=tuple(_masks(prepared)),
        drill=tuple(_drilled(prepared)),
    )


def _coats(prepared: Prepared) -> Iterator[Stage]:
    """The bare box, and it after each coat; nothing without coats."""
    job = prepared.job
    for number in range(len(job.coats) + 1) if job.coats else ():
        coat = job.coats[number - 1] if number else None
        title = f"{number} {told(coat)}" if coat else BARE
        shell = material("paint", body_paint(job, number))
        yield Stage(title, coat_looks(prepared, number, BOX_DPI), shell)


def _printed(prepared: Prepared) -> Iterator[Leaf]:
    """Every face as it is printed, in true mm, and its plates where it has any."""
    finish = prepared.job.finish
    for piece in prepared.pieces:
        scene = art_scene(piece, finish.film.bits)
        yield Leaf(_picture(scene), piece.caption, finish.mirrored)
        for name, plate in plates(scene).items():
            yield Leaf(_picture(plate), f"{piece.side}, {name} plate", finish.mirrored)


def _masks(prepared: Prepared) -> Iterator[Leaf]:
    job = prepared.job
    note = MaskNote(job.title, job.finish, job.printer, order_line(job))
    for mask in prepared.masks:
        page = own_page(mask_piece(mask, len(job.coats)), note)
        yield Leaf(_picture(page), f"{mask.one.side}, coat {mask.one.number}: {told(mask.one.coat)}")


def _drilled(prepared: Prepared) -> Iterator[Leaf]:
    if not any(layout.holes for layout in prepared.layouts):
        return
    for number, page in enumerate(prepared.guide, 1):
        yield Leaf(_picture(page), f"drill guide, page {number} of {len(prepared.guide)}")


def _picture(scene: Scene) -> Pixels:
    finest = math.sqrt(MOST / (scene.width * scene.height)) * MM_PER_INCH
    picture = render(scene, max(1, min(LEAF_DPI, math.floor(finest))))
    return np.asarray(picture if picture.mode == "RGB" else picture.convert("L"))
