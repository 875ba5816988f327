"""The preview's page of a job, put together from the package's own pictures."""

import io
from collections.abc import Sequence
from pathlib import Path

from PIL import Image

from facegraphic.film.face import Piece
from facegraphic.film.guide import guide
from facegraphic.masks.drawn import mask_piece
from facegraphic.output.html import preview_html
from facegraphic.output.png import pixels_bytes, render
from facegraphic.pipeline import prepare
from facegraphic.pipeline.seeing import coat_looks, looks
from facegraphic.preview.assemble import assemble
from facegraphic.preview.camera import camera_for
from facegraphic.preview.finished import body_paint
from facegraphic.preview.pages import Leaf, PreviewPages, Stage
from facegraphic.preview.picture import box_picture
from facegraphic.preview.tones import material
from facegraphic.scene.scene import Scene

DPI = 200


def page_of(path: Path) -> bytes:
    """The page of a job file, with its own still picture."""
    prepared = prepare(path)
    job = prepared.job
    model, worn = assemble(job, prepared.layouts), looks(prepared)
    still = pixels_bytes(box_picture(model, worn, camera_for(model, "three-quarter", (1200, 900))))
    coats = range(len(job.coats) + 1) if job.coats else ()
    titles = ["Bare", *(f"Coat {number}" for number in coats[1:])]
    stages = tuple(
        Stage(titles[number], coat_looks(prepared, number), material("paint", body_paint(job, number)))
        for number in coats
    )
    drawn = [mask_piece(mask, len(job.coats)) for mask in prepared.masks]
    pages = guide(job, prepared.layouts).pages
    shown = PreviewPages(
        still,
        worn,
        stages,
        _leaves(prepared.pieces, job.finish.mirrored),
        _leaves(drawn, False),
        tuple(Leaf(_png(page), f"Drill guide, page {number}") for number, page in enumerate(pages, 1)),
    )
    return preview_html(job.title or path.stem, model, shown)


def _leaves(pieces: Sequence[Piece], mirrored: bool) -> tuple[Leaf, ...]:
    scenes = [(Scene(piece.bled.width, piece.bled.height, (piece.group,)), piece.caption) for piece in pieces]
    return tuple(Leaf(_png(scene), caption, mirrored) for scene, caption in scenes)


def _png(scene: Scene) -> bytes:
    out = io.BytesIO()
    picture: Image.Image = render(scene, DPI)
    picture.save(out, "PNG")
    return out.getvalue()
