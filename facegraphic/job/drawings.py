"""Vector artwork: an SVG checked so that drawing it can reach nothing outside itself.

A drawing is refused, never quietly repaired, when it refers to anything outside (files, addresses), holds script
or entities, or has parts that would not come out as drawn (text needing a font, filters). What editors add for
themselves (metadata, elements of other namespaces) is dropped.
"""

import re
import xml.etree.ElementTree as ET
from typing import Any

from defusedxml import DefusedXmlException
from defusedxml import ElementTree as SafeET

from facegraphic.errors import brief
from facegraphic.job.drawing_faults import Faults
from facegraphic.job.drawing_unused import take_out_unused
from facegraphic.job.drawing_weight import SEGMENT
from facegraphic.job.drawing_work import DEEPEST, HREFS, MOST_NODES, MOST_WORK, Measure
from facegraphic.job.image import Drawing
from facegraphic.job.path_data import one_letter_each
from facegraphic.stock.limits import limit
from facegraphic.units import parse_length

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"
MOST_BYTES = limit("art-bytes")
MOST_ATTRIBUTES, LONGEST_VALUE = limit("art-attributes"), limit("art-value-length")
LONGEST_PATHS, LONGEST_POINTS = limit("art-path-length"), limit("art-points-length")
LONGEST_CSS, MOST_RULES, MOST_DASHES = limit("art-css-length"), limit("art-css-rules"), limit("art-dashes")

MOST_SEGMENTS = MOST_WORK // SEGMENT
MOST_STEPS = 4  # elements within each other that a style rule may name

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
_UNDRAWN = re.compile(
    r"(?<![-\w])(filter|mask|mix-blend-mode|paint-order|vector-effect)\s*:\s*(?!none|normal)[^;\s]", re.IGNORECASE
)
_BY_ATTRIBUTE = ("paint-order", "mix-blend-mode", "vector-effect")  # of those, what is told as a style is
_OF_A_LINE = re.compile(r"(?<![-\w])context-(fill|stroke)(?![-\w])", re.IGNORECASE)
_COLOURS = ("fill", "stroke", "stop-color", "color")
_SEE_THROUGH = re.compile(r"(^|:)(\s*)#([0-9a-f]{8}|[0-9a-f]{4})(?=\s*(?:[;}!]|$))", re.IGNORECASE)
_NAMES = ("viewBox", "id", "class", "systemLanguage", "requiredFeatures", "requiredExtensions", "media", "type")
_HUGE = re.compile(
    r"(?<![\d.#\w])\d{10,}|\d\.?[eE]\+?0*[1-9]\d|(?<![-#.\w])(?:nan|inf|infinity)(?![-\w])", re.IGNORECASE
)
_HASH = re.compile(r"#[\w-]+")
# What the drawing engine would take from a style as if it stood in the drawing itself.
_NO_STYLE = re.compile(r"(?<![-.#\w])(href|d|points|id|class|style|type)\s*:(?!\w+\s*[,{])", re.IGNORECASE)
_ODD_COLOUR = re.compile(r"(?<![-\w])(hsla?|hwb|lab|lch|oklab|oklch|color|color-mix|var|env)\s*\(", re.IGNORECASE)
_URL = re.compile(r"url\s*\(\s*['\"]?\s*([^'\")]*)", re.IGNORECASE)
_URLS = re.compile(r"url\s*\([^;{}]*url\s*\(", re.IGNORECASE)
# What a drawing says of a shape; other attributes are a program's own, and would be handed down to every shape below.
_KEPT = frozenset(
    """
    id class style d points x y x1 y1 x2 y2 cx cy r rx ry fx fy fr dx dy width height viewBox
    preserveAspectRatio offset transform transform-origin gradientUnits gradientTransform spreadMethod
    clipPathUnits markerUnits markerWidth markerHeight refX refY orient overflow version type media
    systemLanguage requiredFeatures requiredExtensions color display visibility opacity fill fill-rule fill-opacity
    stroke stroke-width stroke-opacity stroke-linecap stroke-linejoin stroke-miterlimit stroke-dasharray
    stroke-dashoffset stop-color stop-opacity clip clip-path clip-rule marker marker-start marker-mid marker-end
    shape-rendering font-size vector-effect pathLength filter mask paint-order mix-blend-mode
    """.split()  # noqa: SIM905
)


