"""Lengths in and out of the program: everything inside is millimetres as float.

Factors: 1 in = 25.4 mm exactly; 1 pt = 1/72 in, 1 pc = 1/6 in, 1 px = 1/96 in (CSS Values and Units).
"""

import math
import re
from fractions import Fraction

MM_PER_INCH = 25.4
MM_PER_UNIT = {
    "mm": 1.0,
    "cm": 10.0,
    "in": MM_PER_INCH,
    '"': MM_PER_INCH,
    "mil": MM_PER_INCH / 1000,
    "thou": MM_PER_INCH / 1000,
    "pt": MM_PER_INCH / 72,
    "pc": MM_PER_INCH / 6,
    "px": MM_PER_INCH / 96,
}
POINTS_PER_MM = 72 / MM_PER_INCH

LONGEST = 200  # characters: longer texts are no lengths, and would cost time to look through
_LENGTH = re.compile(
    r"""\s*(?P<sign>[-+])?
    (?: (?P<whole>\d+)\s+(?P<mixed>\d+/\d+) | (?P<fraction>\d+/\d+) | (?P<decimal>\d+(?:[.,]\d*)?|[.,]\d+) )
    \s*(?P<unit>[a-zA-Z]+|")?\s*""",
    re.VERBOSE,
)


def parse_length(value: object, unit: str = "mm") -> float:
    """Read a length in mm from a number or text such as ``"7.5 mm"``, ``"3/8 in"`` or ``"12 pt"``.

    A bare number counts in `unit`. Raises ValueError with advice for anything that is not one finite length.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError('a length is a number of mm or text such as "7.5 mm", "3/8 in" or "12 pt"')
    if isinstance(value, (int, float)):
        return _finite(value, MM_PER_UNIT[unit])
    if len(value) > LONGEST:
        raise ValueError(f"a length must be a finite number, written in no more than {LONGEST} characters")
    match = _LENGTH.fullmatch(value)
    if match is None:
        raise ValueError('write a number and a unit, as in "7.5 mm", "3/8 in" or "12 pt"')
    named = (match["unit"] or unit).lower()
    if named not in MM_PER_UNIT:
        raise ValueError(f"unknown unit {match['unit']}; known are {', '.join(MM_PER_UNIT)}")
    try:
        number = _number(match)
    except ZeroDivisionError:
        raise ValueError("a fraction cannot have 0 below the line") from None
    except (OverflowError, ValueError):
        raise ValueError("a length must be a finite number") from None
    return _finite(-number if match["sign"] == "-" else number, MM_PER_UNIT[named])


def _number(match: re.Match[str]) -> float:
    if match["mixed"]:
        return float(int(match["whole"]) + Fraction(match["mixed"]))
    if match["fraction"]:
        return float(Fraction(match["fraction"]))
    return float(match["decimal"].replace(",", "."))


def _finite(number: float, factor: float) -> float:
    try:
        length = float(number) * factor
    except OverflowError:
        length = math.inf
    if not math.isfinite(length):
        raise ValueError("a length must be a finite number")
    return length


def format_number(value: float, places: int = 4) -> str:
    """Write a number the one way all outputs do: fixed point, no trailing zeros, no minus zero.

    >>> format_number(2.50), format_number(-0.00001), format_number(31.0)
    ('2.5', '0', '31')
    """
    text = f"{value:.{places}f}"
    if places:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
