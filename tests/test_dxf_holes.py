"""DXF drawings, written by ezdxf: circles in every version and unit, through blocks, and what stands for circles."""

import io
import logging
import math
from collections.abc import Iterator
from typing import Any

import ezdxf
import pytest
from ezdxf.math import Matrix44
from helpers.drills import read, rows, told
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.drill.model import MOST_ENTITIES

VERSIONS = ("R2000", "R2004", "R2007", "R2010", "R2013", "R2018")
# $INSUNITS and mm, as the DXF reference lists them. ezdxf itself converts no mils.
UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0, 9: 0.0254, 13: 0.001, 14: 100.0}


@pytest.fixture(autouse=True)
def quiet() -> Iterator[None]:
    """ezdxf warns when it writes R12 with units, which is meant here."""
    logger = logging.getLogger("ezdxf")
    level = logger.level
    logger.setLevel(logging.ERROR)
    yield
    logger.setLevel(level)


def drawing(units: int = 4, version: str = "R2010") -> tuple[Any, Any]:
    document = ezdxf.new(version, units=units)
    return document, document.modelspace()


def written(document: Any) -> bytes:
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding)


@pytest.mark.parametrize("version", VERSIONS)
def test_every_version_reads_the_same(version: str) -> None:
    # A circle that ezdxf writes as 10 30.0, 20 95.0, 40 4.7625: the radius of a hole of 3/8 in.
    document, space = drawing(version=version)
    space.add_circle((30, 95), 4.7625, dxfattribs={"layer": "DRILL"})
    reading = read(written(document))
    assert reading.kind == "DXF"
    assert rows(reading) == [pytest.approx((30, 95, 9.525), abs=1e-9)]
    assert (reading.holes[0].id, reading.holes[0].layer) == ("1", "DRILL")
    assert told(reading) == ""


@pytest.mark.parametrize("version", VERSIONS)
def test_a_hole_knows_the_line_on_which_its_circle_begins(version: str) -> None:
    document, space = drawing(version=version)
    space.add_circle((30, 95), 4)
    data = written(document)
    line = read(data).holes[0].line
    assert line
    assert data.splitlines()[line - 1].strip() == b"CIRCLE"


def test_r12_has_no_units_and_is_asked_for_them() -> None:
    document, space = drawing(version="R12")
    space.add_circle((1, 2), 0.25)
    refused = read(written(document))
    assert refused.holes == ()
    assert "does not say its units ($INSUNITS)" in told(refused)
    assert "--units mm or --units in" in told(refused)
    assert rows(read(written(document), "in")) == [pytest.approx((25.4, 50.8, 12.7), abs=1e-9)]
    # As some programs write it, with the variable of later versions.
    data = written(document).replace(b"$ACADVER", b"$INSUNITS\n 70\n     4\n  9\n$ACADVER")
    assert rows(read(data)) == [pytest.approx((1, 2, 0.5), abs=1e-9)]


@pytest.mark.parametrize("code", UNITS)
def test_units(code: int) -> None:
    document, space = drawing(code)
    scale = 1 / UNITS[code]
    space.add_circle((30 * scale, 95 * scale), 3.75 * scale)
    assert rows(read(written(document))) == [pytest.approx((30, 95, 7.5), abs=1e-9)]


def test_units_asked_for_win_over_the_drawing_and_that_is_told() -> None:
    document, space = drawing(1)
    space.add_circle((30, 95), 3.75)
    reading = read(written(document), "mm")
    assert rows(reading) == [(30, 95, 7.5)]
    assert "the drawing names inches as its unit; mm is taken, as asked for" in told(reading)


def test_unitless_and_strange_units_are_refused() -> None:
    for code in (0, 19):
        document, space = drawing(code)
        space.add_circle((30, 95), 3.75)
        assert "does not say its units" in told(read(written(document)))


