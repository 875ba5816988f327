"""How much a drawing paints, in steps: areas by their paint, strokes by how their pieces overlap, groups by depth.

Each element is looked at in every place where it is drawn, so this comes after what uses unfold to is known to be
bounded. Rough measures will do: an area is its box, a stroke its length times its width, a page the drawing's viewBox.
"""

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator, Mapping
from typing import NamedTuple

from facegraphic.job.drawing_weight import CROSSINGS, FEW, Bounds, Outline, crossings
from facegraphic.stock.limits import limit, step

MOST_VISITS = 4 * limit("art-elements")  # uses of an id that stands twice are looked at in both
STROKE, DASHES = step("stroke"), step("dashes")
PLAIN, LINEAR, RADIAL, GROUP = step("area-plain"), step("area-linear"), step("area-radial"), step("group")
NEVER = 10**12  # steps of what is beyond counting
LOOKED_AT = ("fill", "stroke", "stroke-width", "opacity", "transform", "marker", "marker-start", "marker-mid",
             "marker-end", "overflow", "stroke-dasharray")  # fmt: skip
_MARKERS = ("marker", "marker-start", "marker-mid", "marker-end")
_HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
_FIGURE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_TURN = re.compile(r"(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^()]*)", re.IGNORECASE)
_URL = re.compile(r"url\(\s*['\"]?#([^'\")\s]+)", re.IGNORECASE)
_NOT_SEEN = ("defs", "symbol", "clipPath", "marker", "linearGradient", "radialGradient", "style", "stop")
Matrix = tuple[float, float, float, float, float, float]
Given = Mapping[str, Mapping[str, str]]
PLAINLY: Matrix = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)


class _State(NamedTuple):
    """What an element has from those around it."""

    matrix: Matrix = PLAINLY
    fill: str = "black"
    stroke: str = "none"
    width: float = 1.0
    dash: float = 0.0  # with its gap, by the mean; 0 for a stroke without
    groups: int = 0


def properties(block: str) -> dict[str, str]:
    """The properties of a style that are looked at here."""
    parts = (part.partition(":") for part in block.split(";"))
    return {
        key: value.strip() for key, _, value in ((k.strip().lower(), c, v) for k, c, v in parts) if key in LOOKED_AT
    }


def _figures(text: str) -> list[float]:
    return [float(figure) for figure in _FIGURE.findall(text)]


def _size(node: ET.Element, key: str, whole: float) -> float:
    """A length of an element; of the whole where it is a share of it."""
    text = node.get(key, "")
    found = _FIGURE.match(text.strip())
    return float(found[0]) * (whole / 100 if text.strip().endswith("%") else 1.0) if found else 0.0


def _by(a: Matrix, b: Matrix) -> Matrix:
    return (
        a[0] * b[0] + a[2] * b[1],
        a[1] * b[0] + a[3] * b[1],
        a[0] * b[2] + a[2] * b[3],
        a[1] * b[2] + a[3] * b[3],
        a[0] * b[4] + a[2] * b[5] + a[4],
        a[1] * b[4] + a[3] * b[5] + a[5],
    )


def turned(matrix: Matrix, text: str) -> Matrix:
    """A matrix with the transforms of an element on it, those that are malformed left out."""
    for name, given in _TURN.findall(text):
        f, kind = _figures(given), name.lower()
        if kind == "matrix" and len(f) == 6:
            matrix = _by(matrix, (f[0], f[1], f[2], f[3], f[4], f[5]))
        elif kind == "translate" and f:
            matrix = _by(matrix, (1, 0, 0, 1, f[0], f[1] if len(f) > 1 else 0))
        elif kind == "scale" and f:
            matrix = _by(matrix, (f[0], 0, 0, f[-1] if len(f) > 1 else f[0], 0, 0))
        elif kind == "rotate" and f:
            sin, cos = math.sin(math.radians(f[0])), math.cos(math.radians(f[0]))
            x, y = f[1:3] if len(f) > 2 else (0.0, 0.0)
            matrix = _by(matrix, (cos, sin, -sin, cos, x - cos * x + sin * y, y - sin * x - cos * y))
        elif kind.startswith("skew") and f:
            tan = math.tan(math.radians(f[0]))
            matrix = _by(matrix, (1, 0, tan, 1, 0, 0) if kind == "skewx" else (1, tan, 0, 1, 0, 0))
    return matrix


def _around(boxes: list[Bounds]) -> Bounds:
    return (
        min(box[0] for box in boxes),
        min(box[1] for box in boxes),
        max(box[2] for box in boxes),
        max(box[3] for box in boxes),
    )


