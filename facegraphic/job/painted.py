"""What a drawing paints, as an area: fills and strokes of any colour, so that paint can be sprayed there.

Colours do not matter, only where there is any: white counts too, and what lets more light through than it stops does
not. What could not be turned into an exact area is refused by name. svgelements reads shapes, styles, uses and
transforms; shapely makes strokes of lines and unites everything.
"""

import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
import shapely.affinity
from shapely.geometry.base import BaseGeometry
from svgelements import SVG, Arc, Close, CubicBezier, Line, Move, QuadraticBezier, Shape
from svgelements import Path as SvgPath

from facegraphic.geometry.path import FLATNESS_MM, Path, PathPen, Point, Ring
from facegraphic.geometry.regions import areal, filled
from facegraphic.job.image import Drawing
from facegraphic.job.model import Painted
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

PX = MM_PER_UNIT["px"]
MOST_POINTS, MOST_CROSSINGS = limit("region-points"), limit("region-crossings")
CAPS = {"butt": "flat", "round": "round", "square": "square"}
JOINS = {"miter": "mitre", "miter-clip": "mitre", "arcs": "mitre", "round": "round", "bevel": "bevel"}
OPEN = "filled without being closed: the ends are joined by a straight line, as SVG draws it"
CROSSING = "crossing itself: mended to what SVG's fill rule paints"
NAMED = 3
FEW = 200  # pieces that may all cross each other
# What an area cannot be told from, and how to put it otherwise.
_REFUSED = {
    "clip-path": "a clip path; cut the shapes themselves (path, intersection)",
    "stroke-dasharray": "a dashed stroke; turn it into paths (stroke to path)",
    "viewport": "an svg within the svg, or a symbol, which cuts off what it shows; unlink and ungroup it",
    "marker-start": "markers; turn them into paths (object to path)",
    "marker-mid": "markers; turn them into paths (object to path)",
    "marker-end": "markers; turn them into paths (object to path)",
}
_STYLED = re.compile(r"(?<![-\w])(" + "|".join(_REFUSED) + r")\s*:\s*(?!none)([^;}\s]+)", re.IGNORECASE)

_WITHIN = re.compile(r"<(?:\w+:)?svg[\s>]")


@dataclass
class _Found:
    """Areas and notes gathered so far; `flatness` (mm) is asked of curves, `points` counts what the outlines have."""

    flatness: float
    areas: list[BaseGeometry] = field(default_factory=list)
    notes: dict[str, list[str]] = field(default_factory=dict)
    points: int = 0
    crossings: int = 0

    def count(self, paths: list[Path], flatness: float) -> None:
        """Count what paths come to before they are cut to points. ValueError if there is no end of it."""
        self.points += sum(path.points(flatness) for path in paths)
        if self.points > MOST_POINTS:
            raise ValueError(f"its outlines have more than {MOST_POINTS} points; simplify it")

    def near(self, lines: list[Ring]) -> None:
        """Count pairs of pieces that lie near each other: where all cross all, an area takes time without end."""
        points = [np.array(line, dtype=float).reshape(-1, 2) for line in lines]
        low = [np.minimum(line[:-1], line[1:]) for line in points]
        high = [np.maximum(line[:-1], line[1:]) for line in points]
        if sum(map(len, low)) < FEW:
            return
        boxes = shapely.box(*np.concatenate(low).T, *np.concatenate(high).T)
        tree = shapely.STRtree(boxes)
        for start in range(0, len(boxes), FEW):
            self.crossings += tree.query(boxes[start : start + FEW]).shape[1] - 3 * FEW
            if self.crossings > MOST_CROSSINGS:
                raise ValueError("its outlines cross or crowd each other too often; simplify it")


def painted_area(drawing: Drawing, size: tuple[float, float] | None = None) -> Painted:
    """What a drawing paints, in mm round its middle, y up; its curves flattened finely enough for its shapes to be
    stretched to a size later. ValueError for what no area can be told from.
    """
    found = _read(drawing, 1.0)
    factor = stretch(found.area, size)
    return _read(drawing, factor) if factor > 1 else found


def stretch(area: BaseGeometry, size: tuple[float, float] | None) -> float:
    """By how much an area grows to fit into a size; 1 without one."""
    if size is None or area.is_empty:
        return 1.0
    x0, y0, x1, y1 = area.bounds
    return float(min(size[0] / (x1 - x0), size[1] / (y1 - y0)))