def test_binary_dxf() -> None:
    document, space = drawing()
    space.add_circle((30, 95), 3.75)
    stream = io.BytesIO()
    document.write(stream, fmt="bin")
    assert rows(read(stream.getvalue())) == [(30, 95, 7.5)]


def test_layers_are_counted_and_chosen() -> None:
    document, space = drawing()
    for x, layer in enumerate(("DRILL", "OUTLINE", "DRILL", "0")):
        space.add_circle((x, 0), 1, dxfattribs={"layer": layer})
    assert read(written(document)).layers == {"DRILL": 2, "OUTLINE": 1, "0": 1}
    chosen = read(written(document), layers=("drill",))
    assert [(hole.id, hole.x) for hole in chosen.holes] == [("1", 0), ("3", 2)]
    assert len(read(written(document), layers=("DRILL", "0")).holes) == 3
    assert 'no hole is on a layer "DRIL"' in told(read(written(document), layers=("DRIL",)))
    assert 'did you mean "DRILL"?' in told(read(written(document), layers=("DRIL",)))


def test_hidden_layers_are_left_out_and_told_unless_named() -> None:
    document, space = drawing()
    document.layers.add("OFF").off()
    document.layers.add("COLD").freeze()
    for layer in ("OFF", "COLD", "0"):
        space.add_circle((5, 5), 1, dxfattribs={"layer": layer})
    space.add_circle((5, 5), 1, dxfattribs={"invisible": 1})
    reading = read(written(document))
    assert len(rows(reading)) == 1
    assert 'on the hidden layer "OFF", left out' in told(reading)
    assert 'on the hidden layer "COLD", left out' in told(reading)
    assert [hole.layer for hole in read(written(document), layers=("cold",)).holes] == ["COLD"]


def test_blocks_nested_scaled_turned_and_mirrored() -> None:
    document, space = drawing()
    inner, outer = document.blocks.new("INNER"), document.blocks.new("OUTER", base_point=(1, 1))
    inner.add_circle((1, 0), 0.5)
    outer.add_blockref("INNER", (1, 2), dxfattribs={"rotation": 90, "xscale": 2, "yscale": 2})
    space.add_blockref("OUTER", (10, 0), dxfattribs={"xscale": -1, "layer": "PARTS"})
    # By hand: (1,0) twice as large and turned is (0,2); at (1,2) it is (1,4), from the base
    # point (0,3); mirrored at 10.
    reading = read(written(document))
    assert rows(reading) == [pytest.approx((10, 3, 2), abs=1e-9)]
    assert reading.holes[0].layer == "PARTS"  # what is drawn on layer 0 takes the layer of its block


def test_blocks_in_rows_and_columns() -> None:
    document, space = drawing()
    document.blocks.new("ONE").add_circle((0, 0), 1)
    grid = {"row_count": 2, "column_count": 3, "row_spacing": 10, "column_spacing": 20, "rotation": 90}
    space.add_blockref("ONE", (5, 5), dxfattribs=grid)
    wanted = sorted((5.0 - row * 10, 5.0 + column * 20) for row in range(2) for column in range(3))
    assert sorted((round(x, 6), round(y, 6)) for x, y, _ in rows(read(written(document)))) == wanted


def test_circles_seen_from_behind_and_from_the_side() -> None:
    document, space = drawing()
    space.add_circle((7, 3), 2, dxfattribs={"extrusion": (0, 0, -1)})
    space.add_circle((7, 3), 2, dxfattribs={"extrusion": (1, 0, 0)})
    reading = read(written(document))
    assert rows(reading) == [pytest.approx((-7, 3, 4), abs=1e-9)]
    assert "tilted to one, left out" in told(reading)


