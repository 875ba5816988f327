"""What the page shows of a job in pictures, and as a body that can be turned."""

import json
from collections.abc import Sequence
from dataclasses import replace

from facegraphic.masks.cut import CutMask, cut_masks
from facegraphic.page.bench import Bench
from facegraphic.page.pictures import pixels_png, sheet_png
from facegraphic.page.state import Shown
from facegraphic.pipeline.previewing import setting
from facegraphic.pipeline.seeing import bare_look, coat_look, face_look, looks
from facegraphic.preview.assemble import assemble
from facegraphic.preview.camera import camera_for
from facegraphic.preview.model import FaceLook
from facegraphic.preview.packed import packed
from facegraphic.preview.picture import box_picture
from facegraphic.stock.faces import SIDES, Side

PREVIEW_PX = (1200, 900)


def face_picture(bench: Bench, side: Side, coat: int | None = None) -> bytes | None:
    """A side as PNG: finished, or after a coat, bare of its print; None if there is no such coat."""
    shown = bench.state.shown
    if shown is None or not 0 <= (coat or 0) <= len(shown.prepared.job.coats):
        return None
    name = f"face {side}" if coat is None else f"face {side} after {coat}"
    return bench.kept.get(name, shown.stamp(side), lambda: pixels_png(_look(bench, shown, side, coat).picture))


def _look(bench: Bench, shown: Shown, side: Side, coat: int | None) -> FaceLook:
    job = shown.prepared.job
    layout = next((layout for layout in shown.prepared.layouts if layout.face.side == side), None)
    if layout is None:
        return bare_look(job, side, coat)
    masks = _masks(bench, shown)
    return face_look(job, layout, masks=masks) if coat is None else coat_look(job, layout, coat, masks=masks)


def _masks(bench: Bench, shown: Shown) -> Sequence[CutMask]:
    """The masks of all coats, which say what paint a print lies on."""
    job = shown.prepared.job
    if not job.coats:
        return ()
    return bench.kept.get("masks", shown.newest, lambda: cut_masks(job, shown.prepared.layouts))


def draw_faces(bench: Bench) -> None:
    """Draw all faces of the job that are not drawn yet."""
    shown = bench.state.shown
    for layout in shown.prepared.layouts if shown else ():
        face_picture(bench, layout.face.side)


def preview_picture(bench: Bench) -> bytes | None:
    """The finished box in three-quarter view, as PNG."""
    shown = bench.state.shown
    return bench.kept.get("preview", shown.newest, lambda: _preview(bench, shown)) if shown else None


def _preview(bench: Bench, shown: Shown) -> bytes:
    prepared = replace(shown.prepared, masks=tuple(_masks(bench, shown)))
    model = assemble(prepared.job, prepared.layouts, setting(prepared.job))
    return pixels_png(box_picture(model, looks(prepared), camera_for(model, size=PREVIEW_PX)))


def model_json(bench: Bench) -> bytes | None:
    """The box and its hardware as meshes, for a browser."""
    shown = bench.state.shown
    return bench.kept.get("model", shown.body, lambda: _model(shown)) if shown else None


def _model(shown: Shown) -> bytes:
    job = shown.prepared.job
    model = assemble(job, shown.prepared.layouts, setting(job))
    return json.dumps(packed(model), separators=(",", ":")).encode("ascii")


def sheet_picture(bench: Bench, number: int) -> bytes | None:
    """A sheet as it is printed, as PNG."""
    judged = bench.state.judged
    places = [(gang, n) for gang in judged.gangs for n in range(len(gang.pages))]
    if not 0 <= number < len(places):
        return None
    gang, page = places[number]
    return bench.kept.get(f"sheet {number}", judged.version, lambda: sheet_png(gang, page))


def known_side(name: str) -> Side | None:
    return next((side for side in SIDES if side == name), None)
