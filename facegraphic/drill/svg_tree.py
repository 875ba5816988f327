"""SVG drawings as a run of shapes: read so that nothing outside them is reached, groups, symbols and uses unfolded."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from defusedxml import DefusedXmlException
from defusedxml import ElementTree as SafeET
from fontTools.misc.transform import Transform
from svgelements import Matrix, Viewbox

from facegraphic.drill.model import MOST_ENTITIES, TooMuch, Unreadable
from facegraphic.geometry.path import IDENTITY
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

SVG = "http://www.w3.org/2000/svg"
HREFS = ("href", "{http://www.w3.org/1999/xlink}href")
LINE = "{facegraphic}line"
LONGEST_FIGURE = limit("figure-length")
MOST_LEVELS = limit("groups-deep")
TOO_MUCH = "have only the holes exported, without decoration"
SHAPES = ("circle", "ellipse", "path", "polygon", "polyline", "rect")
PX = MM_PER_UNIT["px"]
_GROUPS = ("g", "a")
_LENGTH = re.compile(
    r"\s*([-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[-+]?\d{1,3})?)\s*(px|mm|cm|in|pt|pc|q|%)?\s*", re.IGNORECASE
)
_TRANSFORM = re.compile(r"(?:matrix|translate|scale|rotate|skew)[XY]?\s*\(([^()]*)\)", re.IGNORECASE)
_FIGURE = re.compile(
    r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)(?:e[-+]?\d{1,3})?(?:deg|rad|grad|turn|px|mm|cm|in|pt|pc)?", re.IGNORECASE
)
_PATH_FIGURES = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7, "z": 0}
_PHYSICAL = {"mm": 1.0, "cm": 10.0, "in": 25.4, "pt": 25.4 / 72, "pc": 25.4 / 6, "q": 0.25}  # CSS Values and Units
_STYLED = re.compile(r"(?<![-\w])(transform|cx|cy|r|rx|ry|d|display|visibility)\s*:", re.IGNORECASE)
_HIDDEN = re.compile(r"(?<![-\w])(display\s*:\s*none|visibility\s*:\s*(hidden|collapse))", re.IGNORECASE)


@dataclass(frozen=True)
class Placed:
    """A shape, the transform from its own space to the page's, its layer and line, and its viewport's size."""

    name: str
    node: Any
    matrix: Transform
    layer: str
    line: int
    view: tuple[float, float]


@dataclass
class Tree:
    """A drawing being unfolded; `told` counts what was left out, with the line where it was met first."""

    root: Any
    wanted: frozenset[str]
    by_id: dict[str, Any] = field(default_factory=dict)
    told: dict[tuple[str, str, bool], list[int]] = field(default_factory=dict)
    seen: int = 0

    def tell(self, what: str, mend: str, line: int, lost: bool = True) -> None:
        self.told.setdefault((what, mend, lost), []).append(line)


@dataclass(frozen=True)
class _Place:
    matrix: Transform
    layer: str
    view: tuple[float, float]
    depth: int
    layered: bool = False


class _LinedParser(SafeET.DefusedXMLParser):  # type: ignore[misc]
    """Keeps each element's line in an attribute of its own, since the standard tree has no other room for it."""

    levels = 0
    count = 0

    def _start(self, tag: str, attributes: list[str]) -> Any:
        self.levels += 1
        self.count += 1
        if self.count > MOST_ENTITIES:
            raise TooMuch(f"more than {MOST_ENTITIES} elements", TOO_MUCH, self.parser.CurrentLineNumber)
        if self.levels > MOST_LEVELS:
            raise _too_deep(self.parser.CurrentLineNumber)
        node = super()._start(tag, attributes)
        node.set(LINE, str(self.parser.CurrentLineNumber))
        return node

    def _end(self, tag: str) -> Any:
        self.levels -= 1
        return super()._end(tag)


def _too_deep(line: int | None) -> Unreadable:
    return Unreadable(f"elements stand in elements more than {MOST_LEVELS} deep, or in themselves", TOO_MUCH, line)


def parse(data: bytes) -> Any:
    """The root element. Unreadable for what is no SVG, or might reach outside or unfold without end."""
    parser = _LinedParser(forbid_dtd=False, forbid_entities=True, forbid_external=True)
    try:
        parser.feed(data)
        root = parser.close()
    except DefusedXmlException:
        raise Unreadable("the SVG declares XML entities or external parts", "save it as plain SVG") from None
    except (ET.ParseError, ValueError, LookupError, RecursionError) as error:
        line = getattr(error, "position", (None,))[0]
        what = f"the SVG is not well-formed XML: {str(error)[:100]}"
        raise Unreadable(what, "save it again as plain SVG", line) from None
    if local(root) != "svg":
        raise Unreadable("the outermost element is not svg", "save the drawing as plain SVG")
    return root


