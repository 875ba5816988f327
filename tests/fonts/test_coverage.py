"""Every promised character and symbol is there and drawn."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from font_measure import ROOT, areas
from fontTools.pens.areaPen import AreaPen
from fontTools.ttLib import TTFont
from PIL import Image, ImageDraw, ImageFont

BLANK = {0x20, 0xA0, 0x2009, 0x202F}
SIGNS = "Ωµμ°±×÷−–—…‘’“”•←↑→↓⅛¼⅓½⅔¾∞€™\u2126\u00a0\u202f"
PROMISED = {*range(0x20, 0x7F), *range(0xA0, 0x180), *map(ord, SIGNS)}


def symbols() -> dict[str, int]:
    """Return name and code point of every symbol, as a program reads them."""
    document = tomllib.loads((ROOT / "fonts" / "source" / "symbols.toml").read_text(encoding="utf-8"))
    return {name: entry["code"] for name, entry in document["glyphs"].items()}


def lacking(path: Path, codes: set[int]) -> list[int]:
    """Return the code points a file has no drawn glyph for."""
    with TTFont(path) as font:
        names = font.getBestCmap()
    drawn = {code for code, name in names.items() if code in BLANK or areas(path)[name].area > 100}
    return sorted(codes - drawn)


def test_coverage(built_path: Path) -> None:
    assert lacking(built_path, PROMISED | set(symbols().values())) == []


def test_a_missing_glyph_is_seen(face_path: Path) -> None:
    assert lacking(face_path, {0x41, 0x4E00}) == [0x4E00]


def test_symbol_table_is_complete() -> None:
    document = tomllib.loads((ROOT / "fonts" / "source" / "symbols.toml").read_text(encoding="utf-8"))
    codes = sorted(symbols().values())
    assert codes == list(range(0xE000, 0xE000 + len(codes)))
    for entry in document["glyphs"].values():
        assert entry["meaning"] and entry["source"]


def test_blanks_and_notdef(face_path: Path) -> None:
    with TTFont(face_path) as font:
        names = font.getBestCmap()
        assert all(areas(face_path)[names[code]].is_empty for code in BLANK)
        assert not areas(face_path)[".notdef"].is_empty
        assert font.getGlyphOrder()[0] == ".notdef"


def test_fonttools_reads_every_table_without_a_word(built_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    with TTFont(built_path, lazy=False) as font:
        for tag in font.keys():  # noqa: SIM118  (a TTFont iterates over tables by index, not by tag)
            font[tag].compile(font) if hasattr(font[tag], "compile") else None
    assert caplog.records == []


def test_freetype_draws_every_file(built_path: Path) -> None:
    image = Image.new("L", (400, 120), 255)
    ImageDraw.Draw(image).text((10, 10), "Ag0½\ue000", font=ImageFont.truetype(str(built_path), 80), fill=0)
    assert 500 < sum(1 for value in image.tobytes() if value < 128) < 20000


def test_outlines_are_clean(face_path: Path) -> None:
    """Curves stay curves (few points); contours do not overlap and run the right way round."""
    assert [name for name, shape in areas(face_path).items() if not shape.is_valid] == []
    with TTFont(face_path) as font:
        glyphs, table = font.getGlyphSet(), font["glyf"]
        counts = {name: len(table[name].getCoordinates(table)[0]) for name in font.getGlyphOrder()}
        wound = {}
        for name, shape in areas(face_path).items():
            pen = AreaPen(glyphs)
            glyphs[name].draw(pen)
            # Clockwise outside and anticlockwise inside: the signed areas add up to the ink.
            if abs(-pen.value - shape.area) > 0.01 * shape.area + 50:
                wound[name] = (pen.value, shape.area)
    assert wound == {}
    assert max(counts.values()) < 420
    assert counts["O"] <= 100
