"""Proportions of ISO 3098-0 type B, within 2 % of the capital height."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from font_measure import Proportions, proportions
from fontTools.ttLib import TTFont

TOLERANCE = 0.02
STROKES = {"Light": 1 / 14, "Regular": 1 / 10, "Bold": 1 / 7}


def faults(found: Proportions, stroke: float) -> list[str]:
    """Return which measures are off by more than the tolerance, capital height = 1."""
    wanted = {"stem": stroke, "x_height": 0.7, "descender": 0.3, "letter_gap": 0.2, "word_gap": 0.6}
    return [n for n, v in wanted.items() if abs(getattr(found, n) / found.cap - v) > TOLERANCE]


def test_measures(face_path: Path) -> None:
    found = proportions(face_path)
    assert faults(found, STROKES[face_path.stem.rpartition("-")[2]]) == []
    with TTFont(face_path) as font:
        assert found.cap == font["OS/2"].sCapHeight == 1400
        assert abs(found.x_height - font["OS/2"].sxHeight) <= 1


def test_a_wrong_measure_is_seen(face_path: Path) -> None:
    stroke = STROKES[face_path.stem.rpartition("-")[2]]
    found = proportions(face_path)
    for name in ("stem", "x_height", "descender", "letter_gap", "word_gap"):
        wrong = replace(found, **{name: getattr(found, name) + 0.03 * found.cap})
        assert faults(wrong, stroke) == [name]


@pytest.mark.parametrize("system_font", ["osifont"], indirect=True)
def test_measuring_code_on_a_known_font(system_font: Path) -> None:
    """The figures are those recorded for the font; its x is drawn 2 units under its x-height."""
    found = proportions(system_font)
    known = {"cap": 1510, "stem": 152, "x_height": 1059, "descender": 456}
    assert {n: round(getattr(found, n)) for n in known} == pytest.approx(known, abs=2)
    # The figures that fonts/README.md sets beside Tagstrip's: it is spaced wider than the standard's least.
    shares = {n: getattr(found, n) / found.cap for n in ("letter_gap", "word_gap")}
    assert shares == pytest.approx({"letter_gap": 0.366, "word_gap": 0.927}, abs=0.002)
    assert faults(found, 1 / 10) == ["letter_gap", "word_gap"]


def test_figures_share_one_advance(face_path: Path) -> None:
    with TTFont(face_path) as font:
        names = font.getBestCmap()
        assert len({font["hmtx"][names[ord(c)]][0] for c in "0123456789"}) == 1


def test_nothing_leaves_the_line(face_path: Path) -> None:
    with TTFont(face_path) as font:
        assert font["head"].yMax <= font["hhea"].ascent
        assert font["head"].yMin >= font["hhea"].descent
