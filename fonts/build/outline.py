"""Closed contours to clean TrueType outlines, and to polygons for measuring.

Cubic contours become quadratic splines, the overlaps between strokes are removed, and the
result stays made of curves.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import pathops
import shapely
from fontTools.cu2qu import curves_to_quadratic
from fontTools.pens.ttGlyphPen import TTGlyphPen
from shapely.geometry.base import BaseGeometry

from fonts.build.design import GRID
from fonts.build.geometry import Contour, Line, Segment

XY = tuple[float, float]
# A quadratic contour: its start, then pieces of off-curve points followed by one on-curve point.
Spline = tuple[XY, tuple[tuple[XY, ...], ...]]
# Largest distance between a cubic and its quadratic spline, font units.
_TOLERANCE = 0.5
_CHORDS = 6  # chords per quadratic when flattened; 1/1000 of the capital height off at most


def _xy(point: complex) -> XY:
    return (point.real * GRID, point.imag * GRID)


def _piece(versions: Sequence[Segment]) -> list[tuple[XY, ...]]:
    if any(isinstance(v, Line) for v in versions):
        return [(_xy(v.p3),) for v in versions]
    curves = [[_xy(v.p0), _xy(v.p1), _xy(v.p2), _xy(v.p3)] for v in versions if not isinstance(v, Line)]
    splines = curves_to_quadratic(curves, [_TOLERANCE] * len(curves))
    return [tuple((float(x), float(y)) for x, y in spline[1:]) for spline in splines]


def quadratic(masters: Sequence[Sequence[Contour]]) -> list[list[Spline]]:
    """Turn matching cubic contours (grid units) into matching splines (font units).

    All masters get the same number of points, which is what a variable font asks for; a
    single master is the plain case.
    """
    found: list[list[Spline]] = [[] for _ in masters]
    for contours in zip(*masters, strict=True):
        pieces = [_piece(versions) for versions in zip(*contours, strict=True)]
        for index, contour in enumerate(contours):
            start = _xy(contour[0].p0)
            own = [p[index] for p in pieces]
            # The contour ends in its very first point, not in one that rounding keeps apart.
            own[-1] = (*own[-1][:-1], start)
            found[index].append((start, tuple(own)))
    return found


def _path(splines: Iterable[Spline]) -> pathops.Path:
    path = pathops.Path()
    pen = path.getPen(glyphSet=None)
    for start, pieces in splines:
        pen.moveTo(start)
        for piece in pieces:
            if len(piece) == 1:
                pen.lineTo(piece[0])
            else:
                pen.qCurveTo(*piece)
        pen.closePath()
    return path


def unite(splines: Iterable[Spline]) -> pathops.Path:
    """Remove all overlaps; outer contours come out clockwise."""
    path = _path(splines)
    path.simplify(fix_winding=True, keep_starting_points=False, clockwise=True)
    return path


def subtract(path: pathops.Path, boxes: Iterable[tuple[float, float, float, float]]) -> pathops.Path:
    """Cut upright boxes (x0, y0, x1, y1 in font units) out of an outline."""
    cutter = pathops.Path()
    pen = cutter.getPen(glyphSet=None)
    for x0, y0, x1, y1 in boxes:
        pen.moveTo((x0, y0))
        for corner in ((x0, y1), (x1, y1), (x1, y0)):
            pen.lineTo(corner)
        pen.closePath()
    return pathops.op(path, cutter, pathops.PathOp.DIFFERENCE, fix_winding=True, clockwise=True)


def rings(path: pathops.Path) -> list[np.ndarray]:
    """Flatten an outline: one array of shape (points, 2) per contour, font units."""
    found: list[np.ndarray] = []
    current: list[XY] = []
    steps = np.arange(1, _CHORDS + 1)[:, None] / _CHORDS
    for verb, points in path:
        if verb == pathops.PathVerb.MOVE:
            current = [points[0]]
        elif verb == pathops.PathVerb.LINE:
            current.append(points[0])
        elif verb == pathops.PathVerb.QUAD:
            p0, p1, p2 = (np.array(p) for p in (current[-1], *points))
            curve = (1 - steps) ** 2 * p0 + 2 * steps * (1 - steps) * p1 + steps**2 * p2
            current.extend((float(x), float(y)) for x, y in curve)
        elif verb == pathops.PathVerb.CLOSE and len(current) > 2:
            found.append(np.array(current))
    return found


def _signed_area(ring: np.ndarray) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2)


def polygon(path: pathops.Path) -> BaseGeometry:
    """Return the filled area of an overlap-free outline."""
    found = rings(path)
    solid = shapely.union_all([shapely.Polygon(r).buffer(0) for r in found if _signed_area(r) < 0])
    holes = shapely.union_all([shapely.Polygon(r).buffer(0) for r in found if _signed_area(r) > 0])
    return solid.difference(holes)


_CALLS = {
    pathops.PathVerb.MOVE: "moveTo",
    pathops.PathVerb.LINE: "lineTo",
    pathops.PathVerb.QUAD: "qCurveTo",
    pathops.PathVerb.CLOSE: "closePath",
}


def draw(path: pathops.Path, pen: TTGlyphPen, dx: float) -> None:
    """Draw an outline moved by ``dx`` font units."""
    for verb, points in path:
        getattr(pen, _CALLS[verb])(*((x + dx, y) for x, y in points))
