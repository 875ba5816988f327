"""Draw a scene on a cairo context: the one engine behind every raster and page."""

from functools import cache
from typing import Any

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.geometry.path import Path
from facegraphic.job.model import Picture
from facegraphic.output.dots import settled
from facegraphic.output.drawings import recording
from facegraphic.output.engine import cairo
from facegraphic.scene.scene import Fill, Group, Image, Item, Scene


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
    image = settled(image)
    if isinstance(image.content, Picture):
        source = _pixels(image.content)
        width, height = float(image.content.width), float(image.content.height)
    else:
        source, width, height = recording(image.content)
    context.save()
    context.transform(_matrix(image.transform))
    context.translate(0, 1)
    context.scale(1 / width, -1 / height)
    context.rectangle(0, 0, width, height)
    context.clip()
    pattern = engine.SurfacePattern(source)
    pattern.set_filter(engine.FILTER_NEAREST if image.crisp else engine.FILTER_GOOD)
    # Beyond the last row there is the last row, not nothing: no pale rim where a picture ends.
    pattern.set_extend(engine.EXTEND_PAD if isinstance(image.content, Picture) else engine.EXTEND_NONE)
    context.set_source(pattern)
    context.paint()
    context.restore()


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
