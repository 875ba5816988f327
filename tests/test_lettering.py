"""Lettering at its stated size: capitals, advances, kerning, lines, alignment, tracking, missing characters.

Advances, kerning and outlines are held against the font file's own tables, read by fontTools.
"""

import io
from collections.abc import Iterator
from functools import cache
from itertools import pairwise
from typing import Any

import pytest
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from helpers.debian import debian_font
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.geometry.path import Box
from facegraphic.lettering.directory import FontError
from facegraphic.lettering.font import Font, scripts
from facegraphic.lettering.library import DEFAULT_FONT, load_named, named_fonts
from facegraphic.lettering.text import Align, Style, line_length, set_block

NAMES = tuple(named_fonts())
FONT = load_named(DEFAULT_FONT)
LETTERS = st.text("ABCDEFGHIKLMNORSTUVXYZ", min_size=1, max_size=8)


@cache
def tables(name: str) -> TTFont:
    """A font of the library as fontTools reads it."""
    return TTFont(io.BytesIO(named_fonts()[name].read_bytes()))


def advance(name: str, character: str) -> int:
    """A character's unkerned advance from the hmtx table, in font units."""
    font = tables(name)
    width: int = font["hmtx"][font.getBestCmap()[ord(character)]][0]
    return width


def capital(name: str) -> float:
    """Height of the capital H as its outline has it, in font units."""
    font = tables(name)
    pen = BoundsPen(font.getGlyphSet())
    font.getGlyphSet()[font.getBestCmap()[ord("H")]].draw(pen)
    top: float = pen.bounds[3]
    return top


def pair_tables(font: TTFont) -> Iterator[Any]:
    """The pair adjustments of the kern feature, in lookup order."""
    gpos = font["GPOS"].table
    kern = [record.Feature for record in gpos.FeatureList.FeatureRecord if record.FeatureTag == "kern"]
    for index in sorted({index for feature in kern for index in feature.LookupListIndex}):
        for table in gpos.LookupList.Lookup[index].SubTable:
            yield getattr(table, "ExtSubTable", table)


def kerning(name: str, pair: str) -> int:
    """What the kern feature adds between two characters, in font units (OpenType: GPOS lookup type 2)."""
    font = tables(name)
    first, second = (font.getBestCmap()[ord(character)] for character in pair)
    for table in pair_tables(font):
        if table.LookupType != 2 or first not in table.Coverage.glyphs:
            continue
        if table.Format == 1:
            pairs = table.PairSet[table.Coverage.glyphs.index(first)].PairValueRecord
            value = next((record.Value1 for record in pairs if record.SecondGlyph == second), None)
            if value is None:
                continue
        else:
            row = table.Class1Record[table.ClassDef1.classDefs.get(first, 0)]
            value = row.Class2Record[table.ClassDef2.classDefs.get(second, 0)].Value1
        return getattr(value, "XAdvance", 0) if value else 0
    return 0


@pytest.mark.parametrize("name", NAMES)
def test_the_cap_height_is_the_height_of_an_h(name: str) -> None:
    assert load_named(name).cap_height == pytest.approx(capital(name), abs=1e-6)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("cap", [1.5, 2.8, 7.0])
def test_capitals_are_as_high_as_asked(name: str, cap: float) -> None:
    ink = set_block("H", Style(load_named(name), cap)).ink
    assert ink.height == pytest.approx(cap, abs=1e-9)
    assert ink.centre == pytest.approx((0, 0), abs=1e-9)