def test_stretched_circles_are_told_and_ellipses_stretched_back_are_holes() -> None:
    document, space = drawing()
    document.blocks.new("ROUND").add_circle((0, 0), 1)
    document.blocks.new("OVAL").add_ellipse((0, 0), (2, 0), 0.5)
    space.add_blockref("ROUND", (0, 0), dxfattribs={"xscale": 2})
    space.add_blockref("OVAL", (9, 0), dxfattribs={"yscale": 2})
    reading = read(written(document))
    assert rows(reading) == [pytest.approx((9, 0, 4), abs=1e-9)]
    assert "stretched or tilted to one, left out" in told(reading)


def quarter_splines(space: Any, x: float, y: float, r: float) -> None:
    k = 4 / 3 * (math.sqrt(2) - 1)  # the quarter circle's constant
    for turn in range(4):
        c, s = round(math.cos(turn * math.pi / 2)), round(math.sin(turn * math.pi / 2))
        points = [(x + r * (u * c - v * s), y + r * (u * s + v * c)) for u, v in ((1, 0), (1, k), (k, 1), (0, 1))]
        space.add_open_spline(points, degree=3)


def polygon(x: float, y: float, r: float, corners: int) -> list[tuple[float, float]]:
    turns = [2 * math.pi * corner / corners for corner in range(corners)]
    return [(x + r * math.cos(turn), y + r * math.sin(turn)) for turn in turns]


CIRCLES = {
    "two arcs": lambda space: (space.add_arc((9, 4), 3, 30, 210), space.add_arc((9, 4), 3, 210, 30)),
    "three arcs that overlap": lambda space: [space.add_arc((9, 4), 3, a, a + 140) for a in (0, 120, 240)],
    "one arc all round": lambda space: space.add_arc((9, 4), 3, 0, 360),
    "light polyline of two bulges": lambda s: s.add_lwpolyline([(6, 4, 1), (12, 4, 1)], format="xyb", close=True),
    "the other way round": lambda s: s.add_lwpolyline([(6, 4, -1), (12, 4, -1)], format="xyb", close=True),
    "closed by its last corner": lambda s: s.add_lwpolyline([(6, 4, 1), (12, 4, 1), (6, 4, 0)], format="xyb"),
    "four bulges": lambda space: space.add_lwpolyline(
        [(x, y, math.tan(math.pi / 8)) for x, y in polygon(9, 4, 3, 4)], format="xyb", close=True
    ),
    "old polyline": lambda s: s.add_polyline2d([(6, 4, 1), (12, 4, 1)], format="xyb", close=True),
    "ellipse that is none": lambda space: space.add_ellipse((9, 4), (0, 3), 1.0),
    "spline in quarters": lambda space: quarter_splines(space, 9, 4, 3),
    "polygon of 72 sides": lambda space: space.add_lwpolyline(polygon(9, 4, 3, 72), close=True),
}


@pytest.mark.parametrize("name", CIRCLES)
def test_what_stands_for_a_circle_is_one(name: str) -> None:
    document, space = drawing()
    CIRCLES[name](space)
    assert rows(read(written(document))) == [pytest.approx((9, 4, 6), abs=1e-3)]


OUTLINE = "a closed outline that is no circle, left out"
NO_CIRCLES = {
    "arc with a gap": (lambda space: space.add_arc((9, 4), 3, 0, 355), "an arc that closes to no circle, left out"),
    "arcs of two middles": (
        lambda space: (space.add_arc((9, 4), 3, 0, 180), space.add_arc((9.1, 4), 3, 180, 360)),
        "2 times: an arc that closes to no circle, left out",
    ),
    "arcs of two layers": (
        lambda s: (s.add_arc((9, 4), 3, 0, 180), s.add_arc((9, 4), 3, 180, 0, dxfattribs={"layer": "B"})),
        "2 times: an arc that closes to no circle, left out",
    ),
    "slot": (
        lambda s: s.add_lwpolyline([(0, 0, 0), (9, 0, 1), (9, 4, 0), (0, 4, 1)], format="xyb", close=True),
        "a slot (a closed outline with two round ends), left out",
    ),
    "ellipse": (lambda space: space.add_ellipse((9, 4), (3, 0), 0.9), "an ellipse"),
    "point": (lambda space: space.add_point((9, 4)), "a point, which has no diameter, left out"),
    "nut": (lambda space: space.add_lwpolyline(polygon(9, 4, 3, 6), close=True), OUTLINE),
    "circle with a flat side": (lambda s: s.add_lwpolyline([(0, 0, 4), (1, 0, 0)], format="xyb", close=True), OUTLINE),
    "polygon left open": (lambda space: space.add_lwpolyline(polygon(9, 4, 3, 72)), ""),
    "star": (lambda s: s.add_lwpolyline(polygon(9, 4, 3, 73)[::2] + polygon(9, 4, 3, 73)[1::2], close=True), OUTLINE),
}


