"""A job file in, a job laid out with all that the checks say of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path

from facegraphic.checks.job import check
from facegraphic.checks.masks import check_masks
from facegraphic.checks.sheets import sheet_findings
from facegraphic.errors import Finding, Problem, UserError, worst_first
from facegraphic.film.face import Piece, piece
from facegraphic.film.guide import guide
from facegraphic.film.sheet import fits
from facegraphic.job.art_work import faults
from facegraphic.job.image import Picture
from facegraphic.job.load import load_job
from facegraphic.job.model import Face, Finish, Job, Printer
from facegraphic.job.reader import key_text
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.cut import CutMask, cut_masks
from facegraphic.masks.plugs import Plug, plugs
from facegraphic.output.drawings import is_black_and_white, work_of
from facegraphic.output.png import render
from facegraphic.pipeline.kinds import FORMATS, KINDS, VIEWS
from facegraphic.pipeline.masking import mask_pieces, mask_sheet
from facegraphic.scene.scene import Scene
from facegraphic.stock.tables import papers

Progress = Callable[[str, int, int], None]
Placer = Callable[[Face, Finish, Mapping[str, str] | None], FaceLayout]


@dataclass(frozen=True)
class Wishes:
    """What a command asks of a job beyond the file; None leaves the file's own.

    `views` are the pictures of the box that the preview has, of `VIEWS`. `earlier` has, by side and hole, where labels
    stood in the last run; staying there is then worth something. `ganged` says that the job shares sheets with others,
    so that its sheets are judged with theirs.
    """

    formats: tuple[str, ...] = FORMATS
    kinds: tuple[str, ...] = KINDS
    dpi: int | None = None
    mirrored: bool | None = None
    paper: str | None = None
    copies: int | None = None
    printer: Printer | None = None
    views: tuple[str, ...] = VIEWS[:1]
    earlier: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    ganged: bool = False

    @property
    def guide(self) -> bool:
        """Whether the drill guide is made: a PDF, so only where PDFs are, or where nothing else has a format at all."""
        return "guide" in self.kinds and ("pdf" in self.formats or not {"art", "sheet", "masks"} & set(self.kinds))


@dataclass(frozen=True)
class Prepared:
    """A job read, laid out and ready to be printed, with all that the checks say of it."""

    job: Job
    layouts: tuple[FaceLayout, ...]
    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]
    masks: tuple[CutMask, ...] = ()
    plugs: tuple[Plug, ...] = ()

    @property
    def sound(self) -> bool:
        return not any(finding.severity == "error" for finding in self.findings)

    @cached_property
    def guide(self) -> tuple[Scene, ...]:
        """The drill guide's pages, true to scale: for its own file, and for the preview's page."""
        return tuple(guide(self.job, self.layouts).pages)


def prepare(path: Path, wishes: Wishes | None = None) -> Prepared:
    """Read and lay out a job. UserError for a file that cannot be read; what else is wrong is in the findings."""
    return prepare_job(load_job(path), wishes)


def prepare_job(job: Job, wishes: Wishes | None = None, place: Placer | None = None) -> Prepared:
    """Lay out a job that has been read. `place` lays out a face; one that remembers saves a second time."""
    return judged(laid_out(job, wishes, place), wishes)


def laid_out(job: Job, wishes: Wishes | None = None, place: Placer | None = None) -> Prepared:
    """A job with its faces laid out, of which nothing is said yet: all that a picture of unpainted ones needs."""
    job = _as_wished(job, wishes or Wishes())
    # Drawings that the engine cannot read, or that take too long, are told before anything else is done.
    heavy = [
        Problem(what, mend, job.file, key=key_text(place))
        for place, what, mend in faults(job.faces, job.finish, work_of)
    ]
    if heavy:
        raise UserError(heavy)
    earlier = wishes.earlier if wishes else {}
    layouts = tuple((place or lay_out)(face, job.finish, earlier.get(face.side)) for face in job.faces)
    return Prepared(job, layouts, tuple(piece(layout, job.finish) for layout in layouts), ())


def with_masks(prepared: Prepared) -> Prepared:
    """A job that is laid out, with its masks and plugs."""
    if prepared.masks or not prepared.job.coats:
        return prepared
    job, layouts = prepared.job, prepared.layouts
    return replace(prepared, masks=cut_masks(job, layouts), plugs=plugs(layouts, job.coats))


def judged(prepared: Prepared, wishes: Wishes | None = None) -> Prepared:
    """A job that is laid out, with its masks and all that the checks say of it."""
    prepared = with_masks(prepared)
    job, layouts, pieces = prepared.job, prepared.layouts, prepared.pieces
    found = [finding for layout in layouts for finding in layout.findings]
    found += [*check(job, layouts, render), *_check_screens(job)]
    if not (wishes and wishes.ganged):
        found += sheet_findings([(job, pieces)], alone=alone(wishes or Wishes()))
    found += [*check_masks(job, layouts, prepared.masks), *_check_mask_sheets(job, prepared.masks, prepared.plugs)]
    return replace(prepared, findings=worst_first(found))


def _as_wished(job: Job, wishes: Wishes) -> Job:
    finish = replace(
        job.finish,
        dpi=wishes.dpi or job.finish.dpi,
        mirrored=job.finish.mirrored if wishes.mirrored is None else wishes.mirrored,
    )
    if wishes.printer or job.printer:
        finish = replace(finish, tolerance=replace(finish.tolerance, print=finish.tolerance.corrected))
    sheet = replace(
        job.sheet,
        paper=papers()[wishes.paper] if wishes.paper else job.sheet.paper,
        copies=wishes.copies or job.sheet.copies,
    )
    return replace(job, finish=finish, sheet=sheet, printer=wishes.printer or job.printer)


def alone(wishes: Wishes) -> bool:
    """Whether sheets are all that is asked for of what is printed."""
    return "sheet" in wishes.kinds and "art" not in wishes.kinds


def _check_mask_sheets(job: Job, masks: Sequence[CutMask], discs: Sequence[Plug]) -> list[Finding]:
    """Say which masks are larger than the paper: they are on no sheet, only on pages of their own."""
    cut = mask_pieces(job, masks, discs)
    fitting = fits(cut, mask_sheet(job), job.printer)
    return [
        Finding(
            "mask-overflow",
            "warning",
            f"{piece.group.id} is {piece.bled.width:.0f} × {piece.bled.height:.0f} mm, larger than what can be printed "
            f"of {job.sheet.paper.name}, so it is on no sheet",
            "use larger paper or less overspray; or print its own page in parts, or cut it by plotter",
            "" if piece.group.id == "plugs" else piece.side,
        )
        for piece, good in zip(cut, fitting, strict=True)
        if not good
    ]


def _check_screens(job: Job) -> list[Finding]:
    """Say which artwork a 1-bit process shows in dots."""
    if job.finish.film.bits > 1:
        return []
    return [
        Finding(
            "art-screened",
            "note",
            f"{art.name} has colours or greys, which {job.finish.film.name} shows in black dots",
            "draw it in pure black and white to keep its edges sharp",
            face.side,
        )
        for face in job.faces
        for art in face.arts
        if isinstance(art.image, Picture) or art.opacity < 1 or not is_black_and_white(art.image)
    ]
