"""Place artwork in its region: covering, contained, stretched or tiled."""

import math
from dataclasses import replace

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.geometry.path import IDENTITY, Box
from facegraphic.geometry.shapes import rectangle
from facegraphic.job.image import Picture
from facegraphic.job.model import Art
from facegraphic.scene.scene import Group, Image

SMALLEST_TILE = 3.0
OVERLAP = 0.02  # between tiles, so that no seam shows where two soft edges meet
MOST_TILED_PIXELS = 25_000_000


def placed_art(art: Art, whole: Box, id: str) -> Group:
    """An art as a group clipped to its region; `whole` is the face with its bleed, the region of full-face art."""
    region = art.region or whole
    boxes = [_box(art, region)]
    if art.fit == "tile":
        art, boxes = _tiled(art, region)
    turn = IDENTITY.translate(*region.centre).rotate(math.radians(art.angle)).translate(*(-c for c in region.centre))
    images = []
    for number, box in enumerate(boxes, 1):
        place = turn.transform(Transform(box.width, 0, 0, box.height, box.x0, box.y0))
        name = f"{id}-{number}" if len(boxes) > 1 else f"{id}-image"
        images.append(Image(art.image, place, id=name))
    clip = rectangle(region).transformed(turn)
    return Group(tuple(images), id, clip=clip, opacity=art.opacity)


def _box(art: Art, region: Box) -> Box:
    """Where an image stands that is shown once."""
    if art.fit == "stretch":
        return region
    width, height = art.image.size
    ratios = (region.width / width, region.height / height)
    scale = max(ratios) if art.fit == "cover" else min(ratios)
    return Box.centred(width * scale, height * scale, region.centre)


def _tiled(art: Art, region: Box) -> tuple[Art, list[Box]]:
    """A tiled art and its boxes, from the region's upper left corner on.

    Pixels are repeated into one larger picture, since separate pictures would show a seam between them; where that
    would be too large, and for drawings, the tiles overlap by a little instead.
    """
    width, height = art.image.size
    wide = max(art.tile, SMALLEST_TILE)
    high = max(wide * height / width, SMALLEST_TILE)
    columns, rows = math.ceil(region.width / wide), math.ceil(region.height / high)
    picture = art.image
    if isinstance(picture, Picture) and picture.width * picture.height * columns * rows <= MOST_TILED_PIXELS:
        box = Box(region.x0, region.y1 - rows * high, region.x0 + columns * wide, region.y1)
        return replace(art, image=_repeated(picture, columns, rows)), [box]
    corners = [(region.x0 + i * wide, region.y1 - (j + 1) * high) for j in range(rows) for i in range(columns)]
    return art, [Box(x, y, x + wide + OVERLAP, y + high + OVERLAP) for x, y in corners]


def _repeated(picture: Picture, columns: int, rows: int) -> Picture:
    pixels = np.frombuffer(picture.pixels, np.uint8).reshape(picture.height, picture.width, 4)
    many = np.tile(pixels, (rows, columns, 1))
    return Picture(picture.width * columns, picture.height * rows, many.tobytes())
