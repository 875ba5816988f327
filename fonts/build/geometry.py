"""Plane geometry of skeletons: straight lines and cubic curves.

Points are Python complex numbers (x + iy), which makes moving, turning and measuring one
operator each.  Everything here is immutable.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable
from dataclasses import dataclass

Mapping = Callable[[complex], complex]

# Handle length that makes a cubic quarter of an ellipse true to 0.03 %: 4/3 (sqrt 2 - 1).
QUARTER = 4 / 3 * (math.sqrt(2) - 1)


def cross(a: complex, b: complex) -> float:
    """Return the signed area spanned by two vectors (positive: b is to the left of a)."""
    return (a.conjugate() * b).imag


def unit(v: complex) -> complex:
    """Return ``v`` at length one."""
    return v / abs(v)


@dataclass(frozen=True, slots=True)
class Line:
    """A straight piece from ``p0`` to ``p3`` (named as in :class:`Cubic`)."""

    p0: complex
    p3: complex

    @property
    def start_tangent(self) -> complex:
        """Unit vector in which the piece leaves."""
        return unit(self.p3 - self.p0)

    @property
    def end_tangent(self) -> complex:
        """Unit vector in which the piece arrives."""
        return unit(self.p3 - self.p0)

    def mapped(self, mapping: Mapping) -> Line:
        """Return the piece with its points mapped."""
        return Line(mapping(self.p0), mapping(self.p3))

    def reversed(self) -> Line:
        """Return the piece run through backwards."""
        return Line(self.p3, self.p0)

    def point(self, t: float) -> complex:
        """Return the point at parameter ``t``, 0 to 1."""
        return self.p0 + t * (self.p3 - self.p0)

    def between(self, t0: float, t1: float) -> Line:
        """Return the part from parameter ``t0`` to ``t1``."""
        return Line(self.point(t0), self.point(t1))


@dataclass(frozen=True, slots=True)
class Cubic:
    """A cubic Bezier piece."""

    p0: complex
    p1: complex
    p2: complex
    p3: complex

    @property
    def start_tangent(self) -> complex:
        """Unit vector in which the piece leaves."""
        return unit(self.p1 - self.p0)

    @property
    def end_tangent(self) -> complex:
        """Unit vector in which the piece arrives."""
        return unit(self.p3 - self.p2)

    @property
    def start_curvature(self) -> float:
        """Curvature at the start, positive for a turn to the left (1 / length)."""
        first = self.p1 - self.p0
        second = self.p2 - 2 * self.p1 + self.p0
        return 2 / 3 * cross(first, second) / abs(first) ** 3

    def mapped(self, mapping: Mapping) -> Cubic:
        """Return the piece with its points mapped."""
        return Cubic(mapping(self.p0), mapping(self.p1), mapping(self.p2), mapping(self.p3))

    def reversed(self) -> Cubic:
        """Return the piece run through backwards."""
        return Cubic(self.p3, self.p2, self.p1, self.p0)

    def point(self, t: float) -> complex:
        """Return the point at parameter ``t``, 0 to 1."""
        s = 1 - t
        return s**3 * self.p0 + 3 * s * s * t * self.p1 + 3 * s * t * t * self.p2 + t**3 * self.p3

    def split(self, t: float) -> tuple[Cubic, Cubic]:
        """Cut at parameter ``t`` (de Casteljau)."""
        a, b, c = (p + t * (q - p) for p, q in ((self.p0, self.p1), (self.p1, self.p2), (self.p2, self.p3)))
        d, e = a + t * (b - a), b + t * (c - b)
        f = d + t * (e - d)
        return Cubic(self.p0, a, d, f), Cubic(f, e, c, self.p3)

    def between(self, t0: float, t1: float) -> Cubic:
        """Return the part from parameter ``t0`` to ``t1``."""
        left = self.split(t1)[0] if t1 < 1 else self
        return left.split(t0 / t1)[1] if t0 > 0 else left


Segment = Line | Cubic
Contour = tuple[Segment, ...]


def arc(centre: complex, radius: float, start: float, sweep: float, pieces: int) -> Contour:
    """Return a circular arc as cubics.

    :param start: direction of the first point, radians.
    :param sweep: angle run through, radians, positive to the left (anticlockwise).
    :param pieces: how many cubics of equal angle.
    """
    step = sweep / pieces
    handle = 4 / 3 * math.tan(step / 4) * 1j
    found = []
    for index in range(pieces):
        spoke0 = cmath.rect(radius, start + index * step)
        spoke1 = cmath.rect(radius, start + (index + 1) * step)
        found.append(
            Cubic(
                centre + spoke0,
                centre + spoke0 * (1 + handle),
                centre + spoke1 * (1 - handle),
                centre + spoke1,
            )
        )
    return tuple(found)


def quarter(p0: complex, p3: complex, *, vertical_first: bool) -> Cubic:
    """Return the quarter ellipse from ``p0`` to ``p3`` that leaves upright or level."""
    dx, dy = complex((p3 - p0).real, 0), complex(0, (p3 - p0).imag)
    first, last = (dy, dx) if vertical_first else (dx, dy)
    return Cubic(p0, p0 + QUARTER * first, p3 - QUARTER * last, p3)
