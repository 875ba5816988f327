"""Where a control's label may stand: for each place, out from the hole to where it first clears its own parts.

This is the door for a better solver: a `Candidate` says where a legend would stand and what it would take, and
`choose` picks one for each label.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.job.model import ARCS, Control, Finish, Hole, Place
from facegraphic.layout.cover import reach
from facegraphic.layout.ground import box_region, legend_area
from facegraphic.layout.model import Legend
from facegraphic.lettering.fitting import Fitting, fittings
from facegraphic.lettering.library import condensed_of
from facegraphic.lettering.text import Block, Style, line_length, set_arc, set_block

STEP = 0.1
FARTHEST = 25.0
FARTHEST_ROUND = math.radians(300)
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
        if place in ARCS:
            middle = self.control.arc_middle
            block = set_arc(self.line, self.fitting.style, distance, middle, place == "under").moved(
                self.hole.x, self.hole.y
            )
        else:
            block = self.block.moved(*self._shift(place, distance))
        legend = Legend(block, "label", place, self.finish.ink, self.hole.id)
        return Candidate(legend, legend_area(legend), place, distance, self.fitting.change)

    @property
    def line(self) -> str:
        """The text in one line, as it stands on an arc."""
        return self.fitting.text.replace("\n", " ")

    @cached_property
    def block(self) -> Block:
        """The text as a block round its own origin, set once."""
        return set_block(self.fitting.text, self.fitting.style)

    def _shift(self, place: Place, distance: float) -> tuple[float, float]:
        """How far the block moves so that its body begins `distance` mm from the hole's centre towards a place."""
        high, wide = distance + self.block.body.height / 2, distance + self.block.ink.width / 2
        steps = {"below": (0.0, -high), "above": (0.0, high), "right": (wide, 0.0), "left": (-wide, 0.0)}
        dx, dy = steps[place]
        return self.hole.x + dx, self.hole.y + dy

    def _area(self, place: Place, distance: float) -> BaseGeometry:
        """What the label would take, found without building it where that is a box."""
        if place in ARCS:
            return self.at(place, distance).area
        return box_region(self.block.ink.moved(*self._shift(place, distance)))

    def nearest(self, place: Place, clear: Callable[[BaseGeometry], bool] | None = None) -> Candidate | None:
        """The candidate nearest to the hole that clears what is its own, and `clear` of it if asked."""
        own = shapely.union_all(self.own) if self.own else None
        start = reach(self.hole, self.control, BEARINGS.get(place, 0.0)) + self.finish.gap
        last = start + FARTHEST
        if place in ARCS:
            # A text that goes round more of its circle than this would meet its own beginning.
            start = max(start, line_length(self.line, self.fitting.style) / FARTHEST_ROUND)
        for step in range(max(0, int((last - start) / STEP))):
            distance = start + step * STEP
            area = self._area(place, distance)
            if own is None or own.distance(area) >= self.finish.gap - 1e-9:
                return self.at(place, distance) if clear is None or clear(area) else None
        return None