@pytest.mark.parametrize("name", NO_CIRCLES)
def test_what_is_no_circle_is_told(name: str) -> None:
    draw, says = NO_CIRCLES[name]
    document, space = drawing()
    draw(space)
    reading = read(written(document))
    assert rows(reading) == []
    assert says in told(reading)


def test_only_model_space_counts() -> None:
    document, space = drawing()
    document.layout("Layout1").add_circle((1, 1), 1)
    document.blocks.new("UNUSED").add_circle((1, 1), 1)
    space.add_line((0, 0), (1, 1))
    assert rows(read(written(document))) == []


def test_missing_blocks_are_told() -> None:
    document, space = drawing()
    space.add_blockref("NOWHERE", (0, 0))
    reading = read(written(document))
    assert rows(reading) == []
    assert "the drawing was mended on reading" in told(reading)
    assert "INSERT" in told(reading)


BAD = [
    (float("nan"), "has figures that are not finite"), (float("inf"), "has figures that are not finite"),
    (1e300, "lies 1e300 mm out"), (-1e300, "lies 1e300 mm out"), (1e9, "lies 1e9 mm out"),
]  # fmt: skip


@pytest.mark.parametrize(("figure", "said"), BAD)
def test_figures_that_cannot_be_are_refused_with_their_line(figure: float, said: str) -> None:
    document, space = drawing()
    space.add_circle((figure, 0), 1)
    data = written(document)
    reading = read(data)
    assert [problem.what for problem in reading.problems] == [f"a CIRCLE {said}"]
    assert data.splitlines()[(reading.problems[0].line or 0) - 1].strip() == b"CIRCLE"


def test_figures_beyond_a_float_are_refused() -> None:
    document, space = drawing()
    space.add_circle((123.25, 0), 1)
    for figure in (b"1e400", b"9" * 5000, b"x"):
        reading = read(written(document).replace(b"123.25", figure))
        assert reading.problems
        assert reading.problems[0].mend


def test_blocks_in_themselves_and_without_end_are_refused() -> None:
    document, space = drawing()
    document.blocks.new("RING").add_blockref("RING", (0, 0))
    space.add_blockref("RING", (0, 0))
    assert "or in themselves" in told(read(written(document)))

    document, space = drawing()
    document.blocks.new("B0").add_circle((0, 0), 1)
    for level in range(1, 9):
        block = document.blocks.new(f"B{level}")
        for place in range(10):
            block.add_blockref(f"B{level - 1}", (place, 0))
    space.add_blockref("B8", (0, 0))
    assert f"unfolds to more than {MOST_ENTITIES} entities" in told(read(written(document)))

    document, space = drawing()
    document.blocks.new("ONE").add_circle((0, 0), 1)
    space.add_blockref("ONE", (0, 0), dxfattribs={"row_count": 32000, "column_count": 32000, "row_spacing": 1})
    assert "times" in told(read(written(document)))


