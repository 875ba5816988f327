"""Rules about artwork's edges: it fills its face and runs on through the bleed, or stays well inside."""

import math
from collections.abc import Iterator
from typing import Any, TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from facegraphic.checks.reach import art_group, images
from facegraphic.errors import Finding
from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import region
from facegraphic.geometry.shapes import polygon
from facegraphic.job.model import Art, Finish
from facegraphic.layout.model import FaceLayout

WOBBLE = 0.5  # mm inside the trim within which art is taken to mean the edge (common practice)
SAFE = 3.0  # mm inside the trim from which on, or from the margin on, a bare rim reads as meant (common practice)
PLAY = 0.05  # mm of bleed that may be missing
SHORT = 5  # mm of edge that art must miss to be told
SURE = 1e-3  # tenths of a mm: areas are grown by a little, so that edges that meet are one
SIDES = 4
MOST = 0.5  # of a side, along which art that ends a little inside it is taken to mean it

Points: TypeAlias = NDArray[np.object_]


def art_short_of_bleed(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Art that means to reach the edge must run on through the bleed, since a knife wobbles (common practice).

    Where it ends a little inside the edge, a bare strip would stay. Under a border of resist neither shows.
    """
    if finish.bleed <= PLAY or finish.border:
        return
    outline = layout.face.outline
    edge = region(outline.path).exterior
    points = shapely.line_interpolate_point(edge, np.arange(0.5, edge.length, 1.0))
    near = min(finish.margin, SAFE) - PLAY
    rings = [region(outline.grown(by).path).exterior for by in (-near, -WOBBLE, finish.bleed - PLAY)]
    for art in layout.face.arts:
        area = _area(art, layout, finish)
        within, at, beyond = (shapely.covers(area, _nearest(points, ring)) for ring in rings)
        short = points[at & ~beyond]
        strip = points[_mostly(within & ~at, points, outline.box)] if near > WOBBLE else points[:0]
        if len(strip):
            short = short[shapely.distance(shapely.multipoints(strip), short) > SAFE]  # the strip's own ends
        short = short if len(short) >= SHORT else points[:0]
        if len(short) or len(strip):
            yield _told(art, area, (short, strip), layout, finish)


def _told(art: Art, area: BaseGeometry, missed: tuple[Points, Points], layout: FaceLayout, finish: Finish) -> Finding:
    """What of the edge an art does not reach, and the size with which it does; points stand 1 mm apart."""
    short, strip = missed
    side, said = layout.face.side, []
    if len(short):
        reach = float(np.quantile(shapely.distance(shapely.boundary(area), short), 0.1))
        past = f"{reach:.1f} mm past it" if reach >= 0.05 else "no further"
        said.append(
            f"comes to the edge of the {side} face but not through the bleed of {finish.bleed:g} mm, along "
            f"{len(short)} mm of edge ({past})"
        )
    if len(strip):
        lacks = float(np.max(shapely.distance(area, strip)))
        said.append(
            f"ends {lacks:.1f} mm inside the edge of the {side} face, along {len(strip)} mm of it: a strip stays bare"
        )
    centre = shapely.centroid(shapely.multipoints(np.concatenate(missed)))
    message = f"the artwork {art.name} {', and '.join(said)}"
    remedy = _remedy(art, area, layout, finish)
    return Finding("art-short-of-bleed", "warning", message, remedy, side, (centre.x, centre.y))


def _remedy(art: Art, area: BaseGeometry, layout: FaceLayout, finish: Finish) -> str:
    """Advise on size and fit with which an art covers the bleed as well: contained in a region it need not fill it."""
    fit = ' and fit = "cover"' if art.fit == "contain" else ""
    trim = layout.face.outline.box
    near, bled = min(finish.margin, SAFE), trim.grown(finish.bleed)
    target = _target(Box(*area.bounds), bled, _met(Box(*area.bounds), trim, near))
    if art.angle % 90:
        if not all(_met(Box(*area.bounds), trim, near)):
            return "make it larger, or lay it straight (angle = 0)"
        target = bled
    for _ in range(SIDES):  # a region grows about its middle: what reaches one side may come near the next
        width, height = _size_to_bleed(art, bled, target)
        reach = (height, width) if art.angle % 180 == 90 else (width, height)
        covered = Box.centred(*reach, (art.region or bled).centre)
        target = target if art.angle % 90 else _target(covered, bled, _met(covered, trim, near))
    size = f"size = [{width:g}, {height:g}]"
    if art.angle % 180:
        return f"give it {size}{fit}"
    fits = fit.removeprefix(" and ")
    if art.region is None:
        return f"give it {fits}: it then fills the face and its bleed"
    whole = f"{fits} and no size and at" if fits else "no size and at"
    return f"give it {size}{fit}, or {whole}: it then fills the face and its bleed"


def _met(art: Box, trim: Box, near: float) -> tuple[bool, bool, bool, bool]:
    """Which sides of the trim an art means: left, right, lower, upper."""
    close = trim.grown(-near)
    return art.x0 < close.x0, art.x1 > close.x1, art.y0 < close.y0, art.y1 > close.y1


def _target(art: Box, bled: Box, met: tuple[bool, bool, bool, bool]) -> Box:
    """What an art has to cover: as far as the bleed where it means the edge, else what it covers now."""
    left, right, lower, upper = met
    return Box(
        min(art.x0, bled.x0) if left else art.x0,
        min(art.y0, bled.y0) if lower else art.y0,
        max(art.x1, bled.x1) if right else art.x1,
        max(art.y1, bled.y1) if upper else art.y1,
    )


def _size_to_bleed(art: Art, bled: Box, target: Box) -> tuple[float, float]:
    """Width and height, up to tenths, of a region in its place and turned as it is that covers a target."""
    (x, y), turn = (art.region or bled).centre, math.radians(art.angle)
    cos, sin = math.cos(turn), math.sin(turn)
    corners = [(px - x, py - y) for px in (target.x0, target.x1) for py in (target.y0, target.y1)]
    width = 2 * max(abs(dx * cos + dy * sin) for dx, dy in corners)
    height = 2 * max(abs(dy * cos - dx * sin) for dx, dy in corners)
    return math.ceil(width * 10 - SURE) / 10, math.ceil(height * 10 - SURE) / 10


def _mostly(some: NDArray[np.bool_], points: Points, box: Box) -> NDArray[np.bool_]:
    """Those of some points that make up the most part of a side of a box."""
    x, y = shapely.get_x(points), shapely.get_y(points)
    side = np.argmin([x - box.x0, box.x1 - x, y - box.y0, box.y1 - y], axis=0)
    most = [number for number in range(4) if some[side == number].mean() >= MOST]
    return np.asarray(some & np.isin(side, most))


def _nearest(points: Points, line: BaseGeometry) -> Any:
    """For each point the nearest one of a line."""
    return shapely.line_interpolate_point(line, shapely.line_locate_point(line, points))


def _area(art: Art, layout: FaceLayout, finish: Finish) -> BaseGeometry:
    """What an art covers of the face: its images' squares within its own region."""
    group = art_group(art, layout, finish)
    square = polygon([(0, 0), (1, 0), (1, 1), (0, 1)])
    squares = [region(square.transformed(place)).buffer(1e-6) for _, place in images(group)]
    whole = shapely.union_all(squares)
    return whole.intersection(region(group.clip).buffer(1e-6)) if group.clip else whole
