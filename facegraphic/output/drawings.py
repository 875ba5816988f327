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
from facegraphic.job.art_work import Spot, Work
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


def _recording(drawing: Drawing, inverted: bool) -> Recorded:
    size = len(drawing.svg) + STEP_BYTES * drawing.work
    return RECORDINGS.get((drawing, inverted), size, lambda: _recorded(drawing, inverted))


def _recorded(drawing: Drawing, inverted: bool) -> Recorded:
    engine = cairo()
    cost = Cost(drawing.name, read=drawing.work)

    class Recorder(cairosvg().surface.Surface):  # type: ignore[misc]
        device_units_per_user_units = 1.0

        def draw(self, node: Any) -> None:
            self.context.__class__ = Counting  # CairoSVG makes its context itself
            super().draw(node)

        def _create_surface(self, width: float, height: float) -> tuple[Any, float, float]:
            cost.width, cost.height = width, height
            extents = (0.0, 0.0, width, height)
            return engine.RecordingSurface(engine.CONTENT_COLOR_ALPHA, extents), width, height

    Counting = counting(drawing_context(), cost)
    with _drawing(drawing):
        drawn = Recorder(_tree(drawing), None, 96, map_rgba=_changed_over if inverted else None)
    return drawn.cairo, drawn.width, drawn.height, cost


def svg_elements(drawing: Drawing, prefix: str, inverted: bool = False) -> tuple[list[ET.Element], float, float]:
    """A drawing as plain SVG elements with ids that begin with `prefix`, and its width and height in their units."""
    out = io.BytesIO()
    Context = drawing_context()

    class Writer(cairosvg().surface.SVGSurface):  # type: ignore[misc]
        def draw(self, node: Any) -> None:
            self.context.__class__ = Context
            super().draw(node)

    with _drawing(drawing):
        Writer(_tree(drawing), out, 96, map_rgba=_changed_over if inverted else None).finish()
    root = ET.fromstring(out.getvalue())
    # Cairo counts on through a whole process; by their order, ids do not tell what was drawn before.
    found = [node.attrib["id"] for node in root.iter() if "id" in node.attrib]
    ids = {old: f"{prefix}{number}" for number, old in enumerate(found, 1)}
    for node in root.iter():
        # The document they go into writes its namespaces itself, so names are written as they are to stand there.
        node.tag = node.tag.rpartition("}")[2]
        if "id" in node.attrib:
            node.set("id", ids[node.attrib["id"]])
        if (link := node.attrib.pop(XLINK_HREF, None)) is not None:
            node.set("xlink:href", f"#{ids[link[1:]]}" if link.startswith("#") else link)
        for key, value in node.attrib.items():
            if "url(#" in value:
                node.set(key, _REFERENCE.sub(lambda found: f"url(#{ids[found[1]]})", value))
    width, height = (float(part) for part in root.get("viewBox", "0 0 1 1").split()[2:])
    return list(root), width, height