def _read(drawing: Drawing, stretched: float) -> Painted:
    found = _Found(FLATNESS_MM / stretched)
    try:
        document = SVG.parse(io.BytesIO(drawing.svg), reify=False, ppi=96.0)
        shapes = [element for element in document.elements() if isinstance(element, Shape)]
    except (ValueError, TypeError, ArithmeticError, LookupError, AttributeError, RecursionError) as error:
        raise ValueError(
            f"it cannot be read ({str(error)[:60] or type(error).__name__}); save it as plain SVG"
        ) from None
    _refuse(drawing, shapes)
    for number, shape in enumerate(shapes, 1):
        try:
            found.areas += _painted(shape, number, found)
        except (TypeError, ArithmeticError, LookupError, AttributeError, shapely.errors.GEOSException) as error:
            what = str(error)[:60] or type(error).__name__
            raise ValueError(f"{_called(shape, number)} cannot be read ({what}); mend it, or take it out") from None
    width, height = drawing.size
    page = shapely.box(0, 0, width / PX, height / PX)
    try:
        area = _together(found.areas).intersection(page)
    except shapely.errors.GEOSException:  # turned onto the page, an outline crosses itself by a rounding
        area = _together([areal(shapely.make_valid(area)) for area in found.areas]).intersection(page)
    area = shapely.affinity.affine_transform(area, (PX, 0, 0, -PX, -width / 2, height / 2))
    return Painted(drawing.name, areal(area), tuple(_told(what, who) for what, who in found.notes.items()))


def _together(areas: list[BaseGeometry]) -> BaseGeometry:
    return areas[0] if len(areas) == 1 else shapely.union_all(areas)


def _refuse(drawing: Drawing, shapes: list[Any]) -> None:
    """ValueError that lists what no area can be told from."""
    text = drawing.svg.decode("utf-8")
    told = {match[1].lower() for match in _STYLED.finditer(text)}
    for shape in shapes:
        told |= {key for key in _REFUSED if str(shape.values.get(key) or "none").strip() != "none"}
    if re.search(r"\sclip-path\s*=\s*[\"'](?!none)", text):
        told.add("clip-path")
    if len(_WITHIN.findall(text)) > 1 or re.search(r"<(?:\w+:)?symbol[\s>]", text):
        told.add("viewport")
    if told:
        raise ValueError("it holds " + "; and ".join(dict.fromkeys(_REFUSED[key] for key in _REFUSED if key in told)))


def _painted(shape: Any, number: int, found: _Found) -> Iterator[BaseGeometry]:
    """The filled and the stroked area of one shape, on the page in px."""
    values = shape.values
    if str(values.get("visibility", "")).strip() in ("hidden", "collapse") or values.get("display") == "none":
        return
    matrix = [float(shape.transform[index]) for index in range(6)]
    scale = math.sqrt(abs(matrix[0] * matrix[3] - matrix[1] * matrix[2]))
    if not math.isfinite(scale) or scale <= 0:
        return
    flatness = found.flatness / PX / scale
    parts = list(_parts(shape))
    onto = (matrix[0], matrix[2], matrix[1], matrix[3], matrix[4], matrix[5])
    if _seen(values, "fill") and _stops(shape.fill):
        found.count([path for path, _ in parts], flatness)
        rings = [ring for path, _ in parts for ring in path.rings(flatness)]
        found.near(rings)
        rule = str(values.get("fill-rule") or "nonzero").strip()
        _note(shape, number, [closed for _, closed in parts], rings, found)
        yield shapely.affinity.affine_transform(filled(rings, rule), onto)
    width = float(shape.stroke_width or 0)
    if _seen(values, "stroke") and _stops(shape.stroke) and width > 0:
        found.count([path for path, _ in parts], flatness)
        lines = [(_line(path, flatness), closed) for path, closed in parts]
        found.near([line for line, _ in lines])
        strokes = [_stroke(line, closed, width, flatness, values) for line, closed in lines]
        yield shapely.affinity.affine_transform(shapely.union_all(strokes), onto)


def _stops(colour: Any) -> bool:
    """Whether there is a colour at all that stops light."""
    return colour is not None and colour.value is not None and colour.alpha >= 128


