"""SVG drawings: circles, ellipses and closed paths that are round once all transforms are done.

Sizes are CSS's and SVG 2's: 96 px to the inch, user units mapped by the viewBox. Positions come out with y up, from the
lower left corner of the page.
"""

import math
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from fontTools.misc.transform import Transform
from svgelements import Close, Line, Move, Path

from facegraphic.drill.model import MOST_HOLES, Asked, DrillHole, LeftOut, Reading, Unreadable, too_many_holes
from facegraphic.drill.rounds import (
    Arc,
    Round,
    arc_through,
    circle_through,
    farthest,
    joined,
    polygon_circle,
    radius,
    sane,
)
from facegraphic.drill.svg_tree import (
    PX,
    TOO_MUCH,
    Placed,
    Tree,
    fitted,
    length,
    parse,
    physical,
    sound_path,
    unfold,
    view_box,
)
from facegraphic.errors import Problem
from facegraphic.geometry.path import Point
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

ASK = "set both, or say what one unit is: --units mm or --units in; in a job, units = under [[face]]"
CIRCLES = "draw holes as circles"
OUTLINE = "a closed outline that is no circle, left out"
POLYGON = "a polygon of many sides, taken for a circle through its corners"
SLOT = "a face has round holes only: keep legends off it yourself, or add holes for it"
STEPS = 12
_COMMAND = re.compile(r"[A-DF-Za-df-z]")
_SPACE = re.compile(r"[\s,]+")
LONGEST_PATH = 1_000_000
MOST_SEGMENTS = limit("segments")


@dataclass(frozen=True)
class Page:
    """The page in mm (0 where there is none), and the transform from the drawing's user units to it, y still down."""

    size: tuple[float, float]
    view: tuple[float, float]
    matrix: Transform


@dataclass
class _Finds:
    """Circles found so far, each with the shape it came from, and parts of circles by layer."""

    tree: Tree
    circles: list[tuple[Round, Placed, int]] = field(default_factory=list)
    arcs: dict[str, list[tuple[Arc, Placed, int]]] = field(default_factory=dict)
    turn: int = 0
    segments: int = 0

    def count(self, segments: int) -> None:
        """Count what a path or polygon is made of, before it is looked at. Unreadable if there is no end of it."""
        self.segments += segments
        if self.segments > MOST_SEGMENTS:
            raise Unreadable(f"paths and polygons of more than {MOST_SEGMENTS} segments", TOO_MUCH)

    def add(self, found: Round, placed: Placed) -> None:
        if len(self.circles) >= MOST_HOLES:
            raise too_many_holes()
        self.circles.append((found, placed, self.turn))


def read_svg(data: bytes, file: str, asked: Asked) -> Reading:
    """Read an SVG. Holes keep the ids of their elements, others are numbered. Unreadable if its size is not known."""
    root = parse(data)
    notes: list[Problem] = []
    page = _page(root, file, asked, notes)
    tree = Tree(root, frozenset(layer.lower() for layer in asked.layers))
    finds = _Finds(tree)
    for placed in unfold(tree, page.matrix, page.view):
        finds.turn += 1
        try:
            _shape(placed, finds)
        except (ValueError, TypeError, ArithmeticError, LookupError, AttributeError) as error:
            what = f"a {placed.name} that cannot be read: {str(error)[:60] or type(error).__name__}"
            raise Unreadable(what, "mend it, or take it out", placed.line) from None
    _join(finds)
    finds.circles.sort(key=lambda found: found[2])
    sheet = page.size if all(page.size) else None
    holes = tuple(_holes(finds.circles, page.size[1] if sheet else 0.0))
    for (what, mend, lost), lines in tree.told.items():
        notes.append(
            (LeftOut if lost else Problem)(
                what if len(lines) == 1 else f"{len(lines)} times: {what}", mend, file, lines[0]
            )
        )
    return Reading("SVG", holes, notes=tuple(notes), layers=Counter(hole.layer for hole in holes), page=sheet)


