"""The room on a face: where lettering may stand, and what stands there already."""

import copy

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import region
from facegraphic.job.model import ARCS, Face, Finish
from facegraphic.layout.cover import cover_region
from facegraphic.layout.free_space import free_in, grown, without
from facegraphic.layout.model import Legend, Mark

SLAB = 0.25  # how far, in mm, the boxes that cover a round shape may reach past it
MARK_NAMES = {"frame": "a frame", "line": "a section line"}


def box_region(box: Box) -> BaseGeometry:
    return shapely.box(box.x0, box.y0, box.x1, box.y1)


def legend_area(legend: Legend) -> BaseGeometry:
    """What a legend takes: the box of its ink, or its outline where it is bent round a control."""
    bent = legend.role == "label" and legend.place in ARCS
    return region(legend.path) if bent else box_region(legend.box)


def mark_owner(mark: Mark) -> str:
    """What messages call that which a mark belongs to."""
    return MARK_NAMES.get(mark.role, f"the scale of {mark.hole}")


class Ground:
    """What is taken on one face. Grows as legends are placed; lettering counts by the box of its ink."""

    def __init__(self, face: Face, finish: Finish) -> None:
        self.gap = finish.gap
        self.inside = region(face.outline.grown(-finish.margin).path)
        self._owners: list[str] = []
        self._taken: list[BaseGeometry] = []
        self._bounds: NDArray[np.float64] | None = None  # of all that is taken, once somebody asks
        self._rooms: tuple[int, list[Box]] = (0, [])  # what was free when so many things stood here
        for hole in face.holes:
            self.take(f"hole {hole.id}", cover_region(hole, face.control(hole.id)))

    def copy(self) -> "Ground":
        """Another ground on which the same stands, to be built on by itself."""
        other = copy.copy(self)
        other._owners, other._taken = list(self._owners), list(self._taken)
        return other

    def take(self, owner: str, area: BaseGeometry) -> None:
        shapely.prepare(area)
        self._owners.append(owner)
        self._taken.append(area)
        self._bounds = None

    def take_legend(self, legend: Legend) -> None:
        self.take(legend.name, legend_area(legend))

    def take_mark(self, mark: Mark) -> None:
        self.take(mark_owner(mark), region(mark.path))

    def clearance(self, area: BaseGeometry) -> float:
        """Distance in mm to the nearest thing that stands there; 0 when they touch or overlap."""
        return float(min(shapely.distance(self._taken, area), default=float("inf")))

    def fits(self, area: BaseGeometry) -> bool:
        """Whether an area lies inside the margin and keeps its gap to all that is taken."""
        return bool(self.inside.contains(area)) and not self._too_near(area)

    def _too_near(self, area: BaseGeometry) -> list[int]:
        """What stands less than the gap away, by number. Boxes tell at once of most things that they are far off."""
        if self._bounds is None:
            self._bounds = shapely.bounds(np.array(self._taken, dtype=object))
        x0, y0, x1, y1 = area.bounds
        dx = np.maximum(self._bounds[:, 0] - x1, x0 - self._bounds[:, 2])
        dy = np.maximum(self._bounds[:, 1] - y1, y0 - self._bounds[:, 3])
        near = np.flatnonzero((dx < self.gap) & (dy < self.gap)).tolist()
        return [index for index in near if shapely.distance(self._taken[index], area) < self.gap - 1e-9]

    def free(self) -> list[Box]:
        """All the largest rectangles that are free for lettering; see `free_in` for how closely they are found."""
        count, rooms = self._rooms
        if not count:
            rooms = free_in(self.inside, self._taken, self.gap, SLAB)
        elif count < len(self._taken):
            for box in grown(np.array(self._taken[count:], dtype=object), self.gap, SLAB):
                rooms = without(rooms, box)
        self._rooms = (len(self._taken), rooms)
        return rooms

    def blockers(self, area: BaseGeometry) -> list[str]:
        """What keeps an area from standing, named for a person."""
        near = [self._owners[index] for index in self._too_near(area)]
        return list(dict.fromkeys(near)) + ([] if self.inside.contains(area) else ["the margin"])
