"""Draw a scene on a cairo context: the one engine behind every raster and page."""

import math
import struct
import sys
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.geometry.path import IDENTITY, Box, Path
from facegraphic.job.image import Picture
from facegraphic.output.dots import Drawn, Engine, settled
from facegraphic.output.drawings import recording
from facegraphic.output.engine import cairo, in_turn
from facegraphic.output.recent import Recent
from facegraphic.scene.scene import Fill, Grid, Group, Image, Item, Plate, Scene, Screened, Stencil, walk

BLACK, WHITE = "#000000", "#ffffff"
COARSE = 0.7  # pixels that a pixel of a stencil is wide, below which it is no longer shown dot by dot
AT_ONCE = 1 << 20  # pixels of a picture that are worked on at once: beside the picture they take little memory
MOST_BYTEWISE = 1 << 24  # pixels of a stencil that are held one byte each
_SURFACES: Recent[Any] = Recent(256 << 20)  # of pictures and stencils, for the next output that shows them


@dataclass(frozen=True)
class _Canvas:
    """What is drawn on: a context, and whether it takes how much of a pixel is black, and no colours."""

    context: Any
    coverage: bool = False

    def ink(self, ink: str) -> None:
        """Set what is painted with. On coverage black adds to what is there, and white takes it away."""
        if not self.coverage:
            self.context.set_source_rgb(*rgb(ink))
            return
        if ink not in (BLACK, WHITE):
            raise ValueError(f"{ink} in a scene of black and white")
        engine = cairo()
        self.context.set_operator(engine.OPERATOR_OVER if ink == BLACK else engine.OPERATOR_DEST_OUT)
        self.context.set_source_rgb(0, 0, 0)


def paint(context: Any, scene: Scene, units_per_mm: float, centre: tuple[float, float], coverage: bool = False) -> None:
    """Draw a scene, its centre at a point of the context, at some number of context units to the mm.

    With `coverage` a scene of black and white is drawn as how much is black, but for what `coloured_parts` tells.
    """
    context.save()
    context.translate(*centre)
    context.scale(units_per_mm, -units_per_mm)
    for item in scene.items:
        _item(_Canvas(context, coverage), item)
    context.restore()


def coloured_parts(scene: Scene) -> Iterator[Box]:
    """Where a scene of black and white holds what paints in colours of its own, or lets others show through."""
    yield from _coloured(scene.items, IDENTITY)


def _coloured(items: tuple[Item, ...], transform: Transform) -> Iterator[Box]:
    for item in items:
        shows = shown(item) if isinstance(item, Screened | Plate) else item
        if isinstance(shows, Group):
            inner = transform.transform(shows.transform)
            yield from (_all_of(shows.items, inner) if shows.opacity < 1 else _coloured(shows.items, inner))
        elif isinstance(shows, Image) and not isinstance(shows.content, Stencil):
            yield _square(shows, transform)


def _all_of(items: tuple[Item, ...], transform: Transform) -> Iterator[Box]:
    """Where anything of some items is."""
    for item, around in walk(items, transform):
        if isinstance(item, Fill) and item.path:
            yield item.path.transformed(around).bounds
        elif isinstance(item, Image):
            yield _square(item, around)
        elif isinstance(item, Screened | Plate):
            yield from _all_of((shown(item),), around)


def _square(image: Image, transform: Transform) -> Box:
    corners = transform.transform(image.transform).transformPoints([(0, 0), (0, 1), (1, 1), (1, 0)])
    xs, ys = zip(*corners, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys))


def _item(canvas: _Canvas, item: Item) -> None:
    if isinstance(item, Fill):
        _trace(canvas.context, item.path)
        canvas.context.set_fill_rule(_rule(item.rule))
        canvas.ink(item.ink)
        canvas.context.fill()
    elif isinstance(item, Image):
        _image(canvas, item)
    elif isinstance(item, Screened | Plate):
        _group(canvas, shown(item))
    else:
        _group(canvas, item)