def _page(root: Any, file: str, asked: Asked, notes: list[Problem]) -> Page:
    """How large the page is and how user units lie on it."""
    box = view_box(root)
    (width, real), (height, really) = physical(root.get("width")), physical(root.get("height"))
    real = real or really
    if box is not None and (width is None) != (height is None):
        width, height = (width or (height or 0) * box[2] / box[3]), (height or (width or 0) * box[3] / box[2])
    if asked.units and not real:
        factor = MM_PER_UNIT[asked.units]
        left, top, *size = box or (0.0, 0.0, width or 0.0, height or 0.0)
        matrix = Transform(factor, 0, 0, factor, -left * factor, -top * factor)
        return Page((size[0] * factor, size[1] * factor), (size[0], size[1]), matrix)
    if width is None or height is None:
        raise Unreadable("the drawing does not say how large it is (no width and height that are lengths)", ASK)
    if not (0 < width < 1e6 and 0 < height < 1e6):
        raise Unreadable("the drawing's width or height is nothing or absurd", "set them in mm")
    if asked.units:
        notes.append(Problem("the drawing itself says how large it is", "that is believed", file))
    elif not real:
        what = f"the page is {width:g} × {height:g} px, at 96 to the inch {width * PX:.1f} × {height * PX:.1f} mm"
        notes.append(Problem(what, "if its units were meant as mm, say so: --units mm (in a job: units)", file))
    matrix = Transform(PX, 0, 0, PX, 0, 0).transform(fitted(box, (width, height), root.get("preserveAspectRatio")))
    return Page((width * PX, height * PX), box[2:] if box else (width, height), matrix)


def _holes(found: list[tuple[Round, Placed, int]], height: float) -> Iterator[DrillHole]:
    """Holes with an id each: the element's own if it has one, else a number."""
    taken = {placed.node.get("id") for _, placed, _ in found}
    used: Counter[str] = Counter()
    for number, (circle, placed, _) in enumerate(found, 1):
        id = placed.node.get("id") or str(number)
        if not placed.node.get("id") and id in taken:
            id = f"hole-{number}"
        used[id] += 1
        if used[id] > 1:
            id = f"{id}-{used[id]}"
        x, y = circle.at
        yield DrillHole(id, x, height - y, 2 * circle.r, placed.line or None, placed.layer)


def _shape(placed: Placed, finds: _Finds) -> None:
    if placed.name in ("circle", "ellipse"):
        _oval(placed, finds)
    elif placed.name == "rect":
        _rect(placed, finds)
    elif placed.name in ("polygon", "polyline"):
        finds.count(placed.node.get("points", "").count(",") + placed.node.get("points", "").count(" ") + 1 >> 1)
        numbers = [float(part) for part in placed.node.get("points", "").replace(",", " ").split()]
        points = list(zip(numbers[::2], numbers[1::2], strict=False))
        if placed.name == "polygon" or (points and points[0] == points[-1]):
            _polygon(points, placed, finds)
    else:
        _path(placed, finds)


def _oval(placed: Placed, finds: _Finds) -> None:
    node, (wide, high) = placed.node, placed.view
    diagonal = math.hypot(wide, high) / math.sqrt(2)
    if placed.name == "circle":
        rx = ry = length(node.get("r"), diagonal)
    else:
        rx, ry = length(node.get("rx"), wide, -1.0), length(node.get("ry"), high, -1.0)
        rx, ry = (ry if rx == -1.0 else rx), (rx if ry == -1.0 else ry)
    _round((length(node.get("cx"), wide), length(node.get("cy"), high)), rx, ry, placed, finds)


def _rect(placed: Placed, finds: _Finds) -> None:
    """Some programs write a circle as a square whose corners are rounded all the way."""
    node, (wide, high) = placed.node, placed.view
    width, height = length(node.get("width"), wide), length(node.get("height"), high)
    rx, ry = length(node.get("rx"), wide, -1.0), length(node.get("ry"), high, -1.0)
    rx, ry = (ry if rx == -1.0 else rx), (rx if ry == -1.0 else ry)
    if width <= 0 or height <= 0:
        return
    rx, ry = max(rx, 0.0), max(ry, 0.0)
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    x, y = length(node.get("x"), wide) + width / 2, length(node.get("y"), high) + height / 2
    if rx > 0.4999 * width and ry > 0.4999 * height:
        _round((x, y), rx, ry, placed, finds)
    elif rx > 0.4999 * width or ry > 0.4999 * height:
        finds.tree.tell("a slot (a rectangle with round ends), left out", SLOT, placed.line)
    else:
        finds.tree.tell(OUTLINE, CIRCLES, placed.line, lost=False)


