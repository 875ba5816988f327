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
        even_odd = False  # the rule of the clip that is being built, which CairoSVG does not hand on
        clip_shapes = 0

        def clip(self) -> None:
            if self.even_odd:
                self.set_fill_rule(engine.FILL_RULE_EVEN_ODD)
            super().clip()
            self.even_odd, self.clip_shapes = False, 0

        def set_tolerance(self, tolerance: float) -> None:
            """CairoSVG asks for arcs so fine that a few large ones would take gigabytes."""
            super().set_tolerance(max(tolerance, FINEST))

        def set_source(self, source: Any) -> None:
            """Take a gradient's last colour where it is squeezed to nothing, as on a line level but for a rounding.

            Cairo would say that memory has run out. Of a vector without length SVG 1.1 takes it too (13.2.2).
            """
            if isinstance(source, engine.Gradient) and _squeezed(self, source):
                stops = source.get_color_stops()
                self.set_source_rgba(*(stops[-1][1:] if stops else (0, 0, 0, 0)))
            else:
                super().set_source(source)

    return DrawingContext


def _squeezed(context: Any, gradient: Any) -> bool:
    xx, yx, xy, yy, _, _ = gradient.get_matrix().as_tuple()
    return longest(xx, yx, xy, yy) * THINNEST > stretch(context)[0]