def local(node: Any) -> str:
    """An element's name if it belongs to SVG, else ""."""
    space, _, name = str(node.tag).rpartition("}")
    return name if space in ("", f"{{{SVG}") else ""


def _length(text: str) -> re.Match[str] | None:
    return _LENGTH.fullmatch(text) if len(text) <= LONGEST_FIGURE else None


def length(text: str | None, base: float, default: float = 0.0) -> float:
    """A length in user units; percentages are of `base`. ValueError for others."""
    if text is None or not text.strip():
        return default
    match = _length(text)
    if match is None:
        raise ValueError(f'"{text[:20]}" is no length')
    unit = (match[2] or "px").lower()
    if unit == "%":
        return float(match[1]) / 100 * base
    return float(match[1]) * (_PHYSICAL[unit] / PX if unit in _PHYSICAL else 1.0)


def physical(text: str | None) -> tuple[float | None, bool]:
    """A page's width or height in px (None: not said, or a share of something), and whether it has real units."""
    match = _length(text or "")
    if match is None or match[2] == "%":
        return None, False
    return length(text, 0.0), (match[2] or "px").lower() in _PHYSICAL


def view_box(node: Any) -> tuple[float, float, float, float] | None:
    """A viewBox's four numbers; None where there is none. Unreadable if it has no area."""
    text = node.get("viewBox")
    if text is None:
        return None
    try:
        left, top, width, height = (float(part) for part in re.split(r"[\s,]+", text.strip()))
        if not (0 < width < 1e7 and 0 < height < 1e7 and abs(left) < 1e7 and abs(top) < 1e7):
            raise ValueError
    except ValueError:
        what = "the viewBox is not four sound numbers"
        raise Unreadable(what, "save it as plain SVG", int(node.get(LINE, 0)) or None) from None
    return left, top, width, height


def fitted(box: tuple[float, float, float, float] | None, size: tuple[float, float], aspect: str | None) -> Transform:
    """From a viewBox to a viewport of some size with its corner at zero."""
    if box is None:
        return IDENTITY
    return transform(Viewbox.viewbox_transform(0, 0, *size, *box, aspect or "xMidYMid meet"))


def transform(text: str | None) -> Transform:
    """A transform attribute. ValueError for what is none."""
    if not text or text.strip() == "none":
        return IDENTITY
    if len(text) > 10_000 or not _sound_transform(text):
        raise ValueError(f'the transform "{text[:40]}" cannot be read')
    try:
        matrix = Matrix(text)
        matrix.render(ppi=96.0)
        return Transform(*(float(matrix[index]) for index in range(6)))
    except (TypeError, ValueError, LookupError, AttributeError, ArithmeticError):
        raise ValueError(f'the transform "{text[:40]}" cannot be read') from None


def sound_path(text: str) -> bool:
    """Whether every command of a path has its figures; svgelements passes over those that have not."""
    for command, figures in re.findall(r"([A-DF-Za-df-z])([^A-DF-Za-df-z]*)", text):
        wanted = _PATH_FIGURES.get(command.lower())
        count = len(_FIGURE.findall(figures))
        if wanted is None or _FIGURE.sub("", figures).strip(", \t\r\n"):
            return False
        if command in "Aa":  # whose flags may stand without a space
            if count < 5:
                return False
        elif (count != 0) if wanted == 0 else (count == 0 or count % wanted):
            return False
    return not text.strip() or text.strip()[0] in "Mm"


def _sound_transform(text: str) -> bool:
    """Whether a text is a run of transform functions of numbers; svgelements passes over what it doesn't know."""
    functions = _TRANSFORM.findall(text)
    rest = _TRANSFORM.sub("", text) + "".join(_FIGURE.sub("", figures) for figures in functions)
    return bool(functions) and not rest.strip(", \t\r\n")


