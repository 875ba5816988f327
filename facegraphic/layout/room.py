"""What labels must keep clear of, asked in bulk: thousands of places are tried on a full face."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box
from facegraphic.layout.ground import box_region
from facegraphic.layout.model import Legend

# NUREG-0700 Rev 3, 11.4.1.5-7: words at least a character's width apart, lines at least half a character's height.
WORD_GAP = 0.7  # a character's width, as a share of the capitals' height (between 3:5 and 1:1, the same source)
LINE_GAP = 0.5
TOLERANCE = 0.01  # mm: circles are measured on polygons round them


def text_gaps(cap: float, gap: float) -> tuple[float, float]:
    """How far other lettering stays away sideways and upright, in mm, so that two legends never read as one."""
    return max(gap, WORD_GAP * cap), max(gap, LINE_GAP * cap)


def apart(legend: Legend, gap: float) -> BaseGeometry:
    """What a standing legend takes from labels: its box, grown by what lettering needs beyond the common gap."""
    across, along = text_gaps(legend.block.cap, gap)
    box = legend.box
    return box_region(Box(box.x0 - across + gap, box.y0 - along + gap, box.x1 + across - gap, box.y1 + along - gap))


class Room:
    """The ground that labels may stand on: `inside` an area, `gap` mm from everything that stands there already."""

    def __init__(self, inside: BaseGeometry, gap: float, standing: Sequence[tuple[str, BaseGeometry]]) -> None:
        shapely.prepare(inside)
        self.inside = inside
        self.gap = gap
        self.owners = [owner for owner, _ in standing]
        self.taken = [area for _, area in standing]
        self._tree = shapely.STRtree(self.taken)

    def clear(self, areas: NDArray[np.object_]) -> NDArray[np.bool_]:
        """Whether each of many areas lies inside and keeps its gap to all that stands."""
        if not len(areas):
            return np.zeros(0, dtype=bool)
        found = np.asarray(shapely.contains(self.inside, areas), dtype=bool)
        if self.taken:
            near = self._tree.query(areas, predicate="dwithin", distance=self.gap - TOLERANCE)
            found[near[0]] = False
        return found

    def blockers(self, area: BaseGeometry) -> list[str]:
        """What keeps an area from standing, named for a person."""
        near = self._tree.query(area, predicate="dwithin", distance=self.gap - TOLERANCE) if self.taken else []
        names = [self.owners[index] for index in sorted(near)]
        return list(dict.fromkeys(names)) + ([] if self.inside.contains(area) else ["the margin"])
