"""The drill guide read back by pdfium: true holes on a net that folds, bits by published sizes, words that read."""

import io
import json
import math
import os
import re
import subprocess
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pypdfium2
import pypdfium2.raw as pdfium
import pytest
from eyes import pdf_pages_mm
from helpers.debian import debian_program
from helpers.jobs import good, lay
from helpers.runs import PRINTS, run_here

from facegraphic.film.guide import guide
from facegraphic.film.guide_labels import Ground
from facegraphic.film.guide_net import edges, panel, tab, unfolded
from facegraphic.film.guide_words import title
from facegraphic.geometry.path import Box
from facegraphic.output.pdf import pdf_bytes
from facegraphic.pipeline.preparing import prepare
from facegraphic.scene.scene import Fill, Group, Scene
from facegraphic.stock.drilling import drilled, not_smaller, wants_step_drill
from facegraphic.stock.faces import SIDES, Side, face_outline
from facegraphic.stock.tables import BoxSize, boxes, papers

MM = 25.4 / 72
RING_POINTS = 60  # more than a ring's two contours of four quarters have, far fewer than a word
Point = tuple[float, float]
Solid = tuple[int, int, int]
Shape = list[list[tuple[str, Point]]]


def shapes(pdf: bytes, number: int, most: float = math.inf) -> list[Shape]:
    """Every filled path of a page as contours of (kind, point), in mm from the lower left corner of the paper.

    A page has tens of thousands of points, nearly all of them of lettering, which has more than `most` to a path.
    """
    document = pypdfium2.PdfDocument(pdf)
    page = document[number]
    found = []
    x, y = pdfium.c_float(), pdfium.c_float()
    nth, kind_of, place_of = (
        pdfium.FPDFPath_GetPathSegment, pdfium.FPDFPathSegment_GetType, pdfium.FPDFPathSegment_GetPoint
    )  # fmt: skip
    start, curve = pdfium.FPDF_SEGMENT_MOVETO, pdfium.FPDF_SEGMENT_BEZIERTO
    for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=9):
        a, b, c, d, e, f = (figure * MM for figure in item.get_matrix().get())  # ISO 32000-1, 8.3.3
        contours: Shape = []
        raw = item.raw
        count = pdfium.FPDFPath_CountSegments(raw)
        for n in range(count if count <= most else 0):
            segment = nth(raw, n)
            place_of(segment, x, y)
            kind, right, up = kind_of(segment), x.value, y.value
            if kind == start:
                contours.append([])
            place = (a * right + c * up + e, b * right + d * up + f)
            contours[-1].append(("C" if kind == curve else "L", place))
        found.append([contour for contour in contours if len(contour) > 1])
    document.close()
    return found


def bounds(pdf: bytes, number: int) -> tuple[float, float, float, float]:
    """The box of all paths of a page, as pdfium has it, in mm from the lower left corner of the paper."""
    document = pypdfium2.PdfDocument(pdf)
    boxes_ = [
        item.get_bounds() for item in document[number].get_objects(filter=[pdfium.FPDF_PAGEOBJ_PATH], max_depth=9)
    ]
    document.close()
    lows, highs = (
        [min(box[n] for box in boxes_) * MM for n in (0, 1)],
        [max(box[n] for box in boxes_) * MM for n in (2, 3)],
    )
    return lows[0], lows[1], highs[0], highs[1]


@dataclass(frozen=True)
class Ring:
    """A circle that is drawn as a line: its centre and its diameter in the middle of the line."""

    x: float
    y: float
    d: float


