"""The stroke notation of the skeleton sources.

A stroke is one line of words and numbers, in grid units (capital height = 10, y upwards)::

    M x y          put the pen down            arc cx cy r a b   circular arc, from angle a to b
    L x y          straight line                                 in degrees (also starts a stroke)
    H x   V y      level or upright line       Z                 close the stroke
    vh x y         quarter ellipse that leaves upright and arrives level
    hv x y         quarter ellipse that leaves level and arrives upright
    C a b c d x y  cubic curve
    trim s e       leave out the fraction s of the first piece and e of the last
    flat           end the stroke flat instead of round
    root           start the stroke flat, where it grows out of a letter
    pen k          draw with k times the pen

A filled disc is ``dot x y k`` (k pen widths across) or ``disc x y r`` (radius r, any weight).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from fonts.build.geometry import Cubic, Line, Mapping, Segment, arc, quarter


class NotationError(ValueError):
    """A stroke that cannot be read."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One run of the pen along a centre line.

    ``round_start`` and ``round_end`` tell how the ends are finished, ``pen`` is a factor on
    the pen width.
    """

    segments: tuple[Segment, ...]
    closed: bool = False
    round_start: bool = True
    round_end: bool = True
    pen: float = 1.0

    def mapped(self, mapping: Mapping) -> Stroke:
        """Return the stroke with its skeleton mapped, the pen unchanged."""
        return replace(self, segments=tuple(s.mapped(mapping) for s in self.segments))


@dataclass(frozen=True, slots=True)
class Disc:
    """A filled disc of radius ``radius`` (grid units) plus ``pens`` half pen widths."""

    centre: complex
    radius: float
    pens: float

    def mapped(self, mapping: Mapping) -> Disc:
        """Return the disc with its centre mapped."""
        return replace(self, centre=mapping(self.centre))


Shape = Stroke | Disc


class _Pen:
    """Collects the pieces of one stroke while its words are read."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at: complex | None = None
        self.origin: complex | None = None
        self.segments: list[Segment] = []
        self.closed = False
        self.round_start = True
        self.round_end = True
        self.width = 1.0
        self.trim = (0.0, 0.0)

    def here(self) -> complex:
        if self.at is None:
            raise NotationError(f"stroke does not start with M or arc: {self.text!r}")
        return self.at

    def line(self, to: complex) -> None:
        if to == self.here():
            raise NotationError(f"line of no length in {self.text!r}")
        self.add(Line(self.here(), to))

    def add(self, *pieces: Segment) -> None:
        self.segments.extend(pieces)
        self.at = pieces[-1].p3

    def move(self, to: complex) -> None:
        if self.at is not None:
            raise NotationError(f"only one M in a stroke: {self.text!r}")
        self.at = self.origin = to

    def arc(self, numbers: list[float]) -> None:
        cx, cy, r, a, b = numbers
        start, sweep = math.radians(a), math.radians(b - a)
        pieces = arc(complex(cx, cy), r, start, sweep, max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9)))
        if self.at is None:
            self.move(pieces[0].p0)
        elif abs(pieces[0].p0 - self.at) > 1e-6:
            self.line(pieces[0].p0)
        self.add(*pieces)

    def close(self) -> None:
        if self.origin is None or not self.segments:
            raise NotationError(f"nothing to close in {self.text!r}")
        if abs(self.here() - self.origin) > 1e-6:
            self.line(self.origin)
        self.closed = True

    def stroke(self) -> Stroke:
        if not self.segments:
            raise NotationError(f"empty stroke: {self.text!r}")
        segments = list(self.segments)
        start, end = self.trim
        if start:
            segments[0] = segments[0].between(start, 1)
        if end:
            segments[-1] = segments[-1].between(0, 1 - end)
        return Stroke(tuple(segments), self.closed, self.round_start, self.round_end, self.width)


_ARGUMENTS = {
    "M": 2, "L": 2, "H": 1, "V": 1, "vh": 2, "hv": 2, "C": 6, "arc": 5, "Z": 0,
    "trim": 2, "flat": 0, "root": 0, "pen": 1,
}  # fmt: skip


def _words(text: str) -> Iterator[tuple[str, list[float]]]:
    words = text.split()
    index = 0
    while index < len(words):
        word = words[index]
        if word not in _ARGUMENTS:
            raise NotationError(f"unknown word {word!r} in {text!r}")
        count = _ARGUMENTS[word]
        try:
            numbers = [float(w) for w in words[index + 1 : index + 1 + count]]
        except ValueError as error:
            raise NotationError(f"{word} wants {count} numbers in {text!r}") from error
        if len(numbers) != count:
            raise NotationError(f"{word} wants {count} numbers in {text!r}")
        yield word, numbers
        index += 1 + count


def _apply(pen: _Pen, word: str, n: list[float]) -> None:
    match word:
        case "M":
            pen.move(complex(*n))
        case "L":
            pen.line(complex(*n))
        case "H":
            pen.line(complex(n[0], pen.here().imag))
        case "V":
            pen.line(complex(pen.here().real, n[0]))
        case "vh" | "hv":
            pen.add(quarter(pen.here(), complex(*n), vertical_first=word == "vh"))
        case "C":
            pen.add(Cubic(pen.here(), complex(n[0], n[1]), complex(n[2], n[3]), complex(n[4], n[5])))
        case "arc":
            pen.arc(n)
        case "trim":
            pen.trim = (n[0], n[1])
        case "Z":
            pen.close()
        case "flat":
            pen.round_start = pen.round_end = False
        case "root":
            pen.round_start = False
        case "pen":
            pen.width = n[0]


def parse(text: str) -> Shape:
    """Read one stroke or disc.

    :raises NotationError: naming the offending word and the stroke.
    """
    head, *rest = text.split() or [""]
    if head in ("dot", "disc"):
        if len(rest) != 3:
            raise NotationError(f"{head} wants three numbers in {text!r}")
        x, y, size = (float(w) for w in rest)
        return Disc(complex(x, y), 0.0, size) if head == "dot" else Disc(complex(x, y), size, 0.0)
    pen = _Pen(text)
    for word, numbers in _words(text):
        _apply(pen, word, numbers)
    return pen.stroke()
