"""A font whose file has changed since it was written is told: letters may be missing, and nothing else shows it.

What tables add up to is OpenType's (ISO/IEC 14496-22); fontTools, which wrote nothing of this, adds them up as well.
"""

import json
from pathlib import Path

import pytest
from fontTools.ttLib.sfnt import calcChecksum
from helpers.jobs import good, lay
from helpers.runs import run_here

from facegraphic.lettering.directory import DRAWN, damaged, rows
from facegraphic.lettering.library import named_fonts

FONT = named_fonts()["tagstrip-light"].read_bytes()
PLACES = {row.tag: row for row in rows(FONT)}


def changed(tag: str, by: int = 0x5A) -> bytes:
    """The font with one byte of a table changed."""
    at = PLACES[tag].at + PLACES[tag].size // 2
    return FONT[:at] + bytes([FONT[at] ^ by]) + FONT[at + 1 :]


@pytest.mark.parametrize("name", named_fonts())
def test_a_sound_font_adds_up(name: str) -> None:
    data = named_fonts()[name].read_bytes()
    assert damaged(data) == ()
    for row in rows(data):
        if row.tag != "head":  # which holds a sum of the whole file, that its own leaves out
            assert calcChecksum(data[row.at : row.at + row.size]) == row.sum, row.tag


@pytest.mark.parametrize("tag", [tag for tag in DRAWN if tag in PLACES])
def test_one_byte_is_enough(tag: str) -> None:
    assert damaged(changed(tag)) == (tag,)


def test_what_no_letter_comes_from_is_left_alone() -> None:
    assert damaged(changed("name")) == ()


def test_check_and_the_specimen_tell_it_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    job = lay(tmp_path, good("dpi = 150", 'dpi = 150\nfont = "buoy.ttf"'), {"buoy.ttf": changed("glyf")})
    (found,) = json.loads(run_here("check", job, "--json").out).values()
    (told,) = (finding for finding in found if finding["code"] == "font-damaged")
    assert told["severity"] == "warning"
    assert 'the font "buoy" is damaged: its glyf table does not add up' in told["message"]
    monkeypatch.chdir(tmp_path)
    assert "does not add up" in run_here("fonts", "--specimen", "buoy.ttf").err
    Path("buoy.ttf").write_bytes(FONT)
    assert "font-damaged" not in run_here("check", job).out
    assert "add up" not in run_here("fonts", "--specimen", "buoy.ttf").err