def _seen(values: Any, what: str) -> bool:
    """Whether a fill or a stroke stops at least half of the light."""
    share = 1.0
    for key in ("opacity", f"{what}-opacity"):
        text = str(values.get(key) or "1").strip()
        share *= float(text[:-1]) / 100 if text.endswith("%") else float(text)
    return share >= 0.5


def _note(shape: Any, number: int, closed: list[bool], rings: list[Ring], found: _Found) -> None:
    if not all(closed):
        found.notes.setdefault(OPEN, []).append(_called(shape, number))
    if not all(shapely.LinearRing(ring).is_simple for ring in rings if len(ring) > 2):
        found.notes.setdefault(CROSSING, []).append(_called(shape, number))


def _told(what: str, who: list[str]) -> str:
    more = f" and {len(who) - NAMED} more" if len(who) > NAMED else ""
    return f"{', '.join(who[:NAMED])}{more}: {what}"


def _called(shape: Any, number: int) -> str:
    name = type(shape).__name__.lower()
    return f'the {name} "{str(shape.id)[:40]}"' if shape.id else f"{name} {number}"


def _parts(shape: Any) -> Iterator[tuple[Path, bool]]:
    """Each subpath of a shape in its own space, and whether it is closed."""
    whole = SvgPath(shape.segments(transformed=False))
    for part in whole.as_subpaths():
        pen, start, last, closed = PathPen(), None, None, False
        for segment in part:
            if isinstance(segment, Move):
                start = last = _point(segment.end)
                pen.moveTo(start)
            elif isinstance(segment, Close):
                closed = True
            elif last is None or segment.end is None:
                raise ValueError(f"{type(segment).__name__} before any start")
            else:
                _draw(pen, segment)
                last = _point(segment.end)
        if start is not None and last is not None:
            pen.closePath()
            yield (
                pen.path,
                closed or (len(pen.segments) > 3 and math.dist(start, last) < 1e-9 * (1 + math.hypot(*last))),
            )


def _draw(pen: PathPen, segment: Any) -> None:
    if isinstance(segment, Line):
        pen.lineTo(_point(segment.end))
    elif isinstance(segment, CubicBezier):
        pen.curveTo(_point(segment.control1), _point(segment.control2), _point(segment.end))
    elif isinstance(segment, QuadraticBezier):
        pen.qCurveTo(_point(segment.control), _point(segment.end))
    elif isinstance(segment, Arc):
        for curve in segment.as_cubic_curves():
            pen.curveTo(_point(curve.control1), _point(curve.control2), _point(curve.end))
    else:
        raise TypeError(f"a part of kind {type(segment).__name__}")


def _point(at: Any) -> Point:
    x, y = float(at.x), float(at.y)
    if not (math.isfinite(x) and math.isfinite(y) and max(abs(x), abs(y)) < 1e9):
        raise ArithmeticError("figures that are not finite or absurdly large")
    return (x, y)


def _line(path: Path, flatness: float) -> Ring:
    """A subpath as points, short ones too, which `Path.rings` leaves out."""
    rings = path.rings(flatness)
    return rings[0] if rings else [(segment[-2], segment[-1]) for segment in path.segments if segment[0] != "Z"]


def _stroke(line: Ring, closed: bool, width: float, flatness: float, values: Any) -> BaseGeometry:
    """A line of some width with SVG's caps and joins; a point alone shows with round or square caps only."""
    cap = CAPS.get(str(values.get("stroke-linecap") or "butt").strip(), "flat")
    join = JOINS.get(str(values.get("stroke-linejoin") or "miter").strip(), "mitre")
    limit = float(values.get("stroke-miterlimit") or 4)
    quarter = max(4, math.ceil(math.pi / 4 / math.acos(max(0.0, 1 - min(1.0, flatness / (width / 2))))))
    points = [at for number, at in enumerate(line) if number == 0 or at != line[number - 1]]
    if len(points) == 1:
        ends = shapely.Point(points[0])
        return ends.buffer(width / 2, quad_segs=quarter, cap_style=cap) if cap != "flat" else shapely.Polygon()
    if closed and len(points) > 2 and points[0] == points[-1]:
        points = points[:-1]
    core = shapely.LinearRing(points) if closed and len(points) > 2 else shapely.LineString(points)
    return core.buffer(width / 2, quad_segs=quarter, cap_style=cap, join_style=join, mitre_limit=limit)
