"""From coats to what each mask opens and covers on a face, exactly, in face mm.

A coat is sprayed over its whole region; where later coats go over it they are sprayed on top, so that their outlines
are cut once only. Where a later coat lies beside it, it runs on under that by the trap: no bare line shows when the
later mask lies a little off. It never runs out from under later coats, so the trap shows nowhere.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import joined, minus, on_grid, region, shared
from facegraphic.job.model import Coat, Painted, Region
from facegraphic.layout.model import FaceLayout
from facegraphic.stock.faces import Side

NOTHING = shapely.Polygon()
ROUND = 16  # segments of a quarter circle where the trap runs round a corner
LEAST = 1e-9  # mm²: less is what sums of floats leave over


@dataclass(frozen=True)
class FaceCoat:
    """One coat on one face. `number` is its place in spraying order, from 1.

    `region` is what is to be sprayed, `shows` what of it is seen in the end, `opening` what its mask leaves open and
    `cover` what of the face it covers: these two tile the face.
    """

    number: int
    coat: Coat
    side: Side
    region: BaseGeometry
    shows: BaseGeometry
    opening: BaseGeometry
    cover: BaseGeometry

    @property
    def whole(self) -> bool:
        """Whether all of the face is sprayed, so that no mask lies on it."""
        return bool(self.cover.area <= LEAST)


def face_region(layout: FaceLayout) -> BaseGeometry:
    """The flat of a face."""
    return on_grid(region(layout.face.outline.path))


def face_coats(layout: FaceLayout, coats: Sequence[Coat]) -> tuple[FaceCoat, ...]:
    """The coats that spray anything of a face, in spraying order."""
    face = face_region(layout)
    wanted = [_sprayed(coat, layout, face) for coat in coats]
    made = []
    for index, (coat, area) in enumerate(zip(coats, wanted, strict=True)):
        if area.is_empty:
            continue
        paints = [other for later, other in zip(coats[index + 1 :], wanted[index + 1 :], strict=True) if covers(later)]
        later = joined(paints)
        shows = minus(area, later) if covers(coat) else NOTHING
        opening = area
        if coat.trap and not (shows.is_empty or later.is_empty):
            under = shared(shows.buffer(coat.trap, quad_segs=ROUND), later)
            opening = joined([area, under])
        cover = minus(face, opening)
        made.append(FaceCoat(index + 1, coat, layout.face.side, area, shows, opening, cover))
    return tuple(made)


def covers(coat: Coat) -> bool:
    """Whether a coat hides what lies under it."""
    return coat.kind != "clear"


def asked_region(coat: Coat, layout: FaceLayout) -> BaseGeometry:
    """All that a coat asks for, also past the edges of a face."""
    parts = [region(path) for path in coat.shapes]
    parts += [_named(coat.where, layout)] if coat.where is not None else []
    kept = _named(coat.keep, layout) if coat.keep is not None else NOTHING
    return minus(joined(parts), kept)


def _sprayed(coat: Coat, layout: FaceLayout, face: BaseGeometry) -> BaseGeometry:
    if layout.face.side not in coat.sides:
        return NOTHING
    area = shared(asked_region(coat, layout), face)
    return area if area.area > LEAST else NOTHING


def _named(what: Region, layout: FaceLayout) -> BaseGeometry:
    """A region by its name: all of the face, its lettering with scales and lines, or what its frames enclose."""
    if isinstance(what, Painted):
        return what.area
    if what == "everything":
        return face_region(layout)
    if what == "legends":
        letters = [region(legend.path) for legend in layout.legends if legend.path]
        return shapely.union_all(
            [*letters, *(region(mark.path, mark.rule) for mark in layout.marks if mark.role != "frame")]
        )
    frames = [region(mark.path, mark.rule) for mark in layout.marks if mark.role == "frame"]
    return shapely.union_all([frame.convex_hull for frame in frames])
