"""The way through the house: a job file in, findings and files out. What the command line and the page both call."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from facegraphic.checks.job import check
from facegraphic.errors import Finding, Problem, UserError, worst_first
from facegraphic.film.card import card, holds_card
from facegraphic.film.correction import corrected, printable
from facegraphic.film.face import Piece, art_scene, piece
from facegraphic.film.ruler import holds_ruler, ruler
from facegraphic.film.sheet import SheetNote, fits, paper_that_holds, sheets
from facegraphic.film.specimen import specimen
from facegraphic.film.steps import StepFacts, steps_text
from facegraphic.job.load import load_job
from facegraphic.job.model import Drawing, Job, Picture, Printer
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout
from facegraphic.lettering.font import Font
from facegraphic.lettering.library import family_of, load_named, symbols
from facegraphic.output.drawings import is_black_and_white, recording
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import pixel_size, png_bytes, render
from facegraphic.output.report import Output, report
from facegraphic.output.svg import svg_bytes
from facegraphic.scene.scene import Scene
from facegraphic.stock.tables import Paper, papers

FORMATS = ("svg", "png", "pdf")
KINDS = ("art", "sheet", "steps")


@dataclass(frozen=True)
class Wishes:
    """What a command asks of a job beyond the file; None leaves the file's own.

    `earlier` has, by side and hole, where labels stood in the last run; staying there is then worth something.
    """

    formats: tuple[str, ...] = FORMATS
    kinds: tuple[str, ...] = KINDS
    dpi: int | None = None
    mirrored: bool | None = None
    paper: str | None = None
    printer: Printer | None = None
    earlier: Mapping[str, Mapping[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Prepared:
    """A job read, laid out and ready to be printed, with all that the checks say of it."""

    job: Job
    layouts: tuple[FaceLayout, ...]
    pieces: tuple[Piece, ...]
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
    earlier = wishes.earlier if wishes else {}
    layouts = tuple(lay_out(face, job.finish, earlier.get(face.side)) for face in job.faces)
    pieces = tuple(piece(layout, job.finish) for layout in layouts)
    found = [finding for layout in layouts for finding in layout.findings]
    found += [*check(job, layouts, render), *_check_sheets(job, pieces, wishes or Wishes()), *_check_screens(job)]
    return Prepared(job, layouts, pieces, worst_first(found))


def _as_wished(job: Job, wishes: Wishes) -> Job:
    finish = replace(
        job.finish,
        dpi=wishes.dpi or job.finish.dpi,
        mirrored=job.finish.mirrored if wishes.mirrored is None else wishes.mirrored,
    )
    paper = papers()[wishes.paper] if wishes.paper else job.paper
    return replace(job, finish=finish, paper=paper, printer=wishes.printer or job.printer)


Progress = Callable[[str, int, int], None]


def make(prepared: Prepared, wishes: Wishes, progress: Progress = lambda name, done, total: None) -> dict[str, bytes]:
    """Every file of a job by name, ``report.json`` last. UserError if a finding of severity error stands.

    `progress` is told each file's name before it is made, with how many are done by then and how many there will be.
    """
    if not prepared.sound:
        raise UserError(
            Problem(finding.message, finding.remedy, prepared.job.file, key=finding.side)
            for finding in prepared.findings
            if finding.severity == "error"
        )
    files: dict[str, bytes] = {}
    outputs: list[Output] = []
    wanted = [(page, kind) for page in _pages(prepared, wishes.kinds) for kind in wishes.formats]
    for done, (page, kind) in enumerate(wanted):
        name = f"{page.stem}.{kind}"
        progress(name, done, len(wanted))
        files[name], output = _file(prepared.job, page, name, kind)
        outputs.append(output)
    if "steps" in wishes.kinds:
        files["steps.md"] = steps_text(prepared.job, _step_facts(prepared, wishes)).encode("utf-8")
        outputs.append(Output("steps.md", "steps", None, prepared.job.finish.mirrored, None, None))
    text = report(prepared.job, prepared.layouts, outputs, prepared.findings)
    return {**files, "report.json": text.encode("utf-8")}


def _pages(prepared: Prepared, kinds: Iterable[str]) -> Iterator[_Page]:
    job = prepared.job
    if "art" in kinds:
        for face in prepared.pieces:
            scene = art_scene(face, job.finish.film.bits)
            yield _Page(f"{face.side}-art", "art", face.side, corrected(scene, job.printer))
    if "sheet" in kinds:
        for number, scene in enumerate(_sheets(prepared), 1):
            yield _Page(f"sheet-{number}", "sheet", None, corrected(scene, job.printer, job.paper.size))


def _sheets(prepared: Prepared) -> list[Scene]:
    """The sheets in true mm."""
    job = prepared.job
    note = SheetNote(job.title, job.finish, job.printer)
    return sheets(prepared.pieces, printable(job.paper, job.printer), note)


def _step_facts(prepared: Prepared, wishes: Wishes) -> StepFacts:
    """What the steps tell to print: sheets if there are any, else faces; as PDF if it is made at all."""
    kind = "pdf" if "pdf" in wishes.formats else wishes.formats[0]
    count = 0 if wishes.kinds == ("art", "steps") else len(_sheets(prepared))
    stems = [f"sheet-{number}" for number in range(1, count + 1)]
    faces = tuple(f"{piece.side}-art.{kind}" for piece in prepared.pieces)
    return StepFacts(tuple(f"{stem}.{kind}" for stem in stems), faces)


def _check_sheets(job: Job, pieces: Sequence[Piece], wishes: Wishes) -> list[Finding]:
    """Say when a face is larger than the paper, and which paper would hold it."""
    if not pieces or fits(pieces, printable(job.paper, job.printer)):
        return []
    other = paper_that_holds(pieces, job.printer)
    remedy = f'use paper = "{other}"' if other else "use a larger sheet with [sheet] size = [width, height]"
    message = f"a face with its bleed is larger than the paper {job.paper.name}, so no sheet is made"
    # Without the sheet nothing would be left of what was asked for, and that is no success.
    alone = "sheet" in wishes.kinds and "art" not in wishes.kinds
    return [Finding("sheet-overflow", "error" if alone else "warning", message, remedy)]


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


def make_ruler(paper: Paper, printer: Printer | None = None, dpi: int = 600) -> dict[str, bytes]:
    """The printer test page by file name; for a printer, corrected so that its bars come out true."""
    room = printable(paper, printer)
    if not holds_ruler(room):
        raise UserError(
            Problem(f"the test page does not fit on {paper.name} as this printer prints it", "use A3 or A4")
        )
    scene = corrected(ruler(room, printer), printer, paper.size)
    return {f"ruler.{kind}": _written(scene, kind, dpi) for kind in FORMATS}


def make_card(paper: Paper, printer: Printer | None = None, dpi: int = 600) -> dict[str, bytes]:
    """The card for scans and photos by file name; for a printer, corrected so that it comes out true."""
    room = printable(paper, printer)
    if not holds_card(room):
        raise UserError(Problem(f"the card does not fit on {paper.name} as this printer prints it", "use A4 or Letter"))
    scene = corrected(card(room, printer), printer, paper.size)
    return {f"card.{kind}": _written(scene, kind, dpi) for kind in FORMATS}


def make_specimen(font: Font, formats: tuple[str, ...] = FORMATS, dpi: int = 600) -> dict[str, bytes]:
    """Specimen pages of a font, by file name."""
    family = [load_named(other) for other in family_of(font.name)] or [font]
    scene = specimen(font, family, list(symbols().items()))
    return {f"{font.name}-specimen.{kind}": _written(scene, kind, dpi) for kind in formats}


def _written(scene: Scene, kind: str, dpi: int) -> bytes:
    """A scene as a file of one of `FORMATS`."""
    if kind == "svg":
        return svg_bytes(scene)
    return pdf_bytes(scene) if kind == "pdf" else png_bytes(scene, dpi)