def looks_like_svg(data: bytes) -> bool:
    """Whether bytes begin as an SVG does, in UTF-8 or UTF-16."""
    head = data[:65536].replace(b"\0", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    return head.startswith(b"<") and b"<svg" in head


def read_drawing(data: bytes, name: str = "") -> Drawing:
    """Check an SVG and give it back cleaned, `name` with it. ValueError that lists all that is wrong with it."""
    if len(data) > MOST_BYTES:
        raise ValueError(f"the drawing has {len(data)} bytes, more than {MOST_BYTES}; simplify it")
    parser = _CountingParser(forbid_dtd=False, forbid_entities=True, forbid_external=True)
    try:
        parser.feed(data)
        root = parser.close()
    except _TooMuch as error:
        raise ValueError(f"it holds {error}") from None
    except DefusedXmlException:
        raise ValueError("it declares XML entities or external parts; save it as plain SVG") from None
    except (ET.ParseError, ValueError, LookupError) as error:
        raise ValueError(f"it is not well-formed XML: {brief(error)}; save it again as plain SVG") from None
    if root.tag != f"{{{SVG}}}svg":
        raise ValueError("its outermost element is not svg in the SVG namespace; save it as plain SVG")
    take_out_unused(root)
    faults = Faults(parser.lines)
    _clean(root, faults)
    faults.node = None
    css = "\n".join(node.text or "" for node in root.iter(f"{{{SVG}}}style"))
    _check_sheets(css, faults)
    work = 0
    if not faults:
        measure = Measure(root, css)
        for fault in measure.faults():
            faults.add(fault)
        work = measure.whole
    if faults:
        raise ValueError(faults.told())
    size = _natural_size(root)
    ET.register_namespace("", SVG)
    ET.register_namespace("xlink", XLINK)
    return Drawing(ET.tostring(root, encoding="utf-8"), size, name, work)


class _TooMuch(Exception):
    """A drawing without end, met while it is read."""


class _CountingParser(SafeET.DefusedXMLParser):  # type: ignore[misc]
    """Stops at the first element too many, or too deep, before the rest is read; notes on which line each begins."""

    levels = count = 0

    def __init__(self, **forbid: bool) -> None:
        super().__init__(**forbid)
        self.lines: dict[ET.Element, int] = {}

    def _start(self, tag: str, attributes: list[str]) -> Any:
        self.levels, self.count = self.levels + 1, self.count + 1
        if self.levels > DEEPEST or self.count > MOST_NODES:
            raise _TooMuch(f"more than {MOST_NODES} elements or {DEEPEST} levels; simplify it")
        if len(attributes) > 2 * MOST_ATTRIBUTES:
            raise _TooMuch(f"an element of more than {MOST_ATTRIBUTES} attributes; save it as plain SVG")
        node = super()._start(tag, attributes)
        self.lines[node] = self.parser.CurrentLineNumber
        return node

    def _end(self, tag: str) -> Any:
        self.levels -= 1
        return super()._end(tag)


def _clean(node: ET.Element, faults: Faults) -> None:
    """Drop what isn't drawn, and note whatever makes the drawing unfit, below one element."""
    faults.node = node
    _check_attributes(node, faults)
    _check_path(node, faults)
    if node.tag == f"{{{SVG}}}style":
        _check_sheet(node, faults)
    for child in list(node):
        namespace, _, name = str(child.tag).rpartition("}")
        misplaced = name == "g" and node.tag == f"{{{SVG}}}clipPath"  # which has no groups (SVG 1.1, 14.3.5)
        if namespace != f"{{{SVG}" or name in _DROPPED or misplaced or (name == "use" and not _target(child)):
            node.remove(child)
        elif name in _DRAWN:
            _clean(child, faults)
        else:
            faults.node = None if name in ("filter", "mask") else child  # of these, what they are put on is told
            kind = "animate" if name.startswith(("animate", "set")) else name
            faults.add(_REFUSED.get(kind, f"<{name[:40]}>, which cannot be printed from here; turn it into paths"))


def _target(use: ET.Element) -> str:
    """The id that a use names; the drawing engine takes one that names none for a use of the whole drawing."""
    return next((use.get(href, "").strip()[1:] for href in HREFS if use.get(href)), "")


def _check_path(node: ET.Element, faults: Faults) -> None:
    """Write paths so that reading them costs no more than their length, and bound them."""
    path = node.get("d", "")
    faults.paths += len(path) + len(node.get("points", ""))
    faults.segments += sum(path.count(letter) for letter in "HhVvLlCcSsQqTtAaZz")
    if faults.paths > LONGEST_PATHS or faults.segments > MOST_SEGMENTS:
        faults.add(f"paths of more than {LONGEST_PATHS} characters or {MOST_SEGMENTS} segments; simplify them")
        node.attrib.pop("d", None)
        return
    try:
        if path:
            node.set("d", one_letter_each(path))
    except ValueError as error:
        faults.add(str(error))


def _check_sheet(node: ET.Element, faults: Faults) -> None:
    """Check a style sheet, and take its comments out. How long it is comes first: all else takes time with that."""
    css = node.text or ""
    faults.css += len(css)
    if faults.css > LONGEST_CSS:
        faults.add(f"style sheets of more than {LONGEST_CSS} characters; simplify it")
        node.text = ""
        return
    _check_css(css, faults)
    node.text = _with_opacity(_without_comments(css))


def _check_sheets(css: str, faults: Faults) -> None:
    """Let style sheets name what they style plainly, so that finding it costs little."""
    rules = css.split("{")
    if len(rules) > MOST_RULES:
        faults.add(f"style sheets of more than {MOST_RULES} rules; simplify it")
        return
    involved = [part for rule in rules for part in rule.rpartition("}")[2].split(",") if len(part.split()) > MOST_STEPS]
    if involved or re.search(r":(not|is|where|has|nth)", css):
        faults.add("a style rule for elements within elements within elements; save it with plain classes")
    if huge := _huge(css):
        faults.add(f"a style with the figure {huge}, which is absurd; mend it, or simplify it")
    if any(rule.count(";") > MOST_ATTRIBUTES for rule in rules):
        faults.add(f"a style rule of more than {MOST_ATTRIBUTES} properties; simplify it")


def _huge(text: str) -> str:
    """A figure that is absurd, or "". Colours such as #7e60aa and names are none."""
    found = _HUGE.search(_HASH.sub("", text))
    return found[0][:20] if found else ""


def _check_attributes(node: ET.Element, faults: Faults) -> None:
    for key, value in list(node.attrib.items()):
        namespace, _, name = key.rpartition("}")
        most = LONGEST_POINTS if key == "points" else LONGEST_VALUE
        if len(value) > most and key != "d":
            faults.add(f"{name[:40]} with {len(value)} characters, more than {most}; simplify it")
        elif key in HREFS:
            if not value.strip().startswith("#"):
                faults.add(f'a reference to something outside ("{value[:40]}"); embed or remove it')
        elif namespace:
            del node.attrib[key]
        elif name.lower().startswith("on"):
            faults.add(f"a script ({name[:40]}); take it out")
        elif name in ("filter", "mask") and value.strip() != "none":
            faults.add(_REFUSED[name])
        elif name not in _KEPT:
            del node.attrib[key]
        elif name not in _NAMES and (huge := _huge(value)):
            faults.add(f"{name} with the figure {huge}, which is absurd; mend it, or simplify it")
        elif name == "d":
            if re.search(r"[(\\@]", value):
                _check_css(value[:LONGEST_VALUE], faults)
        elif name == "stroke-dasharray" and len(re.split(r"[\s,]+", value.strip())) > MOST_DASHES:
            faults.add(f"a dash pattern of more than {MOST_DASHES} lengths; simplify it")
        elif name in _BY_ATTRIBUTE:
            _check_css(f"{name}:{value}", faults)
        elif name == "pathLength":
            if "dash" in "".join(node.keys()) + node.get("style", ""):
                faults.add("dashes counted by a pathLength; give them in the drawing's units")
            del node.attrib[key]
        elif name in _COLOURS or name == "style":
            node.set(key, _with_opacity(_without_comments(value)))
            _check_css(value, faults)
        else:
            _check_css(value, faults)


def _with_opacity(style: str) -> str:
    """A colour or a style, its colours of four or eight figures as the drawing engine reads them: it stops at six."""

    def written(found: re.Match[str]) -> str:
        figures = found[3] if len(found[3]) == 8 else "".join(figure * 2 for figure in found[3])
        red, green, blue, opacity = (int(figures[i : i + 2], 16) for i in range(0, 8, 2))
        return f"{found[1]}{found[2]}rgba({red},{green},{blue},{opacity / 255:.4f})"

    return _SEE_THROUGH.sub(written, style)


def _without_comments(css: str) -> str:
    """A style without its comments, in one pass: an expression for them takes time with the square of the length."""
    kept: list[str] = []
    at = 0
    while (start := css.find("/*", at)) >= 0 and (end := css.find("*/", start + 2)) >= 0:
        kept.append(css[at:start])
        at = end + 2
    return "".join(kept) + css[at:]


def _check_css(css: str, faults: Faults) -> None:
    """Let a style or attribute value refer to nothing but the drawing's own ids."""
    plain = re.sub(r"\\[0-9a-fA-F]{1,6}\s?|\\.", "\\\\", _without_comments(css))
    if "/*" in plain:
        faults.add("a style with a comment that never ends; save it as plain SVG")
    if _URLS.search(plain):
        faults.add("a style that refers to more than one thing at once; save it as plain SVG")
    if "@import" in (css + plain).lower() or ("\\" in plain and ("(" in css or "@" in css)):
        faults.add("a style that imports or hides a reference; save it as plain SVG")
    elif "\\" in plain:
        faults.add("a style with escaped characters; save it as plain SVG")
    if named := _NO_STYLE.search(plain):
        faults.add(f"the style {named[1].lower()}, which is none; save it as plain SVG")
    if odd := _ODD_COLOUR.search(plain):
        faults.add(f"a value written as {odd[1].lower()}(...), which would come out wrong; write colours as #rrggbb")
    if _OF_A_LINE.search(plain):
        faults.add("a marker that takes the colour of its line; give it one, or turn the stroke into paths")
    if undrawn := _UNDRAWN.search(plain):
        faults.add(f"the style {undrawn[1].lower()}, which cannot be printed from here; turn its effect into paths")
    for target in _URL.findall(css) + _URL.findall(plain):
        if not target.startswith("#"):
            faults.add(f'a style that refers to something outside ("{target[:40]}"); embed or remove it')


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
