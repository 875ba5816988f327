"""Scenes on pixels, a few rows at a time: recorded once and replayed into each band, so that memory knows no length.

A cairo recording keeps its paths in pixels and is moved by whole rows only, so that a band has the very pixels which
the whole page would have. Black and white is drawn as how much of each pixel is black, one byte a pixel and not four;
but where a drawing reaches, which paints in colours of its own, it is drawn in colour and then read alike.
"""

import math
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from itertools import cycle
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facegraphic.geometry.path import Box
from facegraphic.output.engine import cairo, in_turn
from facegraphic.output.paint import coloured_parts, paint
from facegraphic.scene.scene import Scene
from facegraphic.units import MM_PER_INCH

BAND_BYTES = 1 << 21  # about what a processor keeps close by
LEAST_ROWS, MOST_ROWS = 16, 128
HALF = 128

Rows = NDArray[np.uint8]


def bits_of(black: Rows) -> Rows:
    """How much of each pixel is black, as one bit a pixel, white 1, eight pixels a byte."""
    return np.packbits(black <= 255 - HALF, axis=1)


def rows_of(width: int, depth: int = 4) -> int:
    """How many rows a band has: by its width and bytes a pixel alone, so that a scene has the same bands everywhere."""
    return min(MOST_ROWS, max(LEAST_ROWS, BAND_BYTES // (depth * width)))


class Bands:
    """A scene true to scale about its centre, on white, in bands from the top; `size` in pixels."""

    def __init__(self, scene: Scene, dpi: int, size: tuple[int, int]) -> None:
        self.width, self.height = size
        self._scene, self._scale = scene, dpi / MM_PER_INCH

    def coverage(self, slots: int = 1) -> Iterator[Rows]:
        """Rows of how much of each pixel is black, 255 all of it. For scenes of black and white.

        An array is overwritten once `slots` others have come.
        """
        high = rows_of(self.width, 1)
        rows = np.zeros((slots, high, -(-self.width // 4) * 4), np.uint8)
        reach = [self._reach(box) for box in coloured_parts(self._scene)]
        with self._recorded(True) as black, self._recorded(False) if reach else nullcontext() as coloured:
            for top, band in zip(range(0, self.height, high), cycle(rows), strict=False):
                _draw(black, cairo().FORMAT_A8, band, (0, top))
                for columns, lines in reach:
                    if lines.start < top + high and lines.stop > top and columns:
                        colour = np.zeros((high, len(columns), 4), np.uint8)
                        _draw(coloured, cairo().FORMAT_RGB24, colour, (columns.start, top))
                        # Inks are black or white, so any channel tells how much of a pixel is covered.
                        np.subtract(255, colour[:, :, 0], out=band[:, columns.start : columns.stop])
                yield band[: self.height - top, : self.width]

    def pixels(self, slots: int = 1) -> Iterator[Rows]:
        """Rows of pixels of four bytes: blue, green, red and one that says nothing.

        The row above the band comes first, zeros above the uppermost. An array is overwritten as with `coverage`.
        """
        high = rows_of(self.width)
        bands = np.zeros((slots, high + 1, self.width, 4), np.uint8)
        above = bands[0, 0].copy()
        with self._recorded(False) as coloured:
            for top, band in zip(range(0, self.height, high), cycle(bands), strict=False):
                band[0] = above
                _draw(coloured, cairo().FORMAT_RGB24, band[1:], (0, top))
                above[:] = band[-1]
                yield band[: min(high, self.height - top) + 1]

    def _reach(self, box: Box) -> tuple[range, range]:
        """The columns and rows that a part of the page may touch; the part is counted from the page's middle."""
        across, down = self.width / 2, self.height / 2
        left, right = across + box.x0 * self._scale, across + box.x1 * self._scale
        top, bottom = down - box.y1 * self._scale, down - box.y0 * self._scale
        columns = range(max(0, math.floor(left) - 2), min(self.width, math.ceil(right) + 2))
        return columns, range(math.floor(top) - 2, math.ceil(bottom) + 2)

    @contextmanager
    def _recorded(self, coverage: bool) -> Iterator[Any]:
        """The scene recorded, for as long as it is drawn from."""
        recorded = self._record(coverage)
        try:
            yield recorded
        finally:
            in_turn(recorded.finish)()

    @in_turn
    def _record(self, coverage: bool) -> Any:
        engine = cairo()
        content = engine.CONTENT_ALPHA if coverage else engine.CONTENT_COLOR_ALPHA
        recorded = engine.RecordingSurface(content, (0, 0, self.width, self.height))
        context = engine.Context(recorded)
        if not coverage:
            context.set_source_rgb(1, 1, 1)
            context.paint()
        paint(context, self._scene, self._scale, (self.width / 2, self.height / 2), coverage)
        return recorded


@in_turn
def _draw(recorded: Any, format: int, rows: Rows, at: tuple[int, int]) -> None:
    """Draw the columns and rows from a pixel on into an array of whole rows, each a multiple of four bytes."""
    engine = cairo()
    rows[:] = 0  # onto what is known to be clear a recording is replayed itself, not a picture of it
    surface = engine.ImageSurface(format, rows.shape[1], len(rows), rows.data.cast("B"), rows[0].nbytes)
    context = engine.Context(surface)
    context.set_source_surface(recorded, -at[0], -at[1])
    context.set_operator(engine.OPERATOR_SOURCE)
    context.paint()
    surface.finish()
