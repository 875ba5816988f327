"""The readers that files of strangers reach, each as a function of bytes: it returns, or raises UserError."""

import math
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from facegraphic.drill.model import Reading
from facegraphic.drill.read import read_holes
from facegraphic.errors import UserError
from facegraphic.job.files import Files
from facegraphic.job.load import load_job
from facegraphic.job.model import Drawing, Picture
from facegraphic.job.reader import Notes, Table
from facegraphic.job.scans import scan_dpi, scan_pixels
from facegraphic.lettering.font import Font
from facegraphic.lettering.text import Style, set_block
from facegraphic.output.drawings import is_black_and_white, recording, svg_elements
from facegraphic.output.engine import cairo
from facegraphic.pipeline.preparing import prepare_job

from . import mutate, seeds

FACE = 200.0  # pixels that artwork is drawn in


@dataclass(frozen=True)
class Target:
    """A reader, the inputs for it, and how many of them the short run takes."""

    name: str
    read: Callable[[bytes], object]
    inputs: Callable[[], mutate.Maker]
    short: int = 300


@cache
def _folder() -> Path:
    """A folder of this process's own, with the examples' files in it."""
    folder = Path(tempfile.mkdtemp(prefix="fuzz-", dir="/dev/shm" if Path("/dev/shm").is_dir() else None))
    for name, data in seeds.job_files().items():
        (folder / name).write_bytes(data)
    return folder


def clean_up() -> None:
    if _folder.cache_info().currsize:
        shutil.rmtree(_folder(), ignore_errors=True)
        _folder.cache_clear()


def read_job(data: bytes) -> object:
    path = _folder() / "job.toml"
    path.write_bytes(data)
    return load_job(path)


def lay_out(data: bytes) -> object:
    """A job that can be read is laid out and checked too: what a figure leads to is seen only there."""
    return prepare_job(read_job(data))  # type: ignore[arg-type]


def read_drilled(data: bytes) -> Reading:
    reading = read_holes(data, "holes")
    for hole in reading.holes if not reading.problems else ():
        if not (math.isfinite(hole.x) and math.isfinite(hole.y) and 0 < hole.d < math.inf):
            raise AssertionError(f"an unsound hole came out: {hole}")
    for said in (*reading.notes, *reading.problems):
        str(said)
    return reading


def _named(data: bytes, name: str) -> tuple[Files, Table, Notes]:
    (_folder() / name).write_bytes(data)
    notes = Notes("job.toml", {})
    return Files(_folder()), Table(notes, (), {"file": name}), notes


def read_art(data: bytes) -> object:
    """A drawing read, told whether it is black and white, drawn on pixels, written as SVG, and taken as an area."""
    files, table, notes = _named(data, "art.svg")
    found = files.art(table, "file", "art.svg")
    if isinstance(found, Drawing):
        _draw(found)
        files.painted(table, "file", "art.svg")
    if notes.problems:
        raise UserError(notes.problems)
    return found


def _draw(drawing: Drawing) -> None:
    is_black_and_white(drawing)
    drawn, width, height = recording.__wrapped__(drawing)
    svg_elements(drawing, "a-")
    surface = cairo().ImageSurface(cairo().FORMAT_ARGB32, int(FACE), int(FACE))
    context = cairo().Context(surface)
    context.scale(FACE / width, FACE / height)
    context.set_source_surface(drawn)
    context.paint()


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
    """A font opened, its glyphs measured and a text set in it."""
    files, table, notes = _named(data, "font.ttf")
    table.data = {"font": "font.ttf"}
    found = files.named_font(table, "font")
    if notes.problems:
        raise UserError(notes.problems)
    if isinstance(found, Font):
        _set(found)
    return found


def _set(font: Font) -> None:
    text = "HIRATE\nÉ09"
    font.missing(text)
    block = set_block(text, Style(font, 3.0))
    box: Any = block.ink
    figures = (font.stem, font.cap_height, box.x0, box.y0, box.x1, box.y1)
    if not all(map(math.isfinite, figures)):
        raise AssertionError(f"lettering without sound figures: {figures}")


