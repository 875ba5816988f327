"""Draw a round pen along a skeleton: centre lines in, closed contours out.

Every stroke is offset by analysis, piece by piece, without any boolean operation, so that the
same skeleton gives the same number of points at every weight.  That keeps curves curves and
makes the weights interpolable; overlaps between strokes are left for ``outline`` to remove.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import replace
from itertools import pairwise

from fonts.build.geometry import Contour, Cubic, Line, Segment, arc, cross
from fonts.build.notation import Disc, Shape, Stroke

# Each curved piece of a skeleton is offset in this many parts; the error stays below h/500.
PARTS = 3
# Pieces that meet within this sine of the angle are a smooth run (0.6 degrees).
SMOOTH = 0.01
# A join or cap wider than this is drawn as two arcs instead of one (radians).
WIDE = math.radians(96)


def _offset_piece(piece: Segment, distance: float) -> Contour:
    """Offset one piece to the left by ``distance`` (negative: to the right)."""
    if isinstance(piece, Line):
        shift = 1j * piece.start_tangent * distance
        return (Line(piece.p0 + shift, piece.p3 + shift),)
    parts = (piece.between(i / PARTS, (i + 1) / PARTS) for i in range(PARTS))
    return tuple(_offset_cubic(part, distance) for part in parts)


def _offset_cubic(c: Cubic, distance: float) -> Cubic:
    """Offset a short curve: ends, tangents and end speeds are exact, the middle follows.

    The offset of r(t) by d has the derivative r'(t) (1 - d k), k being the curvature.
    """
    start = c.p0 + 1j * c.start_tangent * distance
    end = c.p3 + 1j * c.end_tangent * distance
    speed0 = max(1 - distance * c.start_curvature, 0.0)
    speed1 = max(1 + distance * c.reversed().start_curvature, 0.0)
    return Cubic(start, start + (c.p1 - c.p0) * speed0, end + (c.p2 - c.p3) * speed1, end)


def _round(pivot: complex, start: complex, sweep: float, radius: float) -> Contour:
    return arc(pivot, radius, cmath.phase(start - pivot), sweep, 2 if abs(sweep) > WIDE else 1)


def _join(before: Segment, after: Segment, distance: float) -> Contour:
    """Connect the offsets of two pieces that meet in one point of the skeleton."""
    t0, t1 = before.end_tangent, after.start_tangent
    turn = cross(t0, t1)
    if abs(turn) < SMOOTH and (t0.conjugate() * t1).real > 0:
        return ()
    pivot = before.p3
    a, b = pivot + 1j * t0 * distance, pivot + 1j * t1 * distance
    if turn * distance > 0:
        # Inner side: by way of the pivot, so that the fold lies inside the stroke.
        return (Line(a, pivot), Line(pivot, b))
    return _round(pivot, a, cmath.phase(t1 / t0), abs(distance))


def _side(pieces: tuple[Segment, ...], distance: float, closed: bool) -> list[Segment]:
    found: list[Segment] = []
    for index, piece in enumerate(pieces):
        if index:
            found.extend(_join(pieces[index - 1], piece, distance))
        found.extend(_offset_piece(piece, distance))
    if closed:
        found.extend(_join(pieces[-1], pieces[0], distance))
    return found


def _cap(end: complex, tangent: complex, half: float, rounded: bool) -> Contour:
    """Finish a stroke whose pen arrives at ``end`` in direction ``tangent``."""
    left, right = end + 1j * tangent * half, end - 1j * tangent * half
    if not rounded:
        return (Line(left, right),)
    return _round(end, left, -math.pi, half)


def _reverse(pieces: tuple[Segment, ...]) -> tuple[Segment, ...]:
    return tuple(piece.reversed() for piece in reversed(pieces))


def _expand_stroke(stroke: Stroke, half: float) -> tuple[Contour, ...]:
    pieces, back = stroke.segments, _reverse(stroke.segments)
    left, right = _side(pieces, half, stroke.closed), _side(back, half, stroke.closed)
    if stroke.closed:
        return tuple(left), tuple(right)
    last = _cap(pieces[-1].p3, pieces[-1].end_tangent, half, stroke.round_end)
    first = _cap(back[-1].p3, back[-1].end_tangent, half, stroke.round_start)
    return ((*left, *last, *right, *first),)


def expand(shape: Shape, pen: float) -> tuple[Contour, ...]:
    """Return the closed contours of one shape drawn with a pen ``pen`` wide.

    Outer contours run clockwise, as TrueType wants them; filling is by non-zero winding.
    """
    if isinstance(shape, Disc):
        radius = shape.radius + shape.pens * pen / 2
        return (arc(shape.centre, radius, math.pi, -2 * math.pi, 4),)
    return _expand_stroke(shape, shape.pen * pen / 2)


def _distance(point: complex, piece: Segment) -> float:
    """Return about how far ``point`` is from ``piece`` (sampled, good to 1 % of the piece)."""
    steps = 64
    samples = [piece.point(i / steps) for i in range(steps + 1)]
    found = math.inf
    for a, b in pairwise(samples):
        along = ((point - a) / (b - a)).real if b != a else 0.0
        found = min(found, abs(a + min(max(along, 0.0), 1.0) * (b - a) - point))
    return found


def bury_ends(shapes: tuple[Shape, ...], reach: float = 0.12) -> tuple[Shape, ...]:
    """Make flat every end that lies on another centre line.

    A round end there would touch the far edge of the stroke it runs into, a tangency that
    leaves slivers when outlines are united; a flat one disappears inside.
    """

    def buried(end: complex, own: int, terminal: int) -> bool:
        for index, other in enumerate(shapes):
            if not isinstance(other, Stroke):
                continue
            ends = () if other.closed else (other.segments[0].p0, other.segments[-1].p3)
            if index != own and any(abs(end - e) < reach for e in ends):
                continue
            skip = {terminal, terminal - 1, terminal + 1} if index == own else set()
            pieces = (p for i, p in enumerate(other.segments) if i not in skip)
            if any(_distance(end, piece) < reach for piece in pieces):
                return True
        return False

    found: list[Shape] = []
    for index, shape in enumerate(shapes):
        if isinstance(shape, Stroke) and not shape.closed:
            last = len(shape.segments) - 1
            shape = replace(
                shape,
                round_start=shape.round_start and not buried(shape.segments[0].p0, index, 0),
                round_end=shape.round_end and not buried(shape.segments[-1].p3, index, last),
            )
        found.append(shape)
    return tuple(found)
