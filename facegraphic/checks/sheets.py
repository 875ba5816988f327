"""Rules about sheets: faces that do not fit, film that is used up, jobs that want other sheets than they share."""

from collections.abc import Iterator, Sequence
from dataclasses import fields

from facegraphic.errors import Finding
from facegraphic.film.face import Piece
from facegraphic.film.gang import together
from facegraphic.film.sheet import fits, largest_free, needs, paper_that_holds
from facegraphic.job.model import Job, Sheet

Laid = tuple[Job, tuple[Piece, ...]]


def sheet_findings(jobs: Sequence[Laid], alone: bool) -> list[Finding]:
    """What is to be said of the sheets that some jobs share, or of one job's own.

    `alone` says that nothing but sheets is made: then a face that is on none is an error.
    """
    found: list[Finding] = []
    for gang in together(jobs):
        found += [*_left_out(gang, alone), *_used_up(gang), *_differ([job for job, _ in gang])]
    return found


def _left_out(gang: Sequence[Laid], alone: bool) -> Iterator[Finding]:
    """A face must fit on an empty sheet with its bleed, ticks and caption (plain geometry)."""
    lead = gang[0][0]
    sheet, paper = lead.sheet, lead.sheet.paper
    for job, pieces in gang:
        for piece, holds in zip(pieces, fits(pieces, sheet, lead.printer), strict=True):
            if holds:
                continue
            (wide, high), (width, height) = needs(piece, sheet), largest_free(sheet, lead.printer)
            whose = f" of {job.file}" if len(gang) > 1 else ""
            message = (
                f"the {piece.side} face{whose} is on no sheet: with bleed, marks and caption it takes "
                f"{wide:.0f} × {high:.0f} mm; {paper.name} has {width:.0f} × {height:.0f} mm free beside the note"
            )
            other = paper_that_holds([piece], sheet, lead.printer)
            remedy = f'use paper = "{other}"' if other else "use a larger sheet with [sheet] size = [width, height]"
            # Without the sheet nothing would be left of what was asked for, and that is no success.
            yield Finding("sheet-overflow", "error" if alone else "warning", message, remedy, piece.side)


def _used_up(gang: Sequence[Laid]) -> Iterator[Finding]:
    """A started sheet that holds nothing more is better kept for smaller faces (plain geometry)."""
    lead = gang[0][0]
    pieces = [piece for _, pieces in gang for piece in pieces]
    if not lead.sheet.used or not any(fits(pieces, lead.sheet, lead.printer)):
        return
    if not any(fits(pieces, lead.sheet, lead.printer, started=True)):
        paper = lead.sheet.paper.name
        message = f"no face fits on what [sheet] used leaves of the started {paper}, so a fresh sheet is printed"
        remedy = "keep it for smaller faces, or check the used regions: x, y, width, height from the upper left"
        yield Finding("sheet-used-up", "warning", message, remedy)


def _differ(jobs: Sequence[Job]) -> Iterator[Finding]:
    """The first job's [sheet] holds for all that share it; the others' is not done (a rule of this program)."""
    lead = jobs[0]
    keys = [field.name for field in fields(Sheet) if field.name != "copies"]
    for job in jobs[1:]:
        differing = [key for key in keys if getattr(job.sheet, key) != getattr(lead.sheet, key)]
        if differing:
            message = f"{job.file} shares sheets with {lead.file}, whose [sheet] holds: {', '.join(differing)} differ"
            yield Finding("sheets-differ", "warning", message, "give both the same [sheet], or use --apart")
