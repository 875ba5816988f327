"""Vector artwork: an SVG checked so that drawing it can reach nothing outside itself.

A drawing is refused, never quietly repaired, when it refers to anything outside (files, addresses), holds script
or entities, or has parts that would not come out as drawn (text needing a font, filters). What editors add for
themselves (metadata, elements of other namespaces) is dropped.
"""

import re
import xml.etree.ElementTree as ET

from defusedxml import DefusedXmlException
from defusedxml import ElementTree as SafeET

from facegraphic.job.model import Drawing
from facegraphic.units import parse_length

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
MOST_BYTES = 20_000_000
MOST_NODES = 100_000
DEEPEST = 100

_DRAWN = {
    "svg", "g", "defs", "symbol", "use", "switch", "style", "path", "rect", "circle", "ellipse", "line", "polyline",
    "polygon", "linearGradient", "radialGradient", "stop", "clipPath", "marker",
}  # fmt: skip
_DROPPED = {"title", "desc", "metadata", "view"}
_REFUSED = {
    "script": "a script; take it out",
    "foreignObject": "foreign content; turn it into paths",
    "text": "text; turn it into paths (object to path), so that no font is needed",
    "image": "an embedded picture; place it with a [[face.art]] of its own",
    "filter": "a filter; turn its effect into paths, or export the drawing as PNG",
    "mask": "a mask; turn its effect into paths, or use a clip path",
    "pattern": "a pattern fill; turn it into paths (pattern to objects)",
    "animate": "animation; take it out",
}
# Properties that would be drawn otherwise than they are meant.
_UNDRAWN = re.compile(r"(?<![-\w])(filter|mask|mix-blend-mode|paint-order)\s*:\s*(?!none|normal)[^;\s]", re.IGNORECASE)
_ODD_COLOUR = re.compile(r"(?<![-\w])(hsla?|hwb|lab|lch|oklab|oklch|color|color-mix|var|env)\s*\(", re.IGNORECASE)
_URL = re.compile(r"url\s*\(\s*['\"]?\s*([^'\")]*)", re.IGNORECASE)
_HREFS = ("href", f"{{{XLINK}}}href")


def looks_like_svg(data: bytes) -> bool:
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n")
    return head.startswith(b"<") and b"<svg" in data[:65536]


def read_drawing(data: bytes, name: str = "") -> Drawing:
    """Check an SVG and give it back cleaned, `name` with it. ValueError that lists all that is wrong with it."""
    if len(data) > MOST_BYTES:
        raise ValueError(f"the drawing has {len(data)} bytes, more than {MOST_BYTES}; simplify it")
    try:
        root = SafeET.fromstring(data, forbid_dtd=False, forbid_entities=True, forbid_external=True)
    except DefusedXmlException:
        raise ValueError("it declares XML entities or external parts; save it as plain SVG") from None
    except (ET.ParseError, ValueError, LookupError) as error:
        raise ValueError(f"it is not well-formed XML: {error}; save it again as plain SVG") from None
    if root.tag != f"{{{SVG}}}svg":
        raise ValueError("its outermost element is not svg in the SVG namespace; save it as plain SVG")
    faults = _Faults()
    _clean(root, faults, 1)
    if not faults.found:
        _check_uses(root, faults)
    if faults.found:
        raise ValueError("it holds " + "; and ".join(dict.fromkeys(faults.found)))
    size = _natural_size(root)
    ET.register_namespace("", SVG)
    ET.register_namespace("xlink", XLINK)
    return Drawing(ET.tostring(root, encoding="utf-8"), size, name)


class _Faults:
    def __init__(self) -> None:
        self.found: list[str] = []
        self.nodes = 0

    def add(self, what: str) -> None:
        self.found.append(what)


def _clean(node: ET.Element, faults: _Faults, depth: int) -> None:
    """Drop what isn't drawn, and note whatever makes the drawing unfit, below one element."""
    faults.nodes += 1
    if depth > DEEPEST or faults.nodes > MOST_NODES:
        faults.add(f"more than {MOST_NODES} elements or {DEEPEST} levels; simplify it")
        return
    _check_attributes(node, faults)
    if node.tag == f"{{{SVG}}}style":
        _check_css(node.text or "", faults)
    for child in list(node):
        namespace, _, name = str(child.tag).rpartition("}")
        if namespace != f"{{{SVG}" or name in _DROPPED:
            node.remove(child)
        elif name in _DRAWN:
            _clean(child, faults, depth + 1)
        else:
            kind = "animate" if name.startswith(("animate", "set")) else name
            faults.add(_REFUSED.get(kind, f"<{name}>, which cannot be printed from here; turn it into paths"))


