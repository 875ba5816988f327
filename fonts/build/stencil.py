"""Bridge the counters: no island of a stencil letter may fall out.

A counter is opened by upright slots through the strokes above and below its middle.  Where
another place looks better the glyph's source says so; this module looks after the rest.
"""

from __future__ import annotations

import shapely
from pathops import Path
from shapely.geometry.base import BaseGeometry

from fonts.build.design import GRID
from fonts.build.outline import polygon, subtract

Box = tuple[float, float, float, float]
_MARGIN = 0.08 * GRID  # how far a slot reaches beyond the ink it cuts
_ROUNDS = 6


def counters(shape: BaseGeometry) -> list[shapely.Polygon]:
    """Return the closed counters of a filled area as polygons."""
    found: list[shapely.Polygon] = []
    for part in getattr(shape, "geoms", [shape]):
        if isinstance(part, shapely.Polygon):
            found.extend(shapely.Polygon(ring) for ring in part.interiors)
    return found


def _ink(shape: BaseGeometry, x: float, half: float) -> list[tuple[float, float]]:
    """Return the heights at which a slot of half width ``half`` around ``x`` meets ink."""
    low, high = shape.bounds[1] - 1, shape.bounds[3] + 1
    strip = shapely.box(x - half, low, x + half, high).intersection(shape)
    spans = sorted((g.bounds[1], g.bounds[3]) for g in getattr(strip, "geoms", [strip]) if g.area > 1)
    merged: list[tuple[float, float]] = []
    for span in spans:
        if merged and span[0] < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(span[1], merged[-1][1]))
        else:
            merged.append(span)
    return merged


def _slots(shape: BaseGeometry, counter: shapely.Polygon, width: float, level: bool) -> list[Box]:
    """Return the slots above and below the middle of one counter, or left and right of it."""
    if level:
        turned = _slots(_transposed(shape), _transposed(counter), width, level=False)
        return [(y0, x0, y1, x1) for x0, y0, x1, y1 in turned]
    x0, y0, x1, y1 = counter.bounds
    x, half = (x0 + x1) / 2, max(min(width, 0.8 * (x1 - x0)), 0.75 * width) / 2
    middle = shapely.LineString([(x, y0), (x, y1)]).intersection(counter).centroid.y
    spans = _ink(shape, x, half)
    above = [s for s in spans if s[1] > middle and s[0] > middle - _MARGIN]
    below = [s for s in spans if s[0] < middle and s[1] < middle + _MARGIN]
    chosen = above[:1] + below[-1:]
    return [(x - half, low - _MARGIN, x + half, high + _MARGIN) for low, high in chosen]


def _transposed(shape: BaseGeometry) -> BaseGeometry:
    return shapely.transform(shape, lambda xy: xy[:, ::-1])


def bridge(path: Path, given: tuple[tuple[float, float, float], ...], width: float) -> Path:
    """Open every counter of an outline.

    :param given: slots named by the source, (x, low, high) in grid units.
    :param width: width of a slot in grid units.
    :raises ValueError: if a counter stays closed.
    """
    half = width * GRID / 2
    if given:
        path = subtract(path, [(x * GRID - half, a * GRID, x * GRID + half, b * GRID) for x, a, b in given])
    for attempt in range(_ROUNDS):
        shape = polygon(path)
        closed = counters(shape)
        if not closed:
            return path
        # What upright slots leave closed is opened sideways.
        level = attempt % 2 == 1
        path = subtract(path, [slot for hole in closed for slot in _slots(shape, hole, width * GRID, level)])
    raise ValueError("a counter stays closed")
