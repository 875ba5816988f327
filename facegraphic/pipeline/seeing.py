"""How a prepared job looks: faces one by one, as fast as a page needs them, and all five together."""

from collections.abc import Sequence

from facegraphic.job.model import Job
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.cut import CutMask, as_cut, cut_masks
from facegraphic.output.png import render
from facegraphic.pipeline.preparing import Prepared
from facegraphic.preview.finished import DPI, Eye, bare, finished, held, painted
from facegraphic.preview.model import FaceLook, Looks
from facegraphic.stock.faces import SIDES, Side


def eye(job: Job, dpi: int = DPI) -> Eye:
    """What looks at a job, at some dpi, or at less where the box is so large that its faces had too many pixels."""
    return Eye(job, render, held(job, dpi))


def face_look(job: Job, layout: FaceLayout, dpi: int = DPI, masks: Sequence[CutMask] | None = None) -> FaceLook:
    """One face as it will look, from its layout alone; nothing is kept, so equal values give equal pixels.

    `masks` saves working those of the face out once more, where the job has coats.
    """
    return finished(eye(job, dpi), layout, as_cut(layout, job, _masks(job, layout, masks)))


def coat_look(
    job: Job, layout: FaceLayout, number: int, dpi: int = DPI, masks: Sequence[CutMask] | None = None
) -> FaceLook:
    """One face once the coats up to `number` are sprayed, without print; 0 is the bare box."""
    return painted(eye(job, dpi), layout, as_cut(layout, job, _masks(job, layout, masks)), number)


def bare_look(job: Job, side: Side, number: int | None = None, dpi: int = DPI) -> FaceLook:
    """A side that the job has no face for; after the coats up to `number`, or after all."""
    return bare(eye(job, dpi), side, number)


def looks(prepared: Prepared, dpi: int = DPI) -> Looks:
    """All five sides as they will look."""
    job, masks = prepared.job, prepared.masks
    own = {layout.face.side: layout for layout in prepared.layouts}
    return {
        side: face_look(job, own[side], dpi, masks) if side in own else bare_look(job, side, None, dpi)
        for side in SIDES
    }


def coat_looks(prepared: Prepared, number: int, dpi: int = DPI) -> Looks:
    """All five sides once the coats up to `number` are sprayed, without print; 0 is the bare box."""
    job, masks = prepared.job, prepared.masks
    own = {layout.face.side: layout for layout in prepared.layouts}
    return {
        side: coat_look(job, own[side], number, dpi, masks) if side in own else bare_look(job, side, number, dpi)
        for side in SIDES
    }


def _masks(job: Job, layout: FaceLayout, masks: Sequence[CutMask] | None) -> Sequence[CutMask]:
    if masks is None:
        return cut_masks(job, (layout,)) if job.coats else ()
    return masks
