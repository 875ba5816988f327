"""What fuzzing found, each with the smallest input that showed it: now values or an error, at once."""

import itertools
import json
import math
from collections.abc import Callable

import numpy as np
import pytest
from fuzz.limits import run
from fuzz.seeds import composite
from fuzz.targets import TARGETS
from helpers.jobs import chunk, png_file, svg
from PIL import Image, ImageDraw

from facegraphic.drill.scan.card import survey_by_card
from facegraphic.drill.scan.outline import find_outline
from facegraphic.drill.scan.rectify import by_dpi
from facegraphic.drill.scan.survey import survey
from facegraphic.drill.scan.vision import Pixels
from facegraphic.errors import UserError

BINARY = bytes.fromhex("4175746f4341442042696e617279204458460d0a1a00")  # what every binary DXF begins with


def dxf(*lines: str) -> bytes:
    head = ["0", "SECTION", "2", "HEADER", "9", "$ACADVER", "1", "AC1015", "9", "$INSUNITS", "70", "4", "0", "ENDSEC"]
    return "\n".join([*head, *lines, "0", "EOF\n"]).encode()


def lens(bulge: str) -> bytes:
    """A closed line of two arcs."""
    corners = [line for x in "08" for line in ("10", x, "20", "0", "42", bulge)]
    head = ["0", "SECTION", "2", "ENTITIES", "0", "LWPOLYLINE", "5", "3E", "100", "AcDbEntity", "8", "0"]
    return dxf(*head, "100", "AcDbPolyline", "90", "2", "70", "1", *corners, "0", "ENDSEC")


def left(name: str, text: str) -> bytes:
    """A record left in a folder, as the harness for those has it."""
    return f"\n=== {name}\n{text}".encode()


