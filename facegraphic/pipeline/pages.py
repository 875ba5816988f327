"""Pages that belong to no job: the printer test page, the card for scans and photos, specimens of lettering."""

from facegraphic.errors import Problem, UserError
from facegraphic.film.card import card, holds_card
from facegraphic.film.correction import corrected, printable
from facegraphic.film.ruler import holds_ruler, ruler
from facegraphic.film.specimen import specimen
from facegraphic.job.model import Printer
from facegraphic.lettering.font import Font
from facegraphic.lettering.library import family_of, load_named, symbols
from facegraphic.output.formats import drawn
from facegraphic.pipeline.kinds import FORMATS
from facegraphic.stock.tables import Paper

Files = dict[str, bytes]


def make_ruler(paper: Paper, printer: Printer | None = None, dpi: int = 600) -> Files:
    """The printer test page by file name; for a printer, corrected so that its bars come out true."""
    room = printable(paper, printer)
    if not holds_ruler(room):
        raise UserError(
            Problem(f"the test page does not fit on {paper.name} as this printer prints it", "use A3 or A4")
        )
    scene = corrected(ruler(room, printer), printer, paper.size)
    return {f"ruler.{kind}": drawn(scene, kind, dpi) for kind in FORMATS}


def make_card(paper: Paper, printer: Printer | None = None, dpi: int = 600) -> Files:
    """The card for scans and photos by file name; for a printer, corrected so that it comes out true."""
    room = printable(paper, printer)
    if not holds_card(room):
        raise UserError(Problem(f"the card does not fit on {paper.name} as this printer prints it", "use A4 or Letter"))
    scene = corrected(card(room, printer), printer, paper.size)
    return {f"card.{kind}": drawn(scene, kind, dpi) for kind in FORMATS}


def make_specimen(font: Font, formats: tuple[str, ...] = FORMATS, dpi: int = 600) -> Files:
    """Specimen pages of a font, by file name."""
    family = [load_named(other) for other in family_of(font.name)] or [font]
    scene = specimen(font, family, list(symbols().items()))
    return {f"{font.name}-specimen.{kind}": drawn(scene, kind, dpi) for kind in formats}
