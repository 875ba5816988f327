"""Immutable paths of lines and cubic curves, in mm, x right, y up.

A path is a tuple of segments: ("M", x, y), ("L", x, y), ("C", x1, y1, x2, y2, x, y), ("Z",). Transforms are
fontTools' immutable `Transform` named tuples, in the order of SVG's ``matrix(a b c d e f)``.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain
from typing import Any, NamedTuple

from fontTools.misc.bezierTools import calcCubicBounds
from fontTools.misc.transform import Identity, Transform

from facegraphic.units import format_number

Point = tuple[float, float]
Segment = tuple[Any, ...]
Ring = list[Point]

IDENTITY: Transform = Identity
FLATNESS_MM = 0.005


class Box(NamedTuple):
    """An axis-parallel box."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        return self.y1 - self.y0

    @property
    def centre(self) -> Point:
        return ((self.x0 + self.x1) / 2, (self.y0 + self.y1) / 2)

    def grown(self, by: float) -> "Box":
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)

    def moved(self, dx: float, dy: float) -> "Box":
        return Box(self.x0 + dx, self.y0 + dy, self.x1 + dx, self.y1 + dy)

    def union(self, other: "Box") -> "Box":
        return Box(min(self.x0, other.x0), min(self.y0, other.y0), max(self.x1, other.x1), max(self.y1, other.y1))

    @classmethod
    def around(cls, boxes: Iterable["Box"]) -> "Box":
        """The box round some boxes. ValueError if there are none."""
        x0, y0, x1, y1 = zip(*boxes, strict=True)
        return cls(min(x0), min(y0), max(x1), max(y1))

    @classmethod
    def centred(cls, width: float, height: float, at: Point = (0.0, 0.0)) -> "Box":
        return cls(at[0] - width / 2, at[1] - height / 2, at[0] + width / 2, at[1] + height / 2)


@dataclass(frozen=True)
class Path:
    """A filled shape: closed contours of lines and cubics. Empty paths are allowed and have no bounds."""

    segments: tuple[Segment, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.segments)

    def __hash__(self) -> int:
        return self._hash

    def __reduce__(self) -> tuple[type["Path"], tuple[tuple[Segment, ...]]]:
        """What goes to another process is the segments alone: hashes differ there, and all else is found again."""
        return Path, (self.segments,)

    @cached_property
    def _hash(self) -> int:
        return hash(self.segments)

    def __add__(self, other: "Path") -> "Path":
        return Path(self.segments + other.segments)

    @classmethod
    def joined(cls, paths: Iterable["Path"]) -> "Path":
        """All contours of some paths as one path; its box is known if those of all parts are."""
        parts = [path for path in paths if path]
        boxes = [path._known_bounds for path in parts if path._known_bounds]
        bounds = Box.around(boxes) if parts and len(boxes) == len(parts) else None
        return cls._bounded(chain.from_iterable([path.segments for path in parts]), bounds)

    @classmethod
    def _bounded(cls, segments: Iterable[Segment], bounds: Box | None) -> "Path":
        """A path whose box may be known already: lettering is moved and joined far more often than it is drawn."""
        path = cls(tuple(segments))
        if bounds:
            path.__dict__["bounds"] = bounds
        return path

    @property
    def measured(self) -> "Path":
        """This path with its box known, so that of all that it is moved to and joined in the box is known as well."""
        return self._bounded(self.segments, self.bounds)

    @property
    def _known_bounds(self) -> Box | None:
        """The box if it has been asked for before."""
        return self.__dict__.get("bounds")

    def transformed(self, transform: Transform) -> "Path":
        if transform == IDENTITY:
            return self
        xx, xy, yx, yy, dx, dy = transform
        moved: list[Segment] = []
        # Lettering is most of what a page has: written out for the two lengths that there are.
        for segment in self.segments:
            if len(segment) == 3:
                op, x, y = segment
                moved.append((op, xx * x + yx * y + dx, xy * x + yy * y + dy))
            elif len(segment) == 7:
                op, a, b, c, d, x, y = segment
                first = (xx * a + yx * b + dx, xy * a + yy * b + dy)
                second = (xx * c + yx * d + dx, xy * c + yy * d + dy)
                moved.append((op, *first, *second, xx * x + yx * y + dx, xy * x + yy * y + dy))
            else:
                moved.append(segment)
        return Path(tuple(moved))

    def moved(self, dx: float, dy: float) -> "Path":
        if dx == 0 == dy:
            return self
        moved: list[Segment] = []
        for segment in self.segments:  # written out, as in `transformed`
            if len(segment) == 7:
                op, a, b, c, d, x, y = segment
                moved.append((op, a + dx, b + dy, c + dx, d + dy, x + dx, y + dy))
            else:
                moved.append((segment[0], segment[1] + dx, segment[2] + dy) if len(segment) == 3 else segment)
        bounds = self._known_bounds
        return self._bounded(moved, bounds.moved(dx, dy) if bounds else None)

    @cached_property
    def kept(self) -> dict[Any, Any]:
        """Room for what others have worked out of this very path, such as its region: it goes when the path goes."""
        return {}

    @cached_property
    def bounds(self) -> Box:
        """The exact box of the outline (curve extremes, not control points). ValueError if empty."""
        xs = [segment[-2] for segment in self.segments if len(segment) > 1]
        ys = [segment[-1] for segment in self.segments if len(segment) > 1]
        if not xs:
            raise ValueError("an empty path has no bounds")
        x0, y0, x1, y1 = min(xs), min(ys), max(xs), max(ys)
        here: Point = (xs[0], ys[0])
        for segment in self.segments:
            if len(segment) == 7:
                _, a, b, c, d, x, y = segment
                # A curve stays within its control points, so only one with a handle outside can reach further.
                if a < x0 or c < x0 or a > x1 or c > x1 or b < y0 or d < y0 or b > y1 or d > y1:
                    own = calcCubicBounds(here, (a, b), (c, d), (x, y))
                    x0, y0, x1, y1 = min(x0, own[0]), min(y0, own[1]), max(x1, own[2]), max(y1, own[3])
            if len(segment) > 1:
                here = segment[-2:]
        return Box(x0, y0, x1, y1)

    def to_d(self, number: Callable[[float], str] = format_number) -> str:
        """The path as SVG path data, in the path's own units and y direction."""
        return " ".join(op + " ".join(number(value) for value in values) for op, *values in self.segments)

    def points(self, flatness: float = FLATNESS_MM) -> int:
        """How many points `rings` would come to."""
        here: Point = (0.0, 0.0)
        count = 0
        for segment in self.segments:
            count += _steps(here, segment[1:], flatness) if len(segment) == 7 else 1
            here = segment[-2:] if len(segment) > 1 else here
        return count

    def rings(self, flatness: float = FLATNESS_MM) -> list[Ring]:
        """The contours as rings of points, curves cut so that no chord strays over `flatness` mm."""
        rings: list[Ring] = []
        for op, *c in self.segments:
            if op == "M":
                rings.append([(c[0], c[1])])
            elif op == "L":
                rings[-1].append((c[0], c[1]))
            elif op == "C":
                rings[-1].extend(_flatten_cubic(rings[-1][-1], c, flatness))
        return [ring for ring in rings if len(ring) > 2]


