"""Fonts that are large or unfold to much: built when they are first asked for."""

import math
from collections.abc import Callable
from functools import cache

from fontTools.pens.ttGlyphPen import TTGlyphPen

from .large import Grown
from .seeds import font_builder, font_bytes

NAMES = [".notdef", "H", "I"]


def _star(points: int, size: float = 700.0) -> TTGlyphPen:
    """A star whose sides all cross."""
    pen = TTGlyphPen(None)
    for number in range(points):
        angle = 2 * math.pi * number * (points // 2) / points
        at = (round(size / 2 * (1 + math.cos(angle))), round(size / 2 * (1 + math.sin(angle))))
        (pen.lineTo if number else pen.moveTo)(at)
    pen.closePath()
    return pen


def _built(names: list[str], glyphs: dict[str, TTGlyphPen], features: str = "") -> bytes:
    builder = font_builder(True, names)
    builder.font.recalcBBoxes = False  # the library would count all that unfolds
    drawn = {name: glyphs[name].glyph() for name in names}
    for glyph in drawn.values():
        glyph.xMin, glyph.yMin, glyph.xMax, glyph.yMax = 0, 0, 700, 700
    builder.setupGlyf(drawn, calcGlyphBounds=False)
    if features:
        builder.addOpenTypeFeatures(features)
    return font_bytes(builder, names)


@cache
def star(points: int) -> bytes:
    """A font whose capitals have so many points, all crossing."""
    return _built(NAMES, {name: _star(points) for name in NAMES})


@cache
def laughing(deep: int) -> bytes:
    """A font whose glyphs are made of the one before twice, so deep."""
    names = [*NAMES, *(f"g{number}" for number in range(deep))]
    glyphs = {name: _star(5) for name in (".notdef", "I", "g0")}
    for number in range(1, deep):
        glyphs[f"g{number}"] = _twice(f"g{number - 1}")
    return _built(names, {**glyphs, "H": _twice(names[-1])})


def _twice(name: str) -> TTGlyphPen:
    pen = TTGlyphPen(dict.fromkeys([name]))
    pen.addComponent(name, (1, 0, 0, 1, 0, 0))
    pen.addComponent(name, (1, 0, 0, 1, 90, 0))
    return pen


@cache
def multiplying(lookups: int) -> bytes:
    """A font that puts four glyphs for each, so many times over."""
    rules = "".join(f"lookup m{n} {{ sub H by H I H I; sub I by I H I H; }} m{n};\n" for n in range(lookups))
    feature = "".join(f"lookup m{n}; " for n in range(lookups))
    return _built(NAMES, {name: _star(5) for name in NAMES}, f"{rules}feature ccmp {{ {feature}}} ccmp;")


@cache
def many(glyphs: int) -> bytes:
    """A font of so many glyphs, each with some hundreds of points."""
    names = [*NAMES, *(f"g{number}" for number in range(glyphs))]
    return _built(names, {name: _star(21) for name in names})


def _ready(build: Callable[[int], bytes], size: int) -> Grown:
    return lambda choices, data: build(size)


FONTS: tuple[Grown, ...] = tuple(
    _ready(build, size)
    for build, sizes in (
        (star, (71, 501, 3001, 20_001)),
        (laughing, (5, 12, 40)),
        (multiplying, (3, 8)),
        (many, (4000,)),
    )
    for size in sizes
)