def unfold(tree: Tree, matrix: Transform, view: tuple[float, float]) -> Iterator[Placed]:
    """Every shape drawn, in order. Unreadable when there is no end of them."""
    tree.by_id = {node.get("id"): node for node in tree.root.iter() if node.get("id")}
    for node in tree.root.iter():
        if local(node) == "style" and _STYLED.search("".join(node.itertext())):
            what = "a style sheet that moves, sizes or hides things; it is not looked at"
            tree.tell(what, "write these into the elements (save as plain SVG)", int(node.get(LINE, 0)))
    yield from _children(tree, tree.root, _Place(matrix, "", view, 0))


def _children(tree: Tree, node: Any, place: _Place) -> Iterator[Placed]:
    if place.depth > MOST_LEVELS:
        raise _too_deep(None)
    for child in node:
        yield from _node(tree, child, replace(place, depth=place.depth + 1))


def _node(tree: Tree, node: Any, place: _Place) -> Iterator[Placed]:
    tree.seen += 1
    if tree.seen > MOST_ENTITIES:
        raise TooMuch(f"the drawing unfolds to more than {MOST_ENTITIES} elements", TOO_MUCH)
    name = local(node)
    if name not in (*SHAPES, *_GROUPS, "svg", "use", "switch"):
        return
    line = int(node.get(LINE, 0))
    place = _layered(node, name, place)
    style = node.get("style", "")
    hidden = node.get("display") == "none" or node.get("visibility") in ("hidden", "collapse") or _HIDDEN.search(style)
    if hidden and place.layer.lower() not in tree.wanted:
        tree.tell("something hidden, left out", "show it, or name its layer with --layer (in a job: layer)", line)
        return
    try:
        if node.get("transform-origin") or "transform-origin" in style:
            raise ValueError("transform-origin cannot be read")
        own = transform(node.get("transform"))
        if moved := re.search(r"(?<![-\w])transform\s*:\s*([^;]+)", style):
            own = transform(moved[1])
        place = replace(place, matrix=place.matrix.transform(own))
        if name in SHAPES:
            yield Placed(name, node, place.matrix, place.layer, line, place.view)
        elif name == "use":
            yield from _use(tree, node, place, line)
        elif name == "svg":
            yield from _children(tree, node, _viewport(node, node, place))
        elif name == "switch":
            first = next((child for child in node if local(child)), None)
            yield from _node(tree, first, replace(place, depth=place.depth + 1)) if first is not None else ()
        else:
            yield from _children(tree, node, place)
    except ValueError as error:
        raise Unreadable(str(error), "save it as plain SVG", line) from None


def _foreign(node: Any, name: str) -> str | None:
    """An attribute by its name in whatever namespace a drawing program has of its own."""
    return next((value for key, value in node.attrib.items() if key.endswith(f"}}{name}")), None)


def _layered(node: Any, name: str, place: _Place) -> _Place:
    """A layer's own name counts before that of the outermost group."""
    if name != "g":
        return place
    label = _foreign(node, "label")
    if label and _foreign(node, "groupmode") == "layer":
        return replace(place, layer=label, layered=True)
    if not place.layer and (label or node.get("id")):
        return replace(place, layer=label or node.get("id"))
    return place


def _viewport(node: Any, sized: Any, place: _Place) -> _Place:
    """The place inside a nested svg or a symbol; `sized` is the element that says how large it is."""
    x, y = (length(node.get(key), base) for key, base in zip(("x", "y"), place.view, strict=True))
    size = (
        length(sized.get("width") or node.get("width"), place.view[0], place.view[0]),
        length(sized.get("height") or node.get("height"), place.view[1], place.view[1]),
    )
    box = view_box(node)
    if size[0] <= 0 or size[1] <= 0:
        raise ValueError("a part of the drawing has no size")
    inside = place.matrix.translate(x, y).transform(fitted(box, size, node.get("preserveAspectRatio")))
    return replace(place, matrix=inside, view=box[2:] if box else size)


def _use(tree: Tree, node: Any, place: _Place, line: int) -> Iterator[Placed]:
    target = next((node.get(href) for href in HREFS if node.get(href)), "").strip()
    used = tree.by_id.get(target[1:]) if target.startswith("#") else None
    if used is None:
        tree.tell("a use of something that is not in the file, left out", "draw it in", line)
        return
    x, y = (length(node.get(key), base) for key, base in zip(("x", "y"), place.view, strict=True))
    place = replace(place, matrix=place.matrix.translate(x, y), depth=place.depth + 1)
    if place.depth > MOST_LEVELS:
        raise _too_deep(line)
    if local(used) == "symbol":
        yield from _children(tree, used, _viewport(used, node, place))
    else:
        yield from _node(tree, used, place)
