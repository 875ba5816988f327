"""The variable font gives the static weights at their places and sound forms between them."""

from __future__ import annotations

from functools import cache
from io import BytesIO
from pathlib import Path

import pytest
from font_measure import BUILT, Shaper, areas_of, proportions
from fontTools.ttLib import TTFont
from fontTools.ttLib.removeOverlaps import removeOverlaps
from fontTools.varLib.instancer import instantiateVariableFont

VARIABLE = BUILT / "Tagstrip[wght].ttf"
PLACES = {"Light": 300, "Regular": 400, "Bold": 700}
TEXT = "AVATo LEVEL Wave 0123 Tö"


@cache
def instance(weight: float) -> bytes:
    """Return the variable font pinned to one weight, overlaps removed."""
    with TTFont(VARIABLE) as font:
        pinned = instantiateVariableFont(font, {"wght": weight})
    stream = BytesIO()
    pinned.save(stream)
    stream.seek(0)
    fresh, out = TTFont(stream), BytesIO()
    removeOverlaps(fresh)
    fresh.save(out)
    return out.getvalue()


def unlike(first: TTFont, second: TTFont) -> list[str]:
    """Return the glyphs whose areas or advances differ by more than rounding allows."""
    found = []
    ones, others = areas_of(first), areas_of(second)
    for name, a in ones.items():
        b = others[name]
        # 1.5 units along the whole edge: rounding of points, of deltas, and of curves
        stray = a.symmetric_difference(b).area > 1.5 * max(a.length, 1)
        if stray or abs(first["hmtx"][name][0] - second["hmtx"][name][0]) > 1:
            found.append(name)
    return found


@pytest.mark.parametrize("style", PLACES)
def test_instances_are_the_static_weights(style: str) -> None:
    with TTFont(BUILT / f"Tagstrip-{style}.ttf") as static:
        assert unlike(static, TTFont(BytesIO(instance(PLACES[style])))) == []


def test_a_different_weight_is_seen() -> None:
    with TTFont(BUILT / "Tagstrip-Bold.ttf") as static:
        assert set(unlike(static, TTFont(BytesIO(instance(690))))) >= {"H", "n", "eight", "aring"}


@pytest.mark.parametrize(
    ("weight", "stroke"),
    [
        (300, 1 / 14),
        (350, (1 / 14 + 1 / 10) / 2),
        (400, 1 / 10),
        (550, (1 / 10 + 1 / 7) / 2),
        (700, 1 / 7),
    ],
)
def test_stroke_grows_evenly(tmp_path: Path, weight: float, stroke: float) -> None:
    (tmp_path / "between.ttf").write_bytes(instance(weight))
    found = proportions(tmp_path / "between.ttf")
    assert found.stem == pytest.approx(stroke * 1400, abs=1)
    assert found.cap == 1400
    assert found.x_height == pytest.approx(980, abs=1)


@pytest.mark.parametrize("style", PLACES)
def test_advances_and_kerning_follow(style: str) -> None:
    varied = Shaper.open(VARIABLE).advances(TEXT, {"wght": PLACES[style]})
    static = Shaper.open(BUILT / f"Tagstrip-{style}.ttf").advances(TEXT)
    # The static file leaves out the kerning that is too small to be worth it.
    assert varied == pytest.approx(static, abs=1)


def test_overlaps_are_marked() -> None:
    with TTFont(VARIABLE) as font:
        drawn = [g for n in font.getGlyphOrder() if (g := font["glyf"][n]).numberOfContours > 0]
        assert all(glyph.flags[0] & 0x40 for glyph in drawn)
