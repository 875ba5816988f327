"""The files of a job's masks: cut lines for plotters, pages and sheets to be cut by hand."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from facegraphic.film.correction import corrected
from facegraphic.film.face import Piece
from facegraphic.film.sheet import Lot, Page, fits, pack_sheets
from facegraphic.film.sheet_marks import (
    CAPTION,
    NOTE,
    SheetNote,
    bar_length,
    draw_caption,
    draw_note,
)
from facegraphic.geometry.path import IDENTITY, Box, Path
from facegraphic.geometry.shapes import disc
from facegraphic.job.model import Job, Sheet
from facegraphic.masks.cut import CutMask, outlines
from facegraphic.masks.drawn import mask_piece, plug_piece, plug_places
from facegraphic.masks.plugs import Plug
from facegraphic.masks.spraying import CAUTION, order_line
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import pixel_size, png_bytes
from facegraphic.output.report import Output
from facegraphic.scene.scene import Group, Item, Scene

NARROWEST = 110.0  # mm: a page that still holds note and bar
EDGE, GAP = 6.0, 4.0
MARGIN = 2.0  # round the cut lines in their files


@dataclass(frozen=True)
class MaskFiles:
    """Files by name, what the report says of them, and the names of what is to be printed."""

    files: dict[str, bytes]
    outputs: tuple[Output, ...]
    prints: tuple[str, ...]


NO_MASKS = MaskFiles({}, (), ())


@dataclass(frozen=True)
class MaskNote(SheetNote):
    """What the note on a sheet of masks says; `order` is the spraying order."""

    order: str = ""

    @property
    def bits(self) -> int:
        return 24

    def lines(self, place: str, bars: Sequence[float]) -> tuple[str, ...]:
        plain = super().lines(place, bars)[-1]
        title = " ".join(self.title.split())
        return (f"{title} · paint masks · {place}. Never mirrored.".lstrip(" ·"), self.order, plain, CAUTION)


@dataclass(frozen=True)
class _Cutting:
    """Something to be cut: its page, and its cut lines in mm."""

    stem: str
    kind: str
    side: str | None
    piece: Piece
    paths: tuple[Path, ...]


def mask_sheet(job: Job) -> Sheet:
    """The paper that masks are printed on: fresh sheets of the job's size, each mask once."""
    return replace(job.sheet, used=(), copies=1)


def mask_pieces(job: Job, masks: Sequence[CutMask], plugs: Sequence[Plug]) -> tuple[Piece, ...]:
    """All that is to be packed on sheets."""
    pieces = [mask_piece(mask, len(job.coats)) for mask in masks]
    return (*pieces, plug_piece(plugs)) if plugs else tuple(pieces)


def mask_files(job: Job, masks: Sequence[CutMask], plugs: Sequence[Plug], formats: Sequence[str]) -> MaskFiles:
    """Every mask and the plugs: cut lines as SVG and DXF, pages and packed sheets as PDF. Pixels cut nothing, so there
    is a PNG only where nothing else is asked for.
    """
    cuttings = [_mask_cutting(mask, len(job.coats)) for mask in masks]
    cuttings += [_plug_cutting(plugs)] if plugs else []
    note = MaskNote(job.title, job.finish, job.printer, order_line(job))
    desk = _Desk(job, tuple(formats))
    for cutting in cuttings:
        desk.cut(cutting)
        desk.draw(cutting.stem, cutting.kind, cutting.side, own_page(cutting.piece, note))
    pieces = [cutting.piece for cutting in cuttings]
    sheet = mask_sheet(job)
    held = tuple(piece for piece, good in zip(pieces, fits(pieces, sheet, job.printer), strict=True) if good)
    pages = pack_sheets([Lot("", held)], sheet, job.printer).pages(note) if held else ()
    for number, page in enumerate(pages, 1):
        desk.draw(f"mask-sheet-{number}", "mask-sheet", None, page)
    sheets = tuple(output.file for output in desk.outputs if output.kind == "mask-sheet")
    return MaskFiles(desk.files, tuple(desk.outputs), sheets or tuple(desk.files))


def own_page(piece: Piece, note: MaskNote) -> Scene:
    """A page of one piece in true size, with note and caption."""
    width = max(piece.bled.width, NARROWEST) + 2 * EDGE
    height = piece.bled.height + CAPTION + NOTE + GAP + 2 * EDGE
    room = Box(-width / 2 + EDGE, height / 2 - EDGE - NOTE, width / 2 - EDGE, height / 2 - EDGE)
    bars = (bar_length(room.width),)
    centre = piece.bled.centre
    at = (-centre[0], -height / 2 + EDGE + CAPTION - piece.bled.y0)
    items: tuple[Item, ...] = (piece.group, draw_caption(piece, ""))
    lying = Group(items, f"{piece.group.id}-page", transform=IDENTITY.translate(*at))
    return Scene(width, height, (draw_note(note.lines("one page", bars), room, bars), lying))


class _Desk:
    """Files being written."""

    def __init__(self, job: Job, formats: tuple[str, ...]) -> None:
        self.job, self.formats = job, formats
        self.drawn = "pdf" if "pdf" in formats else "png" if formats == ("png",) else ""
        self.files: dict[str, bytes] = {}
        self.outputs: list[Output] = []

    def cut(self, cutting: _Cutting) -> None:
        """Cut lines for a plotter, in true mm whatever the printer."""
        if "svg" not in self.formats:
            return
        # ezdxf takes a while to load, so it is for jobs that have masks.
        from facegraphic.output.cuts import cut_svg_bytes
        from facegraphic.output.dxf import dxf_bytes

        box = Path.joined(cutting.paths).bounds.grown(MARGIN)
        for kind in ("svg", "dxf"):
            name = f"{cutting.stem}.{kind}"
            self.files[name] = cut_svg_bytes(cutting.paths, box) if kind == "svg" else dxf_bytes(cutting.paths)
            size = (box.width, box.height) if kind == "svg" else None
            self.outputs.append(Output(name, cutting.kind, cutting.side, False, None, size))

    def draw(self, stem: str, kind: str, side: str | None, shown: Scene | Page) -> None:
        """A page to be printed and cut by hand."""
        if not self.drawn:
            return
        name = f"{stem}.{self.drawn}"
        if isinstance(shown, Page):
            scene = corrected(shown.scene, self.job.printer, self.job.sheet.paper.size)
        else:
            scene = corrected(shown, self.job.printer)
        dpi = self.job.finish.dpi
        self.files[name] = pdf_bytes(scene) if self.drawn == "pdf" else png_bytes(scene, dpi)
        output = Output(name, kind, side, False, None, (scene.width, scene.height))
        if self.drawn == "png":
            output = replace(output, dpi=dpi, size_px=pixel_size(scene, dpi))
        self.outputs.append(replace(output, prints=shown.prints) if isinstance(shown, Page) else output)


def _mask_cutting(mask: CutMask, count: int) -> _Cutting:
    return _Cutting(mask.stem, "mask", mask.one.side, mask_piece(mask, count), outlines(mask))


def _plug_cutting(plugs: Sequence[Plug]) -> _Cutting:
    discs = tuple(disc(at, diameter) for at, diameter in plug_places(plugs))
    return _Cutting("plugs", "plugs", None, plug_piece(plugs), discs)