@given(text=LETTERS, cap=st.floats(1, 20))
def test_size_is_proportional(text: str, cap: float) -> None:
    one, other = set_block(text, Style(FONT, 1.0)).ink, set_block(text, Style(FONT, cap)).ink
    assert other == pytest.approx([side * cap for side in one], rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("character", "AHIMW08&g")
def test_one_characters_advance_is_that_of_hmtx(name: str, character: str) -> None:
    wanted = advance(name, character) * 2.8 / capital(name)
    assert line_length(character, Style(load_named(name), 2.8)) == pytest.approx(wanted, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("pair", ["AV", "VA", "TO", "LT", "HI", "NM"])
def test_pairs_are_kerned_as_the_font_says(name: str, pair: str) -> None:
    units = sum(advance(name, letter) for letter in pair) + kerning(name, pair)
    assert line_length(pair, Style(load_named(name), 2.8)) == pytest.approx(units * 2.8 / capital(name), abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("pair", ["AV", "VA"])
def test_slanting_letters_are_kerned_together(name: str, pair: str) -> None:
    style = Style(load_named(name), 2.8)
    apart = sum(line_length(letter, style) for letter in pair)
    assert kerning(name, pair) < 0
    assert line_length(pair, style) < apart - 0.02 * style.cap


@given(text=LETTERS, tracking=st.floats(0.05, 2))
def test_tracking_stands_between_letters_only(text: str, tracking: float) -> None:
    plain, wide = Style(FONT, 2.8), Style(FONT, 2.8, tracking=tracking)
    assert line_length(text, wide) - line_length(text, plain) == pytest.approx(tracking * (len(text) - 1), abs=1e-9)
    grown = set_block(text, wide).ink.width - set_block(text, plain).ink.width
    assert grown == pytest.approx(tracking * (len(text) - 1), abs=1e-9)


@given(text=LETTERS, cap=st.floats(1, 8), tracking=st.floats(0, 1))
def test_another_size_keeps_the_tracking_in_proportion(text: str, cap: float, tracking: float) -> None:
    style = Style(FONT, 2.0, tracking=tracking)
    assert line_length(text, style.at(cap)) == pytest.approx(line_length(text, style) * cap / 2.0, rel=1e-9)


@pytest.mark.parametrize("leading", [1.5, 1.7, 2.2])
def test_baselines_are_leading_times_cap_apart(leading: float) -> None:
    block = set_block("H\nH\nH", Style(FONT, 3.0, leading=leading))
    bottoms = sorted({round(min(y for _, y in ring), 6) for ring in block.path.rings()})
    assert [b - a for a, b in pairwise(bottoms)] == pytest.approx([3.0 * leading] * 2, abs=1e-5)
    assert block.body.height == pytest.approx(3.0 + 2 * 3.0 * leading)
    assert block.ink.centre == pytest.approx((0, 0), abs=1e-9)


@pytest.mark.parametrize(("align", "share"), [("left", 0.0), ("centre", 0.5), ("right", 1.0)])
def test_lines_are_aligned_by_their_ink(align: Align, share: float) -> None:
    block = set_block("HHHHH\nI", Style(FONT, 3.0, align=align))
    rings = block.path.rings()
    long, short = ink_of([ring for ring in rings if max(y for _, y in ring) > 1]), ink_of([rings[-1]])
    assert short.x0 - long.x0 == pytest.approx(share * (long.width - short.width), abs=1e-9)
    assert block.ink.width == pytest.approx(long.width)


def ink_of(rings: list[list[tuple[float, float]]]) -> Box:
    points = [point for ring in rings for point in ring]
    return Box(*map(min, zip(*points, strict=True)), *map(max, zip(*points, strict=True)))


def test_tails_do_not_move_the_baseline() -> None:
    """Blocks stand by their bodies, so that labels in a row share a baseline."""
    plain, tailed = set_block("Hn", Style(FONT, 3.0)), set_block("Hg", Style(FONT, 3.0))
    assert plain.body.height == tailed.body.height == 3.0
    assert tailed.ink.y0 < -1.5 - 0.2
    assert tailed.ink.y1 == pytest.approx(plain.ink.y1)


def test_an_empty_text_has_no_ink() -> None:
    block = set_block("", Style(FONT, 3.0))
    assert not block.path
    assert block.ink == block.body


@pytest.mark.parametrize("name", NAMES)
def test_missing_characters_are_named_once(name: str) -> None:
    font = load_named(name)
    assert font.missing("RATE 0-10\nLevel") == []
    assert font.missing("率A率\n쪽") == ["率", "쪽"]


@pytest.mark.parametrize("data", [b"", b"\0\1\0\0", b"OTTO" + bytes(40), b"GIF89a", b"\0\1\0\0" + b"\xff" * 200])
def test_bytes_that_are_no_font_are_refused(data: bytes) -> None:
    with pytest.raises(FontError):
        Font("none", data)


@pytest.fixture(scope="module")
def wide_font() -> Font:
    return Font("wide", debian_font("fonts-dejavu-core", "truetype/dejavu/DejaVuSans.ttf").read_bytes())


def test_arabic_is_joined_beside_hebrew_and_figures_read_on(wide_font: Font) -> None:
    # Unicode's bidirectional algorithm (UAX 9): the line runs to the left, a number in it to the right.
    arabic, hebrew = "\u0635\u0648\u062a", "\u05e7\u05d5\u05dc"
    joined = [glyph.index for glyph in wide_font.shape(arabic)]
    shaped = wide_font.shape(f"{hebrew} {arabic} 10")
    clusters = [glyph.cluster for glyph in shaped]
    assert clusters[:2] == [8, 9]
    assert clusters[2:] == sorted(clusters[2:], reverse=True)
    assert [glyph.index for glyph in shaped if 4 <= glyph.cluster < 7] == joined


def test_scripts_are_told_apart() -> None:
    assert scripts("R 10 \u03a9x") == [("Latn", 0, "R 10 "), ("Grek", 5, "\u03a9"), ("Latn", 6, "x")]
