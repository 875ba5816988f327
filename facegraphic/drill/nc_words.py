"""The words of NC drill files: lines to words, words to numbers, and what a header says of units, zeros and digits.

After IPC-NC-349 and the drilling machines' part programs that it took over, with what CAD programs write beside it.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from facegraphic.units import MM_PER_UNIT

LONGEST_NUMBER = 15
_WORD = re.compile(r"(?P<letter>[A-Z])\s*(?P<number>[-+]?(?:\d+(?:\.\d*)?|\.\d+))?", re.IGNORECASE)
_DIGITS = re.compile(r"(0+)\.(0+)")
_COMMENTS = (
    # Formats in comments, as CAD programs write them there: whole digits, then decimal places.
    re.compile(r"FILE_FORMAT\s*=\s*(\d)\s*:\s*(\d)", re.IGNORECASE),
    re.compile(r"FORMAT\s*=\s*\{\s*(\d)\s*:\s*(\d)\s*/", re.IGNORECASE),
    re.compile(r"^\s*Format\s*:\s*(\d)\s*[.:]\s*(\d)\b", re.IGNORECASE),
)
_ZEROS = (
    (re.compile(r"FORMAT\s*=\s*\{[^{]*suppress\s+leading", re.IGNORECASE), "trailing"),
    (re.compile(r"FORMAT\s*=\s*\{[^{]*suppress\s+trailing", re.IGNORECASE), "leading"),
)
_UNIT_WORDS = {"INCH": "in", "INCHES": "in", "METRIC": "mm", "MM": "mm", "M71": "mm", "M72": "in"}
_SAYS = r"TYPE\s*=\s*{0}|(?:Aper|File)Function,\s*{0}|^\W*{1}"
_PLATING = (
    (re.compile(_SAYS.format("NON_?PLATED", "NON-?PLATED"), re.IGNORECASE), "non-plated"),
    (re.compile(_SAYS.format("PLATED", r"(?:THROUGH \()?PLATED"), re.IGNORECASE), "plated"),
)
_SIZE_NOTE = re.compile(
    r"Holesize\s+(\d+)\.?\s*=\s*([\d.]{1,15})(?![\d.])(?:(?!Holesize).)*?\b(MILS?|MM|INCH(?:ES)?)\b", re.IGNORECASE
)


@dataclass(frozen=True)
class Evidence:
    """What a file's figures show by themselves: which zeros stand, whether all of them do, how sizes are written.

    A figure that begins with 0 shows that leading zeros stand; if figures then differ in length, trailing ones do not.
    Where sizes in inches have five places, as 0.03200, so have positions: programs that say nothing write both alike.
    """

    kept: str | None = None
    even: bool = False
    five_places: bool = False


_BARE = re.compile(r"[XY]\s*[-+]?(\d+)(?![\d.])", re.IGNORECASE)
_SIZE = re.compile(r"T\d+.*?C(\d*\.\d+)", re.IGNORECASE)


def evidence(codes: Iterable[str]) -> Evidence:
    """Look through a program's lines, comments taken off."""
    lengths: set[int] = set()
    led = False
    places: set[int] = set()
    for code in codes:
        if size := _SIZE.match(code):
            places.add(len(size[1].partition(".")[2]))
            continue
        for digits in _BARE.findall(code):
            if digits.strip("0"):
                lengths.add(len(digits))
                led = led or digits.startswith("0")
    kept = None if not lengths else "leading" if led else "trailing"
    return Evidence(kept, led and len(lengths) == 1, places == {5})


