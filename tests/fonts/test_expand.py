"""The notation is read rightly, and the pen drawn along a skeleton leaves its exact trace."""

from __future__ import annotations

import pathlib
from dataclasses import replace

import numpy as np
import pytest
import shapely
from pathops import Path
from shapely.geometry.base import BaseGeometry

from fonts.build.design import BOLD, CUTS, GRID, LIGHT, REGULAR, Cut, Zone
from fonts.build.expand import bury_ends, expand
from fonts.build.notation import Disc, NotationError, Shape, Stroke, parse
from fonts.build.outline import polygon, quadratic, unite
from fonts.build.source import Part, SourceError, load
from fonts.build.stencil import counters

NEAR = 0.02  # grid units, h/500


def scaled(path: Path) -> BaseGeometry:
    """Return an outline as an area in grid units."""
    return shapely.transform(polygon(path), lambda xy: xy / GRID)


def ink(shape: Shape, pen: float) -> BaseGeometry:
    """Return the area of one expanded stroke, grid units."""
    return scaled(unite(quadratic([expand(shape, pen)])[0]))


def trace(stroke: Stroke, pen: float) -> BaseGeometry:
    """Return what a round pen covers, by another way: the buffer of the centre line."""
    points = [piece.point(t) for piece in stroke.segments for t in np.linspace(0, 1, 49)]
    return shapely.LineString([(p.real, p.imag) for p in points]).buffer(stroke.pen * pen / 2, quad_segs=48)


def strays(found: BaseGeometry, wanted: BaseGeometry) -> bool:
    """Tell whether two areas differ anywhere by more than NEAR."""
    over, under = found - wanted.buffer(NEAR), wanted - found.buffer(NEAR)
    return bool(over.area + under.area > 1e-4)


@pytest.mark.parametrize("cut", [CUTS[0], CUTS[2], CUTS[5]], ids=lambda cut: cut.file_stem)
def test_every_stroke_is_the_trace_of_the_pen(cut: Cut) -> None:
    wrong, count = [], 0
    for name, glyph in load().glyphs.items():
        for shape in glyph.shapes:
            if isinstance(shape, Stroke):
                rounded = replace(shape.mapped(cut.mapping(glyph.zone)), round_start=True, round_end=True)
                count += 1
                if strays(ink(rounded, cut.pen), trace(rounded, cut.pen)):
                    wrong.append(name)
    assert wrong == []
    assert count > 300


def test_a_wrong_pen_is_seen() -> None:
    stem = parse("M 0 .5 V 9.5")
    assert isinstance(stem, Stroke)
    assert not strays(ink(stem, 1.0), trace(stem, 1.0))
    assert strays(ink(stem, 1.05), trace(stem, 1.0))
    assert strays(ink(stem, 0.95), trace(stem, 1.0))


def test_same_points_at_every_weight() -> None:
    text = "M 4.9 7.2 vh 2.5 9.5 hv 0 6 V 3 L 4 1 H 6 trim .3 0"
    light, regular, bold = (
        [type(piece) for contour in expand(parse(text), pen) for piece in contour] for pen in (LIGHT, REGULAR, BOLD)
    )
    assert light == regular == bold


def test_ends_on_other_strokes_are_flat() -> None:
    stem, bar, free = bury_ends((parse("M 0 0 V 10"), parse("M 0 5 H 5"), parse("M 7 0 V 5")))
    assert isinstance(stem, Stroke) and isinstance(bar, Stroke) and isinstance(free, Stroke)
    assert (stem.round_start, bar.round_start, bar.round_end, free.round_end) == (True, False, True, True)


def test_discs() -> None:
    assert parse("dot 1 2 1.4") == Disc(1 + 2j, 0, 1.4)
    assert ink(parse("disc 0 0 2"), 1).area == pytest.approx(np.pi * 4, rel=0.005)


@pytest.mark.parametrize(
    "text",
    ["", "L 1 1", "M 0", "M 0 0 X 1", "M 0 0 L 0 0", "M 0 0", "M 0 0 L a b", "M 0 0 M 1 1", "dot 1 2", "Z"],
)
def test_bad_strokes_are_refused(text: str) -> None:
    with pytest.raises(NotationError):
        parse(text)


def test_heights_are_kept_at_every_weight() -> None:
    for cut in CUTS:
        half = cut.pen / 2
        lower, upper = cut.mapping(Zone.LOWER), cut.mapping(Zone.UPPER)
        assert [lower(complex(0, y)).imag for y in (0.5, 6.5, 9.5, -2.5)] == pytest.approx(
            [half, 7 - half, 10 - half, half - 3]
        )
        assert [upper(complex(0, y)).imag for y in (0.5, 9.5)] == pytest.approx([half, 10 - half])


def test_sources_name_only_what_exists() -> None:
    library = load()
    assert library.glyphs["Aacute"].parts == (Part("A"), Part("mark.acute"))
    assert library.by_code[0x2126] == library.by_code[0x03A9] == "Omega"


@pytest.mark.parametrize(
    "line", ['x = { parts = "nobody" }', 'x = { char = "x", colour = 1 }', 'x = { parts = "a@b" }']
)
def test_bad_sources_are_refused(tmp_path: pathlib.Path, line: str) -> None:
    (tmp_path / "x.toml").write_text(f"[glyphs]\n{line}\n", encoding="utf-8")
    with pytest.raises(SourceError):
        load(tmp_path)


def test_builder_and_tests_count_counters_alike() -> None:
    assert len(counters(ink(parse("M 0 .5 H 5 V 9.5 H 0 Z"), 1.0))) == 1
    assert counters(ink(parse("M 0 .5 V 9.5"), 1.0)) == []