BELIEVED = json.dumps(
    {"asked": "ASKED", "program": "PROGRAM", "made": {"report.json": "HASH-REPORT"}, "read": {"JOB": "HASH-JOB"}}
)
FINDS = [
    # A figure of thousands of digits took time with the square of its length.
    ("csv", b"id,x,y,d\na,1," + b"9" * 60_000 + b",5\n", "values"),
    # A binary DXF that ends amid a figure or a name.
    ("dxf", BINARY + b"S\0F", "values"),
    ("dxf", BINARY + b"S\0x", "values"),
    # What ezdxf does not refuse by an error of its own: a table that nothing ends, a page without a name, arcs that
    # are endlessly round, for which NumPy warned on stderr.
    ("dxf", BINARY + b"\0SECTION\0\2TABLES\0\0TABLE\0\2VPORT\0\0ENDTAB\0\0ENDTAB\0\0ENDSEC\0\0EOF\0", "values"),
    ("dxf", dxf("0", "SECTION", "2", "OBJECTS", "0", "DICTIONARY", "0", "LAYOUT", "330", "F", "0", "ENDSEC"), "values"),
    ("dxf", lens("1e300"), "values"),
    ("dxf", lens("inf"), "values"),
    # A head that speaks of hundreds of digits, and a tool that is sized and moved in one.
    ("nc", b"METRIC,0." + b"0" * 309 + b"\nT2X3\n", "values"),
    # Notes that were read over and over, with the square of their length.
    ("nc", b"M48\nMETRIC\n" + (b";Holesize 1. = " + b"1" * 9900 + b"\n") * 60 + b"T1C3\n%\nT1\nX3Y3\nM30\n", "values"),
    ("nc", b"M48\nMETRIC\n" + (b";FORMAT={ " * 1000 + b"\n") * 60 + b"T1C3\n%\nT1\nX3Y3\nM30\n", "values"),
    # Lengths beyond all measure, or mostly of blanks.
    ("holes", svg('<ellipse rx="3" ry="' + "9" * 40_000 + '"/>'), "values"),
    ("holes", b'<svg width="' + b"9" * 61 + b'mm"></svg>', "values"),
    ("holes", b'<svg width="1' + b" " * 61 + b'mm"></svg>', "values"),
    # An end of a curve at infinity made a library warn on stderr.
    ("holes", svg('<path d="M0 0C1 1e999 2 4 0 4"/>'), "values"),
    # A profile chunk with a name and nothing behind it.
    ("picture", png_file(1, 1, 8, 0, b"x\x9cc\0\0\0\2\0\1", chunk(b"iCCP", b"a")), "refused"),
    # The drawing engine takes a use of nothing for a use of the whole drawing, for ever.
    ("art", svg('<circle r="3"/><use transform="scale(2)"/>'), "values"),
    ("art", svg('<circle r="3"/><use href="#" transform="scale(2)"/>'), "values"),
    # Figures behind a close, which CairoSVG reads for ever.
    ("art", svg('<path d="M0 0h4v4z 8 6 16 6H2"/>'), "values"),
    ("art", svg('<path d="M0 0h4v4Z,-.5"/>'), "values"),
    # An endless figure in an arc, over which the drawing engine ended the process.
    ("art", svg('<path d="M1 1h5a4 3 20 0 1 5 -inf" stroke="#000" stroke-dasharray="1 2"/>'), "refused"),
    # What a parser says of a job may hold a line of any length.
    ("job", b"a = 1\n" + b"box with " * 600 + b"= 2\n", "refused"),
    # So does what the drawing engine says of a figure.
    (
        "art",
        svg('<symbol id="s" viewBox="' + "A" * 9000 + ' 9 9"><path d="M9 9 1 1z"/></symbol><use href="#s"/>'),
        "refused",
    ),
    # Figures so large that an arc is cut without end.
    ("art", svg('<circle r="1e300"/>'), "refused"),
    # Dashes without end: along arcs that are as long as their radii are unlike, and short ones in plenty.
    ("art", svg('<path d="M1 1a1e-9 3 20 0 1 5 5" stroke="#000" stroke-dasharray="1 2"/>'), "refused"),
    ("art", svg('<path d="M1 1a4 3 20 0 1 1e9 5" stroke="#000" stroke-dasharray="1 2"/>'), "refused"),
    ("art", svg('<path d="M1 1a1e20 3 20 0 1 5 5" stroke="#000" stroke-dasharray="1 2"/>'), "refused"),
    ("art", svg('<path d="M0 0H1e6" style="stroke:#000;stroke-dasharray:.1"/>'), "refused"),
    ("art", svg('<g stroke-dasharray=".1" stroke="#000"><path d="M0 0' + "H40H0" * 3000 + '"/></g>'), "refused"),
    # Wide dashes close behind each other, which all cross those of other lines.
    (
        "art",
        svg('<path d="M0 0' + "L40 9L3 40L9 0" * 60 + '" stroke="#000" stroke-width="4" stroke-dasharray=".1"/>'),
        "refused",
    ),
    # A gradient on a line that is level but for a rounding, which the drawing engine takes for a want of memory.
    (
        "art",
        svg('<linearGradient id="h"><stop/></linearGradient><path d="M0 0L5 1e-9 9 0" stroke="url(#h)"/>'),
        "values",
    ),
    # Ids that thousands share, each of which was looked at for each element that names one; gradients go round as well.
    ("art", svg('<linearGradient id="h"/><path d="M0 0h9v9z" fill="url(#h)"/>' * 4000), "refused"),
    (
        "art",
        svg('<clipPath id="h"><path d="M0 0h9v9z"/></clipPath><path d="M0 0h9v9z" clip-path="url(#h)"/>' * 3000),
        "refused",
    ),
    ("art", svg('<g id="h"><path d="M0 0h9v9z"/></g><use href="#h"/>' * 3000), "refused"),
    (
        "art",
        svg(
            '<linearGradient id="h" href="#g"/><linearGradient id="g" href="#h"/><path d="M0 0h9v9z" fill="url(#h)"/>'
            * 2000
        ),
        "refused",
    ),
    # Integers that Python does not write out for their length.
    ("printers", b"[printer]\nup = 1\na = 0x" + b"9" * 5000, "refused"),
    # An area whose outline crosses itself by a rounding once it is turned onto the page.
    (
        "art",
        b'<svg xmlns="http://www.w3.org/2000/svg" height="12mm" viewBox="45 0 9 12">'
        b'<path d="M6.35 3Q5 5 7.55 4.17.5.2 5 4Q7 2 6.355 4.13Q7.60 5.72 6.355 4.13 "/></svg>',
        "values",
    ),
    # A record of a file without a name: all that lay in the folder was taken for what a killed run had left.
    ("left", left(".begun.json", '{"left": [{"file": "", "kind": "art", "hash": ""}]}'), "values"),
    # A record that believes in a report which is none.
    ("left", left(".made.json", BELIEVED) + left("report.json", "[]"), "values"),
    ("left", left(".made.json", BELIEVED) + left("report.json", '{"findings": [{"code": 3}]}'), "values"),
    ("left", left(".made.json", BELIEVED) + left("report.json", "no JSON"), "values"),
]


