"""The smallest width and radius that a knife or plotter cuts: thin parts merged or told, corners rounded.

A part that is too thin goes to what stands on both sides of it. A thread of mask between two openings tears or curls
when the film is weeded and lets paint creep under it, so it is opened; a hairline opening cannot be weeded nor
painted with a clean edge, so it stays covered. Where stripes of both are too thin nothing can be right: what is left
after a few rounds is told. Both sides run on past the face's edge, as film and paint do, so that an edge makes nothing
thin. Morphology by discs: a part is thin where no disc of the width fits in that touches it.
"""

import math
from dataclasses import dataclass
from typing import Literal

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from facegraphic.geometry.fit_curves import polygons_of
from facegraphic.geometry.regions import joined, minus, shared

Side = Literal["mask", "opening"]

QUARTER = 16  # segments of a quarter circle in offsets
# What a disc leaves out in a corner of 90 degrees reaches 0.41 radii from it. Beyond this share of the radius a rest
# is a thin part and not a corner; corners sharper than about 84 degrees count as thin at their tips.
CORNER_REACH = 0.5
ROUNDS = 8
SPOT = 0.01  # of the radius squared: an unsettled spot and no roundness of offsets
DUST_MM2 = 1e-4
NOISE_MM = 0.0005  # offsets heap up points; those nearer than this to a straight line are dropped
# What is just as wide or round as asked must pass, whatever offsets round off: discs are a little smaller than asked.
JUST = 0.998


@dataclass(frozen=True)
class Sliver:
    """A thin part: its shape, the side that it was of, its thickness in mm, and whether it was given to the other."""

    shape: Polygon
    side: Side
    thickness: float
    merged: bool


@dataclass(frozen=True)
class Settled:
    """Opening and mask of a face after all that is too thin was merged; together they tile the face as before.

    `opened` and `covered` are the areas (mm²) that changed side, corners included.
    """

    opening: BaseGeometry
    mask: BaseGeometry
    slivers: tuple[Sliver, ...]
    opened: float
    covered: float

    @property
    def left(self) -> tuple[Sliver, ...]:
        """What is still too thin."""
        return tuple(sliver for sliver in self.slivers if not sliver.merged)


def thin_parts(area: BaseGeometry, width: float) -> list[Polygon]:
    """The parts of a region where no disc of this width fits, corners left out."""
    width *= JUST
    rest = area.difference(_opened(area, width / 2).buffer(1e-6))
    if rest.is_empty:
        return []
    core = area.buffer(-width / 2, quad_segs=QUARTER)
    reach = (1 + CORNER_REACH) * width / 2
    return [part for part in polygons_of(rest) if part.area > DUST_MM2 and _stands_off(part, core, reach)]


def settled(
    opening: BaseGeometry, face: BaseGeometry, width: float, radius: float = 0.0, merge: bool = True
) -> Settled:
    """Give thin parts of a face's opening and mask to the other side, and round the corners.

    :param width: the narrowest part that can be cut, mm
    :param radius: the least radius of corners of either side, mm; 0 leaves them as they are. What is narrower than
        two of it has no room for such corners and counts as thin
    :param merge: False only tells the thin parts
    """
    opening = shared(opening, face)
    width = max(width, 2 * radius)
    room = _Room(face, width)
    before = opening
    told: list[Sliver] = []
    if merge:
        for _ in range(ROUNDS):
            opening, found = _merged(opening, room, width)
            told += found
            if not found:
                break
        if radius > 0:
            opening = rounded(opening, face, radius)
    told += [
        Sliver(part, side, _thickness(part), False)
        for side in ("mask", "opening")
        for part in _thin(room, opening, side, width)
    ]
    mask = face.difference(opening)
    opened, covered = opening.difference(before).area, before.difference(opening).area
    return Settled(opening, mask, tuple(told), opened, covered)


def rounded(opening: BaseGeometry, face: BaseGeometry, radius: float) -> BaseGeometry:
    """The opening with no corner of it or of the mask sharper than a radius; straight edges stay where they are.

    Where two openings meet corner to corner both sides want the same spot. It is left covered, with more round it
    each time, until both are round: paint that lacks is mended sooner than paint too much.
    """
    room, just = _Room(face, radius), radius * JUST
    for number in range(ROUNDS):
        opening = minus(face, _opened(room.mask(opening), just))  # the mask's corners
        opening = _plain(_opened(room.opening(opening), just).intersection(opening))  # the opening's own
        whole = room.mask(opening)
        rest = whole.difference(_opened(whole, just)).intersection(face)
        spots = [part for part in polygons_of(rest) if part.area > SPOT * radius**2]
        if not spots:
            break
        if number:
            opening = opening.difference(unary_union(spots).buffer(radius * number))
    return opening


@dataclass(frozen=True)
class _Room:
    """A face with a rim round it, which is mask to the mask and opening to the opening."""

    face: BaseGeometry
    reach: float

    @property
    def rim(self) -> BaseGeometry:
        return self.face.buffer(4 * self.reach, join_style="mitre").difference(self.face)

    def opening(self, opening: BaseGeometry) -> BaseGeometry:
        # Dropped points may leave hairlines along the edge, which must not part the opening from its rim.
        return unary_union([opening.buffer(2 * NOISE_MM, join_style="mitre"), self.rim])

    def mask(self, opening: BaseGeometry) -> BaseGeometry:
        return joined([minus(self.face, opening), self.rim])


def _thin(room: _Room, opening: BaseGeometry, side: Side, width: float) -> list[Polygon]:
    whole = room.mask(opening) if side == "mask" else room.opening(opening)
    inside = (part.intersection(room.face) for part in thin_parts(whole, width))
    return [piece for part in inside for piece in polygons_of(part) if piece.area > DUST_MM2]


def _merged(opening: BaseGeometry, room: _Room, width: float) -> tuple[BaseGeometry, list[Sliver]]:
    """One round: threads of mask are opened, then hairlines of opening covered."""
    threads = _thin(room, opening, "mask", width)
    opening = unary_union([opening, _grown(threads).intersection(room.face)])
    hairs = _thin(room, opening, "opening", width)
    opening = _plain(opening.difference(_grown(hairs)))
    found = [Sliver(part, "mask", _thickness(part), True) for part in threads]
    return opening, found + [Sliver(part, "opening", _thickness(part), True) for part in hairs]


def _opened(area: BaseGeometry, radius: float) -> BaseGeometry:
    """What discs of a radius that fit into a region cover of it."""
    # The way out is cut to the region: offsets of polygons may stray by the discs' own roundness.
    core = area.buffer(-radius, quad_segs=QUARTER)
    return core.buffer(radius, quad_segs=QUARTER).intersection(area)


def _grown(parts: list[Polygon]) -> BaseGeometry:
    """Thin parts as they are merged: a micron larger, so that no crack stays round them."""
    return unary_union(parts).buffer(2 * NOISE_MM, join_style="mitre")


def _plain(area: BaseGeometry) -> BaseGeometry:
    """A region without the lines, points and crowded points that booleans and offsets leave."""
    return unary_union(polygons_of(area.simplify(NOISE_MM)))


def _stands_off(part: Polygon, core: BaseGeometry, reach: float) -> bool:
    """Whether a part reaches further from where the disc's middle can be than a corner does."""
    if core.is_empty:
        return True
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(part, reach / 4)))
    return bool(shapely.distance(points, core).max() > reach + 1e-6)


def _thickness(part: Polygon) -> float:
    """The diameter of the largest disc that fits into a part."""
    return 2 * float(shapely.maximum_inscribed_circle(part, tolerance=math.sqrt(part.area) / 100).length)
