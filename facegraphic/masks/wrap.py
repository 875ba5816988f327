"""How a mask goes on past its face, so that no overspray reaches the sides: flaps, ears, folded corners, tabs.

A neighbouring side that the same coat sprays too has a mask of its own: there what is covered runs on over the rounded
edge only, as far as the two masks need to lap. Film folds badly in a corner, so its corners are cut out and ears close
them; paper is kept whole and folded there; a stencil lies flat.
"""

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Point
from facegraphic.geometry.regions import joined, minus, on_grid, region
from facegraphic.masks.regions import NOTHING, FaceCoat
from facegraphic.stock.faces import Outline, Side
from facegraphic.stock.tables import BoxSize

LAP = 2.0  # mm that two masks lap past the rounded edge between them
EAR, EAR_FROM = 6.0, 1.5  # how far an ear reaches round the corner, and how far from the bend it begins
HOLDS = 3.0  # mm from a corner within which something must be covered for flaps to hang on it
TAB = (8.0, 6.0)  # mm along the edge and out from it
# What lies past the lower, right, upper and left edge of a face as it is seen from outside; "" is the lid.
NEIGHBOURS: Mapping[Side, tuple[Side | str, ...]] = {
    "top": ("front", "right", "back", "left"),
    "front": ("", "right", "top", "left"),
    "back": ("", "left", "top", "right"),
    "left": ("", "front", "top", "back"),
    "right": ("", "back", "top", "front"),
}
Line = tuple[Point, Point]


@dataclass(frozen=True)
class Edge:
    """One edge of a face's frame, counter-clockwise, what lies past it and how far a flap reaches there (0: none)."""

    start: Point
    end: Point
    flap: float

    @property
    def out(self) -> Point:
        length = math.dist(self.start, self.end)
        return ((self.end[1] - self.start[1]) / length, (self.start[0] - self.end[0]) / length)

    @property
    def middle(self) -> Point:
        return ((self.start[0] + self.end[0]) / 2, (self.start[1] + self.end[1]) / 2)

    def off(self, at: Point, by: float) -> Point:
        return (at[0] + self.out[0] * by, at[1] + self.out[1] * by)


@dataclass(frozen=True)
class Wrap:
    """What a mask adds round its face: `extra` (it overlaps the cover, so that both are one, and no opening), and the
    lines it is folded at.
    """

    extra: BaseGeometry
    folds: tuple[Line, ...]
    edges: tuple[Edge, ...]


def wrap(one: FaceCoat, opening: BaseGeometry, outline: Outline, box: BoxSize, sprayed: Collection[str]) -> Wrap:
    """The wrap of a mask with this `opening` in its face; `sprayed` are the sides its coat sprays too, "" the lid."""
    cover = minus(on_grid(region(outline.path)), opening)
    edges = tuple(_edges(one, outline, box, sprayed))
    corners = shapely.Polygon([edge.start for edge in edges])
    if one.coat.mask == "stencil" and (cover.area or any(edge.flap for edge in edges)):
        reach = one.coat.overspray
        around = corners.buffer(reach, join_style="mitre") if reach else NOTHING
        return Wrap(minus(around, opening), (), edges)
    parts = [_flap(edge) for edge in edges if edge.flap]
    parts += [_lap(edge, cover, _over(box)) for edge in edges if not edge.flap]
    folds = [(edge.start, edge.end) for edge in edges if edge.flap]
    for before, after in zip(edges, (*edges[1:], edges[0]), strict=True):
        # Where all is open up to a corner, only the corner itself can hold the flap.
        held = not cover.is_empty and cover.distance(shapely.Point(before.end)) <= HOLDS
        folded = one.coat.mask == "paper" or not held
        if before.flap and after.flap and folded:
            parts.append(_gusset(before, after))
            folds += [(before.end, _outer(before, after)), *_carried(before, after)]
        elif before.flap and after.flap:
            parts.append(_ear(before, after))
    flapped = any(edge.flap for edge in edges)
    if flapped:
        parts.append(corners)  # where the corners of the flat are round
    return Wrap(minus(joined(parts), opening), tuple(folds), edges)


