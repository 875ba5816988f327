"""Draw checked SVG artwork: as a cairo recording for PNG and PDF, as resolved SVG elements for SVG.

Both go through CairoSVG, so that all three formats show one reading of the drawing.
"""

import io
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from facegraphic.errors import Problem, UserError, brief
from facegraphic.job.drawn import Spot, Work
from facegraphic.job.image import Drawing
from facegraphic.output.cairo_context import drawing_context
from facegraphic.output.drawing_cost import Cost, counting
from facegraphic.output.engine import cairo, cairosvg
from facegraphic.output.recent import Recent

XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
Recorded = tuple[Any, float, float, Cost]
RECORDINGS: Recent[Recorded] = Recent(100 << 20)  # for the next output that shows them
STEP_BYTES = 105  # of a recording, measured on thousands of circles
_WHOLE = Spot()
SHAPES = ("path", "rect", "circle", "ellipse", "line", "polyline", "polygon")
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
_SOFT = (b"Gradient", b"<mask", b":mask")
# Opacity of whole groups; that of fills and strokes comes with their colours.
_OPACITY = re.compile(rb"(?<![-\w])opacity\s*[:=]\s*[\"']?\s*([^\s;\"'}]+)")


def _nothing_outside(url: str, kind: str) -> bytes:
    raise ValueError("a checked drawing refers to nothing outside itself")


@contextmanager
def _drawing(drawing: Drawing) -> Iterator[None]:
    """Tell the user of whatever CairoSVG cannot read: it raises errors of many kinds for values that are malformed."""
    try:
        yield
    except UserError:
        raise
    except Exception as error:
        mend = "save it as plain SVG, or export it as PNG"
        what = f"the artwork cannot be drawn: a value in it is malformed, or it is nested too deeply ({brief(error)})"
        raise UserError(Problem(what, mend, drawing.name)) from None


def _tree(drawing: Drawing) -> Any:
    return cairosvg().parser.Tree(bytestring=drawing.svg, unsafe=False, url_fetcher=_nothing_outside)


def is_black_and_white(drawing: Drawing) -> bool:
    """Whether a drawing paints in nothing but solid black and white, so that a 1-bit process can take it as it is."""
    faint = any(value not in (b"1", b"1.0", b"100%") for value in _OPACITY.findall(drawing.svg))
    if faint or any(word in drawing.svg for word in _SOFT):
        return False
    seen: set[tuple[float, ...]] = set()

    def note(*rgba: Any) -> Any:
        seen.add(tuple(rgba[0]))
        return rgba[0]

    with _drawing(drawing):
        cairosvg().surface.SVGSurface(_tree(drawing), None, 96, map_rgba=note).finish()
    return all(alpha in (0, 1) and (alpha == 0 or red == green == blue in (0, 1)) for red, green, blue, alpha in seen)


def _changed_over(rgba: tuple[float, ...]) -> tuple[float, ...]:
    """Black for white and white for black, as they are."""
    return (*(1 - part for part in rgba[:3]), rgba[3])


def recording(drawing: Drawing, inverted: bool = False) -> tuple[Any, float, float]:
    """A cairo recording of a drawing, with its width and height in recording units; black and white changed over.

    UserError for one that cannot be drawn, or not in reasonable time.
    """
    return _recording(drawing, inverted)[:3]


def work_of(drawing: Drawing, spot: Spot = _WHOLE) -> Work:
    """How many steps a drawing comes to in a place, read and drawn once. UserError as above."""
    return _recording(drawing, False)[3].work(spot)


def _surface(base: type[Any], context: type[Any], drawing: Drawing) -> type[Any]:
    """A surface of CairoSVG's that draws with a context of ours, and minds what it would draw wrongly."""

    class Surface(base):  # type: ignore[misc]
        def draw(self, node: Any) -> None:
            self.context.__class__ = context  # CairoSVG makes its context itself
            if fault := _clip_fault(self, node):
                raise UserError(Problem(f"the artwork holds {fault[0]}", fault[1], drawing.name))
            if node.tag == "use":
                _place_use(self, node)
            if not self.stroke_and_fill:
                self._draw_clip(node)
            elif node.tag == "use":
                self._draw_use(node)
            else:
                super().draw(node)

        def _draw_clip(self, node: Any) -> None:
            """Add to the clip that is being built. What is hidden in it CairoSVG would take for the end of it."""
            if not self.context.building:
                self.context.begin_clip()
                node.update(display="inline", visibility="visible")
                super().draw(node)
                self.context.join_shapes()
            elif node.get("display") != "none" and node.get("visibility", "visible") == "visible":
                super().draw(node)
                if node.tag in SHAPES:
                    self.context.end_shape()

        def _draw_use(self, node: Any) -> None:
            """Draw what is used. Whether it shows at all and how faintly is the use's own."""
            if node.get("display") == "none":
                return
            opacity = float(node.get("opacity", 1))
            if opacity >= 1:
                super().draw(node)
                return
            self.context.push_group()
            node["opacity"] = "1"
            super().draw(node)
            node["opacity"] = str(opacity)
            self.context.pop_group_to_source()
            self.context.paint_with_alpha(max(0.0, opacity))

    return Surface


