"""The display list: filled paths, images, groups. What a page shows, with nothing left to decide.

Guarantees, for every scene that the film room hands on:

- Lengths are page millimetres round the page centre, x right, y up.
- Everything visible is a filled path or an image; lines and lettering are outlines already.
- Colours are "#rrggbb". A group's clip holds for all it contains; its transform applies to items and clip alike,
  its opacity to all of it as one.
- Images stand in a unit square (0..1 both ways, y up) that their transform carries to the page.
- Order is painting order. Ids are unique on a page and say what a thing is; an empty id says nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, TypeAlias

from fontTools.misc.transform import Transform

from facegraphic.geometry.path import IDENTITY, Path
from facegraphic.job.model import Drawing, Picture

FillRule = Literal["nonzero", "evenodd"]


@dataclass(frozen=True)
class Fill:
    path: Path
    ink: str
    rule: FillRule = "nonzero"
    id: str = ""


@dataclass(frozen=True)
class Image:
    """A picture or drawing. With `dots` above 0 (mm) it is to be screened: shown in black and white dots of that size,
    at `tone` of its strength; a drawing in pure black and white needs no dots and stays as it is. `crisp` pictures
    keep their pixels square when enlarged.
    """

    content: Picture | Drawing
    transform: Transform
    crisp: bool = False
    dots: float = 0.0
    tone: float = 1.0
    id: str = ""


@dataclass(frozen=True)
class Group:
    items: tuple["Item", ...]
    id: str = ""
    transform: Transform = IDENTITY
    clip: Path | None = None
    clip_rule: FillRule = "nonzero"
    opacity: float = 1.0


Item: TypeAlias = Fill | Image | Group


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
