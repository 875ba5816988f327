"""Cut lines as SVG: closed hairlines without fill, in mm, nothing else, as cutters want them."""

import io
from collections.abc import Sequence

import svgwrite

from facegraphic.geometry.path import IDENTITY, Box, Path
from facegraphic.units import format_number

HAIRLINE = 0.05
INK = "#ff0000"  # what cutters' programs usually take for a line to be cut (common practice)


def cut_svg_bytes(paths: Sequence[Path], box: Box) -> bytes:
    """Closed paths (mm, y up) as an SVG whose page is `box`."""
    size = (f"{format_number(box.width)}mm", f"{format_number(box.height)}mm")
    view = f"0 0 {format_number(box.width)} {format_number(box.height)}"
    drawing = svgwrite.Drawing(size=size, viewBox=view, debug=False)
    lines = drawing.g(fill="none", stroke=INK, stroke_width=HAIRLINE, id="cut")
    page = IDENTITY.translate(-box.x0, box.y1).scale(1, -1)
    for path in paths:
        lines.add(drawing.path(d=path.transformed(page).to_d(), debug=False))
    drawing.add(lines)
    out = io.StringIO()
    drawing.write(out, pretty=False)
    return out.getvalue().encode("utf-8")