def _place_use(surface: Any, node: Any) -> None:
    """Move a use as its transform does: what cuts it moves with it (SVG 1.1, 5.6)."""
    x, y = (cairosvg().helpers.size(surface, node.pop(key, None), key) for key in ("x", "y"))
    if x or y:
        node["transform"] = f"{node.get('transform', '')} translate({x:.9f} {y:.9f})"


def _clip_fault(surface: Any, node: Any) -> tuple[str, str] | None:
    """What CairoSVG would draw of clip paths as it is not meant, and how to put it; their rule is told the context."""
    named = node.get("clip-path")
    clip = surface.paths.get(cairosvg().helpers.parse_url(named).fragment) if named else None
    if clip and clip.get("clipPathUnits") == "objectBoundingBox" and node.tag not in ("rect", "svg"):
        return "a clip path in shares of what it cuts, on what is no rectangle", "give it a size in the drawing's units"
    if surface.stroke_and_fill:
        return None
    if clip:
        return "a clip path that is cut by another", "let the editor make one path of both"
    if node.tag in SHAPES:
        surface.context.clip_shapes += 1
        surface.context.even_odd |= node.get("clip-rule") == "evenodd"
    if surface.context.even_odd and surface.context.clip_shapes > 1:
        return "a clip path of several shapes by the even-odd rule", "join them to one path"
    return None


def _recording(drawing: Drawing, inverted: bool) -> Recorded:
    size = len(drawing.svg) + STEP_BYTES * drawing.work
    return RECORDINGS.get((drawing, inverted), size, lambda: _recorded(drawing, inverted))


def _recorded(drawing: Drawing, inverted: bool) -> Recorded:
    engine = cairo()
    cost = Cost(drawing.name, read=drawing.work)

    base = _surface(cairosvg().surface.Surface, counting(drawing_context(), cost), drawing)

    class Recorder(base):  # type: ignore[misc, valid-type]
        device_units_per_user_units = 1.0

        def _create_surface(self, width: float, height: float) -> tuple[Any, float, float]:
            cost.width, cost.height = width, height
            extents = (0.0, 0.0, width, height)
            return engine.RecordingSurface(engine.CONTENT_COLOR_ALPHA, extents), width, height

    with _drawing(drawing):
        drawn = Recorder(_tree(drawing), None, 96, map_rgba=_changed_over if inverted else None)
    return drawn.cairo, drawn.width, drawn.height, cost


def svg_elements(drawing: Drawing, prefix: str, inverted: bool = False) -> tuple[list[ET.Element], float, float]:
    """A drawing as plain SVG elements with ids that begin with `prefix`, and its width and height in their units."""
    out = io.BytesIO()
    Writer = _surface(cairosvg().surface.SVGSurface, drawing_context(), drawing)
    with _drawing(drawing):
        Writer(_tree(drawing), out, 96, map_rgba=_changed_over if inverted else None).finish()
    root = ET.fromstring(out.getvalue())
    # Cairo counts on through a whole process; by their order, ids do not tell what was drawn before.
    by_id = {node.attrib["id"]: node for node in root.iter() if "id" in node.attrib}
    ids = {old: f"{prefix}{number}" for number, old in enumerate(by_id, 1)}
    even_odd: list[ET.Element] = []
    for node in root.iter():
        # Cairo writes a clip's rule where it is used, and SVG has it on the clip's shapes.
        if node.attrib.pop("clip-rule", "nonzero") == "evenodd":
            even_odd += by_id[node.attrib["clip-path"][5:-1]]
        # The document they go into writes its namespaces itself, so names are written as they are to stand there.
        node.tag = node.tag.rpartition("}")[2]
        if "id" in node.attrib:
            node.set("id", ids[node.attrib["id"]])
        if (link := node.attrib.pop(XLINK_HREF, None)) is not None:
            node.set("xlink:href", f"#{ids[link[1:]]}" if link.startswith("#") else link)
        for key, value in node.attrib.items():
            if "url(#" in value:
                node.set(key, _REFERENCE.sub(lambda found: f"url(#{ids[found[1]]})", value))
    for shape in even_odd:
        shape.set("clip-rule", "evenodd")
    width, height = (float(part) for part in root.get("viewBox", "0 0 1 1").split()[2:])
    return list(root), width, height
