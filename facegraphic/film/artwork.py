"""Place artwork in its region: covering, contained, stretched or tiled."""

import math

from fontTools.misc.transform import Transform

from facegraphic.film.screen import screened
from facegraphic.geometry.path import IDENTITY, Box
from facegraphic.geometry.shapes import rectangle
from facegraphic.job.model import Art, Finish, Picture
from facegraphic.scene.scene import Group, Image

SMALLEST_TILE = 3.0
OVERLAP = 0.02  # between tiles, so that no seam shows where two soft edges meet


def placed_art(art: Art, whole: Box, finish: Finish, id: str) -> Group:
    """An art as a group clipped to its region; `whole` is the face with its bleed, the region of full-face art."""
    region = art.region or whole
    boxes = _boxes(art, region)
    turn = IDENTITY.translate(*region.centre).rotate(math.radians(art.angle)).translate(*(-c for c in region.centre))
    images = []
    for number, box in enumerate(boxes):
        place = turn.transform(Transform(box.width, 0, 0, box.height, box.x0, box.y0))
        images.append(_image(art, place, finish, f"{id}-{number + 1}" if len(boxes) > 1 else f"{id}-image"))
    clip = rectangle(region).transformed(turn)
    # A 1-bit process has no opacity: pictures are screened with it, drawings are solid.
    return Group(tuple(images), id, clip=clip, opacity=art.opacity if finish.film.bits > 1 else 1.0)


def _boxes(art: Art, region: Box) -> list[Box]:
    """Where the image stands, once or as often as tiles are needed."""
    width, height = art.image.size
    if art.fit == "stretch":
        return [region]
    if art.fit == "tile":
        wide = max(art.tile, SMALLEST_TILE)
        high = max(wide * height / width, SMALLEST_TILE)
        columns, rows = math.ceil(region.width / wide), math.ceil(region.height / high)
        return [
            Box.centred(wide + OVERLAP, high + OVERLAP, (region.x0 + (i + 0.5) * wide, region.y1 - (j + 0.5) * high))
            for j in range(rows)
            for i in range(columns)
        ]
    ratios = (region.width / width, region.height / height)
    scale = max(ratios) if art.fit == "cover" else min(ratios)
    return [Box.centred(width * scale, height * scale, region.centre)]


def _image(art: Art, transform: Transform, finish: Finish, id: str) -> Image:
    if finish.film.bits > 1:
        return Image(art.image, transform, id=id)
    if isinstance(art.image, Picture):
        dots = screened(art.image, transform, art.opacity, finish.film.line)
        return Image(dots, transform, crisp=True, id=id)
    return Image(art.image, transform, two_tone=True, id=id)
