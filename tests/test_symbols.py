"""Symbols by name in any text, and what is said of text that cannot be set."""

import unicodedata
from pathlib import Path

import pytest
from helpers.debian import debian_font
from helpers.jobs import lay
from helpers.runs import run_here

from facegraphic.lettering.font import Font
from facegraphic.lettering.library import load_named, named_fonts, symbols
from facegraphic.lettering.text import Style, set_block
from facegraphic.pipeline.preparing import prepare

# IEC 60417 numbers as their names in the table (titles: public descriptions of the standard's symbols).
IEC_60417 = {
    "power-on": "5007",
    "power-off": "5008",
    "standby": "5009",
    "power-toggle": "5010",
    "earth": "5017",
    "protective-earth": "5019",
    "dc": "5031",
    "ac": "5032",
    "double-insulated": "5172",
    "dc-centre-plus": "5926",
    "dc-centre-minus": "5926",
}

JOB = """\
[box]
stock = "120x94x34"
[finish]
font = "{font}"
[[face]]
side = "top"
[[face.text]]
text = "{text}"
at = [0, 0]
"""


def test_the_iec_symbols_are_there_with_their_numbers() -> None:
    import tomllib

    table = Path(named_fonts()["tagstrip-bold"]).parent.parent / "source" / "symbols.toml"
    rows = tomllib.loads(table.read_text(encoding="utf-8"))["glyphs"]
    for name, number in IEC_60417.items():
        assert number in rows[name]["source"]


def test_every_symbol_has_a_private_code_of_its_own() -> None:
    codes = [ord(character) for character in symbols().values()]
    assert len(set(codes)) == len(codes) >= 35
    assert all(0xE000 <= code <= 0xF8FF for code in codes)


@pytest.mark.parametrize("name", [name for name in named_fonts() if name.startswith("tagstrip")])
def test_every_cut_draws_every_symbol(name: str) -> None:
    font = load_named(name)
    for character in symbols().values():
        assert ord(character) in font.characters
        assert set_block(character, Style(font, 3)).path


def test_another_font_borrows_the_weight_nearest_to_its_own() -> None:
    assert load_named("barlow-condensed-light").companion is load_named("tagstrip-light")
    assert load_named("barlow-condensed-bold").companion is load_named("tagstrip-bold")
    assert load_named("barlow-condensed-bold").missing(symbols()["sine"] + "A") == []


@pytest.mark.parametrize("font", ["tagstrip-bold", "barlow-condensed-semibold"])
def test_a_symbol_stands_in_a_text(tmp_path: Path, font: str) -> None:
    with_symbol = prepare(lay(tmp_path / "a", JOB.format(font=font, text="WAVE {sine}"))).layouts[0].legends[0]
    without = prepare(lay(tmp_path / "b", JOB.format(font=font, text="WAVE"))).layouts[0].legends[0]
    assert with_symbol.box.width > without.box.width + 2


def told(folder: Path, text: str, font: str = "tagstrip-bold") -> str:
    ran = run_here("make", lay(folder, JOB.format(font=font, text=text)))
    assert ran.status == 1
    assert "job.toml:8" in ran.err
    return ran.err


def test_an_unknown_symbol_gets_the_nearest_name(tmp_path: Path) -> None:
    assert 'did you mean "sine"?' in told(tmp_path, "{sinus}")


def test_a_character_outside_the_font_is_named_with_font_and_text(tmp_path: Path) -> None:
    message = told(tmp_path, "TON Ж")
    assert "tagstrip-bold" in message
    assert "U+0416 CYRILLIC CAPITAL LETTER ZHE" in message
    assert "TON Ж" in message


def test_letters_to_the_left_need_a_font_that_has_them(tmp_path: Path) -> None:
    assert "U+05E9" in told(tmp_path, "\u05e9\u05dc\u05d5\u05dd")


def test_mixed_directions_in_one_line_are_refused_by_name(tmp_path: Path) -> None:
    assert "mixes writing" in told(tmp_path, "TONE \u05e9\u05dc\u05d5\u05dd")


def test_combining_marks_are_composed_where_the_font_has_the_letter(tmp_path: Path) -> None:
    apart = unicodedata.normalize("NFD", "ÉCHO Ångström")
    assert len(apart) > len("ÉCHO Ångström")
    legend = prepare(lay(tmp_path, JOB.format(font="tagstrip-bold", text=apart))).layouts[0].legends[0]
    assert legend.text == "ÉCHO Ångström"


def test_combining_marks_without_a_letter_of_their_own_are_named(tmp_path: Path) -> None:
    assert "U+0323 COMBINING DOT BELOW" in told(tmp_path, "X\u0323")


def test_hebrew_is_shaped_right_to_left_by_a_font_that_has_it() -> None:
    """HarfBuzz gives glyphs in visual order: the first letter of the text stands last, at the right."""
    font = Font("sans", debian_font("fonts-dejavu-core", "truetype/dejavu/DejaVuSans.ttf").read_bytes())
    clusters = [glyph.cluster for glyph in font.shape("\u05e9\u05dc\u05d5\u05dd")]
    assert clusters == [3, 2, 1, 0]


def test_an_empty_label_is_no_label(tmp_path: Path) -> None:
    assert prepare(lay(tmp_path, JOB.format(font="tagstrip-bold", text="  "))).layouts[0].legends == ()


def test_two_hundred_characters_find_no_room_and_it_is_said(tmp_path: Path) -> None:
    job = '[box]\nstock = "93x39x31"\n[[face]]\nside = "top"\nhole = [{ id = "a", at = [0, 0], d = 7 }]\n'
    job += f'[[face.control]]\nhole = "a"\nlabel = "{"LEVEL " * 33}"\n'
    ran = run_here("make", lay(tmp_path, job))
    assert ran.status == 1
    assert "has no room" in ran.err


@pytest.mark.parametrize("escape", ["\\u0007", "\\u001b[31m", "\\u0085"])
def test_control_characters_are_named(tmp_path: Path, escape: str) -> None:
    assert "control character U+00" in told(tmp_path, "A" + escape)
