"""Names from a stranger's file reach the terminal: none may steer it, or turn the reading round (ECMA-48, UAX #9)."""

import unicodedata
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import run_here

from facegraphic.errors import Finding, Problem, printable

STEERING = [chr(code) for code in (*range(0x09), 0x0B, 0x0C, 0x0D, 0x1B, 0x7F, 0x9B, 0x202E, 0x2066)]


@pytest.mark.parametrize("sign", STEERING, ids=lambda sign: f"{ord(sign):04x}")
def test_nothing_that_steers_is_left_in_what_is_told(sign: str) -> None:
    name = f"a{sign}b"
    told = str(Problem(name, name, name, 3, name)) + str(Finding("code", "note", name, name, name))
    assert sign not in told
    assert told.count(ascii(sign)[1:-1]) == 7


def test_every_control_and_turning_sign_of_unicode_is_written_out() -> None:
    """Python's own unicodedata: category Cc, and the bidirectional classes of embeddings, overrides and isolates."""
    turning = {"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"}
    for sign in map(chr, range(0x11000)):
        steers = unicodedata.category(sign) in ("Cc", "Cs") or unicodedata.bidirectional(sign) in turning
        assert (printable(sign) != sign) == (steers and sign not in "\t\n"), ascii(sign)


@pytest.mark.parametrize("line", ['"\\u001b[31mkey" = 1\n', '"\\u202ekey" = 1\n', '"\\u009bkey" = 1\n'])
def test_a_key_is_told_without_steering(tmp_path: Path, line: str) -> None:
    ran = run_here("check", lay(tmp_path, line + good()))
    assert ran.status == 1
    assert not {"\x1b", "\x9b", "\u202e"} & set(ran.err + ran.out)
    assert "key" in ran.err


def test_a_hole_is_told_without_steering_in_an_explanation(tmp_path: Path) -> None:
    hole = 'hole = [{ id = "ra\\u202ete", at = [0, 25], d = 7.5 }]'
    job = good('drill = "holes.csv"', hole).replace('hole = "rate"', 'hole = "ra\\u202ete"')
    ran = run_here("check", "--explain", lay(tmp_path, job))
    assert "\u202e" not in ran.err + ran.out
    assert "ra\\u202ete" in ran.out


def test_the_file_name_is_told_without_steering(tmp_path: Path) -> None:
    path = lay(tmp_path, good()).rename(tmp_path / "a\x1b[31m.toml")
    ran = run_here("check", path)
    assert "\x1b" not in ran.err + ran.out
    assert "a\\x1b[31m.toml" in ran.err + ran.out
