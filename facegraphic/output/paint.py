"""Draw a scene on a cairo context: the one engine behind every raster and page."""

import math
import sys
from functools import cache
from typing import Any

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.geometry.path import Path
from facegraphic.job.model import Picture
from facegraphic.output.dots import Drawn, Engine, settled
from facegraphic.output.drawings import recording
from facegraphic.output.engine import cairo
from facegraphic.scene.scene import Fill, Grid, Group, Image, Item, Plate, Scene, Screened, Stencil

COARSE = 0.7  # pixels that a pixel of a stencil is wide, below which it is no longer shown dot by dot


def paint(context: Any, scene: Scene, units_per_mm: float, centre: tuple[float, float]) -> None:
    """Draw a scene, its centre at a point of the context, at some number of context units to the mm."""
    context.save()
    context.translate(*centre)
    context.scale(units_per_mm, -units_per_mm)
    for item in scene.items:
        _item(context, item)
    context.restore()


def _item(context: Any, item: Item) -> None:
    if isinstance(item, Fill):
        _trace(context, item.path)
        context.set_fill_rule(_rule(item.rule))
        context.set_source_rgb(*rgb(item.ink))
        context.fill()
    elif isinstance(item, Image):
        _image(context, item)
    elif isinstance(item, Screened | Plate):
        _group(context, shown(item))
    else:
        _group(context, item)


def _group(context: Any, group: Group) -> None:
    context.save()
    context.transform(_matrix(group.transform))
    if group.clip is not None:
        _trace(context, group.clip)
        context.set_fill_rule(_rule(group.clip_rule))
        context.clip()
    if group.opacity < 1:
        context.push_group()
    for item in group.items:
        _item(context, item)
    if group.opacity < 1:
        context.pop_group_to_source()
        context.paint_with_alpha(group.opacity)
    context.restore()


def _image(context: Any, image: Image) -> None:
    engine = cairo()
    content = image.content
    if isinstance(content, Stencil):
        source, width, height = _stencil(content), float(content.width), float(content.height)
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
        context.set_source_rgb(*rgb(content.ink))
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
    on_pixels = isinstance(context.get_target(), engine.ImageSurface)
    return int(engine.FILTER_GOOD if fine and on_pixels else engine.FILTER_NEAREST)


@cache
def _stencil(stencil: Stencil) -> Any:
    """A stencil as a cairo surface of one bit a pixel, in the bit order and row length of the machine."""
    engine = cairo()
    stride = engine.ImageSurface.format_stride_for_width(engine.FORMAT_A1, stencil.width)
    rows = np.frombuffer(stencil.bits, np.uint8).reshape(stencil.height, -1)
    packed = np.zeros((stencil.height, stride), np.uint8)
    packed[:, : rows.shape[1]] = rows
    if sys.byteorder == "little":
        packed = np.packbits(np.unpackbits(packed, axis=1), axis=1, bitorder="little")
    return engine.ImageSurface(engine.FORMAT_A1, stencil.width, stencil.height, bytearray(packed.tobytes()), stride)


def shown(item: Screened | Plate) -> Group:
    """Screened artwork, or a white plate, as what is to be drawn of it."""
    return settled(item, _ENGINE)


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


@cache
def _pixels(picture: Picture) -> Any:
    """A picture as a cairo surface: premultiplied, in the byte order of the machine."""
    rgba = np.frombuffer(picture.pixels, np.uint8).reshape(picture.height, picture.width, 4)
    alpha = rgba[..., 3:4].astype(np.uint16)
    colour = (rgba[..., :3].astype(np.uint16) * alpha + 127) // 255
    packed = (
        rgba[..., 3].astype(np.uint32) << 24
        | colour[..., 0].astype(np.uint32) << 16
        | colour[..., 1].astype(np.uint32) << 8
        | colour[..., 2].astype(np.uint32)
    )
    engine = cairo()
    data = bytearray(packed.tobytes())
    return engine.ImageSurface(engine.FORMAT_ARGB32, picture.width, picture.height, data, picture.width * 4)


def _trace(context: Any, path: Path) -> None:
    for op, *c in path.segments:
        if op == "M":
            context.move_to(*c)
        elif op == "L":
            context.line_to(*c)
        elif op == "C":
            context.curve_to(*c)
        else:
            context.close_path()


def _matrix(transform: Transform) -> Any:
    return cairo().Matrix(*transform)


def _rule(rule: str) -> Any:
    return cairo().FILL_RULE_EVEN_ODD if rule == "evenodd" else cairo().FILL_RULE_WINDING


def rgb(ink: str) -> tuple[float, float, float]:
    """A "#rrggbb" colour as three shares of one."""
    return (int(ink[1:3], 16) / 255, int(ink[3:5], 16) / 255, int(ink[5:7], 16) / 255)
