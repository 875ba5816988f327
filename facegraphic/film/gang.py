"""Jobs whose faces share sheets: what may lie together on one film, and the numbers of the sheets."""

from collections.abc import Sequence
from dataclasses import dataclass

from facegraphic.errors import Problem, UserError
from facegraphic.film.face import Piece
from facegraphic.film.sheet import Lot, Lying, Packed, Page, pack_sheets
from facegraphic.film.sheet_marks import SheetNote
from facegraphic.job.model import Job, Printer, Sheet

MOST_PIECES = 5000
NAMED = 3


@dataclass(frozen=True)
class Gang:
    """Jobs of one process that are printed together, and their sheets, of which the first has the number `first`.

    A piece's `lot` on a page is the number of its job in `jobs`. Paper and what is used of it are those of the first
    job's [sheet]. `least` is how few sheets the area of the pieces alone would ask for.
    """

    jobs: tuple[Job, ...]
    pages: tuple[Page, ...]
    first: int = 1
    least: int = 0

    @property
    def sheet(self) -> Sheet:
        return self.jobs[0].sheet

    @property
    def printer(self) -> Printer | None:
        return self.jobs[0].printer

    @property
    def dpi(self) -> int:
        return max(job.finish.dpi for job in self.jobs)

    @property
    def stems(self) -> tuple[str, ...]:
        """The names of the sheets' files, without their endings."""
        return tuple(f"sheet-{number}" for number in range(self.first, self.first + len(self.pages)))

    def cost(self, page: Page, lying: Lying) -> float:
        """What a piece's share of a sheet costs; 0 if no price is known."""
        width, height = self.sheet.paper.size
        return self.sheet.price * page.film / (width * height) * lying.share


def lay_gangs(jobs: Sequence[tuple[Job, tuple[Piece, ...]]]) -> tuple[Gang, ...]:
    """Sheets of some jobs with their faces, those together that one film and one way of printing serve.

    UserError for more pieces than anyone prints. Pieces that do not fit on an empty sheet are left out.
    """
    count = sum(len(pieces) * job.sheet.copies for job, pieces in jobs)
    if count > MOST_PIECES:
        raise UserError(Problem(f"{count} faces at once are more than {MOST_PIECES}", "make fewer copies at a time"))
    packed = [_packed(alike) for alike in together(jobs)]
    total = sum(len(sheets.sheets) for _, sheets in packed)
    made: list[Gang] = []
    first = 1
    for members, sheets in packed:
        note = SheetNote(_titles(members), members[0].finish, members[0].printer)
        made.append(Gang(members, sheets.pages(note, first, total), first, sheets.least))
        first += len(sheets.sheets)
    return tuple(made)


def together(jobs: Sequence[tuple[Job, tuple[Piece, ...]]]) -> list[list[tuple[Job, tuple[Piece, ...]]]]:
    """Jobs by what may share a sheet: the same film, printed the same way round."""
    alike: dict[tuple[object, ...], list[tuple[Job, tuple[Piece, ...]]]] = {}
    for job, pieces in jobs:
        alike.setdefault((job.finish.film.name, job.finish.mirrored, job.finish.sunk), []).append((job, pieces))
    return list(alike.values())


def _packed(alike: Sequence[tuple[Job, tuple[Piece, ...]]]) -> tuple[tuple[Job, ...], Packed]:
    """Jobs that share sheets, and their pieces on these; captions name the job where there are several."""
    lead = alike[0][0]
    several = len(alike) > 1
    lots = [Lot(_title(job) if several else "", pieces, job.sheet.copies) for job, pieces in alike]
    return tuple(job for job, _ in alike), pack_sheets(lots, lead.sheet, lead.printer)


def _title(job: Job) -> str:
    return " ".join(job.title.split()) or job.file


def _titles(jobs: Sequence[Job]) -> str:
    """The titles of some jobs in one line, cut short."""
    titles = [_title(job) for job in jobs] if len(jobs) > 1 else [jobs[0].title]
    more = f" and {len(titles) - NAMED} more" if len(titles) > NAMED else ""
    return ", ".join(titles[:NAMED]) + more
