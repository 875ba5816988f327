"""Draw checked SVG artwork: as a cairo recording for PNG and PDF, as resolved SVG elements for SVG.

Both go through CairoSVG, so that all three formats show one reading of the drawing.
"""

import io
import re
import xml.etree.ElementTree as ET
from functools import cache
from typing import Any

from facegraphic.job.model import Drawing
from facegraphic.output.engine import cairo, cairosvg

SVG = "http://www.w3.org/2000/svg"
XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_REFERENCE = re.compile(r"url\(#([^)]+)\)")
POINTS_PER_PX = 0.75


def _nothing_outside(url: str, kind: str) -> bytes:
    raise ValueError("a checked drawing refers to nothing outside itself")


def _tree(drawing: Drawing) -> Any:
    return cairosvg().parser.Tree(bytestring=drawing.svg, unsafe=False, url_fetcher=_nothing_outside)


def _map_rgba(two_tone: bool) -> Any:
    """For two-tone drawings: every colour to black or white by its relative luminance (WCAG), nearly clear to clear."""
    if not two_tone:
        return None

    def nearer(rgba: tuple[float, float, float, float]) -> tuple[float, float, float, float]:
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in rgba[:3]]
        light = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
        tone = 1.0 if light > 0.18 else 0.0
        return (tone, tone, tone, 1.0 if rgba[3] >= 0.5 else 0.0)

    return nearer


@cache
def recording(drawing: Drawing, two_tone: bool) -> tuple[Any, float, float]:
    """A cairo recording of a drawing, with its width and height in recording units."""
    engine = cairo()

    class Recorder(cairosvg().surface.Surface):  # type: ignore[misc]
        device_units_per_user_units = 1.0

        def _create_surface(self, width: float, height: float) -> tuple[Any, float, float]:
            extents = (0.0, 0.0, width, height)
            return engine.RecordingSurface(engine.CONTENT_COLOR_ALPHA, extents), width, height

    drawn = Recorder(_tree(drawing), None, 96, map_rgba=_map_rgba(two_tone))
    return drawn.cairo, drawn.width, drawn.height


def svg_elements(drawing: Drawing, two_tone: bool, prefix: str) -> tuple[list[ET.Element], float, float]:
    """A drawing as plain SVG elements with ids that begin with `prefix`, and its width and height in their units."""
    out = io.BytesIO()
    surface = cairosvg().surface.SVGSurface(_tree(drawing), out, 96, map_rgba=_map_rgba(two_tone))
    surface.finish()
    root = ET.fromstring(out.getvalue())
    for node in root.iter():
        if "id" in node.attrib:
            node.set("id", prefix + node.attrib["id"])
        if node.get(XLINK_HREF, "").startswith("#"):
            node.set(XLINK_HREF, f"#{prefix}{node.attrib[XLINK_HREF][1:]}")
        for key, value in node.attrib.items():
            if "url(#" in value:
                node.set(key, _REFERENCE.sub(rf"url(#{prefix}\1)", value))
    width, height = (float(part) for part in root.get("viewBox", "0 0 1 1").split()[2:])
    return list(root), width, height
