"""The cairo context that drawings are drawn with: it spares the engine what it loses itself in."""

from functools import cache
from typing import Any

from facegraphic.output.cairo_paths import longest, stretch
from facegraphic.output.engine import cairo

FINEST = 0.01  # pixels that curves may stray when they are cut to chords
THINNEST = 1e-4  # of a drawing's units: a gradient's own unit squeezed to less is too much for cairo's fixed figures


@cache
def drawing_context() -> type[Any]:
    """The class, made once cairo is loaded."""
    engine = cairo()

    class DrawingContext(engine.Context):  # type: ignore[misc, name-defined]
        def set_tolerance(self, tolerance: float) -> None:
            """CairoSVG asks for arcs so fine that a few large ones would take gigabytes."""
            super().set_tolerance(max(tolerance, FINEST))

        def fill(self) -> None:
            _unsqueeze(self)
            super().fill()

        def fill_preserve(self) -> None:
            _unsqueeze(self)
            super().fill_preserve()

        def stroke(self) -> None:
            _unsqueeze(self)
            super().stroke()

    return DrawingContext


def _unsqueeze(context: Any) -> None:
    """Take a gradient's last colour where it is squeezed to nothing, as on a line that is level but for a rounding.

    Cairo would say that memory has run out. (Of a vector without length SVG 1.1, 13.2.2, has the last colour as well.)
    """
    source = context.get_source()
    if not isinstance(source, cairo().Gradient):
        return
    xx, yx, xy, yy, _, _ = source.get_matrix().as_tuple()
    if longest(xx, yx, xy, yy) * THINNEST > stretch(context)[0]:
        stops = source.get_color_stops()
        context.set_source_rgba(*(stops[-1][1:] if stops else (0, 0, 0, 0)))
