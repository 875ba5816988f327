"""Letters and random shapes as shapely regions, for tests of masks and of fitted curves."""

import math
import random

import shapely
from fontTools.misc.transform import Transform
from helpers.debian import debian_font
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import region
from facegraphic.lettering.font import Font

FONTS = {
    "dejavu": ("fonts-dejavu-core", "truetype/dejavu/DejaVuSans.ttf"),
    "liberation": ("fonts-liberation", "truetype/liberation/LiberationSerif-Bold.ttf"),
    "osifont": ("fonts-osifont", "truetype/osifont/osifont.ttf"),
    "allerta_medium": ("fonts-allerta", "opentype/allerta/allerta_medium.otf"),
    "allerta_stencil": ("fonts-allerta", "opentype/allerta/allerta_stencil.otf"),
}
PLAIN = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
SIGNS = "@#&%"
ACCENTED = "ÀÂÄÅÆÇÈÊËÌÎÏÐÑÒÔÖØÙÛÜÝÞßàâäåæçèêëìîïðñòôöøùûüýþÿŒœŠšŽžŁłĄąĘęŐőŮů"


def font(name: str) -> Font:
    """A font of a Debian package. Fails under CI=true when it is missing, else skips."""
    return Font(name, debian_font(*FONTS[name]).read_bytes())


def letter(face: Font, character: str, cap: float = 20.0) -> BaseGeometry:
    """One character as a region, its font's capitals `cap` mm high; empty where the font lacks it."""
    if ord(character) not in face.characters:
        return Polygon()
    scale = cap / face.cap_height
    glyph = face.shape(character)[0]
    return region(face.outline(glyph.index).transformed(Transform(scale, 0, 0, scale, 0, 0)))


def framed(opening: BaseGeometry, margin: float = 5.0) -> BaseGeometry:
    """A sheet with an opening cut out."""
    x0, y0, x1, y1 = opening.bounds
    return shapely.box(x0 - margin, y0 - margin, x1 + margin, y1 + margin).difference(opening)


def counters(shape: BaseGeometry) -> int:
    """How many closed counters a region has."""
    return sum(len(part.interiors) for part in shapely.get_parts(shape))


def blob(rng: random.Random, at: tuple[float, float], size: float) -> Polygon:
    """A shape with straight or wavy sides round a point, about `size` across."""
    count = rng.choice([3, 4, 5, 7, 40])
    waves, depth, turn = rng.choice([2, 3, 5]), rng.uniform(0, 0.3), rng.uniform(0, math.tau)
    points = []
    for i in range(count):
        angle = turn + math.tau * i / count
        radius = size / 2 * (1 + depth * math.sin(waves * angle)) / (1 + depth)
        points.append((at[0] + radius * math.cos(angle), at[1] + radius * math.sin(angle)))
    return Polygon(points)


def nested(seed: int) -> BaseGeometry:
    """A sheet of 60 x 40 mm with openings, islands in them, openings in those, and so on."""
    rng = random.Random(seed)
    material: BaseGeometry = shapely.box(-30, -20, 30, 20)
    for column in (-18, 0, 18):
        for row in (-9, 9):
            at = (column + rng.uniform(-1, 1), row + rng.uniform(-1, 1))
            opening = blob(rng, at, rng.uniform(10, 17))
            material = material.difference(opening)
            for depth in range(rng.randrange(4)):
                core = opening.buffer(-rng.uniform(1.0, 2.5))
                if core.is_empty:
                    break
                inner = shapely.affinity.translate(core, rng.uniform(-0.5, 0.5), rng.uniform(-0.5, 0.5))
                inner = inner.intersection(opening.buffer(-0.4))
                material = material.difference(inner) if depth % 2 else material.union(inner)
                opening = inner
            if rng.random() < 0.3:
                spot = blob(rng, (at[0] + rng.uniform(-4, 4), at[1] + rng.uniform(-4, 4)), rng.uniform(1, 4))
                material = material.union(spot) if rng.random() < 0.5 else material.difference(spot)
    return material
