"""``report.json``: what was made of a job, for other programs. Lengths are mm, never mirrored."""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from facegraphic import __version__
from facegraphic.drill.measured import fit_record
from facegraphic.errors import Finding
from facegraphic.film.gang import Gang
from facegraphic.film.registration import Fit, fits
from facegraphic.job.model import Finish, Job, Printer
from facegraphic.layout.model import FaceLayout, Legend, PlacedHole


@dataclass(frozen=True)
class Output:
    """A file that was written.

    `size_mm` is for pages, `size_px` is for rasters, `centre_px` (where the face centre falls) for those of one face,
    `prints` (how often it is to be printed) for sheets, `pages` for files of several.
    """

    file: str
    kind: str
    side: str | None
    mirrored: bool
    dpi: int | None
    size_mm: tuple[float, float] | None
    size_px: tuple[int, int] | None = None
    centre_px: tuple[float, float] | None = None
    prints: int | None = None
    pages: int | None = None


def report(
    job: Job,
    layouts: Sequence[FaceLayout],
    outputs: Sequence[Output],
    findings: Sequence[Finding],
    gangs: Sequence[Gang] = (),
    kinds: Sequence[str] = (),
) -> str:
    """The report as JSON text, keys in a fixed order; `gangs` are the sheets that were made for this job alone, `kinds`
    what was asked for.
    """
    data = {
        "facegraphic": __version__,
        "job": job.file,
        "title": job.title,
        "process": job.finish.film.name,
        "mirrored": job.finish.mirrored,
        "box": {"name": job.box.name, "size": list(job.box.size), "lies": [_r(job.across), _r(job.deep)]},
        "printer": _printer(job.printer) if job.printer else None,
        "tolerance": _tolerance(job.finish),
        "faces": [_face(layout, job.finish) for layout in layouts],
        "sheets": [record for gang in gangs for record in sheet_records(gang)],
        "least_sheets": sum(gang.least for gang in gangs),
        "asked": list(kinds),
        "outputs": [_output(output) for output in outputs],
        "findings": [finding_record(finding) for finding in findings],
    }
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def gang_report(gangs: Sequence[Gang], outputs: Sequence[Output], findings: Sequence[Finding]) -> str:
    """The report of sheets that several jobs share, as JSON text."""
    data = {
        "facegraphic": __version__,
        "jobs": [job.file for gang in gangs for job in gang.jobs],
        "sheets": [record for gang in gangs for record in sheet_records(gang)],
        "least_sheets": sum(gang.least for gang in gangs),
        "outputs": [_output(output) for output in outputs],
        "findings": [finding_record(finding) for finding in findings],
    }
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def sheet_records(gang: Gang) -> Iterator[dict[str, Any]]:
    """Each sheet with where its pieces' centres lie, right and down from the paper's upper left corner.

    `film_cm2` of a sheet is what one print of it uses up, of a piece what it takes with bleed and gaps. `used_after`
    is what to write as `[sheet] used` to go on with that sheet. `least_sheets` beside the sheets is how few the pieces'
    area alone would ask for.
    """
    for stem, page in zip(gang.stems, gang.pages, strict=True):
        yield {
            "sheet": stem,
            "process": gang.jobs[0].finish.film.name,
            "mirrored": gang.jobs[0].finish.mirrored,
            "printer": gang.printer.name if gang.printer else None,
            "paper": gang.sheet.paper.name,
            "prints": page.prints,
            "started": page.started,
            "film_cm2": round(page.film / 100, 2),
            "used_after": [[*map(_r, (box.x0, box.y0, box.width, box.height))] for box in page.used],
            "pieces": [
                {
                    "job": gang.jobs[lying.lot].file,
                    "side": lying.side,
                    "x": _r(lying.at[0]),
                    "y": _r(lying.at[1]),
                    "turned": lying.turned,
                    "film_cm2": round(lying.area / 100, 2),
                    "cost": round(gang.cost(page, lying), 4) if gang.sheet.price else None,
                }
                for lying in page.lying
            ],
        }


def _printer(printer: Printer) -> dict[str, Any]:
    """What every file is scaled by, across and up; an output's `size_mm` and pixels are those of the scaled file."""
    return {
        "name": printer.name,
        "measured": [printer.across, printer.up],
        "scale": [round(factor, 8) for factor in printer.scale],
    }


def _tolerance(finish: Finish) -> dict[str, float]:
    """How far holes, print and hands are taken to stray: `print` over 100 mm."""
    own = finish.tolerance
    return {"drill": own.drill, "size": own.size, "print": own.print, "place": own.place}


def finding_record(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "side": finding.side or None,
        "at": [_r(length) for length in finding.at] if finding.at else None,
        "message": finding.message,
        "remedy": finding.remedy,
    }


def _hole(placed: PlacedHole, fit: Fit, opened: bool) -> dict[str, Any]:
    """A hole; `clear` is null where no opening is printed, `hides` where no part is named."""
    return {
        "id": placed.hole.id,
        "x": _r(placed.hole.x),
        "y": _r(placed.hole.y),
        "d": _r(placed.hole.d),
        "planned": [_r(length) for length in placed.hole.planned] if placed.hole.planned else None,
        "part": placed.part,
        "cover": _r(placed.cover),
        "clear": _r(fit.clear) if opened else None,
        "hides": None if fit.cover is None else _r(2 * fit.cover),
        "tolerance": {
            "art": {"rss": _r(fit.art.rss), "worst": _r(fit.art.worst)},
            "cover": {"rss": _r(fit.seat.rss), "worst": _r(fit.seat.worst)},
        },
    }


def _face(layout: FaceLayout, finish: Finish) -> dict[str, Any]:
    opened = finish.holes == "clear"
    return {
        "side": layout.face.side,
        "size": [_r(length) for length in layout.face.outline.size],
        "holes": [
            _hole(placed, fit, opened) for placed, fit in zip(layout.holes, fits(layout.face, finish), strict=True)
        ],
        "measured": fit_record(layout.face.fit) if layout.face.fit else None,
        "legends": [_legend(legend) for legend in layout.legends],
        "layout": {"cost": _r(layout.proof.cost), "proved": layout.proof.proved} if layout.proof else None,
    }


def _legend(legend: Legend) -> dict[str, Any]:
    x, y = legend.box.centre
    return {
        "text": legend.text,
        "hole": legend.hole,
        "role": legend.role,
        "place": legend.place,
        "x": _r(x),
        "y": _r(y),
        "w": _r(legend.box.width),
        "h": _r(legend.box.height),
        "angle": legend.angle,
        "cap": _r(legend.block.cap),
    }


def _output(output: Output) -> dict[str, Any]:
    record: dict[str, Any] = {
        "file": output.file,
        "kind": output.kind,
        "side": output.side,
        "mirrored": output.mirrored,
        "dpi": output.dpi,
    }
    if output.size_mm:
        record["size_mm"] = [_r(length) for length in output.size_mm]
    if output.size_px:
        record["size_px"] = list(output.size_px)
    if output.centre_px:
        record["centre_px"] = list(output.centre_px)
    if output.prints:
        record["prints"] = output.prints
    if output.pages:
        record["pages"] = output.pages
    return record


def _r(value: float) -> float:
    """A length to the micron and no minus zero."""
    return round(value, 4) + 0.0