@dataclass(frozen=True)
class Figures:
    """How numbers without a point are written: which zeros stand (None: not said), and the digits on either side."""

    unit: str | None = None
    kept: str | None = None
    digits: tuple[int, int] | None = None
    seen: "Evidence" = field(default_factory=lambda: Evidence())

    @property
    def shape(self) -> tuple[int, int]:
        """Digits before and after the point: as told, else 2.4 in inches and 3.3 in mm (IPC-NC-349)."""
        if self.digits:
            return self.digits
        if self.unit == "in":
            return (2, 5) if self.kept is None and self.seen.five_places else (2, 4)
        return (3, 3)

    @property
    def zeros(self) -> str:
        """Which zeros stand: as told, else as the figures show, else the trailing ones."""
        return self.kept or self.seen.kept or "trailing"

    def value(self, text: str) -> float:
        """A coordinate in the file's unit. Numbers with a point mean what they say. ValueError for endless ones."""
        if len(text) > LONGEST_NUMBER:
            raise ValueError(f"a number of {len(text)} characters")
        if "." in text:
            return float(text)
        sign = -1 if text.startswith("-") else 1
        digits = text.lstrip("+-")
        whole, places = self.shape
        if whole + places > LONGEST_NUMBER:
            raise ValueError(f"{whole} digits before the point and {places} after it, by the file's head")
        if self.zeros == "leading":
            return sign * int(digits) * 10.0 ** (whole - len(digits))
        return sign * int(digits) / 10.0**places

    def in_mm(self, text: str) -> float:
        return self.value(text) * MM_PER_UNIT[self.unit or "mm"]


@dataclass(frozen=True)
class Word:
    """A letter and the number behind it as it is written, "" if there is none."""

    letter: str
    number: str


def split(line: str) -> tuple[str, str]:
    """A line without its comments, and the comments."""
    code, _, note = line.partition(";")
    inside = " ".join(re.findall(r"\(([^)]*)\)?", code))
    return re.sub(r"\([^)]*\)?", " ", code).strip(), f"{note} {inside}".strip()


def words(code: str) -> list[Word] | None:
    """The words of a line of code; None if it is not made of words. Commas between them are let pass."""
    found = []
    at = 0
    while at < len(code):
        if code[at] in ", \t":
            at += 1
            continue
        match = _WORD.match(code, at)
        if match is None:
            return None
        found.append(Word(match["letter"].upper(), match["number"] or ""))
        at = match.end()
    return found


def units_line(code: str, figures: Figures) -> Figures | None:
    """What an INCH or METRIC line says; None for other lines."""
    parts = [part.strip() for part in code.upper().split(",")]
    if parts[0] not in _UNIT_WORDS or (parts[0].startswith("M7") and len(parts) == 1):
        return None  # M71 and M72 by themselves are words like others
    figures = replace(figures, unit=_UNIT_WORDS[parts[0]])
    for part in parts[1:]:
        if part in ("LZ", "TZ"):
            figures = replace(figures, kept="leading" if part == "LZ" else "trailing")
        elif match := _DIGITS.fullmatch(part):
            figures = replace(figures, digits=(len(match[1]), len(match[2])))
    return figures


def noted(comment: str, figures: Figures) -> Figures:
    """What a comment says of digits and zeros; an INCH or METRIC line goes before it."""
    for pattern in _COMMENTS:
        if figures.digits is None and (match := pattern.search(comment)):
            figures = replace(figures, digits=(int(match[1]), int(match[2])))
    for pattern, kept in _ZEROS:
        if figures.kept is None and pattern.search(comment):
            figures = replace(figures, kept=kept)
    return figures


def plating(comment: str) -> str | None:
    """Whether a comment says that what follows is plated; None if it says nothing of it."""
    return next((name for pattern, name in _PLATING if pattern.search(comment)), None)


def size_in_comment(comment: str) -> tuple[int, float, str] | None:
    """A tool's number, size and unit from a comment that lists hole sizes."""
    match = _SIZE_NOTE.search(comment)
    if match is None or len(match[2]) > LONGEST_NUMBER or len(match[1]) > 3:
        return None
    unit = {"MM": "mm", "MI": "mil"}.get(match[3].upper()[:2], "in")
    try:
        return int(match[1]), float(match[2]), unit
    except ValueError:
        return None
