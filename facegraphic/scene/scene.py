"""The display list: filled paths, images, groups. What a page shows, with nothing left to decide.

Guarantees, for every scene that the film room hands on:

- Lengths are page millimetres round the page centre, x right, y up.
- Everything visible is a filled path or an image; lines and lettering are outlines already.
- Colours are "#rrggbb". A group's clip holds for all it contains; its transform applies to items and clip alike,
  its opacity to all of it as one.
- Images stand in a unit square (0..1 both ways, y up) that their transform carries to the page.
- Artwork of a process without greys is a `Screened`: the writers show it alike, see ``output/dots.py``.
- A group with a `layer` is part of what a print shop separates; layers do not nest, and paint in their order.
- Order is painting order. Ids are unique on a page and say what a thing is; an empty id says nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fontTools.misc.transform import Transform

from facegraphic.geometry.path import IDENTITY, Path
from facegraphic.job.image import Drawing, Picture, Screen

NOWHERE = Path(())
FillRule = Literal["nonzero", "evenodd"]


@dataclass(frozen=True)
class Fill:
    path: Path
    ink: str
    rule: FillRule = "nonzero"
    id: str = ""


@dataclass(frozen=True)
class Stencil:
    """Pixels inked or left out: rows of `bits` from the top, eight pixels a byte, the first in its high bit."""

    width: int
    height: int
    bits: bytes
    ink: str


@dataclass(frozen=True)
class Image:
    """A picture, drawing or stencil; an `inverted` drawing has its black and white changed over."""

    content: Picture | Drawing | Stencil
    transform: Transform
    inverted: bool = False
    id: str = ""


@dataclass(frozen=True)
class Group:
    items: tuple["Item", ...]
    id: str = ""
    transform: Transform = IDENTITY
    clip: Path | None = None
    clip_rule: FillRule = "nonzero"
    opacity: float = 1.0
    layer: str = ""
    within: str = ""  # begins the ids of all that it holds, so that a face may stand on a page more than once


@dataclass(frozen=True)
class Grid:
    """Pixels of a page, `pixel` mm wide, which lie evenly round its centre."""

    width: int
    height: int
    pixel: float


@dataclass(frozen=True)
class ScreenedArt:
    group: Group
    screen: Screen


@dataclass(frozen=True)
class Screened:
    """Artwork for a process that knows no greys, in painting order; what is pure black and white stays vectors.

    Dots of `ink`, no smaller than `dot` and with no less than `between` left among them (mm), stand on the pixels of
    `grid` and only within `free` (even-odd). Where artwork covers it, `line` is ink.
    """

    arts: tuple[ScreenedArt, ...]
    free: Path
    grid: Grid
    dot: float
    between: float
    ink: str
    id: str = ""
    line: Path = NOWHERE


@dataclass(frozen=True)
class Plate:
    """White under artwork and `lettering`, drawn in by `choke` mm where both end, on the pixels of `grid`.

    `cut` is left out of the artwork. It stays within `area`, and runs on at the edges of `bled`. All even-odd.
    """

    arts: Group
    cut: Path
    lettering: Path
    area: Path
    bled: Path
    grid: Grid
    choke: float
    ink: str
    id: str = ""


Item: TypeAlias = Fill | Image | Group | Screened | Plate


@dataclass(frozen=True)
class Scene:
    """A page of `width` × `height` mm. With `bits` 1 it is black and white only."""

    width: float
    height: float
    items: tuple[Item, ...]
    bits: int = 24


def walk(items: tuple[Item, ...], transform: Transform = IDENTITY) -> Iterator[tuple[Item, Transform]]:
    """Every item in painting order, with the transform that carries it to the page."""
    for item in items:
        yield item, transform
        if isinstance(item, Group):
            yield from walk(item.items, transform.transform(item.transform))
