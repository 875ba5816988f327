"""The marks of a scale as filled shapes: lines, dots, growing dots, a wedge, a band; and the mark at a detent."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from facegraphic.geometry.path import Path, Point, Segment
from facegraphic.geometry.shapes import bar, disc, polar, polygon
from facegraphic.job.model import ScaleStyle

STRIDES = (1, 2, 5, 10, 20, 50)
MARK_CLEAR = 0.9  # from the knob's skirt to a mark, in mm
MARK_LONG = 1.7
MARK_SHORT = 1.1
LINE_WIDE = 0.28
DOT_LARGE, DOT_SMALL = 0.9, 0.6
GROWING = (0.35, 1.5)  # diameters of the first and the last of growing dots
WEDGE = (0.25, 1.6)  # its width at either end
BAND_WIDE = 0.7
DETENT_CLEAR = 0.3  # from the outermost mark to the mark at a detent
DETENT_LONG, DETENT_WIDE = 1.1, 1.5


def thinner(turns: Sequence[float], apart: Callable[[int, int], bool]) -> Iterator[Sequence[int]]:
    """Ways to thin out marks at bearings so that neighbours are apart, the fullest first; both ends always stay.

    Evenly spaced marks are thinned by whole strides, others one by one.
    """
    last = len(turns) - 1
    if last < 1:
        yield [*range(len(turns))]
        return
    steps = [b - a for a, b in pairwise(turns)]
    if max(steps) - min(steps) > 1e-6:
        yield filled((0, last), len(turns), apart)
        yield [0, last]
        return
    for stride in (*(s for s in STRIDES if s < last), last):
        marks = [*range(0, last, stride), last]
        if len(marks) > 2 and not apart(marks[-2], last):
            del marks[-2]
        if all(apart(i, j) for i, j in pairwise(marks)):
            yield marks


def filled(kept: Sequence[int], count: int, apart: Callable[[int, int], bool]) -> Sequence[int]:
    """The marks that are kept, and of the others those that are apart from all."""
    found = list(kept)
    for mark in range(count):
        if mark not in found and all(apart(min(mark, other), max(mark, other)) for other in found):
            found.append(mark)
    return sorted(found)


@dataclass(frozen=True)
class Ring:
    """Where marks stand: outside a circle of some radius (mm), no line or gap finer than the process holds."""

    centre: Point
    radius: float
    line: float
    gap: float

    def marks(self, style: ScaleStyle, turns: Sequence[float], told: Sequence[int]) -> Iterator[Path]:
        """Marks at bearings in degrees, long ones where a figure is told (all of them, if none is)."""
        if style == "wedge":
            yield self.wedge(turns[0], turns[-1], WEDGE)
        elif style == "band":
            yield self.wedge(turns[0], turns[-1], (BAND_WIDE, BAND_WIDE))
        else:
            for number in self.shown(style, turns, told):
                share = number / max(1, len(turns) - 1)
                yield self.mark(style, turns[number], not told or number in told, share)

    def mark(self, style: ScaleStyle, turn: float, long: bool, share: float) -> Path:
        """One line or dot; `share` is how far along the scale it stands."""
        if style == "lines":
            tip = self.radius + (MARK_LONG if long else MARK_SHORT)
            return bar(self.at(self.radius, turn), self.at(tip, turn), max(LINE_WIDE, self.line))
        size = DOT_LARGE if long else DOT_SMALL
        if style == "growing-dots":
            size = GROWING[0] + (GROWING[1] - GROWING[0]) * share
        return disc(self.at(self.radius + MARK_LONG / 2, turn), max(size, self.line))

    def shown(self, style: ScaleStyle, turns: Sequence[float], told: Sequence[int]) -> Sequence[int]:
        """The marks to show: as many as the process can hold apart, those with a figure first of all."""
        widths = {"lines": max(LINE_WIDE, self.line), "dots": DOT_LARGE, "growing-dots": GROWING[1]}
        inner = self.radius if style == "lines" else self.radius + MARK_LONG / 2

        def apart(i: int, j: int) -> bool:
            between = math.radians(min(abs(turns[j] - turns[i]), 180.0)) / 2
            return 2 * inner * math.sin(between) - widths[style] >= self.gap

        every = (marks for marks in thinner(turns, apart) if set(told) <= set(marks))
        return next(every, None) or filled(told or (0, len(turns) - 1), len(turns), apart)

    def wedge(self, start: float, stop: float, widths: tuple[float, float]) -> Path:
        """A ribbon along the ring from bearing to bearing, its outer edge a spiral when the widths differ."""
        inner = self.radius
        first, last = (max(width, self.line) for width in widths)
        out = self.curve(start, stop, inner + first, inner + last)
        back = self.curve(stop, start, inner, inner)
        begin = self.at(inner + first, start)
        return Path((("M", *begin), *out, ("L", *self.at(inner, stop)), *back, ("Z",)))

    def curve(self, start: float, stop: float, r0: float, r1: float) -> list[Segment]:
        """Cubics along r = r0 + k·θ in steps of at most 15°, tangent at both ends of each (Hermite)."""
        count = max(1, math.ceil(abs(stop - start) / 15))
        step = math.radians(stop - start) / count
        grow = (r1 - r0) / count / step
        segments: list[Segment] = []
        for i in range(count):
            a, b = math.radians(start) + i * step, math.radians(start) + (i + 1) * step
            ra, rb = r0 + i * grow * step, r0 + (i + 1) * grow * step
            third = 4 / 3 * math.tan(step / 4)
            pa, pb = self.at(ra, math.degrees(a)), self.at(rb, math.degrees(b))
            ta = (grow * math.sin(a) + ra * math.cos(a), grow * math.cos(a) - ra * math.sin(a))
            tb = (grow * math.sin(b) + rb * math.cos(b), grow * math.cos(b) - rb * math.sin(b))
            c1 = (pa[0] + ta[0] * third, pa[1] + ta[1] * third)
            c2 = (pb[0] - tb[0] * third, pb[1] - tb[1] * third)
            segments.append(("C", *c1, *c2, *pb))
        return segments

    def detent(self, turn: float) -> Path:
        """A small triangle outside the marks that points at the detent."""
        foot = self.radius + MARK_LONG + self.detent_high
        tip = foot - DETENT_LONG
        half = math.degrees(DETENT_WIDE / 2 / foot)
        return polygon([self.at(tip, turn), self.at(foot, turn + half), self.at(foot, turn - half)])

    @property
    def detent_high(self) -> float:
        """How far the mark at a detent reaches beyond the longest of the others."""
        return max(DETENT_CLEAR, self.gap) + DETENT_LONG

    def at(self, radius: float, turn: float) -> Point:
        return polar(self.centre, radius, turn)