def extent(contour: Sequence[tuple[str, Point]]) -> tuple[float, float, float, float]:
    """Of the points that lie on the outline: the handles of a quarter circle stand on its box's edges."""
    xs, ys = zip(*(point for _, point in contour), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def rings(found: Sequence[Shape], round_: bool = True) -> list[Ring]:
    """Every circle of two contours of four quarters each; ellipses too if they need not be round."""
    rounds = []
    for shape in found:
        if len(shape) != 2 or any(sum(kind == "C" for kind, _ in contour) != 12 for contour in shape):
            continue
        if any(kind == "L" for contour in shape for kind, _ in contour[1:-1]):
            continue
        boxes_ = [extent(contour) for contour in shape]
        widths = [box[2] - box[0] for box in boxes_]
        if not round_ and max(abs(box[2] - box[0] - box[3] + box[1]) for box in boxes_) > 0.5:
            continue
        assert not round_ or widths == pytest.approx([box[3] - box[1] for box in boxes_], abs=0.01)
        x0, y0, x1, y1 = boxes_[0]
        rounds.append(Ring((x0 + x1) / 2, (y0 + y1) / 2, sum(widths) / 2))
    return rounds


def crosses(found: Sequence[Shape]) -> list[Point]:
    """The middles of upright crosses of twelve corners."""
    middles = []
    for shape in found:
        corners = {point for contour in shape for kind, point in contour if kind == "L"}
        if len(shape) == 1 and len(corners) == 12 and all(kind == "L" for kind, _ in shape[0]):
            x0, y0, x1, y1 = extent(shape[0])
            if x1 - x0 == pytest.approx(y1 - y0, abs=0.02):
                middles.append(((x0 + x1) / 2, (y0 + y1) / 2))
    return middles


def dashed(found: Sequence[Shape]) -> list[tuple[Point, Point]]:
    """The ends of dashed lines: several small bars in one path, in a row."""
    lines = []
    for shape in found:
        if len(shape) < 3 or any(kind == "C" for contour in shape for kind, _ in contour[1:]):
            continue
        middles = [
            (sum(p[0] for p in set_) / len(set_), sum(p[1] for p in set_) / len(set_))
            for set_ in ({point for _, point in contour} for contour in shape)
            if len(set_) == 4
        ]
        if len(middles) != len(shape):
            continue
        first, last = middles[0], middles[-1]
        long = math.dist(first, last)
        ux, uy = (last[0] - first[0]) / long, (last[1] - first[1]) / long
        off = [abs((x - first[0]) * uy - (y - first[1]) * ux) for x, y in middles]
        if max(off) > 0.02:
            continue
        own = [point for _, point in shape[0]]
        half = max(abs((x - first[0]) * ux + (y - first[1]) * uy) for x, y in own)
        lines.append(((first[0] - ux * half, first[1] - uy * half), (last[0] + ux * half, last[1] + uy * half)))
    return lines


def made(folder: Path, job: str, *words: str) -> bytes:
    ran = run_here("make", lay(folder, job), "--only", "guide", "--quiet", *words)
    assert ran.status == 0, ran.err
    return (folder / "job-out" / "drill-guide.pdf").read_bytes()


def job_text(box: str, faces: dict[str, list[tuple[str, float, float, object]]], more: str = "") -> str:
    """A job with holes only."""
    lines = ['title = "Net"', "[box]", box, more]
    for side, holes in faces.items():
        rows = ", ".join(f'{{ id = "{id}", at = [{x}, {y}], d = {d} }}' for id, x, y, d in holes)
        lines += ["[[face]]", f'side = "{side}"', f"hole = [{rows}]" if rows else ""]
    return "\n".join(lines) + "\n"


ALL_ROUND = {
    "top": [("rate", -20, 12, 7.5), ("foot", 25, -9, 12.2), ("tone", 0, 0, '"3/8 in"')],
    "back": [("send", -30, 2, 9.8), ("clock", 28, -3, 6.2)],
    "front": [("f", -22, 1, 5)],
    "left": [("l", -8, 3, 6)],
    "right": [("r", 7, -4, 3)],
}
# (box, across, deep, its figures): lying across, so that the first length runs along x.
BOXES = {
    "stock": ('stock = "120x94x34"\norientation = "landscape"', boxes()["120x94x34"]),
    "steep": (
        'size = [110, 70, 30]\ndraft = 8\nlid = 3\nedge = 2\ncorner = 4\norientation = "landscape"',
        BoxSize("steep", (110, 70, 30), 8, 2, 4, 3, 2),
    ),
    "upright walls": (
        'size = [100, 60, 30]\ndraft = 0\nlid = 0\nedge = 1\ncorner = 2\norientation = "landscape"',
        BoxSize("upright", (100, 60, 30), 0, 1, 2, 0, 2),
    ),
}


@pytest.mark.parametrize("name", BOXES)
def test_holes_stand_true_on_a_net_that_folds(name: str, tmp_path: Path) -> None:
    """Each hole's distance to its crease is what solid geometry says of the box; the top's distances are the job's.

    The top ends at height h where a wall that leans by δ has come in by h·tan δ; along the wall a height of z is
    z/cos δ. A face's centre is the middle of its flat part, which ends r·tan((90° − δ)/2) below the crease (an edge of
    radius r between two planes, plain geometry) and begins at the lid.
    """
    text, box = BOXES[name]
    pdf = made(tmp_path, job_text(text, ALL_ROUND))
    page = shapes(pdf, 0)
    (long, short, high), lean = box.size, math.radians(box.draft)
    found = sorted(rings(page), key=lambda ring: (ring.x, ring.y))
    assert len(found) == 8
    marks = crosses(page)
    for ring in found:
        assert min(math.dist((ring.x, ring.y), mark) for mark in marks) < 0.05

    centre = next(ring for ring in found if ring.d == pytest.approx(9.525, abs=0.05))
    wide, deep = long / 2 - high * math.tan(lean), short / 2 - high * math.tan(lean)
    slant = (high - box.lid) / math.cos(lean)
    flat = slant - box.edge * math.tan((math.pi / 2 - lean) / 2)

    def on_wall(side: str, x: float, y: float) -> Point:
        """Round the top's centre; a wall's right runs as one sees it from outside."""
        away = slant - flat / 2 - y
        places = {
            "front": (x, -deep - away),
            "back": (-x, deep + away),
            "left": (-wide - away, -x),
            "right": (wide + away, x),
        }
        return places[side]

    for side, holes in ALL_ROUND.items():
        for id, x, y, size in holes:
            d = 9.525 if isinstance(size, str) else float(size)  # type: ignore[arg-type]
            at = (x, y) if side == "top" else on_wall(side, x, y)
            near = min(found, key=lambda ring: math.dist((ring.x - centre.x, ring.y - centre.y), at))
            assert math.dist((near.x - centre.x, near.y - centre.y), at) < 0.05, (side, id)
            assert near.d == pytest.approx(d, abs=0.05), (side, id)

    creases = dashed(page)
    for at, length in (((0, deep), 2 * wide), ((0, -deep), 2 * wide), ((wide, 0), 2 * deep), ((-wide, 0), 2 * deep)):
        crease = min(
            creases,
            key=lambda ends: math.dist(
                ((ends[0][0] + ends[1][0]) / 2 - centre.x, (ends[0][1] + ends[1][1]) / 2 - centre.y), at
            ),
        )
        middle = ((crease[0][0] + crease[1][0]) / 2 - centre.x, (crease[0][1] + crease[1][1]) / 2 - centre.y)
        assert math.dist(middle, at) < 0.05
        assert math.dist(*crease) == pytest.approx(length, abs=0.05)


@pytest.mark.parametrize("draft", [0.0, 2.0, 8.0, 15.0])
@pytest.mark.parametrize("side", SIDES)
def test_panels_meet_as_a_frustum_does(draft: float, side: str) -> None:
    """Corners in space, from the draft alone: the panel's edges are as long as the distances between them."""
    box = BoxSize("any", (120, 90, 40), draft, 1.0, 3.0, 4.0, 2.0)
    lean = math.tan(math.radians(draft))

    def corner(x: int, y: int, z: float) -> tuple[float, float, float]:
        return (x * (60 - z * lean), y * (45 - z * lean), z)

    own = panel(box, side, 120, 90)
    ends = {"front": ((-1, -1), (1, -1)), "back": ((1, 1), (-1, 1)), "left": ((-1, 1), (-1, -1))}
    ends["right"] = ((1, -1), (1, 1))
    if side == "top":
        space = [corner(-1, -1, 40), corner(1, -1, 40), corner(1, 1, 40), corner(-1, 1, 40)]
    else:
        a, b = ends[side]
        space = [corner(*a, 4), corner(*b, 4), corner(*b, 40), corner(*a, 40)]
    for n in range(4):
        for m in range(n):
            assert math.dist(own.corners[n], own.corners[m]) == pytest.approx(math.dist(space[n], space[m]), abs=1e-9)
    # The flat part lies within, and against the same lid edge.
    outline = face_outline(box, side, 120, 90)
    assert outline.box.y0 >= own.box.y0 - 1e-9
    assert outline.box.y1 <= own.box.y1 + 1e-9
    if side != "top":
        assert outline.box.y0 == pytest.approx(own.box.y0)
        # The wedge between neighbours: a trapezoid leans by atan(sin δ), so that 90° less two of that stay open.
        (x0, y0), _, _, (x3, y3) = own.corners
        assert math.atan2(x3 - x0, y3 - y0) == pytest.approx(math.atan(math.sin(math.radians(draft))))


def test_a_tab_keeps_out_of_the_wedge() -> None:
    for lean in (0.0, 15.0):
        slope = math.atan(math.sin(math.radians(lean)))
        first, second, third, last = tab((0, 0), (math.sin(slope) * 30, -math.cos(slope) * 30))
        # Seen from the corner no point of the tab is further from its own edge than half a right angle.
        for point in (second, third):
            angle = math.atan2(point[0], -point[1]) - slope
            assert abs(angle) <= math.pi / 4 + 1e-9
        assert math.dist(first, last) == pytest.approx(30)


def test_edges_are_measured_from_what_a_calliper_touches(tmp_path: Path) -> None:
    own = panel(BOXES["steep"][1], "front", 110, 70)
    lean = math.radians(8)
    x, y = own.measured((5, 0))
    height = 3 + y * math.cos(lean)
    assert x == pytest.approx(55 - height * math.tan(lean) + 5)
    assert own.measured(own.corners[0]) == pytest.approx((0, 0))


# Seen from outside: where each side faces, and which way is up for who looks at it (plain solid geometry; x right,
# y away from who sits before the box, z up).
FACES: dict[str, tuple[Solid, Solid]] = {
    "top": ((0, 0, 1), (0, 1, 0)),
    "front": ((0, -1, 0), (0, 0, 1)),
    "back": ((0, 1, 0), (0, 0, 1)),
    "left": ((-1, 0, 0), (0, 0, 1)),
    "right": ((1, 0, 0), (0, 0, 1)),
}


@pytest.mark.parametrize("side", SIDES)
def test_the_edge_that_x_is_measured_from_is_named_truly(side: Side) -> None:
    """At its left end stands the side that faces to the viewer's left; up × outwards is to the right."""
    (ax, ay, az), (bx, by, bz) = FACES[side][1], FACES[side][0]
    right = (ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx)
    [neighbour] = [other for other, (out, _) in FACES.items() if out == tuple(-part for part in right)]
    said = edges(side)
    assert f"x from the edge at {neighbour.upper()} (on your left as you look at it)" in said
    assert sum(said.count(word) for word in ("on your left", "on your right")) == 1
    # x grows from there, as the job's own does.
    box = BOXES["steep"][1]
    found = {own: panel(box, own, 110, 70) for own in SIDES}
    own = found[side]
    assert own.measured((5, 1))[0] == pytest.approx(own.measured((0, 1))[0] + 5)
    assert own.measured((0, 6))[1] == pytest.approx(own.measured((0, 1))[1] + 5)
    assert own.measured(own.corners[0])[0] == pytest.approx(0)
    # And in the net the panel's left end lies at the corner that it shares with the side that is named.
    places = unfolded(found)

    def corners(name: Side) -> set[Point]:
        points = [places[name].transformPoint(corner) for corner in found[name].corners]
        return {(round(x, 6), round(y, 6)) for x, y in points}

    x, y = places[side].transformPoint(own.corners[3])
    assert (round(x, 6), round(y, 6)) in corners(neighbour)  # type: ignore[arg-type]
    x, y = places[side].transformPoint(own.corners[2])
    assert (round(x, 6), round(y, 6)) not in corners(neighbour)  # type: ignore[arg-type]


def test_a_title_is_in_one_line_or_ends_with_dots(tmp_path: Path) -> None:
    job = prepare(lay(tmp_path, good())).job
    for width in (80.0, 120.0, 190.0):
        for own in ("Bell", "Hpots4footswitches1toggles1lamps", "A bell buoy " * 9):
            said, hand = title(replace(job, title=own), "page 10 of 10", width)
            assert hand.width(said) <= width
            assert said.endswith("page 10 of 10")
            kept = said.removeprefix("Drill guide · ").removesuffix(" · page 10 of 10")
            assert kept == " ".join(own.split()) or (kept.endswith("…") and own.startswith(kept[:-1]))
    assert title(replace(job, title="A bell buoy " * 9), "page 1 of 2", 80.0)[0].count("…") == 1


@pytest.mark.parametrize("paper", papers())
def test_pages_are_as_large_as_the_paper(paper: str, tmp_path: Path) -> None:
    pdf = made(tmp_path, good(), "--paper", paper)
    sizes = pdf_pages_mm(pdf)
    assert len(sizes) >= 2
    for size in sizes:
        assert size == pytest.approx(papers()[paper].size, abs=0.01)


def bars(found: Sequence[Shape]) -> list[tuple[float, float]]:
    """Width and height of plain bars."""
    sizes = []
    for shape in found:
        if len(shape) == 1 and len({point for _, point in shape[0]}) == 4 and all(k == "L" for k, _ in shape[0]):
            x0, y0, x1, y1 = extent(shape[0])
            sizes.append((x1 - x0, y1 - y0))
    return sizes


def test_both_bars_are_100_mm(tmp_path: Path) -> None:
    found = bars(shapes(made(tmp_path, good()), 0))
    for bar in ((100, 0.2), (0.2, 100)):
        assert sum(size == pytest.approx(bar, abs=0.02) for size in found) == 1


def test_a_corrected_printer_gets_all_of_it_scaled(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEGRAPHIC_CONFIG", str(tmp_path / "printers.toml"))
    assert run_here("ruler", "--measured", "99", "101", "--save", "attic", "--out", tmp_path).status == 0
    plain, scaled = (shapes(made(tmp_path / n, good(), *w), 0) for n, w in (("a", ()), ("b", ("--printer", "attic"))))
    first, second = (sorted(rings(page, round_=False), key=lambda ring: ring.y) for page in (plain, scaled))
    assert second[1].x - second[0].x == pytest.approx((first[1].x - first[0].x) * 100 / 99, abs=0.02)
    assert second[1].y - second[0].y == pytest.approx((first[1].y - first[0].y) * 100 / 101, abs=0.02)


@pytest.mark.parametrize("process", ["waterslide-clear", "toner-transfer", "waterslide-reversed"])
def test_never_mirrored(process: str, tmp_path: Path) -> None:
    """The hole at x = -12 stands left of the one at 0, whatever the process or the command asks."""
    for number, words in enumerate(((), ("--mirror",))):
        page = shapes(made(tmp_path / str(number), good('"waterslide-clear"', f'"{process}"'), *words), 0)
        rate, foot = sorted(rings(page), key=lambda ring: ring.d)
        assert (rate.x - foot.x, rate.y - foot.y) == pytest.approx((-12, 68), abs=0.05)


def test_the_same_bytes_each_run_and_no_clock(tmp_path: Path) -> None:
    first, second = (made(tmp_path / name, good()) for name in "ab")
    assert first == second
    assert set(re.findall(rb"/(?:Creation|Mod)Date \(D:(\d{8})", first)) <= {b"20000101"}
    assert first != made(tmp_path / "c", good('title = "Bell Buoy"', 'title = "Bell"'))


def test_pages_of_one_file_have_one_size() -> None:
    assert len(pdf_pages_mm(pdf_bytes(Scene(20, 30, ()), Scene(20, 30, ())))) == 2
    with pytest.raises(ValueError, match="one size"):
        pdf_bytes(Scene(20, 30, ()), Scene(30, 20, ()))


# Fractional drills: all 64ths, mm = inches × 25.4 (a drill chart that cites the drill standard). ISO 273, medium
# fit, by a table of it: M3 3.4, M4 4.5, M5 5.5, M6 6.6, M8 9. 3/8-32 bushes: major diameter 0.375 in (a tap chart).
@pytest.mark.parametrize(
    ("d", "metric", "over_metric", "inch", "over_inch"),
    [
        (9.525, 10.0, 0.475, "3/8", 0.0),
        (9.53, 10.0, 0.47, "3/8", -0.005),
        (9.54, 10.0, 0.46, "25/64", 0.381875),
        (6.35, 6.5, 0.15, "1/4", 0.0),
        (12.7, 13.0, 0.3, "1/2", 0.0),
        (3.175, 3.2, 0.025, "1/8", 0.0),
        (7.5, 7.5, 0.0, "19/64", 0.040625),
        (12.2, 12.5, 0.3, "31/64", 0.103125),
        (3.4, 3.5, 0.1, "9/64", 0.171875),
        (4.5, 4.5, 0.0, "3/16", 0.2625),
        (5.5, 5.5, 0.0, "7/32", 0.05625),
        (6.6, 7.0, 0.4, "17/64", 0.146875),
        (9.0, 9.0, 0.0, "23/64", 0.128125),
    ],
)
def test_bits_are_the_nearest_not_smaller(
    d: float, metric: float, over_metric: float, inch: str, over_inch: float
) -> None:
    mm, by_inch = drilled(d, "mm"), drilled(d, "in")
    assert mm.final and by_inch.final
    assert mm.final.diameter == pytest.approx(metric)
    assert mm.over == pytest.approx(over_metric, abs=1e-9)
    assert by_inch.final.name == f"{inch} in"
    assert by_inch.final.diameter == pytest.approx(float(Fraction(inch)) * 25.4)
    assert by_inch.over == pytest.approx(over_inch, abs=1e-9)


def test_pilots_and_step_drills() -> None:
    assert drilled(4.0, "mm").pilot is None  # small holes are drilled at once (common practice)
    for d in (4.1, 7.5, 13.5):
        pilots = [drilled(d, system).pilot for system in ("mm", "in")]  # type: ignore[arg-type]
        assert [pilot and pilot.name for pilot in pilots] == ["3 mm", "1/8 in"]
    assert drilled(13.5, "mm").final is None
    assert drilled(13.0, "mm").final is not None
    assert drilled(13.0, "in").final is None
    assert (wants_step_drill(10.0), wants_step_drill(10.1)) == (False, True)
    assert not_smaller(0.2, "mm") == not_smaller(1.0, "mm")


def read(pdf: bytes, number: int) -> str:
    """What tesseract reads on a page at 400 dpi, as one block."""
    document = pypdfium2.PdfDocument(pdf)
    out = io.BytesIO()
    document[number].render(scale=400 / 72).to_pil().save(out, "PNG", dpi=(400, 400))
    document.close()
    words = [debian_program("tesseract", "tesseract-ocr"), "stdin", "stdout", "--psm", "6"]
    # Its threads wait for each other by spinning, and one alone is no slower.
    alone = {**os.environ, "OMP_THREAD_LIMIT": "1"}
    done = subprocess.run(words, input=out.getvalue(), capture_output=True, check=True, env=alone)
    return done.stdout.decode("utf-8")


def test_the_table_reads_back(tmp_path: Path) -> None:
    """By OCR, against figures worked out here: of a box with upright walls places are half its size and the job's."""
    pdf = made(tmp_path, job_text(BOXES["upright walls"][0], ALL_ROUND))
    text = read(pdf, 1)
    # x from the left, y from the front; a wall's flat part is 29 mm high and begins at the lid edge.
    rows = {
        "rate": ("top", 50 - 20, 30 + 12, 7.5, "7.5", "19/64"),
        "tone": ("top", 50, 30, 9.53, "10", "3/8"),
        "send": ("back", 50 - 30, 14.5 + 2, 9.8, "10", "25/64"),
        "clock": ("back", 50 + 28, 14.5 - 3, 6.2, "6.5", "1/4"),
    }
    for id, (side, x, y, d, metric, inch) in rows.items():
        row = next((row for row in text.splitlines() if re.match(rf"\d+ {id} {side}\b", row)), None)
        assert row, (id, text)
        figures = row.split(side, 1)[1].split()
        assert [float(figure) for figure in figures[:3]] == [x, y, d], row
        assert metric in figures[3:], row
        assert inch in figures[3:], row
    for words in ("TOP: x from the edge at LEFT", "BACK: x from the edge at RIGHT (on your left as you look at it)"):
        assert words in text
    for words in ("Clamp the box", "goggles", "by hand", "Centre-punch", "pilot first", "Deburr", "local rules"):
        assert words in text
    assert "step drill" in text


def test_the_captions_read_back(tmp_path: Path) -> None:
    text = read(made(tmp_path, job_text(BOXES["upright walls"][0], {"top": [], "back": []})), 0)
    assert "seen from outside, never mirrored. print at 100" in text.lower()
    assert "100 x 60 x 30 mm" in text.replace("×", "x")
    for side in ("TOP", "FRONT", "BACK", "LEFT", "RIGHT"):
        assert side in text


ODD = {
    "tall": ("size = [60, 60, 120]\ndraft = 1.5", {"top": [("a", 0, 0, 25)], "front": [("b", 0, 20, 7.5)]}),
    "tiny": ("size = [38, 93, 31]\ndraft = 2", {"top": [("a", 0, 8, 7.5)], "left": [("b", 0, 0, 9.8)]}),
    "square": ("size = [60, 60, 30]", {"top": [("a", -10, 10, 7.5)]}),
    "none": ('stock = "112x60x31"', {"top": [], "back": []}),
    "long": (
        "size = [300, 60, 30]\ndraft = 3\nlid = 3",
        {"top": [(f"k{i}", -135 + 30 * i, 6, 7.5) for i in range(10)], "back": [("in", -120, 0, 9.8)]},
    ),
    "forty": (
        'stock = "120x94x34"\norientation = "landscape"',
        {"top": [(f"h{r}-{c}", -49 + 14 * c, -28 + 14 * r, 5) for r in range(5) for c in range(8)]},
    ),
    "long ids": ('stock = "112x60x31"', {"top": [("x" * 60, 0, 20, 7.5), ("y " * 29 + "z", 0, -20, 7.5)]}),
}


@pytest.mark.parametrize("paper", ["A4", "A6"])
@pytest.mark.parametrize("name", ODD)
def test_odd_boxes_have_every_hole_and_nothing_off_the_page(name: str, paper: str, tmp_path: Path) -> None:
    text, faces = ODD[name]
    pdf = made(tmp_path, job_text(text, faces), "--paper", paper)  # type: ignore[arg-type]
    report = json.loads((tmp_path / "job-out" / "report.json").read_text("utf-8"))
    [output] = [output for output in report["outputs"] if output["kind"] == "guide"]
    sizes = pdf_pages_mm(pdf)
    assert output["pages"] == len(sizes)
    assert output["size_mm"] == list(papers()[paper].size)
    wide, high = papers()[paper].size
    found = [ring for number in range(len(sizes)) for ring in rings(shapes(pdf, number, RING_POINTS))]
    count = sum(len(holes) for holes in faces.values())
    assert len(found) >= count
    if paper == "A4" and name != "long":  # no face is cut: each hole is there once, and all within the printed area
        assert len(found) == count
        boxes_ = [bounds(pdf, number) for number in range(len(sizes))]
        assert min(min(box[:2]) for box in boxes_) >= 7.9
        assert max(box[2] for box in boxes_) <= wide - 7.9
        assert max(box[3] for box in boxes_) <= high - 7.0  # accents may stand above a title's capitals


def register_marks(shape: Shape) -> list[Point]:
    """The point where two triangles of one path meet."""
    threes = [{(round(x, 2), round(y, 2)) for _, (x, y) in contour} for contour in shape]
    threes = [points for points in threes if len(points) == 3]
    return list(threes[0] & threes[1]) if len(threes) == 2 and len(shape) == 3 else []


def test_a_face_over_several_pages_overlaps(tmp_path: Path) -> None:
    """Neighbouring pages share holes or marks at the same distances, so that they can be laid over each other."""
    text, faces = ODD["long"]
    pdf = made(tmp_path, job_text(text, {"top": faces["top"]}))  # type: ignore[arg-type]
    pages = [shapes(pdf, 0), shapes(pdf, 1)]
    marks = [sorted(spot for shape in page for spot in register_marks(shape)) for page in pages]
    assert len(marks[0]) == len(marks[1]) == 2
    shift = (marks[1][0][0] - marks[0][0][0], marks[1][0][1] - marks[0][0][1])
    for first, second in zip(*marks, strict=True):
        assert (second[0] - first[0], second[1] - first[1]) == pytest.approx(shift, abs=0.02)
    holes = [rings(page) for page in pages]
    assert sum(map(len, holes)) >= 10
    # On the common plane the ten holes stand 30 mm apart, as in the job.
    plane = sorted({round(r.x, 1) for r in holes[0]} | {round(r.x - shift[0], 1) for r in holes[1]})
    apart = [b - a for a, b in pairwise(plane) if b - a > 1]
    assert apart == pytest.approx([30.0] * 9, abs=0.3)


def test_film_too_small_for_a_guide_gets_a4(tmp_path: Path) -> None:
    pdf = made(tmp_path, good('paper = "A4"', "size = [80, 140]"))
    assert pdf_pages_mm(pdf)[0] == pytest.approx((210, 297), abs=0.01)


def test_inch_drill_files(tmp_path: Path) -> None:
    holes = "id,x_in,y_in,d_in\nrate,-0.5,1.25,0.375\nfoot,0,-1.5,0.5\n"
    lay(tmp_path, good())
    (tmp_path / "holes.csv").write_text(holes)
    assert run_here("make", tmp_path / "job.toml", "--only", "guide", "--quiet").status == 0
    rate, foot = sorted(rings(shapes((tmp_path / "job-out" / "drill-guide.pdf").read_bytes(), 0)), key=lambda r: r.d)
    assert (rate.d, foot.d) == pytest.approx((9.525, 12.7), abs=0.05)
    assert (rate.x - foot.x, rate.y - foot.y) == pytest.approx((-12.7, 69.85), abs=0.05)


@pytest.mark.parametrize("process", ["waterslide-clear", "toner-transfer"])
def test_steps_name_the_guide_when_it_is_made(process: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good('"waterslide-clear"', f'"{process}"'))
    for kinds, named in (("steps,guide", True), ("steps", False)):
        assert run_here("make", job, "--only", kinds, "--quiet").status == 0
        text = (tmp_path / "job-out" / "steps.md").read_text("utf-8")
        assert ("`drill-guide.pdf`, printed at 100 %" in text) is named
        assert ("--no-mirror" in text) is (process == "toner-transfer" and not named)


def test_each_job_of_a_gang_has_its_own(tmp_path: Path) -> None:
    one, two = lay(tmp_path / "one", good()), lay(tmp_path / "two", good())
    two = two.rename(tmp_path / "two" / "other.toml")
    ran = run_here("make", one, two, "--format", "pdf", "--quiet", *PRINTS, "--out", tmp_path / "out")
    assert ran.status == 0, ran.err
    assert len(list((tmp_path / "out").rglob("drill-guide.pdf"))) == 2


def test_words_keep_clear_of_what_is_taken() -> None:
    ground = Ground(Box(0, 0, 50, 50), [Box(10, 10, 20, 20)], [(40, 40, 5)])
    assert not ground.free(Box(19, 19, 25, 25))
    assert not ground.free(Box(20.5, 10, 25, 12))
    assert ground.free(Box(21, 10, 25, 12))
    assert not ground.free(Box(44, 38, 48, 42))
    assert not ground.free(Box(45, 1, 51, 2))


ROWS: dict[str, tuple[str, dict[str, list[tuple[str, float, float, object]]]]] = {
    "five in a row": (
        'stock = "93x39x31"\norientation = "landscape"',
        {
            "top": [("a", -22, 0, 7.5), ("b", 22, 0, 7.5)],
            "back": [(f"dc-{n}", 14 * n - 42, 0, 8.2) for n in range(1, 6)],
        },
    ),
    "a column": ('stock = "112x60x31"', {"top": [(f"c{n}", 0, 14 * n - 35, 7.5) for n in range(6)]}),
    "forty": ODD["forty"],  # type: ignore[dict-item]
}


def fills_of(item: Group | Fill) -> Iterator[Fill]:
    for inner in item.items if isinstance(item, Group) else [item]:
        yield from [inner] if isinstance(inner, Fill) else fills_of(inner)


def labelled(scene: Scene) -> dict[str, tuple[list[Ring], list[list[Box]], list[str]]]:
    """By side: the holes, and the boxes of each hole's label (a second one is its leader), by number."""
    found: dict[str, tuple[list[Ring], list[list[Box]], list[str]]] = {}

    def walk(group: Group) -> None:
        for item in group.items:
            if isinstance(item, Group):
                if match := re.match(r"guide-(\w+)-(hole|label)-(\d+)", item.id):
                    holes, labels, numbers = found.setdefault(match[1], ([], [], []))
                    boxes_ = [fill.path.bounds for fill in fills_of(item)]
                    if match[2] == "hole":
                        holes.append(Ring(*boxes_[0].centre, boxes_[0].width))
                        numbers.append(match[3])
                    else:
                        assert numbers[len(labels)] == match[3]
                        labels.append(boxes_)
                else:
                    walk(item)

    walk(Group(scene.items))
    return found


def strays(holes: Sequence[Ring], labels: Sequence[Sequence[Box]]) -> list[int]:
    """The labels that are neither nearest to their own hole nor led to it."""
    wrong = []
    for number, (own, boxes_) in enumerate(zip(holes, labels, strict=True)):
        far = [math.dist(boxes_[0].centre, (hole.x, hole.y)) for hole in holes]
        if len(boxes_) == 2:  # the leader's end is by the hole's rim
            lead = boxes_[1].grown(0.5 + own.d / 2)
            led = lead.x0 <= own.x <= lead.x1 and lead.y0 <= own.y <= lead.y1
        else:
            led = far[number] == min(far) and far.count(min(far)) == 1
        wrong += [] if led else [number]
    return wrong


@pytest.mark.parametrize("name", ROWS)
def test_each_label_is_nearest_to_its_own_hole_and_rows_are_alike(name: str, tmp_path: Path) -> None:
    box, faces = ROWS[name]
    ready = prepare(lay(tmp_path, job_text(box, faces)))
    for holes, labels, _ in labelled(guide(ready.job, ready.layouts).pages[0]).values():
        assert len(labels) == len(holes)
        assert all(labels)
        assert strays(holes, labels) == []
        if len(holes) > 1:  # a planted error: two labels changed about
            assert strays(holes, [labels[1], labels[0], *labels[2:]]) == [0, 1]
        ways = set()
        for hole, [label, *_] in zip(holes, labels, strict=True):
            x, y = label.centre
            ways.add((round((x - hole.x) / 4), y > hole.y) if abs(x - hole.x) < 4 else (x > hole.x, 0))
        assert len(ways) == 1 or name == "forty", ways  # those are too close for one side