def _group(canvas: _Canvas, group: Group) -> None:
    context = canvas.context
    if group.opacity < 1 and canvas.coverage:
        return
    context.save()
    context.transform(_matrix(group.transform))
    if group.clip is not None:
        _trace(context, group.clip)
        context.set_fill_rule(_rule(group.clip_rule))
        context.clip()
    if group.opacity < 1:
        context.push_group()
    for item in group.items:
        _item(canvas, item)
    if group.opacity < 1:
        context.pop_group_to_source()
        context.paint_with_alpha(group.opacity)
    context.restore()


def _image(canvas: _Canvas, image: Image) -> None:
    engine, context, content = cairo(), canvas.context, image.content
    if canvas.coverage and not isinstance(content, Stencil):
        return
    if isinstance(content, Stencil):
        bytewise = _on_pixels(context) and content.width * content.height <= MOST_BYTEWISE
        source, width, height = _stencil(content, bytewise), float(content.width), float(content.height)
    elif isinstance(content, Picture):
        source, width, height = _pixels(content), float(content.width), float(content.height)
    else:
        source, width, height = recording(content, image.inverted)
    context.save()
    context.transform(_matrix(image.transform))
    context.translate(0, 1)
    context.scale(1 / width, -1 / height)
    pattern = engine.SurfacePattern(source)
    if isinstance(content, Stencil):
        pattern.set_filter(_stencil_filter(context))
        canvas.ink(content.ink)
        context.mask(pattern)
    else:
        context.rectangle(0, 0, width, height)
        context.clip()
        pattern.set_filter(engine.FILTER_GOOD)
        # Beyond the last row there is the last row, not nothing: no pale rim where a picture ends.
        pattern.set_extend(engine.EXTEND_PAD if isinstance(content, Picture) else engine.EXTEND_NONE)
        context.set_source(pattern)
        context.paint()
    context.restore()


def _stencil_filter(context: Any) -> int:
    """Dots keep hard edges, but for a rendering much coarser than they are, which shows their tone instead."""
    engine = cairo()
    fine = math.hypot(*context.user_to_device_distance(1, 0)) < COARSE
    return int(engine.FILTER_GOOD if fine and _on_pixels(context) else engine.FILTER_NEAREST)


def _on_pixels(context: Any) -> bool:
    engine = cairo()
    return isinstance(context.get_target(), engine.ImageSurface | engine.RecordingSurface)


def _stencil(stencil: Stencil, bytewise: bool) -> Any:
    size = len(stencil.bits) + stencil.height * stencil.width // (1 if bytewise else 8)
    return _SURFACES.get((stencil, bytewise), size, lambda: _stencil_surface(stencil, bytewise))


def _stencil_surface(stencil: Stencil, bytewise: bool) -> Any:
    """A stencil as a cairo surface, in the row length of the machine: one bit a pixel, in its bit order, or one byte.

    Bits keep documents small; of bytes cairo makes pixels three times as fast.
    """
    engine = cairo()
    kind = engine.FORMAT_A8 if bytewise else engine.FORMAT_A1
    stride = engine.ImageSurface.format_stride_for_width(kind, stencil.width)
    packed = np.frombuffer(stencil.bits, np.uint8).reshape(stencil.height, -1)
    dots = np.unpackbits(packed, axis=1, count=stencil.width)
    dots = dots * 255 if bytewise else np.packbits(dots, axis=1, bitorder=sys.byteorder)
    rows = np.zeros((stencil.height, stride), np.uint8)
    rows[:, : dots.shape[1]] = dots
    return engine.ImageSurface(kind, stencil.width, stencil.height, bytearray(rows.tobytes()), stride)


def shown(item: Screened | Plate) -> Group:
    """Screened artwork, or a white plate, as what is to be drawn of it."""
    return settled(item, _ENGINE)


