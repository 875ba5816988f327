"""Where a control's label may stand: for each place, out from the hole to where it first clears its own parts.

This is the door for a better solver: a `Candidate` says where a legend would stand and what it would take, and
`choose` picks one for each label.
"""

from collections.abc import Callable
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import region
from facegraphic.job.model import Control, Finish, Hole, Place
from facegraphic.layout.cover import reach
from facegraphic.layout.ground import box_region
from facegraphic.layout.model import Legend
from facegraphic.lettering.fitting import Fitting, fittings
from facegraphic.lettering.library import condensed_of
from facegraphic.lettering.text import Block, Style, set_arc, set_block

STEP = 0.1
FARTHEST = 25.0
ORDERS: tuple[tuple[Place, ...], ...] = (("below", "above"), ("right", "left"))
BEARINGS: dict[Place, float] = {"above": 0.0, "right": 90.0, "below": 180.0, "under": 180.0, "left": 270.0}


@dataclass(frozen=True)
class Candidate:
    """A legend that could stand, its near side `distance` mm from the hole's centre, and the area it would take."""

    legend: Legend
    area: BaseGeometry
    place: Place
    distance: float
    change: str = ""


@dataclass(frozen=True)
class LabelMaker:
    """Makes candidates for one control's label, set in one way.

    `own` is what the control itself takes, beside its cover; `fitting` says how the label is set.
    """

    hole: Hole
    control: Control
    finish: Finish
    own: tuple[BaseGeometry, ...]
    fitting: Fitting

    @classmethod
    def ways(
        cls, hole: Hole, control: Control, finish: Finish, own: tuple[BaseGeometry, ...]
    ) -> tuple["LabelMaker", ...]:
        """A maker for every way to set the control's label, as asked first."""
        style = Style(finish.font, control.cap)
        ways = fittings(control.label, style, condensed_of(finish.font), finish.film.text)
        return tuple(cls(hole, control, finish, own, way) for way in ways)

    @property
    def only_smaller(self) -> bool:
        """Whether the label is set as asked but for its size."""
        return self.fitting.text == self.control.label and self.fitting.style.font is self.finish.font

    def at(self, place: Place, distance: float) -> Candidate:
        """The label at a place, its near side `distance` mm from the hole's centre."""
        text, style = self.fitting.text, self.fitting.style
        if place in ("around", "under"):
            block = set_arc(text.replace("\n", " "), style, distance, *((180.0, True) if place == "under" else ()))
        else:
            block = _beside(set_block(text, style), place, distance)
        block = block.moved(self.hole.x, self.hole.y)
        legend = Legend(block, "label", place, self.finish.ink, self.hole.id)
        area = region(block.path) if place in ("around", "under") else box_region(block.ink)
        return Candidate(legend, area, place, distance, self.fitting.change)

    def nearest(self, place: Place, clear: Callable[[BaseGeometry], bool] | None = None) -> Candidate | None:
        """The candidate nearest to the hole that clears what is its own, and `clear` of it if asked."""
        own = shapely.union_all(self.own) if self.own else None
        start = reach(self.hole, self.control, BEARINGS.get(place, 0.0)) + self.finish.gap
        for step in range(int(FARTHEST / STEP)):
            candidate = self.at(place, start + step * STEP)
            if own is None or own.distance(candidate.area) >= self.finish.gap - 1e-9:
                return candidate if clear is None or clear(candidate.area) else None
        return None


def _beside(block: Block, place: Place, start: float) -> Block:
    """A block whose body begins `start` mm from the origin in the direction of a place."""
    if place == "below":
        return block.moved(0, -start - block.body.height / 2)
    if place == "above":
        return block.moved(0, start + block.body.height / 2)
    away = start + block.ink.width / 2
    return block.moved(away if place == "right" else -away, 0)