def _flatten_cubic(start: Point, c: Sequence[float], flatness: float) -> Ring:
    """Cut one cubic into equal parameter steps; the second difference bounds the chord error."""
    (x0, y0), (x1, y1, x2, y2, x3, y3) = start, c
    steps = _steps(start, c, flatness)
    points: Ring = []
    for i in range(1, steps + 1):
        t = i / steps
        s = 1 - t
        a, b, d, e = s * s * s, 3 * s * s * t, 3 * s * t * t, t * t * t
        points.append((a * x0 + b * x1 + d * x2 + e * x3, a * y0 + b * y1 + d * y2 + e * y3))
    return points


def _steps(start: Point, c: Sequence[float], flatness: float) -> int:
    """|B''| <= 6 bend, and a chord over step h strays at most h^2/8 |B''|."""
    (x0, y0), (x1, y1, x2, y2, x3, y3) = start, c
    bend = max(math.hypot(x0 - 2 * x1 + x2, y0 - 2 * y1 + y2), math.hypot(x1 - 2 * x2 + x3, y1 - 2 * y2 + y3))
    return max(1, math.ceil(math.sqrt(0.75 * bend / flatness)))


class PathPen:
    """Collect a path from anything that draws with a fontTools segment pen."""

    def __init__(self) -> None:
        self.segments: list[Segment] = []
        self._here: Point = (0.0, 0.0)

    def moveTo(self, p: Point) -> None:
        self.segments.append(("M", *p))
        self._here = p

    def lineTo(self, p: Point) -> None:
        self.segments.append(("L", *p))
        self._here = p

    def curveTo(self, a: Point, b: Point, p: Point) -> None:
        self.segments.append(("C", *a, *b, *p))
        self._here = p

    def qCurveTo(self, a: Point, p: Point) -> None:
        """A quadratic is the cubic whose handles reach two thirds of the way to its control point."""
        x, y = self._here
        self.curveTo(
            (x + (a[0] - x) * 2 / 3, y + (a[1] - y) * 2 / 3),
            (p[0] + (a[0] - p[0]) * 2 / 3, p[1] + (a[1] - p[1]) * 2 / 3),
            p,
        )

    def closePath(self) -> None:
        self.segments.append(("Z",))

    def endPath(self) -> None:
        self.closePath()

    @property
    def path(self) -> Path:
        return Path(tuple(self.segments))
