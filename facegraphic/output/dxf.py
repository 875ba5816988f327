"""Cut lines as DXF: what a plotter's or laser's program reads, in mm, y up, as drawn.

Each contour is one entity, so that nothing has to be joined again. Lines and arcs become a closed LWPOLYLINE, its arcs
bulges: every cutter reads that. A contour with any other curve becomes one closed SPLINE of degree 3, which is the
curve itself with as few nodes as it has; for programs that read no splines, `curves="arcs"` writes it as an LWPOLYLINE
too, in arcs within 0.005 mm. R2000 (AC1015) is the oldest release with all of that and $INSUNITS, and widely read.
"""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Literal

from ezdxf import units
from ezdxf._options import options
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace

from facegraphic.geometry.arcs import ArcLine, arc_lines, contours
from facegraphic.geometry.path import Path, Point

RELEASE = "R2000"
PLACES = 5  # a hundredth of a micron
FORBIDDEN = frozenset('<>/\\":;?*|=`,')  # in names of layers
CLOSED, PLANAR = 1, 8  # flags of a SPLINE

Curves = Literal["spline", "arcs"]


def dxf_bytes(paths: Sequence[Path], layer: str = "CUT", curves: Curves = "spline") -> bytes:
    """Paths (mm) as a DXF document with nothing but their cut lines, on one layer.

    Closed contours are closed entities, contours without a "Z" open ones; a contour that occurs twice, in whichever
    direction and from wherever it begins, is written once. The same paths give the same bytes on any day.

    :raises ValueError: if the layer's name is empty or holds a character that DXF forbids
    """
    if not layer or set(layer) & FORBIDDEN or not layer.isprintable():
        raise ValueError(f"{layer!r} is no name for a layer of a DXF")
    with _fixed():
        document = new(RELEASE, units=units.MM)
        document.header["$MEASUREMENT"] = 1  # metric
        document.layers.add(layer)
        for contour in different_contours(paths):
            for line in arc_lines(contour):
                if curves == "arcs" or len(line.points) <= len(contour.segments):
                    _polyline(document.modelspace(), line, layer)
                else:
                    _spline(document.modelspace(), contour, layer)
        text = io.StringIO()
        document.write(text)
        return document.encode(text.getvalue())


def different_contours(paths: Sequence[Path]) -> list[Path]:
    """The contours of paths without those that run along all of an earlier one."""
    seen: set[frozenset[tuple[Point, ...]]] = set()
    kept = []
    for contour in (contour for path in paths for contour in contours(path)):
        key = frozenset(min(span, span[::-1]) for span in _rounded(_spans(contour)))
        if key and key not in seen:
            seen.add(key)
            kept.append(contour)
    return kept


def _spans(contour: Path) -> list[tuple[Point, ...]]:
    """A contour's lines and curves by their points: two, or four."""
    (_, *start), *rest = contour.segments
    here, first = (start[0], start[1]), (start[0], start[1])
    spans: list[tuple[Point, ...]] = []
    for op, *c in rest:
        points = [first] if op == "Z" else list(zip(c[::2], c[1::2], strict=True))
        if op != "Z" or points[-1] != here:
            spans.append((here, *points))
        here = points[-1]
    return spans


def _rounded(spans: Sequence[tuple[Point, ...]]) -> Iterator[tuple[Point, ...]]:
    """Spans to a micron, those without any length left out."""
    for span in spans:
        near = tuple((round(x, 3) + 0.0, round(y, 3) + 0.0) for x, y in span)
        if len(set(near)) > 1:
            yield near


def _polyline(space: Modelspace, line: ArcLine, layer: str) -> None:
    points = [(round(x, PLACES), round(y, PLACES), round(bulge, 9)) for x, y, bulge in line.points]
    space.add_lwpolyline(points, format="xyb", close=line.closed, dxfattribs={"layer": layer})


def _spline(space: Modelspace, contour: Path, layer: str) -> None:
    """One spline with a threefold knot between spans: Bézier curves end to end. Lines are straight spans."""
    spans = _spans(contour)
    points = [spans[0][0]]
    for span in spans:
        if len(span) == 2:
            (x0, y0), (x1, y1) = span
            span = (span[0], ((2 * x0 + x1) / 3, (2 * y0 + y1) / 3), ((x0 + 2 * x1) / 3, (y0 + 2 * y1) / 3), span[1])
        points += span[1:]
    closed = contour.segments[-1][0] == "Z"
    spline = space.add_spline(degree=3, dxfattribs={"layer": layer, "flags": PLANAR | (CLOSED if closed else 0)})
    spline.control_points = [(round(x, PLACES), round(y, PLACES), 0.0) for x, y in points]
    spline.knots = [float(k) for number in range(len(spans) + 1) for k in [number] * 3]
    spline.knots = [0.0, *spline.knots, float(len(spans))]


@contextmanager
def _fixed() -> Iterator[None]:
    """ezdxf without the day and the random ids that it writes else."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