def _check_attributes(node: ET.Element, faults: _Faults) -> None:
    for key, value in list(node.attrib.items()):
        namespace, _, name = key.rpartition("}")
        if key in _HREFS:
            if not value.strip().startswith("#"):
                faults.add(f'a reference to something outside ("{value[:40]}"); embed or remove it')
        elif namespace:
            del node.attrib[key]
        elif name.lower().startswith("on"):
            faults.add(f"a script ({name}); take it out")
        elif name in ("filter", "mask") and value.strip() != "none":
            faults.add(_REFUSED[name])
        elif name in ("paint-order", "mix-blend-mode"):
            _check_css(f"{name}:{value}", faults)
        else:
            _check_css(value, faults)


def _check_css(css: str, faults: _Faults) -> None:
    """Let a style or attribute value refer to nothing but the drawing's own ids."""
    plain = re.sub(r"\\[0-9a-fA-F]{1,6}\s?|\\.", "\\\\", re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL))
    if "@import" in (css + plain).lower() or ("\\" in plain and ("(" in css or "@" in css)):
        faults.add("a style that imports or hides a reference; save it as plain SVG")
    if odd := _ODD_COLOUR.search(plain):
        faults.add(f"a value written as {odd[1].lower()}(...), which would come out wrong; write colours as #rrggbb")
    if undrawn := _UNDRAWN.search(plain):
        faults.add(f"the style {undrawn[1].lower()}, which cannot be printed from here; turn its effect into paths")
    for target in _URL.findall(css) + _URL.findall(plain):
        if not target.startswith("#"):
            faults.add(f'a style that refers to something outside ("{target[:40]}"); embed or remove it')


def _check_uses(root: ET.Element, faults: _Faults) -> None:
    """Measure what <use> elements unfold to, so that a small file cannot stand for a huge or bottomless drawing."""
    by_id = {node.get("id"): node for node in root.iter() if node.get("id")}
    measured: dict[int, tuple[int, int]] = {}

    def measure(node: ET.Element, within: frozenset[int]) -> tuple[int, int]:
        """How many elements a node unfolds to, and how many levels deep."""
        if id(node) in measured:
            return measured[id(node)]
        if id(node) in within:
            faults.add("a <use> that contains itself; take it out")
            return 1, 1
        if len(within) > DEEPEST:
            return 1, 1
        inside = within | {id(node)}
        below = [measure(child, inside) for child in node]
        target = next((node.get(href) for href in _HREFS if node.get(href)), None)
        if node.tag == f"{{{SVG}}}use" and target and (used := by_id.get(target.strip()[1:])) is not None:
            below.append(measure(used, inside))
        weight, height = 1 + sum(weight for weight, _ in below), 1 + max((height for _, height in below), default=0)
        measured[id(node)] = weight, height
        return weight, height

    weight, height = measure(root, frozenset())
    if weight > MOST_NODES:
        faults.add(f"<use> elements that unfold to more than {MOST_NODES}; simplify it")
    if height > DEEPEST:
        faults.add(f"<use> elements that unfold to more than {DEEPEST} levels; simplify it")


def _natural_size(root: ET.Element) -> tuple[float, float]:
    """Width and height in mm from the size attributes, else from the viewBox (1 user unit = 1/96 in)."""
    sizes = [_size(root.get(name, "")) for name in ("width", "height")]
    box = _view_box(root)
    if box is None and None in sizes:
        raise ValueError("it states no size; give it a viewBox, or width and height")
    if box is None:
        root.set("viewBox", f"0 0 {sizes[0]} {sizes[1]}")
        box = (sizes[0] or 0.0, sizes[1] or 0.0)
    width, height = sizes
    if width is None and height is None:
        width, height = box
    elif width is None or height is None:
        width, height = (width or (height or 0) * box[0] / box[1]), (height or (width or 0) * box[1] / box[0])
    if not 0 < width <= 1e5 or not 0 < height <= 1e5:
        raise ValueError("its width or height is nothing or absurd; set them in mm")
    # Natural size in user units keeps the drawing engine's own lengths and ours the same.
    root.set("width", f"{width}")
    root.set("height", f"{height}")
    return (parse_length(width, "px"), parse_length(height, "px"))


def _size(text: str) -> float | None:
    """A size attribute in user units; None for an absent or relative one."""
    text = text.strip()
    if not text or text.endswith(("%", "em", "ex", "auto")):
        return None
    try:
        return parse_length(text, "px") / parse_length(1, "px")
    except ValueError:
        raise ValueError(f'its size "{text[:20]}" is not a length; set it in mm') from None


def _view_box(root: ET.Element) -> tuple[float, float] | None:
    text = root.get("viewBox")
    if text is None:
        return None
    try:
        left, top, width, height = (float(part) for part in re.split(r"[\s,]+", text.strip()))
    except ValueError:
        raise ValueError("its viewBox is not four numbers; save it as plain SVG") from None
    if not (0 < width < 1e7 and 0 < height < 1e7 and abs(left) < 1e7 and abs(top) < 1e7):
        raise ValueError("its viewBox has no area; save it as plain SVG")
    return width, height