class Paint:
    """Steps for all that a drawing paints, each element in every place."""

    def __init__(
        self, root: ET.Element, by_id: Mapping[str, list[ET.Element]], given: Given, drawn: Mapping[int, Outline]
    ) -> None:
        self.by_id, self.given, self.drawn = by_id, given, drawn
        box = _figures(root.get("viewBox", ""))
        size = (_size(root, "width", 100.0), _size(root, "height", 100.0))
        x, y, wide, high = box if len(box) == 4 else (0.0, 0.0, *size)
        self.page: Bounds = (x, y, x + max(wide, 1e-9), y + max(high, 1e-9))
        self.wide, self.high = max(wide, 1e-9), max(high, 1e-9)
        self.area = self.strokes = self.groups = 0.0
        self.visits = 0
        self.overlaps: dict[tuple[int, float], tuple[int, int]] = {}
        for child in root:
            self._visit(child, self._state(root, _State()), False)

    def steps(self) -> dict[str, int]:
        if self.visits > MOST_VISITS:
            return {"area": NEVER}
        found = {"area": self.area, "strokes": self.strokes, "groups": self.groups}
        return {key: int(min(value, NEVER)) if value == value else NEVER for key, value in found.items()}

    def _own(self, node: ET.Element) -> dict[str, str]:
        own = {key: value for key in LOOKED_AT if (value := node.get(key))}
        if self.given:
            names = ("*", node.tag.rpartition("}")[2], *(f".{name}" for name in node.get("class", "").split()))
            for name in (*names, f"#{node.get('id')}"):
                own |= self.given.get(name, {})
        return own | properties(node.get("style", "")) if "style" in node.attrib else own

    def _state(self, node: ET.Element, above: _State) -> _State:
        own = self._own(node)
        width = _FIGURE.match(own.get("stroke-width", "").strip())
        matrix = turned(above.matrix, own["transform"]) if "transform" in own else above.matrix
        faint = len(node) > 0 and "opacity" in own and not re.fullmatch(r"1(\.0*)?", own["opacity"].strip())
        return _State(
            matrix,
            own.get("fill", above.fill),
            own.get("stroke", above.stroke),
            float(width[0]) if width else above.width,
            self._dash(own["stroke-dasharray"]) if "stroke-dasharray" in own else above.dash,
            above.groups + faint,
        )

    def _dash(self, pattern: str) -> float:
        figures, whole = _figures(pattern), max(self.wide, self.high) / 100
        return 2 * sum(figures) / len(figures) * (whole if "%" in pattern else 1.0) if figures else 0.0

    def _visit(self, node: ET.Element, above: _State, used: bool) -> None:
        self.visits += 1
        name = node.tag.rpartition("}")[2]
        if self.visits > MOST_VISITS or (name in _NOT_SEEN and not (used and name == "symbol")):
            return
        state = self._state(node, above)
        if state.groups > above.groups:
            self.groups += GROUP * state.groups  # all that is in a group is drawn again for each group about it
        if name == "use":
            place = (1.0, 0.0, 0.0, 1.0, _size(node, "x", self.wide), _size(node, "y", self.high))
            state = state._replace(matrix=_by(state.matrix, place))
            target = next((node.get(href, "") for href in _HREFS if node.get(href)), "")
            for one in self.by_id.get(target.strip()[1:], ()):
                self._visit(one, state, True)
        elif name in ("svg", "symbol"):
            state = state._replace(matrix=_by(state.matrix, self._fitted(node)))
        elif boxes := self._boxes(node, name):
            self._paint(node, state, boxes)
        for child in node:
            self._visit(child, state, False)

    def _fitted(self, node: ET.Element) -> Matrix:
        """What an inner drawing's viewBox does to what is in it."""
        x, y = _size(node, "x", self.wide), _size(node, "y", self.high)
        box = _figures(node.get("viewBox", ""))
        if len(box) != 4:
            return (1.0, 0.0, 0.0, 1.0, x, y)
        by = max((_size(node, "width", self.wide) or self.wide) / max(box[2], 1e-9),
                 (_size(node, "height", self.high) or self.high) / max(box[3], 1e-9))  # fmt: skip
        return (by, 0.0, 0.0, by, x - by * box[0], y - by * box[1])

    def _boxes(self, node: ET.Element, name: str) -> list[Bounds]:
        if name in ("circle", "ellipse"):
            x, y = _size(node, "cx", self.wide), _size(node, "cy", self.high)
            rx = _size(node, "r" if name == "circle" else "rx", self.wide)
            ry = _size(node, "r" if name == "circle" else "ry", self.high)
            return [(x - rx, y - ry, x + rx, y + ry)]
        if name == "rect":
            x, y = _size(node, "x", self.wide), _size(node, "y", self.high)
            return [(x, y, x + _size(node, "width", self.wide), y + _size(node, "height", self.high))]
        if name == "line":
            xs = [_size(node, key, self.wide) for key in ("x1", "x2")]
            ys = [_size(node, key, self.high) for key in ("y1", "y2")]
            return [(min(xs), min(ys), max(xs), max(ys))]
        found = self.drawn.get(id(node))
        return found.segments if found else []

    def _paint(self, node: ET.Element, state: _State, boxes: list[Bounds]) -> None:
        box = _around(boxes)
        if state.fill != "none":
            self.area += self._of(state.fill) * self._share(box, state.matrix)
        if state.stroke != "none" and state.width > 0:
            half = state.width / 2
            share = self._share((box[0] - half, box[1] - half, box[2] + half, box[3] + half), state.matrix)
            # The width of a stroke that is as long as all its pieces' boxes are across, with a cap at each end.
            long = sum(math.hypot(right - left, bottom - top) + state.width for left, top, right, bottom in boxes)
            a, b, c, d = state.matrix[:4]
            bare = abs(a * d - b * c) * state.width * long / (self.wide * self.high)
            self.area += self._of(state.stroke) * min(share, bare)
            self.strokes += STROKE * len(boxes) + self._overlap(node, state, boxes) + self._dashes(long, state)
        if self.by_id and (markers := list(self._markers(node))):
            corners = len(boxes) + 1
            self.area += sum(corners * self._of_marker(one, state) for one in markers)
            self.strokes += sum(corners * self._dashes_of_marker(one, state) for one in markers)

    def _overlap(self, node: ET.Element, state: _State, boxes: list[Bounds]) -> float:
        """Steps for the pairs of a stroke's pieces that overlap by its width, beside those that cross anyway.

        Where two dashed strokes cross, as many dashes of one meet as many of the other as lie within a width.
        """
        if len(boxes) <= FEW and not state.dash:
            return 0
        key = id(node), state.width
        if key not in self.overlaps:
            self.overlaps[key] = crossings(boxes, state.width / 2), crossings(boxes)
        met, anyway = self.overlaps[key]
        dense = 1 + state.width / state.dash if state.dash else 1.0
        return max(0.0, met * dense * dense - anyway) / CROSSINGS

    def _dashes(self, long: float, state: _State) -> float:
        return long / state.dash / DASHES if state.dash else 0.0

    def _share(self, box: Bounds, matrix: Matrix) -> float:
        """What a box, transformed, takes of the page: no more than its own area, nor what its bounds have of it."""
        a, b, c, d, e, f = matrix
        xs = [a * x + c * y + e for x in box[::2] for y in box[1::2]]
        ys = [b * x + d * y + f for x in box[::2] for y in box[1::2]]
        left, top, right, bottom = self.page
        wide = max(0.0, min(right, max(xs)) - max(left, min(xs)))
        high = max(0.0, min(bottom, max(ys)) - max(top, min(ys)))
        own = abs(a * d - b * c) * (box[2] - box[0]) * (box[3] - box[1])
        return min(wide * high, own) / (self.wide * self.high)

    def _of(self, paint: str) -> int:
        """Steps of a page of a paint."""
        if not (found := _URL.search(paint)):
            return PLAIN
        kinds = {node.tag.rpartition("}")[2] for node in self.by_id.get(found[1], ())}
        return RADIAL if "radialGradient" in kinds else LINEAR

    def _markers(self, node: ET.Element) -> Iterator[ET.Element]:
        own = self._own(node)
        for key in _MARKERS:
            if found := _URL.search(own.get(key, "")):
                yield from self.by_id.get(found[1], ())

    def _of_marker(self, marker: ET.Element, state: _State) -> float:
        """Steps of all that a marker may paint at one corner, as far as it is cut to its box."""
        a, b, c, d = state.matrix[:4]
        by = 1.0 if marker.get("markerUnits") == "userSpaceOnUse" else state.width
        size = [(_size(marker, key, 100.0) or 3.0) * by for key in ("markerWidth", "markerHeight")]
        share = min(1.0, abs(a * d - b * c) * size[0] * size[1] / (self.wide * self.high))
        if self._own(marker).get("overflow", "hidden") in ("visible", "auto"):
            share = 1.0
        return share * sum(self._of(self._own(node).get("fill", "")) for node in marker.iter() if node is not marker)

    def _dashes_of_marker(self, marker: ET.Element, state: _State) -> float:
        """Steps of the dashes in a marker at one corner."""
        steps = 0.0
        for node in marker.iter():
            inner = self._state(node, state)
            boxes = self._boxes(node, node.tag.rpartition("}")[2]) if inner.dash else []
            long = sum(math.hypot(right - left, bottom - top) for left, top, right, bottom in boxes)
            steps += self._dashes(long, inner)
        return steps
