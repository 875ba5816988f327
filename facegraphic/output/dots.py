"""Settle the artwork of a process without greys: one stencil of dots a face, the same in every format.

All that is screened is drawn on the face's pixels first and screened there as one, so that no dot is cut by another
picture's edge; what is pure black and white stays vectors, and dots keep away from it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, radians
from typing import Any, TypeAlias

import numpy as np
from fontTools.misc.transform import Transform
from numpy.typing import NDArray

from facegraphic.film.cleaning import cleaned, grown, shrunk
from facegraphic.film.round_dots import GUARD, Lattice, in_round_dots
from facegraphic.film.screen import Mask, in_cells
from facegraphic.geometry.path import Path
from facegraphic.job.image import Drawing, Screen
from facegraphic.output.drawings import is_black_and_white
from facegraphic.scene.scene import Grid, Group, Image, Item, Plate, Screened, ScreenedArt, Stencil, walk
from facegraphic.units import MM_PER_INCH

Shares: TypeAlias = NDArray[np.float32]


@dataclass(frozen=True)
class Drawn:
    """How much of each pixel a group covers, and how much black it adds."""

    cover: Shares
    black: Shares


@dataclass(frozen=True)
class Engine:
    """What draws on a grid of pixels: groups with soft edges, and whether pixels' middles lie in a path."""

    group: Callable[[Group, Grid], Drawn]
    inside: Callable[[Path, Grid], Mask]


def is_plain(art: ScreenedArt) -> bool:
    """Whether an artwork is pure black and white as it is, and so needs no dots."""
    images = [item for item, _ in walk((art.group,)) if isinstance(item, Image)]
    return art.group.opacity == 1 and all(
        isinstance(image.content, Drawing) and is_black_and_white(image.content) for image in images
    )


@lru_cache(maxsize=8)
def settled(item: Screened | Plate, engine: Engine) -> Group:
    """What is to be shown: dots as a stencil, and plain drawings over them; a white plate as a stencil."""
    if isinstance(item, Plate):
        return Group((_pixels_of(_white(item, engine), item.grid, item.ink, f"{item.id}-pixels"),), item.id)
    toned, plain = _parted(item.arts)
    shown: list[Item] = [_in_ink(art.group, item.ink) for art in plain]
    if toned:
        shown.insert(0, _stencil(item, toned, plain, engine))
    return Group(tuple(shown), item.id)


def _parted(arts: Sequence[ScreenedArt]) -> tuple[list[ScreenedArt], list[ScreenedArt]]:
    """Artwork to be screened, and plain drawings; those that lie under a screened picture are screened with it."""
    toned: list[ScreenedArt] = []
    plain: list[ScreenedArt] = []
    for art in reversed(arts):
        under = any(_meet(art, other) for other in toned)
        (plain if not under and is_plain(art) else toned).insert(0, art)
    return toned, plain


def _meet(one: ScreenedArt, other: ScreenedArt) -> bool:
    if one.group.clip is None or other.group.clip is None:
        return True
    a, b = one.group.clip.bounds, other.group.clip.bounds
    return a.x0 < b.x1 and b.x0 < a.x1 and a.y0 < b.y1 and b.y0 < a.y1


def _in_ink(group: Group, ink: str) -> Group:
    """A plain drawing as the ink has it: where ink is bare in a black ground, black and white change over."""
    if ink == "#000000":
        return group
    return replace(group, items=tuple(replace(i, inverted=True) if isinstance(i, Image) else i for i in group.items))


def _stencil(item: Screened, toned: Sequence[ScreenedArt], plain: Sequence[ScreenedArt], engine: Engine) -> Image:
    grid = item.grid
    free = engine.inside(item.free, grid)
    apart = ceil(item.between / grid.pixel)
    for art in plain:
        free &= ~grown(engine.group(art.group, grid).cover > 0, apart)
    tone = np.zeros((grid.height, grid.width), np.float32)
    screens = list(dict.fromkeys(art.screen for art in toned))
    owner = np.full(tone.shape, -1, np.int8)
    for art in toned:
        drawn, own = engine.group(art.group, grid), screens.index(art.screen)
        tone *= 1 - drawn.cover
        tone += drawn.black
        there = drawn.cover > 0
        if len(screens) > 1:
            owner[grown(there, apart) & (owner >= 0) & (owner != own)] = -1  # two screens keep clear of each other
        owner[there] = own
    ink, line = np.zeros(tone.shape, np.bool_), engine.inside(item.line, grid) & free
    for number, screen in enumerate(screens):
        own_room = owner == number
        ink |= _screened(item, screen, tone, (free & own_room, line & own_room))
    return _pixels_of(ink, grid, item.ink, f"{item.id}-dots")


def _pixels_of(mask: Mask, grid: Grid, ink: str, id: str) -> Image:
    wide, high = grid.width * grid.pixel, grid.height * grid.pixel
    stencil = Stencil(grid.width, grid.height, np.packbits(mask, axis=1).tobytes(), ink)
    return Image(stencil, Transform(wide, 0, 0, high, -wide / 2, -high / 2), id=id)


def _white(item: Plate, engine: Engine) -> Mask:
    """Where white lies: under what is printed at half strength and more, since a plate prints or does not."""
    printed = engine.group(item.arts, item.grid).cover >= 0.5
    printed &= ~engine.inside(item.cut, item.grid)
    printed |= engine.inside(item.lettering, item.grid)
    printed |= ~engine.inside(item.bled, item.grid)
    area = engine.inside(item.area, item.grid)
    printed &= area | ~engine.inside(item.bled, item.grid)
    return shrunk(printed, item.choke / item.grid.pixel) & area


def _screened(item: Screened, screen: Screen, tone: NDArray[Any], room: tuple[Mask, Mask]) -> Mask:
    """Pixels of one screen's ink, clean at the edges of what is free, and its share of the line that is all ink."""
    pixel, (free, line) = item.grid.pixel, room
    if screen.kind == "dots":
        sizes = (item.dot / pixel + GUARD, item.between / pixel + GUARD)
        lattice = Lattice(MM_PER_INCH / screen.ruling / pixel, radians(screen.angle), *sizes)
        ink = in_round_dots(tone, free & ~line, lattice) | line
        return cleaned(ink, free, (int(item.dot / pixel), int(item.between / pixel)), True)
    least = (ceil(item.dot / pixel - 1e-6), ceil(item.between / pixel - 1e-6))
    return cleaned(in_cells(screen.kind, tone, free & ~line, max(least)) | line, free, least, False)
