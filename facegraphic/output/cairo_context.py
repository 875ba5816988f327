"""The cairo context that drawings are drawn with: it spares the engine what it loses itself in."""

from functools import cache
from typing import Any

from facegraphic.output.cairo_paths import Piece, area_of, longest, stretch, turned_round
from facegraphic.output.engine import cairo

FINEST = 0.01  # pixels that curves may stray when they are cut to chords
THINNEST = 1e-4  # of a drawing's units: a gradient's own unit squeezed to less is too much for cairo's fixed figures


@cache
def drawing_context() -> type[Any]:
    """The class, made once cairo is loaded."""
    engine = cairo()

    class DrawingContext(engine.Context):  # type: ignore[misc, name-defined]
        building = False  # a clip
        even_odd = False  # its rule, which CairoSVG does not hand on
        clip_shapes = 0

        def begin_clip(self) -> None:
            """Begin a clip that is built of shapes."""
            self.building = True
            self._shapes: list[list[Piece]] = []  # that are done, on the drawing

        def end_shape(self) -> None:
            """Put a shape of the clip that is being built aside."""
            self.save()
            self.identity_matrix()
            self._shapes.append(self.copy_path())
            self.restore()
            self.new_path()

        def join_shapes(self) -> None:
            """Make one path of a clip's shapes that covers what any of them does: all run the same way round."""
            self.save()
            self.identity_matrix()
            for shape in self._shapes:
                self.append_path(turned_round(shape) if area_of(shape) < 0 and len(self._shapes) > 1 else shape)
            self.restore()

        def clip(self) -> None:
            if self.even_odd:
                self.set_fill_rule(engine.FILL_RULE_EVEN_ODD)
            super().clip()
            self.building, self.even_odd, self.clip_shapes = False, False, 0

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
