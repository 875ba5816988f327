"""Files out of prepared jobs: art, sheets, preview, steps, report."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from facegraphic.checks.sheets import sheet_findings
from facegraphic.errors import Finding, Problem, UserError
from facegraphic.film.correction import corrected
from facegraphic.film.face import art_scene
from facegraphic.film.gang import Gang, lay_gangs
from facegraphic.film.guide import guide_sheet
from facegraphic.film.plate import plates
from facegraphic.film.steps import StepFacts, steps_text
from facegraphic.masks.spraying import spraying, stuff
from facegraphic.output.engine import cairo
from facegraphic.output.formats import drawn
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import pixel_size
from facegraphic.output.report import Output, gang_report, report
from facegraphic.pipeline.masking import NO_MASKS, mask_files
from facegraphic.pipeline.preparing import Prepared, Progress, Wishes, alone
from facegraphic.pipeline.previewing import Awaited, in_turn, preview_files, preview_names
from facegraphic.scene.scene import Scene

Files = dict[str, bytes]
Run = Callable[[Any, Iterable[Any]], Iterable[Any]]
GUIDE = "drill-guide.pdf"


def in_silence(name: str, done: int, total: int) -> None:
    """Tell nobody."""


@dataclass(frozen=True)
class _Page:
    """A page to be written in every format asked for; `prints` is how often a sheet is to be printed."""

    stem: str
    kind: str
    side: str | None
    scene: Scene
    mirrored: bool
    dpi: int
    prints: int | None = None


def make(prepared: Prepared, wishes: Wishes, progress: Progress = in_silence, pictures: Awaited | None = None) -> Files:
    """Every file of a job by name, ``report.json`` last. UserError if a finding of severity error stands.

    `progress` is told each file's name before it is made, with how many are done by then and how many there will be.
    `pictures` are those of the box where they have been begun, as they take longest.
    """
    require_sound([prepared])
    gang = lay_gangs([(prepared.job, prepared.pieces)]) if {"sheet", "steps"} & set(wishes.kinds) else ()
    pages = [*_art_pages(prepared, wishes.kinds), *(_sheet_pages(gang) if "sheet" in wishes.kinds else ())]
    own = _own_files(prepared, wishes, pages, progress, pictures or in_turn(prepared, wishes))
    return {**own.files, **_texts(prepared, wishes, gang, own)}


@dataclass(frozen=True)
class GangFiles:
    """The files of each job in the order of the jobs, and those of the sheets that they share."""

    jobs: tuple[Files, ...]
    sheets: Files
    findings: tuple[Finding, ...]


def make_gang(
    prepared: Sequence[Prepared], wishes: Wishes, place: str, progress: Progress = in_silence, run: Run = map
) -> GangFiles:
    """Every file of several jobs whose faces share sheets; `place` is the name of the sheets' folder, for the steps.

    `run` is `map`, or another that does the same in several processes, where `progress` must go too. UserError if a
    finding of severity error stands in any of the jobs.
    """
    require_sound(prepared)
    laid = [(one.job, one.pieces) for one in prepared]
    findings = sheet_findings(laid, alone(wishes))
    require_no_error(findings, place)
    shared = lay_gangs(laid)
    made = []
    for one, own in zip(prepared, run(partial(_gang_member, wishes, progress), prepared), strict=True):
        mine = tuple(gang for gang in shared if any(job is one.job for job in gang.jobs))
        made.append({**own.files, **_texts(one, wishes, mine, own, place)})
    sheets, outputs = _written_pages(list(_sheet_pages(shared)), wishes, progress)
    sheets["report.json"] = gang_report(shared, outputs, findings).encode("utf-8")
    return GangFiles(tuple(made), sheets, tuple(findings))


def _gang_member(wishes: Wishes, progress: Progress, prepared: Prepared) -> "_Own":
    pages = list(_art_pages(prepared, wishes.kinds))
    return _own_files(prepared, wishes, pages, progress, in_turn(prepared, wishes))


def require_sound(prepared: Iterable[Prepared]) -> None:
    """UserError with all findings of severity error of some jobs."""
    wrong = [problem for one in prepared for problem in _errors(one.findings, one.job.file)]
    if wrong:
        raise UserError(wrong)


def require_no_error(findings: Iterable[Finding], file: str) -> None:
    """UserError with all of some findings that are errors."""
    if wrong := _errors(findings, file):
        raise UserError(wrong)


def _errors(findings: Iterable[Finding], file: str) -> list[Problem]:
    return [Problem(f.message, f.remedy, file, key=f.side) for f in findings if f.severity == "error"]


def _art_pages(prepared: Prepared, kinds: Iterable[str]) -> Iterator[_Page]:
    job = prepared.job
    if "art" in kinds:
        for face in prepared.pieces:
            scene = art_scene(face, job.finish.film.bits)
            wanted = {"art": ("art", scene)} | {name: (f"{name}-plate", plate) for name, plate in plates(scene).items()}
            for name, (kind, shown) in wanted.items():
                sent = corrected(shown, job.printer)
                yield _Page(f"{face.side}-{name}", kind, face.side, sent, job.finish.mirrored, job.finish.dpi)


def _sheet_pages(shared: Iterable[Gang]) -> Iterator[_Page]:
    for gang in shared:
        for stem, page in zip(gang.stems, gang.pages, strict=True):
            scene = corrected(page.scene, gang.printer, gang.sheet.paper.size)
            yield _Page(stem, "sheet", None, scene, gang.jobs[0].finish.mirrored, gang.dpi, page.prints)


@dataclass(frozen=True)
class _Own:
    """What a job has without others: its files, what the report says of them, and how its masks are printed."""

    files: Files
    outputs: tuple[Output, ...]
    prints: tuple[str, ...] = ()


def _own_files(
    prepared: Prepared, wishes: Wishes, pages: Sequence[_Page], progress: Progress, pictures: Awaited
) -> _Own:
    """Pages, drill guide, preview and masks of a job."""
    more = len(preview_names(prepared, wishes))
    plans = _guide_pages(prepared) if wishes.guide else []
    if plans:
        cairo()  # loaded here, since Ctrl-C may leave the loading in a thread waiting for ever
    # The guide has most of a job's outlines, but no artwork, for which two threads would wait for each other.
    with ThreadPoolExecutor(1) as beside:
        plan = beside.submit(pdf_bytes, *plans) if plans else None
        files, outputs = _written_pages(pages, wishes, progress, more)
        count = len(files)
        seen = preview_files(prepared, wishes, lambda name, done: progress(name, count + done, count + more), pictures)
        if plan:
            outputs.append(_guide_output(plans))
            files[GUIDE] = plan.result()
    masks = NO_MASKS
    if "masks" in wishes.kinds:
        masks = mask_files(prepared.job, prepared.masks, prepared.plugs, wishes.formats)
    return _Own({**files, **seen.files, **masks.files}, (*outputs, *seen.outputs, *masks.outputs), masks.prints)


def _written_pages(
    pages: Sequence[_Page], wishes: Wishes, progress: Progress, more: int = 0
) -> tuple[Files, list[Output]]:
    """Pages in every format asked for; `more` files are yet to come, as far as progress goes."""
    files: Files = {}
    outputs: list[Output] = []
    wanted = [(page, kind) for page in pages for kind in wishes.formats]
    for done, (page, kind) in enumerate(wanted):
        name = f"{page.stem}.{kind}"
        progress(name, done, len(wanted) + more)
        files[name], output = _file(page, name, kind)
        outputs.append(output)
    return files, outputs


def _guide_pages(prepared: Prepared) -> list[Scene]:
    """The drill guide's pages, all of one size."""
    job, paper = prepared.job, guide_sheet(prepared.job.sheet).paper
    return [corrected(page, job.printer, paper.size) for page in prepared.guide]


