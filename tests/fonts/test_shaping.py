"""Advances and kerning: HarfBuzz and the tables read by hand agree, and the kerning is sane."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import shapely.affinity
from font_measure import Shaper, area
from fontTools.ttLib import TTFont

PAIRS = [
    "AV",
    "VA",
    "To",
    "LT",
    "HH",
    "OO",
    "ry",
    "P.",
    "T-",
    "r.",
    "01",
    "nn",
    "WA",
    "ÅV",
    "Tö",
    "AT",
    "Ly",
    "fo",
]


def table_kerning(font: TTFont, left: str, right: str) -> int:
    """Return the kerning of two glyphs as written in GPOS (first subtable that knows the left)."""
    for lookup in font["GPOS"].table.LookupList.Lookup:
        for table in lookup.SubTable:
            table = getattr(table, "ExtSubTable", table)
            if left not in table.Coverage.glyphs:
                continue
            if table.Format == 1:
                row = table.PairSet[table.Coverage.glyphs.index(left)]
                found = [pair.Value1 for pair in row.PairValueRecord if pair.SecondGlyph == right]
                if found:
                    return getattr(found[0], "XAdvance", 0) if found[0] else 0
                continue
            first = table.ClassDef1.classDefs.get(left, 0)
            second = table.ClassDef2.classDefs.get(right, 0)
            value = table.Class1Record[first].Class2Record[second].Value1
            return getattr(value, "XAdvance", 0) if value else 0
    return 0


def expected(font: TTFont, text: str) -> list[int]:
    """Return the advances of a pair from hmtx and GPOS."""
    left, right = (font.getBestCmap()[ord(c)] for c in text)
    return [font["hmtx"][left][0] + table_kerning(font, left, right), font["hmtx"][right][0]]


def test_harfbuzz_and_tables_agree(face_path: Path) -> None:
    shaper = Shaper.open(face_path)
    with TTFont(face_path) as font:
        assert {p: shaper.advances(p) for p in PAIRS} == {p: expected(font, p) for p in PAIRS}


def test_a_changed_kerning_is_seen(face_path: Path, tmp_path: Path) -> None:
    with TTFont(face_path) as font:
        tables = (getattr(t, "ExtSubTable", t) for t in font["GPOS"].table.LookupList.Lookup[0].SubTable)
        table = next(table for table in tables if table.Format == 2)
        wanted = expected(font, "AV")
        first, second = table.ClassDef1.classDefs.get("A", 0), table.ClassDef2.classDefs.get("V", 0)
        table.Class1Record[first].Class2Record[second].Value1.XAdvance += 10
        font.save(tmp_path / "changed.ttf")
    assert Shaper.open(tmp_path / "changed.ttf").advances("AV") != wanted


def test_kerning_goes_the_right_way(face_path: Path) -> None:
    with TTFont(face_path) as font:
        for text in ("AV", "LT", "To", "P.", "ÅV"):
            left, right = (font.getBestCmap()[ord(c)] for c in text)
            assert table_kerning(font, left, right) < -0.04 * 1400, text
        assert table_kerning(font, "H", "H") == table_kerning(font, "n", "n") == 0
        assert all(table_kerning(font, a, b) == 0 for a in ("zero", "one") for b in ("seven", "one"))


def test_no_pair_comes_too_close(face_path: Path) -> None:
    """Ink of neighbours keeps 0.1 h, over all pairs of plain letters and of accented ones beside letters."""
    plain = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
    marked = "ÄÅÎÏÑĹŤäöüñïîĵìíķšťļ"
    letters = plain + marked
    shaper = Shaper.open(face_path)
    with TTFont(face_path) as font:
        names = font.getBestCmap()
        shapes = {c: area(font, names[ord(c)]).simplify(3) for c in letters}

    @cache
    def near(first: str, second: str) -> float:
        moved = shapely.affinity.translate(shapes[second], shaper.advances(first + second)[0])
        return float(shapes[first].distance(moved))

    close = {a + b: round(near(a, b)) for a in letters for b in letters if near(a, b) < 0.1 * 1400}
    assert close == {}
