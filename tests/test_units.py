"""Lengths in and numbers out."""

import math
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.units import MM_PER_UNIT, format_number, parse_length

# Units: CSS Values and Units (1 in = 96 px = 72 pt = 6 pc = 2.54 cm). Fractions: a chart of fractional drills that
# cites the drill standard, mm = inches x 25.4 exactly.
LENGTHS = [
    (7, 7.0),
    (7.5, 7.5),
    (-3, -3.0),
    ("7", 7.0),
    ("7.5 mm", 7.5),
    ("7.5mm", 7.5),
    (" 7.5 MM ", 7.5),
    ("1 cm", 10.0),
    (".5 cm", 5.0),
    ("2. mm", 2.0),
    ("7,5 mm", 7.5),
    ("-0.25 in", -6.35),
    ("+1 in", 25.4),
    ('1"', 25.4),
    ("100 mil", 2.54),
    ("100 thou", 2.54),
    ("12 pt", 12 * 25.4 / 72),
    ("1 pc", 25.4 / 6),
    ("1 px", 25.4 / 96),
    ("96 px", 25.4),
    ("3/8 in", 9.525),
    ('3/8"', 9.525),
    ("1 1/2 in", 38.1),
    ("-1 1/2 in", -38.1),
    ("1/16 in", 1.5875),
    ("5/64 in", 1.984375),
    ("3/16 in", 4.7625),
    ("19/64 in", 7.540625),
    ("31/64 in", 12.303125),
    ("1/2 in", 12.7),
    ("1/4 mm", 0.25),
]


@pytest.mark.parametrize(("written", "mm"), LENGTHS, ids=[str(written) for written, _ in LENGTHS])
def test_a_length_is_read_in_millimetres(written: object, mm: float) -> None:
    assert parse_length(written) == pytest.approx(mm, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "mm"), [("mm", 0.375), ("in", 9.525), ("mil", 0.009525), ("cm", 3.75), ("px", 0.375 * 25.4 / 96)]
)
@pytest.mark.parametrize("written", [0.375, "0.375", "3/8"])
def test_a_bare_number_counts_in_the_unit_of_its_place(written: object, unit: str, mm: float) -> None:
    assert parse_length(written, unit) == pytest.approx(mm, rel=1e-12)


def test_a_unit_of_its_own_wins_over_the_unit_of_the_place() -> None:
    assert parse_length("2 mm", "in") == 2.0


REFUSED: list[tuple[object, str]] = [
    (True, "a length is a number"),
    (False, "a length is a number"),
    (None, "a length is a number"),
    ([7.5], "a length is a number"),
    (math.nan, "finite"),
    (math.inf, "finite"),
    (-math.inf, "finite"),
    (10**400, "finite"),
    ("9" * 400, "finite"),
    ("9" * 5000 + "/1 in", "finite"),
    ("1" * 4000 + "/1", "finite"),
    ("1" * 4000 + " 1/2", "finite"),
    ("nan", "number and a unit"),
    ("inf mm", "number and a unit"),
    ("", "number and a unit"),
    ("mm", "number and a unit"),
    ("seven", "number and a unit"),
    ("1e3", "number and a unit"),
    ("7.5.1", "number and a unit"),
    ("7 5", "number and a unit"),
    ("3//8 in", "number and a unit"),
    ("--3", "number and a unit"),
    ("1,234.5 mm", "number and a unit"),
    ("7.5 furlong", "unknown unit furlong; known are mm, cm, in"),
    ("1 e", "unknown unit e"),
    ("3/0 in", "0 below the line"),
]


@pytest.mark.parametrize(("written", "advice"), REFUSED, ids=[str(written)[:20] for written, _ in REFUSED])
def test_what_is_no_finite_length_is_refused_with_advice(written: object, advice: str) -> None:
    with pytest.raises(ValueError, match=advice):
        parse_length(written)


@given(st.floats(-1e6, 1e6), st.sampled_from(sorted(MM_PER_UNIT)))
def test_a_length_written_in_any_unit_reads_back(mm: float, unit: str) -> None:
    count = mm / MM_PER_UNIT[unit]
    assert parse_length(f"{count:.12f} {unit}") == pytest.approx(mm, rel=1e-9, abs=1e-7)


@given(st.integers(0, 400), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_mixed_fractions_of_an_inch_are_exact(whole: int, top: int, bottom: int) -> None:
    expected = float((whole + Fraction(top, bottom)) * Fraction(254, 10))
    assert parse_length(f"{whole} {top}/{bottom} in") == pytest.approx(expected, rel=1e-14)


LOOKS_LIKE_A_LENGTH = st.from_regex(r"[-+]?[0-9./, ]{1,12}[a-z\"]{0,3}", fullmatch=True)


@given(st.one_of(st.text(), LOOKS_LIKE_A_LENGTH, st.floats(), st.integers()))
def test_anything_at_all_gives_a_finite_length_or_a_value_error(written: Any) -> None:
    try:
        length = parse_length(written)
    except ValueError as error:
        assert str(error)
    else:
        assert math.isfinite(length)


@pytest.mark.parametrize(
    ("value", "text"),
    [(2.5, "2.5"), (31.0, "31"), (100.0, "100"), (0.0, "0"), (-0.0, "0"), (-0.00004, "0"), (0.00005001, "0.0001"),
     (-12.34567, "-12.3457"), (1e15, "1000000000000000"), (1e-9, "0"), (0.1 + 0.2, "0.3")],
)  # fmt: skip
def test_numbers_are_written_one_way(value: float, text: str) -> None:
    assert format_number(value) == text


@given(st.floats(-1e9, 1e9), st.integers(0, 6))
def test_written_numbers_are_short_plain_and_true(value: float, places: int) -> None:
    text = format_number(value, places)
    assert set(text) <= set("-0123456789.")
    assert text != "-0"
    assert not text.endswith(".")
    assert not text.partition(".")[2].endswith("0")
    assert len(text.partition(".")[2]) <= places
    assert abs(float(text) - value) <= 0.5000001 * 10**-places + abs(value) * 1e-15


@given(st.floats(-1e6, 1e6))
def test_writing_what_was_written_changes_nothing(value: float) -> None:
    text = format_number(value)
    assert format_number(float(text)) == text