_TOML = (
    *(b'"auto"', b'"none"', b'"centre"', b'"lower-left"', b'"dots"', b'"toner-transfer"', b'"toner-resist"'),
    *(b'"service-print"', b'"waterslide-white"', b'"top"', b'"front"', b'"{title}"', b'"{"', b'"../x.csv"', b'""'),
    *(
        b"true",
        b"false",
        b"[]",
        b"{}",
        b"[[]]",
        b"[1, 2]",
        b"[nan, inf]",
        b"1979-05-27",
        b"07:32:00",
        b"0x10",
        b"1e400",
    ),
    *(b"part", b"knob", b"label", b"scale", b"positions", b"nudge", b"place", b"size", b"at", b"hole", b"d", b"tile"),
    *(
        b"[[face.text]]\n",
        b"[[face.control]]\n",
        b"[[coat]]\n",
        b"[board]\n",
        b"[limits]\n",
        b"[tolerance]\n",
        b"a.b.c",
    ),
)
_TABLE = (b"id", b"x", b"y", b"d", b"unit", b"in", b"mm", b"sep=", b"dia", b"x (in)", b'"', b'""', b"#", b"roundness")
_NC = (
    *(
        b"M48\n",
        b"M30\n",
        b"%\n",
        b"T1C1\n",
        b"T2\n",
        b"G85",
        b"G90\n",
        b"G91\n",
        b"G93X1\n",
        b"G00",
        b"G01",
        b"G02",
        b"R",
    ),
    *(b"R999999999X1\n", b"M25\n", b"M97,A\n", b"M70\n", b"ICI,ON\n", b"INCH,TZ\n", b"METRIC,LZ\n", b"M15\n", b"M00\n"),
    *(b"FMAT,1\n", b"N1", b";Holesize 1 = 2 MM\n", b";FILE_FORMAT=9:9\n", b"X", b"Y-", b"A1", b"G32X1Y1A2\n", b"T0\n"),
)
_DXF = (
    *(
        b"  0\nCIRCLE\n",
        b"  0\nARC\n",
        b"  0\nINSERT\n",
        b"  0\nSPLINE\n",
        b"  0\nENDSEC\n",
        b"  0\nEOF\n",
        b" 70\n1\n",
    ),
    *(
        b"  2\nHOLE\n",
        b" 10\n1\n",
        b" 40\n1e300\n",
        b" 41\n0\n",
        b" 70\n32767\n",
        b" 71\n32767\n",
        b"$INSUNITS",
        b"AC1009",
    ),
    *(b"  0\nPOLYLINE\n", b"  0\nVERTEX\n", b"  0\nSEQEND\n", b"  0\nLWPOLYLINE\n", b"  0\nELLIPSE\n", b"  0\nBLOCK\n"),
    *(b"210\n0\n220\n0\n230\n-1\n", b"  5\nFF\n", b"330\nFF\n", b"102\n{ACAD\n", b"100\nAcDbCircle\n"),
)
_SVG = (
    *(
        b"circle",
        b"path",
        b"use",
        b"g",
        b"svg",
        b"symbol",
        b"marker",
        b"clipPath",
        b"linearGradient",
        b"style",
        b"rect",
    ),
    *(b"href", b"id", b"transform", b"d", b"points", b"viewBox", b"width", b"clip-path", b"fill", b"stroke-dasharray"),
    *(b'"url(#g)"', b'"url(#c)"', b'"#u"', b'"#s"', b'"url(#m)"', b'"none"', b'"0 0 0 0"', b'"M0 0"', b'"rotate(1e9)"'),
    *(b'"currentColor"', b'"inherit"', b'"scale(0)"', b'"matrix(1 1 1 1 0 0)"', b'"1,2 3"', b'"50%"', b"<g>", b"</g>"),
    *(
        b"<!--",
        b"<![CDATA[",
        b"<!DOCTYPE svg>",
        b"<?xml version='1.0' encoding='utf-16'?>",
        b'"xMidYMid slice"',
        b"opacity",
    ),
    *(b"a{b:c}", b"a b>c+d~e{x:y}", b":not(a)", b"@media", b"!important", b"M0 0A1 1 0 0 1 2 2", b"m1 1z", b"filter"),
)

_KINDS = (
    Target("job", read_job, lambda: mutate.texts(seeds.jobs(), _TOML)),
    Target("layout", lay_out, lambda: mutate.texts(seeds.jobs(), _TOML), short=6),
    Target("csv", read_drilled, lambda: mutate.texts([text.encode() for text in seeds.CSV], _TABLE)),
    Target("nc", read_drilled, lambda: mutate.texts([text.encode() for text in seeds.NC], _NC)),
    Target("dxf", read_drilled, lambda: mutate.either(
        mutate.texts(seeds.drawings(), _DXF), mutate.binaries(seeds.drawings())
    ), short=150),
    Target("holes", read_drilled, lambda: mutate.texts(seeds.SVG_HOLES, _SVG)),
    Target("art", read_art, lambda: mutate.texts(seeds.art(), _SVG)),
    Target("font", read_font, lambda: mutate.binaries(seeds.fonts())),
    Target("picture", read_picture, lambda: mutate.binaries(seeds.pictures())),
)  # fmt: skip
TARGETS = {target.name: target for target in _KINDS}
