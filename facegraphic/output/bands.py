"""Scenes on pixels, a few rows at a time: recorded once and replayed into each band, so that memory knows no length.

A cairo recording keeps its paths in pixels and is moved by whole rows only, so that a band has the very pixels which
the whole page would have. Black and white is drawn as how much of each pixel is black, one byte a pixel and not four;
but bands that a drawing reaches into, which paints in colours of its own, are drawn in colour and then read alike.
"""

from collections.abc import Iterator
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facegraphic.geometry.path import Box
from facegraphic.output.engine import cairo
from facegraphic.output.paint import coloured_parts, paint
from facegraphic.scene.scene import Scene
from facegraphic.units import MM_PER_INCH

BAND_BYTES = 1 << 21  # of a band in colour: about what a processor keeps close by
LEAST_ROWS, MOST_ROWS = 16, 128
HALF = 128

Rows = NDArray[np.uint8]


def rows_of(width: int) -> int:
    """How many rows a band has: by the width alone, so that a scene has the same bands everywhere."""
    return min(MOST_ROWS, max(LEAST_ROWS, BAND_BYTES // (4 * width)))


class Bands:
    """A scene true to scale about its centre, on white, in bands from the top; `size` in pixels."""

    def __init__(self, scene: Scene, dpi: int, size: tuple[int, int]) -> None:
        self.width, self.height = size
        self.rows = rows_of(self.width)
        self._scene, self._scale = scene, dpi / MM_PER_INCH

    def bits(self) -> Iterator[Rows]:
        """Rows of one bit a pixel, white 1, eight pixels a byte. For scenes of black and white."""
        colour = np.zeros((self.rows, self.width, 4), np.uint8)
        black = np.zeros((self.rows, -(-self.width // 4) * 4), np.uint8)
        reach = [self._reach(box) for box in coloured_parts(self._scene)]
        for top in range(0, self.height, self.rows):
            end = min(top + self.rows, self.height)
            if any(first < end and last > top for first, last in reach):
                # Inks are black or white, so any channel tells how much of a pixel is covered.
                self._draw(self._coloured, cairo().FORMAT_RGB24, colour, top)
                white = colour[: end - top, :, 0] >= HALF
            else:
                self._draw(self._black, cairo().FORMAT_A8, black, top)
                white = black[: end - top, : self.width] <= 255 - HALF
            yield np.packbits(white, axis=1)

    def pixels(self) -> Iterator[Rows]:
        """Rows of pixels of four bytes: blue, green, red and one that says nothing.

        The row above the band comes first, zeros above the uppermost. The array is overwritten by the next band.
        """
        buffer = np.zeros((self.rows + 1, self.width, 4), np.uint8)
        for top in range(0, self.height, self.rows):
            self._draw(self._coloured, cairo().FORMAT_RGB24, buffer[1:], top)
            yield buffer[: min(self.rows, self.height - top) + 1]
            buffer[0] = buffer[-1]

    def _reach(self, box: Box) -> tuple[float, float]:
        """The rows that a part of the page may touch; those are counted from the top, the page's from its middle."""
        return self.height / 2 - box.y1 * self._scale - 2, self.height / 2 - box.y0 * self._scale + 2

    @cached_property
    def _coloured(self) -> Any:
        return self._recorded(False)

    @cached_property
    def _black(self) -> Any:
        return self._recorded(True)

    def _recorded(self, coverage: bool) -> Any:
        engine = cairo()
        content = engine.CONTENT_ALPHA if coverage else engine.CONTENT_COLOR_ALPHA
        recorded = engine.RecordingSurface(content, (0, 0, self.width, self.height))
        context = engine.Context(recorded)
        if not coverage:
            context.set_source_rgb(1, 1, 1)
            context.paint()
        paint(context, self._scene, self._scale, (self.width / 2, self.height / 2), coverage)
        return recorded

    def _draw(self, recorded: Any, format: int, rows: Rows, top: int) -> None:
        """Draw the rows from `top` on into an array."""
        engine = cairo()
        rows[:] = 0  # onto what is known to be clear a recording is replayed itself, not a picture of it
        surface = engine.ImageSurface(format, self.width, len(rows), rows.data.cast("B"), rows[0].nbytes)
        context = engine.Context(surface)
        context.set_source_surface(recorded, 0, -top)
        context.set_operator(engine.OPERATOR_SOURCE)
        context.paint()
        surface.finish()
