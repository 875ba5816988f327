"""What colours a face has: in the end, and after each coat."""

from collections.abc import Sequence
from dataclasses import dataclass

from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import areal
from facegraphic.masks.regions import FaceCoat, covers


@dataclass(frozen=True)
class Colour:
    """An area of one colour: that of coat `number`, 0 for the box itself."""

    number: int
    paint: str
    area: BaseGeometry


def colour_map(face: BaseGeometry, coats: Sequence[FaceCoat], paint: str) -> tuple[Colour, ...]:
    """The colours that are to be seen in the end, from the coats' regions alone; they tile the face. `paint` is the
    box's own colour.
    """
    bare = face
    for one in coats:
        if covers(one.coat):
            bare = bare.difference(one.region)
    found = [Colour(0, paint, areal(bare))]
    found += [Colour(one.number, one.coat.paint or paint, one.shows) for one in coats if covers(one.coat)]
    return tuple(colour for colour in found if not colour.area.is_empty)


def after(face: BaseGeometry, coats: Sequence[FaceCoat], paint: str, number: int) -> tuple[Colour, ...]:
    """The colours of a face once coats up to `number` have been sprayed through their masks; they tile the face."""
    layers = [Colour(0, paint, face)]
    for one in coats:
        if one.number <= number and covers(one.coat):
            layers = [Colour(old.number, old.paint, areal(old.area.difference(one.opening))) for old in layers]
            layers.append(Colour(one.number, one.coat.paint or paint, one.opening))
    return tuple(colour for colour in layers if not colour.area.is_empty)