def _round(at: Point, rx: float, ry: float, placed: Placed, finds: _Finds) -> None:
    if rx < 0 or ry < 0:
        raise ValueError("its radius is below 0")
    if rx == 0 or ry == 0:
        return  # SVG 2 draws nothing for it
    matrix = placed.matrix
    middle, u, v = matrix.transformPoint(at), matrix.transformVector((rx, 0)), matrix.transformVector((0, ry))
    if not sane(middle, u, v):
        raise ValueError(f"it {farthest(middle, u, v)}")
    r = radius(u, v)
    if r is None:
        finds.tree.tell("an ellipse, or a circle stretched to one, left out", CIRCLES, placed.line)
    else:
        finds.add(Round(middle, r), placed)


def _polygon(points: list[Point], placed: Placed, finds: _Finds) -> None:
    corners = _moved(points, placed)
    found = polygon_circle(corners)
    if found is not None:
        finds.tree.tell(POLYGON, CIRCLES, placed.line, lost=False)
        finds.add(found, placed)
    elif corners:
        finds.tree.tell(OUTLINE, CIRCLES, placed.line, lost=False)


def _path(placed: Placed, finds: _Finds) -> None:
    text = placed.node.get("d", "")
    if re.search(r"\d{40}|[eE]\+?0*[1-9]\d", text):
        raise ValueError("figures that are absurdly large")
    if len(text) > LONGEST_PATH:
        raise ValueError("a path without end")
    finds.count(_segments(text))
    if not sound_path(text):
        raise ValueError(f'"{text[:40]}" is no path')
    for part in Path(text).as_subpaths():
        segments = [segment for segment in part if not isinstance(segment, Move)]
        ends = [(float(s.end.x), float(s.end.y)) for s in segments if s.end is not None]
        if not segments or not ends or segments[0].start is None:
            continue
        start = (float(segments[0].start.x), float(segments[0].start.y))
        closed = isinstance(segments[-1], Close) or math.dist(ends[-1], start) < 1e-6 * (1 + math.hypot(*start))
        nodes = [start, *ends]
        curves = [segment for segment in segments if not isinstance(segment, Line | Close)]
        if not curves:
            if closed:
                _polygon(nodes, placed, finds)
            continue
        points = _moved(_sampled(segments, start), placed)
        if closed:
            found = circle_through(points, _moved(nodes, placed))
            if found is not None:
                finds.add(found, placed)
            elif _is_slot(segments, curves):
                finds.tree.tell("a slot (a closed path with two round ends), left out", SLOT, placed.line)
            else:
                finds.tree.tell(OUTLINE, CIRCLES, placed.line, lost=False)
        elif (arc := arc_through(points)) is not None:
            finds.arcs.setdefault(placed.layer, []).append((arc, placed, finds.turn))


def _segments(text: str) -> int:
    """About how many segments a path has: its commands, and the figures beyond the six that the longest has."""
    return max(len(_COMMAND.findall(text)), len(_SPACE.findall(text)) // 6)


def _sampled(segments: list[Any], start: Point) -> list[Point]:
    points = [start]
    for segment in segments:  # of straight ones too: a flat side makes no circle
        points += [(float(x), float(y)) for x, y in segment.npoint([step / STEPS for step in range(1, STEPS + 1)])]
    return points


def _is_slot(segments: list[Any], curves: list[Any]) -> bool:
    straight = [s for s in segments if isinstance(s, Line | Close) and s.length() > 1e-6]
    return len(straight) == 2 and len(curves) in (2, 4)


def _moved(points: list[Point], placed: Placed) -> list[Point]:
    moved: list[Point] = placed.matrix.transformPoints(points)
    if not sane(*moved):
        raise ValueError(f"it {farthest(*moved)}")
    return moved


def _join(finds: _Finds) -> None:
    """Open arcs of a layer that make circles together."""
    for arcs in finds.arcs.values():
        whence = {arc: (placed, turn) for arc, placed, turn in arcs}
        circles, loose = joined([arc for arc, _, _ in arcs])
        for joint in circles:
            placed, turn = whence[joint.arcs[0]]
            finds.circles.append((joint.circle, placed, turn))
        for arc in loose:
            finds.tree.tell("an arc that closes to no circle, left out", CIRCLES, whence[arc][0].line)