@in_turn
def _drawn(group: Group, grid: Grid) -> Drawn:
    """A group on a grid's pixels, with its edges soft."""
    engine = cairo()
    surface = engine.ImageSurface(engine.FORMAT_ARGB32, grid.width, grid.height)
    paint(engine.Context(surface), Scene(0, 0, (group,)), 1 / grid.pixel, (grid.width / 2, grid.height / 2))
    surface.flush()
    pixels = np.frombuffer(surface.get_data(), np.uint32).reshape(grid.height, grid.width)
    cover = (pixels >> 24).astype(np.float32) * np.float32(1 / 255)
    # The grey of a colour as JPEG and PNG readers take it (ITU-R BT.601); colours are premultiplied.
    light = np.zeros_like(cover)
    for shift, weight in ((16, 0.299), (8, 0.587), (0, 0.114)):
        light += (pixels >> shift & 0xFF).astype(np.float32) * np.float32(weight / 255)
    return Drawn(cover, np.clip(cover - light, 0, 1))


@in_turn
def _inside(path: Path, grid: Grid) -> Any:
    """Which pixels of a grid have their middle in a path, by the even-odd rule."""
    engine = cairo()
    surface = engine.ImageSurface(engine.FORMAT_A8, grid.width, grid.height)
    context = engine.Context(surface)
    context.set_antialias(engine.ANTIALIAS_NONE)
    paint(context, Scene(0, 0, (Fill(path, "#000000", "evenodd"),)), 1 / grid.pixel, (grid.width / 2, grid.height / 2))
    surface.flush()
    rows = np.frombuffer(surface.get_data(), np.uint8).reshape(grid.height, surface.get_stride())
    return rows[:, : grid.width] > 0


_ENGINE = Engine(_drawn, _inside)


def _pixels(picture: Picture) -> Any:
    return _SURFACES.get(picture, 2 * len(picture.pixels), lambda: _pixel_surface(picture))


def _pixel_surface(picture: Picture) -> Any:
    """A picture as a cairo surface: premultiplied, in the byte order of the machine."""
    rgba = np.frombuffer(picture.pixels, np.uint8).reshape(picture.height, picture.width, 4)
    data = bytearray(picture.width * picture.height * 4)
    packed = np.frombuffer(data, np.uint32).reshape(picture.height, picture.width)
    rows = max(1, AT_ONCE // picture.width)
    for top in range(0, picture.height, rows):
        some = rgba[top : top + rows].astype(np.uint32)
        alpha = some[..., 3]
        colour = (some[..., :3] * alpha[..., None] + 127) // 255
        packed[top : top + rows] = alpha << 24 | colour[..., 0] << 16 | colour[..., 1] << 8 | colour[..., 2]
    engine = cairo()
    return engine.ImageSurface(engine.FORMAT_ARGB32, picture.width, picture.height, data, picture.width * 4)


def _trace(context: Any, path: Path) -> None:
    """Add a path to a context's, all of it in one call: one for each line or curve would take most of the time."""
    engine = cairo()
    flat: list[float] = []
    for segment in path.segments:
        flat += _HEADS[segment[0]]
        flat += segment[1:]
    data = array("d", flat)
    elements = engine.ffi.from_buffer("cairo_path_data_t[]", data)
    drawn = engine.ffi.new("cairo_path_t *", {"status": 0, "data": elements, "num_data": len(elements)})
    engine.cairo.cairo_append_path(context._pointer, drawn)


def _head(kind: int, length: int) -> tuple[float, float]:
    """What stands ahead of a segment's points in cairo's own form of a path: two whole numbers, in the room of two."""
    first, second = struct.unpack("dd", struct.pack("iixxxxxxxx", kind, length))
    return first, second


# cairo_path_data_t: kind (move, line, curve, close) and length in units of a point, then the points.
_HEADS = {op: _head(kind, length) for kind, (op, length) in enumerate((("M", 2), ("L", 2), ("C", 4), ("Z", 1)))}


def _matrix(transform: Transform) -> Any:
    return cairo().Matrix(*transform)


def _rule(rule: str) -> Any:
    return cairo().FILL_RULE_EVEN_ODD if rule == "evenodd" else cairo().FILL_RULE_WINDING


def rgb(ink: str) -> tuple[float, float, float]:
    """A "#rrggbb" colour as three shares of one."""
    return (int(ink[1:3], 16) / 255, int(ink[3:5], 16) / 255, int(ink[5:7], 16) / 255)