def tab(edge: Edge, cover: BaseGeometry) -> BaseGeometry:
    """A tab at the middle of an edge to line the mask up by; nothing where the mask does not reach that edge."""
    middle, half = edge.middle, TAB[0] / 2
    along = (-edge.out[1], edge.out[0])
    ends = [(middle[0] + along[0] * way * half, middle[1] + along[1] * way * half) for way in (-1, 1)]
    inside = shapely.LineString([edge.off(end, -0.05) for end in ends])
    if edge.flap or not cover.contains(inside):
        return NOTHING
    # A hair into the mask, so that the two are one.
    near = [edge.off(end, -1e-6) for end in ends]
    return shapely.Polygon([*near, edge.off(ends[1], TAB[1]), edge.off(ends[0], TAB[1])])


def _edges(one: FaceCoat, outline: Outline, box: BoxSize, sprayed: Collection[str]) -> Iterator[Edge]:
    y, low, high = outline.height / 2, outline.bottom / 2, outline.top / 2
    corners = [(-low, -y), (low, -y), (high, y), (-high, y)]
    # On the top's walls a flap can reach no further down than they do.
    most = box.size[2] + _over(box) if one.side == "top" else math.inf
    for number, past in enumerate(NEIGHBOURS[one.side]):
        flap = 0.0 if past in sprayed else min(one.coat.overspray, most)
        yield Edge(corners[number], corners[(number + 1) % 4], flap)


def _over(box: BoxSize) -> float:
    """The way over a rounded edge: a quarter of a circle, near enough with any draft."""
    return box.edge * math.pi / 2


def _flap(edge: Edge) -> BaseGeometry:
    return shapely.Polygon([edge.start, edge.end, edge.off(edge.end, edge.flap), edge.off(edge.start, edge.flap)])


def _lap(edge: Edge, cover: BaseGeometry, over: float) -> BaseGeometry:
    """What is covered at an edge, carried on past it."""
    line = shapely.LineString([edge.start, edge.end])
    near = line.intersection(cover.buffer(1e-7))
    parts = []
    for part in shapely.get_parts(near):
        if part.geom_type == "LineString" and part.length > 1e-6:
            a, b = part.coords[0], part.coords[-1]
            # It begins a hair within the face, so that it is one with what is covered there.
            ring = [edge.off(a, -1e-6), edge.off(b, -1e-6), edge.off(b, over + LAP), edge.off(a, over + LAP)]
            parts.append(shapely.Polygon(ring))
    return shapely.union_all(parts) if parts else NOTHING


def _outer(before: Edge, after: Edge) -> Point:
    """The outermost point of the corner between two flaps: where their outer edges would meet."""
    return after.off(before.off(before.end, before.flap), after.flap)


def _gusset(before: Edge, after: Edge) -> BaseGeometry:
    at = before.end
    return shapely.Polygon([at, before.off(at, before.flap), _outer(before, after), after.off(at, after.flap)])


def _carried(before: Edge, after: Edge) -> list[Line]:
    """The folds along two edges, carried on through the corner between them."""
    at = before.end
    return [(at, before.off(at, before.flap)), (at, after.off(at, after.flap))]


def _ear(before: Edge, after: Edge) -> BaseGeometry:
    """A tongue on the flap of an upright edge that goes round the corner, under or over the next flap."""
    flapped, other = (before, after) if abs(before.out[0]) > abs(before.out[1]) else (after, before)
    at, deep = before.end, flapped.flap
    reach = min(EAR, other.flap, (deep - EAR_FROM) / 2)
    if reach < 2:
        return NOTHING
    # A hair into the flap, so that the two are one.
    near, far = (other.off(flapped.off(at, by), -1e-3) for by in (EAR_FROM, deep))
    ring = [near, other.off(flapped.off(at, EAR_FROM + reach), reach), other.off(flapped.off(at, deep), reach), far]
    return shapely.Polygon(ring)
