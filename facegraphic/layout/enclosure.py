"""Frames while labels are being placed: their line is drawn later, but no label may come to stand in its way.

A frame encloses all that belongs to its holes, so a label of its own makes it grow. A label of another control keeps
out of it, and one of its own may not make it grow over another control, another frame, or the margin.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box
from facegraphic.job.model import Finish, Frame
from facegraphic.layout.candidates import Candidate
from facegraphic.layout.frames import frame_box
from facegraphic.layout.ground import box_region


@dataclass(frozen=True, eq=False)
class Enclosure:
    """A frame and what it holds for certain; `others` are the covers of the controls it does not hold."""

    wish: Frame
    contents: Box
    others: BaseGeometry
    inside: BaseGeometry
    finish: Finish

    def holds(self, candidate: Candidate) -> bool:
        return candidate.label.hole.id in self.wish.holes

    def area(self, more: Box | None = None) -> BaseGeometry:
        """What the frame takes, its title included, once it holds a further box."""
        return _area(self, more)

    @property
    def sound(self) -> bool:
        """Whether the frame has room at all; where it hasn't, no label is to blame."""
        return self._fits(self.area())

    def _fits(self, area: BaseGeometry) -> bool:
        return bool(self.inside.contains(area)) and not area.intersects(self.others)

    def forbids(self, candidate: Candidate) -> bool:
        """Whether a candidate can't stand whatever else is chosen."""
        if self.holds(candidate):
            return self.sound and not self._fits(self.area(candidate.box))
        return bool(self.area().intersects(candidate.keep_out(self.finish.gap)))


@lru_cache(maxsize=8192)
def _area(enclosure: Enclosure, more: Box | None) -> BaseGeometry:
    box = enclosure.contents if more is None else _hull(enclosure.contents, more)
    return box_region(frame_box(enclosure.wish, box, enclosure.finish).whole)


def _hull(a: Box, b: Box) -> Box:
    return Box(min(a.x0, b.x0), min(a.y0, b.y0), max(a.x1, b.x1), max(a.y1, b.y1))


def enclosing(found: Sequence[Candidate], enclosures: Sequence[Enclosure]) -> set[tuple[int, int]]:
    """Pairs of candidates of which one makes a frame grow into the other, or into the frame that holds the other."""
    pairs = set()
    for frame in enclosures:
        members = [index for index, candidate in enumerate(found) if frame.holds(candidate)]
        strangers = [index for index, candidate in enumerate(found) if not frame.holds(candidate)]
        if not members or not strangers:
            continue
        areas = [frame.area(found[index].box) for index in members]
        kept = [found[index].keep_out(frame.finish.gap) for index in strangers]
        for other in enclosures:
            apart = frozenset(other.wish.holes).isdisjoint(frame.wish.holes)  # one frame may stand within another
            held = [index for index in strangers if apart and other.holds(found[index])]
            kept += [other.area(found[index].box) for index in held]
            strangers += held
        meeting = shapely.STRtree(kept).query(areas, predicate="intersects")
        for a, b in zip(*meeting.tolist(), strict=True):
            pairs.add((min(members[a], strangers[b]), max(members[a], strangers[b])))
    return pairs