def test_a_drawing_cut_short_is_refused() -> None:
    document, space = drawing()
    for x in range(20):
        space.add_circle((x, 0), 1)
    data = written(document)
    for share in range(1, 40):
        assert read(data[: len(data) * share // 40]).problems
    assert "cut short: it ends amid a section" in told(read(data[: data.index(b"AcDbCircle")]))
    end = data.rindex(b"  0")
    assert "the DXF has no end (EOF)" in told(read(data[:end]))
    assert len(rows(read(data[:end]))) == 20


# The least that is a DXF: entities alone, no header, no handles.
LEAST = b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n8\nDRILL\n10\n5.0\n20\n6.0\n40\n3.0\n0\nENDSEC\n0\nEOF\n"


def test_the_least_that_is_a_dxf() -> None:
    assert "does not say its units" in told(read(LEAST))
    for data in (LEAST, LEAST.replace(b"\n", b"\r\n"), b"999\na comment\n" + LEAST, b"\xef\xbb\xbf" + LEAST):
        assert rows(read(data, "mm")) == [(5, 6, 6)]


def test_a_circle_without_a_radius_is_no_circle_of_one() -> None:
    for spoiled in (LEAST.replace(b"40\n3.0\n", b""), LEAST.replace(b"3.0", b"-3"), LEAST.replace(b"3.0", b"0")):
        reading = read(spoiled, "mm")
        assert reading.holes == ()
        assert "CIRCLE" in told(reading)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32), st.integers(1, 8))
def test_spoiled_drawings_give_holes_or_problems(seed: int, times: int) -> None:
    import random

    document, space = drawing()
    document.blocks.new("B").add_arc((0, 0), 1, 0, 180)
    space.add_blockref("B", (1, 1))
    space.add_circle((3, 3), 1)
    space.add_lwpolyline([(6, 4, 1), (12, 4, 1)], format="xyb", close=True)
    space.add_ellipse((9, 4), (3, 0), 0.9)
    quarter_splines(space, 9, 4, 3)
    lines = written(document).splitlines(keepends=True)
    start = next(number for number, line in enumerate(lines) if line.strip() == b"BLOCKS")
    chance = random.Random(seed)
    for _ in range(times):
        at = chance.randrange(start, len(lines))
        lines[at] = chance.choice([b"", b"x\n", b"-1\n", b"1e400\n", b"0\n", b"nan\n", b"CIRCLE\n", lines[at] * 2])
    reading = read(b"".join(lines))
    assert all(problem.what and problem.mend and problem.file for problem in reading.problems)


FIGURES = st.floats(-900, 900).map(lambda figure: round(figure, 6))
SIZES = st.floats(0.3, 90).map(lambda figure: round(figure, 6))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(FIGURES, FIGURES, SIZES), min_size=1, max_size=6),
    st.sampled_from([1, 4, 5, 9]),
    st.tuples(FIGURES, FIGURES, st.floats(-360, 360), st.floats(0.25, 4), st.booleans()),
)
def test_circles_in_a_block_read_back_to_a_micron(
    circles: list[tuple[float, float, float]], code: int, place: tuple[float, float, float, float, bool]
) -> None:
    dx, dy, turn, scale, mirrored = place
    document, space = drawing(code)
    block = document.blocks.new("FACE")
    for x, y, d in circles:
        block.add_circle((x / UNITS[code], y / UNITS[code]), d / 2 / UNITS[code])
    space.add_blockref(
        "FACE",
        (dx / UNITS[code], dy / UNITS[code]),
        dxfattribs={"rotation": turn, "xscale": -scale if mirrored else scale, "yscale": scale},
    )
    matrix = Matrix44.scale(-scale if mirrored else scale, scale, 1) @ Matrix44.z_rotate(math.radians(turn))
    matrix = matrix @ Matrix44.translate(dx, dy, 0)
    wanted = [(*matrix.transform((x, y, 0)).xyz[:2], d * scale) for x, y, d in circles]
    assert rows(read(written(document))) == [pytest.approx(row, abs=1e-3) for row in wanted]
