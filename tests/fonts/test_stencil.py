"""In a stencil no counter may be closed."""

from __future__ import annotations

from pathlib import Path

import pytest
import shapely
from font_measure import BUILT, areas, counter_table, counters
from fontTools.ttLib import TTFont

SET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789@#&%"
STENCILS = sorted(BUILT.glob("*Stencil-*.ttf"))


def table(text: str) -> dict[str, int]:
    """Read ``A1 B2`` as a table."""
    return {word[0]: int(word[1]) for word in text.split()}


def test_there_are_stencils() -> None:
    assert [path.stem for path in STENCILS] == ["TagstripStencil-Bold", "TagstripStencil-Regular"]


@pytest.mark.parametrize("path", STENCILS, ids=lambda p: p.stem)
def test_no_counter_is_closed(path: Path) -> None:
    assert {name: n for name, shape in areas(path).items() if (n := counters(shape))} == {}


@pytest.mark.parametrize("path", STENCILS, ids=lambda p: p.stem)
def test_bridges_are_wide_enough(path: Path) -> None:
    """Closing gaps narrower than 0.055 h must not close a counter of any glyph, symbols and signs included."""
    with TTFont(path) as font:
        reach = 0.055 * font["OS/2"].sCapHeight / 2
    shut = [name for name, shape in areas(path).items() if counters(shape.buffer(reach).buffer(-reach))]
    assert shut == []


def test_the_plain_cut_has_the_counters_one_expects() -> None:
    found = counter_table(BUILT / "Tagstrip-Regular.ttf", SET)
    assert found == table("A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 01 41 61 82 91 @1 #1 &2 %2")


@pytest.mark.parametrize("system_font", ["dejavu"], indirect=True)
def test_counting_on_a_known_font(system_font: Path) -> None:
    wanted = "A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 01 41 61 82 91 @1 #1 &1 %2"
    assert counter_table(system_font, SET) == table(wanted)


@pytest.mark.parametrize("system_font", ["allerta_medium"], indirect=True)
def test_counting_on_a_postscript_font(system_font: Path) -> None:
    wanted = "A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 02 41 61 82 91 @1 &2 %2"
    assert counter_table(system_font, SET) == table(wanted)


@pytest.mark.parametrize("system_font", ["allerta_stencil"], indirect=True)
def test_counting_on_a_known_stencil(system_font: Path) -> None:
    assert counter_table(system_font, SET) == {}


def test_a_planted_counter_is_seen() -> None:
    ring = shapely.Point(0, 0).buffer(10) - shapely.Point(0, 0).buffer(6)
    assert counters(ring) == 1
    assert counters(ring - shapely.box(-1, 0, 1, 20)) == 0
