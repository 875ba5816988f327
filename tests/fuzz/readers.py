"""The readers that files of strangers reach, each as a function of bytes: it returns, or raises UserError."""

import math
from functools import partial
from typing import Any

from fontTools.misc.transform import Transform

from facegraphic.drill.model import Reading
from facegraphic.drill.read import read_holes
from facegraphic.errors import Problem, UserError
from facegraphic.film.face import art_scene
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import rectangle
from facegraphic.job.drawn import MOST_WORK
from facegraphic.job.files import Files
from facegraphic.job.image import Drawing, Picture, Screen
from facegraphic.job.load import load_job
from facegraphic.job.model import Job, Printer
from facegraphic.job.printers import FILE, read_printers, with_printer
from facegraphic.job.reader import Notes, Table
from facegraphic.job.scans import scan_dpi, scan_pixels
from facegraphic.lettering.font import Font
from facegraphic.lettering.text import Style, set_block
from facegraphic.output.dots import settled
from facegraphic.output.drawings import RECORDINGS, is_black_and_white, work_of
from facegraphic.output.png import png_bytes
from facegraphic.output.svg import svg_bytes
from facegraphic.pipeline.preparing import Prepared, prepare_job
from facegraphic.scene.scene import Grid, Group, Image, Scene, Screened, ScreenedArt
from facegraphic.units import MM_PER_INCH

from .folder import folder
from .limits import afresh

PAGE, DPI = 25.4, 200  # mm and pixels to the inch of the page that artwork is drawn on
LETTERED = b"""\
title = "HI"
[box]
size = [40, 30, 20]
[finish]
process = "waterslide-clear"
ink = "#000000"
font = "font.ttf"
[[face]]
side = "top"
hole = [{ id = "a", at = [0, 0], d = 7 }]
[[face.control]]
hole = "a"
label = "HI"
[[face.text]]
text = "HIHIHIH"
at = [0, 10]
"""


def read_job(data: bytes) -> Job:
    path = folder() / "job.toml"
    path.write_bytes(data)
    return load_job(path)


def lay_out(data: bytes) -> Prepared:
    """A job that can be read is laid out and checked too: what a figure leads to is seen only there."""
    return prepare_job(read_job(data))


def read_drilled(data: bytes) -> Reading:
    reading = read_holes(data, "holes")
    for hole in reading.holes if not reading.problems else ():
        if not (math.isfinite(hole.x) and math.isfinite(hole.y) and 0 < hole.d < math.inf):
            raise AssertionError(f"an unsound hole came out: {hole}")
    for said in (*reading.notes, *reading.problems):
        str(said)
    return reading


def _named(data: bytes, name: str) -> tuple[Files, Table, Notes]:
    (folder() / name).write_bytes(data)
    notes = Notes("job.toml", {})
    return Files(folder()), Table(notes, (), {"file": name}), notes


def read_art(data: bytes) -> object:
    """A drawing read, told whether it is black and white, drawn on pixels, written as SVG, and taken as an area."""
    files, table, notes = _named(data, "art.svg")
    found = files.art(table, "file", "art.svg")
    if isinstance(found, Drawing):
        _draw(found)
        afresh()
        files.painted(table, "file", "art.svg")
    if notes.problems:
        raise UserError(notes.problems)
    return found


def _draw(drawing: Drawing) -> None:
    """The drawing on a page of its own, in every way that pages with artwork are written."""
    work = work_of(drawing)  # first, as the program does
    if work.whole > MOST_WORK:
        raise UserError(Problem(f"it comes to {work.whole} steps, most of it by its {work.most}", work.mend))
    is_black_and_white(drawing)
    place = Transform(PAGE, 0, 0, PAGE, -PAGE / 2, -PAGE / 2)
    whole = rectangle(Box(-PAGE / 2, -PAGE / 2, PAGE / 2, PAGE / 2))
    art = Group((Image(drawing, place, id="art"),), "art-1", clip=whole)
    try:
        for scene in (Scene(PAGE, PAGE, (art,)), Scene(PAGE, PAGE, (_screened(art, whole),), bits=1)):
            for write in (partial(png_bytes, dpi=DPI), svg_bytes):
                afresh()
                write(scene)
    finally:
        RECORDINGS.clear()
        settled.cache_clear()


def _screened(art: Group, whole: Path) -> Screened:
    screen = Screen("dots", 45.0, 30.0)
    grid = Grid(round(PAGE * DPI / MM_PER_INCH), round(PAGE * DPI / MM_PER_INCH), MM_PER_INCH / DPI)
    return Screened((ScreenedArt(art, screen),), whole, grid, 0.2, 0.2, "#000000", "top-art")


def read_picture(data: bytes) -> object:
    files, table, notes = _named(data, "art.png")
    found = files.art(table, "file", "art.png")
    scan_dpi(data)
    if isinstance(found, Picture):
        if len(found.pixels) != 4 * found.width * found.height:
            raise AssertionError("a picture with too few or too many bytes")
        scan_pixels(data, "scan")
    if notes.problems:
        raise UserError(notes.problems)
    return found


def read_font(data: bytes) -> object:
    """A font opened, a text set in it, then a small job laid out and checked with it, and its face written."""
    files, table, notes = _named(data, "font.ttf")
    table.data = {"font": "font.ttf"}
    found = files.named_font(table, "font")
    if notes.problems:
        raise UserError(notes.problems)
    if isinstance(found, Font):
        _set(found)
        prepared = prepare_job(read_job(LETTERED))
        for piece in prepared.pieces:
            svg_bytes(art_scene(piece, 24))
    return found


def _set(font: Font) -> None:
    text = "HIRATE\nÉ09"
    font.missing(text)
    block = set_block(text, Style(font, 3.0))
    box: Any = block.ink
    figures = (font.stem, font.cap_height, box.x0, box.y0, box.x1, box.y1)
    if not all(map(math.isfinite, figures)):
        raise AssertionError(f"lettering without sound figures: {figures}")


def read_printer_file(data: bytes) -> object:
    """The file of printers read, then one more written into it and read again."""
    place = folder() / "config"
    place.mkdir(exist_ok=True)
    (place / FILE).write_bytes(data)
    before = read_printers(place)
    more = Printer("office laser", 99.2, 100.4)
    (place / FILE).write_bytes(with_printer(place, more))
    if read_printers(place) != {**before, more.name: more}:
        raise AssertionError("a printer that was kept made others of those that were there")
    return before
