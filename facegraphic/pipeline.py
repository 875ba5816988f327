"""The way through the house: a job file in, findings and files out. What the command line and the page both call."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from facegraphic.checks.job import check
from facegraphic.errors import Finding, Findings, Problem, UserError
from facegraphic.film.face import art_scene, face_art
from facegraphic.film.mirror import as_printed
from facegraphic.film.sheet import Piece, SheetNote, paper_that_holds, sheets
from facegraphic.film.specimen import specimen
from facegraphic.job.load import load_job
from facegraphic.job.model import Drawing, Job, Picture
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout
from facegraphic.lettering.library import family_of, load_named, symbols
from facegraphic.output.drawings import is_black_and_white, recording
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import pixel_size, png_bytes
from facegraphic.output.report import Output, report
from facegraphic.output.svg import svg_bytes
from facegraphic.scene.scene import Scene
from facegraphic.stock.tables import papers

FORMATS = ("svg", "png", "pdf")
KINDS = ("art", "sheet")


@dataclass(frozen=True)
class Wishes:
    """What a command asks of a job beyond the file; None leaves the file's own."""

    formats: tuple[str, ...] = FORMATS
    kinds: tuple[str, ...] = KINDS
    dpi: int | None = None
    mirrored: bool | None = None
    paper: str | None = None


@dataclass(frozen=True)
class Prepared:
    """A job read and laid out, with all that the checks say of it."""

    job: Job
    layouts: tuple[FaceLayout, ...]
    findings: tuple[Finding, ...]

    @property
    def sound(self) -> bool:
        return not any(finding.severity == "error" for finding in self.findings)


@dataclass(frozen=True)
class _Page:
    """A page to be written in every format asked for."""

    stem: str
    kind: str
    side: str | None
    scene: Scene


def prepare(path: Path, wishes: Wishes | None = None) -> Prepared:
    """Read and lay out a job. UserError for a file that cannot be read; what else is wrong is in the findings."""
    job = _as_wished(load_job(path), wishes or Wishes())
    for drawing in {art.image for face in job.faces for art in face.arts if isinstance(art.image, Drawing)}:
        recording(drawing)  # a drawing that the engine cannot read is told before anything else is done
    layouts = tuple(lay_out(face, job.finish) for face in job.faces)
    found = Findings()
    for layout in layouts:
        found.found.extend(layout.findings)
    found.found.extend(check(job, layouts))
    found.found.extend(_check_sheets(job, layouts, wishes or Wishes()))
    found.found.extend(_check_screens(job))
    return Prepared(job, layouts, found.sorted())


def _as_wished(job: Job, wishes: Wishes) -> Job:
    finish = replace(
        job.finish,
        dpi=wishes.dpi or job.finish.dpi,
        mirrored=job.finish.mirrored if wishes.mirrored is None else wishes.mirrored,
    )
    return replace(job, finish=finish, paper=papers()[wishes.paper] if wishes.paper else job.paper)


def make(prepared: Prepared, wishes: Wishes, progress: Callable[[str], None] = lambda name: None) -> dict[str, bytes]:
    """Every file of a job by name, ``report.json`` last. UserError if a finding of severity error stands."""
    if not prepared.sound:
        raise UserError(
            Problem(finding.message, finding.remedy, prepared.job.file, key=finding.side)
            for finding in prepared.findings
            if finding.severity == "error"
        )
    files: dict[str, bytes] = {}
    outputs: list[Output] = []
    for page in _pages(prepared, wishes.kinds):
        for kind in wishes.formats:
            name = f"{page.stem}.{kind}"
            progress(name)
            files[name], output = _file(prepared.job, page, name, kind)
            outputs.append(output)
    text = report(prepared.job, prepared.layouts, outputs, prepared.findings)
    return {**files, "report.json": text.encode("utf-8")}


def file_names(prepared: Prepared, wishes: Wishes) -> list[str]:
    """The names that `make` will give, in its order."""
    names = [f"{page.stem}.{kind}" for page in _pages(prepared, wishes.kinds) for kind in wishes.formats]
    return [*names, "report.json"]


def _pages(prepared: Prepared, kinds: Iterable[str]) -> Iterator[_Page]:
    job = prepared.job
    if "art" in kinds:
        for layout in prepared.layouts:
            printed = as_printed(face_art(layout, job.finish), job.finish.mirrored)
            side = layout.face.side
            yield _Page(f"{side}-art", "art", side, art_scene(layout, job.finish, printed))
    if "sheet" in kinds:
        note = SheetNote(job.title, job.finish, job.finish.mirrored)
        for number, scene in enumerate(sheets(_pieces(job, prepared.layouts), job.paper, note) or (), 1):
            yield _Page(f"sheet-{number}", "sheet", None, scene)


def _pieces(job: Job, layouts: Iterable[FaceLayout]) -> list[Piece]:
    return [
        Piece(
            as_printed(face_art(layout, job.finish), job.finish.mirrored),
            f"{layout.face.side} {layout.face.outline.size[0]:.1f} × {layout.face.outline.size[1]:.1f} mm",
            layout.face.outline.box,
            job.finish.bleed,
        )
        for layout in layouts
    ]


def _check_sheets(job: Job, layouts: Iterable[FaceLayout], wishes: Wishes) -> list[Finding]:
    pieces = _pieces(job, layouts)
    if sheets(pieces, job.paper, SheetNote(job.title, job.finish, job.finish.mirrored)) is not None:
        return []
    other = paper_that_holds(pieces)
    remedy = f'use paper = "{other}"' if other else "use a larger sheet with [sheet] size = [width, height]"
    message = f"a face with its bleed is larger than the paper {job.paper.name}, so no sheet is made"
    # Without the sheet nothing would be left of what was asked for, and that is no success.
    return [Finding("sheet-overflow", "error" if wishes.kinds == ("sheet",) else "warning", message, remedy)]


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


def _file(job: Job, page: _Page, name: str, kind: str) -> tuple[bytes, Output]:
    scene = page.scene
    dpi = job.finish.dpi
    output = Output(name, page.kind, page.side, job.finish.mirrored, None, (scene.width, scene.height))
    if kind == "png":
        width, height = pixel_size(scene, dpi)
        centre = (width / 2, height / 2) if page.kind == "art" else None
        output = replace(output, dpi=dpi, size_px=(width, height), centre_px=centre)
    return _written(scene, kind, dpi), output


def make_specimen(name: str, formats: tuple[str, ...] = FORMATS, dpi: int = 600) -> dict[str, bytes]:
    """Specimen pages of a font of the library, by file name. KeyError for a name that isn't there."""
    scene = specimen(load_named(name), [load_named(other) for other in family_of(name)], list(symbols().items()))
    return {f"{name}-specimen.{kind}": _written(scene, kind, dpi) for kind in formats}


def _written(scene: Scene, kind: str, dpi: int) -> bytes:
    """A scene as a file of one of `FORMATS`."""
    if kind == "svg":
        return svg_bytes(scene)
    return pdf_bytes(scene) if kind == "pdf" else png_bytes(scene, dpi)