@pytest.mark.parametrize(("name", "data", "ends"), FINDS)
def test_what_was_found_is_mended(name: str, data: bytes, ends: str) -> None:
    assert run(TARGETS[name].read, data) == ends


def dotted(step: int, wide: int, ring: int = 0) -> Pixels:
    """A picture of light discs, or dark rings, on grey, closely all over."""
    image = Image.new("RGB", (1200, 1200), (190, 190, 190))
    pen = ImageDraw.Draw(image)
    for x, y in itertools.product(range(10, 1190, step), repeat=2):
        box = (x - wide / 2, y - wide / 2, x + wide / 2, y + wide / 2)
        pen.ellipse(box, None if ring else (250, 250, 250), (20, 20, 20) if ring else None, ring or 1)
    return np.asarray(image)


# A scan of a mesh took minutes, with the square of its spots.
@pytest.mark.parametrize(
    ("look", "told"),
    [
        (lambda: survey(dotted(14, 10), dpi=150), "more than 2000 round spots"),
        (lambda: survey_by_card(dotted(14, 10, 2)), "more than 2000 round spots"),
    ],
)
def test_a_scan_that_is_full_of_spots_is_refused(look: Callable[[], object], told: str) -> None:
    def read(_: bytes) -> None:
        with pytest.raises(UserError, match=told):
            look()

    assert run(read, b"") == "values"


def test_a_face_that_lies_aslant_has_its_size() -> None:
    """Near 45 degrees its corners were taken for one another, and by dpi it had no size. By the drawing."""
    corners = [(205.2, 232.3), (277.0, 167.4), (320.5, 216.9), (249.7, 298.2)]
    face = Image.new("RGB", (952, 952), (235, 235, 235))
    pen = ImageDraw.Draw(face)
    pen.polygon([(2 * x, 2 * y) for x, y in corners], (70, 80, 90))
    frame = by_dpi(100, (952, 952), find_outline(np.asarray(face)))
    sides = [2 * 25.4 / 100 * math.dist(corners[n], corners[(n + 1) % 4]) for n in range(4)]
    assert sorted(frame.size) == pytest.approx(sorted([(sides[0] + sides[2]) / 2, (sides[1] + sides[3]) / 2]), rel=0.03)


def test_a_scan_of_noise_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("facegraphic.drill.scan.limits.MOST_SPECKS", 100_000)
    noise = np.random.default_rng(1).integers(0, 255, (1500, 1500, 3), np.uint8)
    with pytest.raises(UserError, match="all specks"):
        survey(noise, dpi=600)


@pytest.mark.parametrize("top", [0, -5])
def test_a_font_whose_capitals_have_no_height_is_refused(top: int) -> None:
    assert run(TARGETS["font"].read, composite(700)) == "values"
    with pytest.raises(UserError, match="no sound size"):
        TARGETS["font"].read(composite(top))
