"""Plain shapes as filled paths: rectangles, discs, arcs, bars and crosses."""

import math
from collections.abc import Sequence

from facegraphic.geometry.path import Box, Path, Point, Segment


def polygon(points: Sequence[Point]) -> Path:
    first, *rest = points
    return Path((("M", *first), *(("L", *point) for point in rest), ("Z",)))


def rectangle(box: Box) -> Path:
    return polygon([(box.x0, box.y0), (box.x1, box.y0), (box.x1, box.y1), (box.x0, box.y1)])


def arc_segments(centre: Point, radius: float, start: float, sweep: float) -> list[Segment]:
    """Cubics along a circle from `start` by `sweep` (radians, counter-clockwise positive).

    Handles are 4/3 tan(θ/4) of the radius long; cut at quarter turns the radius is at most 2.73e-4 too
    large (both from Mortensen's note on approximating a circle by cubic Béziers).
    """
    count = max(1, math.ceil(abs(sweep) / (math.pi / 2) - 1e-9))
    step = sweep / count
    handle = 4 / 3 * math.tan(step / 4) * radius
    segments: list[Segment] = []
    for i in range(count):
        a, b = start + i * step, start + (i + 1) * step
        ax, ay = centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)
        bx, by = centre[0] + radius * math.cos(b), centre[1] + radius * math.sin(b)
        c1 = (ax - handle * math.sin(a), ay + handle * math.cos(a))
        c2 = (bx + handle * math.sin(b), by - handle * math.cos(b))
        segments.append(("C", *c1, *c2, bx, by))
    return segments


def disc(centre: Point, diameter: float) -> Path:
    radius = diameter / 2
    start = ("M", centre[0] + radius, centre[1])
    return Path((start, *arc_segments(centre, radius, 0.0, math.tau), ("Z",)))


def rounded_rectangle(box: Box, radius: float) -> Path:
    """A rectangle with quarter-circle corners; the radius is held to half the shorter side."""
    r = min(radius, box.width / 2, box.height / 2)
    if r <= 0:
        return rectangle(box)
    corners = [
        (box.x1 - r, box.y0 + r),
        (box.x1 - r, box.y1 - r),
        (box.x0 + r, box.y1 - r),
        (box.x0 + r, box.y0 + r),
    ]
    segments: list[Segment] = [("M", box.x0 + r, box.y0)]
    for quarter, (x, y) in enumerate(corners):
        start = (quarter - 1) * math.pi / 2
        segments.append(("L", x + r * math.cos(start), y + r * math.sin(start)))
        segments += arc_segments((x, y), r, start, math.pi / 2)
    return Path((*segments, ("Z",)))


def bar(start: Point, end: Point, width: float) -> Path:
    """A straight line of some width with flat ends."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    nx, ny = -dy / length * width / 2, dx / length * width / 2
    return polygon(
        [
            (start[0] + nx, start[1] + ny),
            (start[0] - nx, start[1] - ny),
            (end[0] - nx, end[1] - ny),
            (end[0] + nx, end[1] + ny),
        ]
    )


def cross(centre: Point, size: float, width: float) -> Path:
    """An upright cross as one contour, so that its middle is not drawn twice."""
    (x, y), a, w = centre, size / 2, width / 2
    corners = [
        (a, -w),
        (a, w),
        (w, w),
        (w, a),
        (-w, a),
        (-w, w),
        (-a, w),
        (-a, -w),
        (-w, -w),
        (-w, -a),
        (w, -a),
        (w, -w),
    ]
    return polygon([(x + dx, y + dy) for dx, dy in corners])


def outline_band(outer: Path, inner: Path) -> Path:
    """The band between two contours, to be filled even-odd."""
    return outer + inner


def polar(centre: Point, radius: float, bearing: float) -> Point:
    """The point at a bearing in degrees: 0 straight up, clockwise positive, as scales are read."""
    angle = math.radians(bearing)
    return (centre[0] + radius * math.sin(angle), centre[1] + radius * math.cos(angle))
