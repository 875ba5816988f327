"""Rules about artwork's pixels, and about the metal between holes."""

import math
from collections.abc import Iterator

import shapely
from fontTools.misc.transform import Transform

from facegraphic.checks.pairs import close_pairs
from facegraphic.errors import Finding
from facegraphic.film.artwork import placed_art
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.image import Picture
from facegraphic.job.model import Art, Finish
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Group, Image, walk
from facegraphic.units import MM_PER_INCH

FINE, LINE_ART = 300.0, 1200.0  # pixels to the inch of photos and of line art: two print houses' specifications
WEB = 2.0  # mm of metal to leave between holes and beside an edge: about the wall of a die-cast box (common practice)


def art_group(art: Art, layout: FaceLayout, finish: Finish) -> Group:
    """An art as it is placed on its face."""
    return placed_art(art, layout.face.outline.box.grown(finish.bleed), "art")


def images(group: Group) -> Iterator[tuple[Image, Transform]]:
    """The images of a placed art with the transforms that carry their unit squares to the face."""
    for item, place in walk((group,)):
        if isinstance(item, Image):
            yield item, place.transform(item.transform)


def picture_coarse(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A picture shows its pixels under 300 to the inch, line art (two colours) under 1200: two print houses.

    Where pictures are screened, more than a pixel to a dot is lost, so that much is enough there.
    """
    for art in layout.face.arts:
        if not isinstance(art.image, Picture) or (many := art.image.tones) == 1:
            continue
        wanted = LINE_ART if many == 2 else FINE
        if finish.film.bits == 1:
            wanted = min(wanted, _dots_an_inch(art, finish))
        finest = math.inf
        for image, (xx, xy, yx, yy, _, _) in images(art_group(art, layout, finish)):
            if isinstance(image.content, Picture):
                sizes = (image.content.width / math.hypot(xx, xy), image.content.height / math.hypot(yx, yy))
                finest = min(finest, *(size * MM_PER_INCH for size in sizes))
        if finest < wanted - 0.5:
            kind = "line art" if many == 2 else "a picture"
            message = f"{art.name} has {finest:.0f} pixels to the inch at its placed size; {kind} wants {wanted:.0f}"
            share = wanted / finest
            remedy = f"use a picture {share:.1f} times as wide and high in pixels, or show it {share:.1f} times smaller"
            at = art.region.centre if art.region else None
            yield Finding("picture-coarse", "warning", message, remedy, layout.face.side, at)


def _dots_an_inch(art: Art, finish: Finish) -> float:
    """How many dots to the inch a screen has at most, or cells of dots."""
    return art.screen.ruling if art.screen.kind == "dots" else MM_PER_INCH / max(finish.least_line, finish.least_gap)


def holes_close(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """A web of 2 mm of metal is to stay between holes and beside the edge of the flat (common practice)."""
    face, edge = layout.face, region(layout.face.outline.path)
    rims = [shapely.Point(hole.x, hole.y).buffer((hole.d + WEB) / 2) for hole in face.holes]
    for i, j in close_pairs(rims):
        one, other = face.holes[j], face.holes[i]
        web = math.hypot(one.x - other.x, one.y - other.y) - (one.d + other.d) / 2
        if web < WEB - 1e-9:
            left = f"only {web:.1f} mm of metal stay between" if web > 0 else "no metal stays between"
            message = f"{left} holes {one.id} and {other.id}; {WEB:g} mm hold"
            at = ((one.x + other.x) / 2, (one.y + other.y) / 2)
            remedy = f"move them {WEB - web:.1f} mm further apart, or drill them smaller"
            yield Finding("holes-close", "warning", message, remedy, face.side, at)
    for hole in face.holes:
        if not edge.contains(disc_region(hole.x, hole.y, hole.d)):
            continue  # told by hole_over_edge
        web = edge.exterior.distance(shapely.Point(hole.x, hole.y)) - hole.d / 2
        if web < WEB - 1e-9:
            message = f"hole {hole.id} is {web:.1f} mm from the edge of the {face.side} face; {WEB:g} mm hold"
            remedy = f"move it {WEB - web:.1f} mm inwards, or drill it smaller"
            yield Finding("hole-near-edge", "warning", message, remedy, face.side, (hole.x, hole.y))