def _guide_output(pages: Sequence[Scene]) -> Output:
    return Output(GUIDE, "guide", None, False, None, (pages[0].width, pages[0].height), pages=len(pages))


def _texts(prepared: Prepared, wishes: Wishes, shared: Sequence[Gang], own: _Own, place: str = "") -> Files:
    """The files that are read: steps and report."""
    job = prepared.job
    texts: Files = {}
    listed = list(own.outputs)
    if "steps" in wishes.kinds:
        coats = spraying(job, prepared.masks, prepared.plugs, own.prints)
        facts = replace(_step_facts(prepared, wishes, shared, place), coats=coats, stuff=stuff(job, prepared.masks))
        texts["steps.md"] = steps_text(job, facts).encode("utf-8")
        listed.append(Output("steps.md", "steps", None, job.finish.mirrored, None, None))
    sheets = shared if "sheet" in wishes.kinds and not place else ()
    text = report(job, prepared.layouts, listed, prepared.findings, sheets, wishes.kinds)
    return {**texts, "report.json": text.encode("utf-8")}


def _step_facts(prepared: Prepared, wishes: Wishes, shared: Sequence[Gang], place: str) -> StepFacts:
    """What the steps tell to print: sheets if there are any, else faces; as PDF if it is made at all."""
    kind = "pdf" if "pdf" in wishes.formats else wishes.formats[0]
    faces = tuple(f"{piece.side}-art.{kind}" for piece in prepared.pieces)
    guide_file = GUIDE if wishes.guide else ""
    if "art" in wishes.kinds and "sheet" not in wishes.kinds:
        return StepFacts((), faces, guide=guide_file)
    sheets = [
        (f"{place}/{stem}.{kind}" if place else f"{stem}.{kind}", page)
        for gang in shared
        for stem, page in zip(gang.stems, gang.pages, strict=True)
        if any(gang.jobs[lying.lot] is prepared.job for lying in page.lying)
    ]
    mine = [gang for gang in shared if any(job is prepared.job for job in gang.jobs)]
    others = [job.title or job.file for gang in mine for job in gang.jobs if job is not prepared.job]
    return StepFacts(tuple(sheets), faces, mine[0].sheet if mine else None, tuple(others), guide_file)


def _file(page: _Page, name: str, kind: str) -> tuple[bytes, Output]:
    scene = page.scene
    output = Output(name, page.kind, page.side, page.mirrored, None, (scene.width, scene.height), prints=page.prints)
    if kind == "png":
        width, height = pixel_size(scene, page.dpi)
        centre = (width / 2, height / 2) if page.side else None
        output = replace(output, dpi=page.dpi, size_px=(width, height), centre_px=centre)
    return drawn(scene, kind, page.dpi), output
