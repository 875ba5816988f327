"""Find room for the guide's words beside its holes and lines: the first place of a list where nothing is in the way.

Unlike legends on the box these are read once, at the bench: clear of everything is enough. Page mm, x right, y up.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from facegraphic.film.face import BLACK
from facegraphic.film.guide_text import Hand
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.geometry.shapes import bar
from facegraphic.scene.scene import Fill

GAP = 0.7  # between words and what is near them
LEADER_WIDE = 0.12
# Sideways, then above and below, then aslant: where the eye looks for a word that belongs to a hole.
WAYS = ((0, -1), (0, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1))
REACHES = (0.0, 1.5, 3.0, 5.0, 8.0, 12.0, 17.0, 24.0, 32.0)
LED = 2.5  # from here on a leader shows whose word it is
Spot = tuple[float, float, float]


@dataclass
class Ground:
    """What is taken: boxes, and discs as x, y, radius. Words may stand within `page` only."""

    page: Box
    boxes: list[Box] = field(default_factory=list)
    discs: list[Spot] = field(default_factory=list)

    def free(self, box: Box, pad: float = 0.0) -> bool:
        """Whether a box keeps `GAP` from all that is taken, and `pad` more from the discs."""
        page = self.page
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1:
            return False
        if self.boxes:
            own = np.asarray(self.boxes)
            apart = (own[:, 0] >= box.x1 + GAP) | (own[:, 2] <= box.x0 - GAP)
            apart |= (own[:, 1] >= box.y1 + GAP) | (own[:, 3] <= box.y0 - GAP)
            if not apart.all():
                return False
        if not self.discs:
            return True
        x, y, radius = np.asarray(self.discs).T
        dx = np.maximum(np.maximum(box.x0 - x, x - box.x1), 0)
        dy = np.maximum(np.maximum(box.y0 - y, y - box.y1), 0)
        return bool((np.hypot(dx, dy) >= radius + GAP + pad).all())

    def line(self, start: Point, end: Point) -> None:
        """Take a straight line, in short boxes so that a slanting one takes no more than it needs."""
        count = max(1, math.ceil(math.dist(start, end) / 3))
        xs, ys = (np.linspace(a, b, count + 1) for a, b in zip(start, end, strict=True))
        for x0, x1, y0, y1 in zip(xs, xs[1:], ys, ys[1:], strict=False):
            self.boxes.append(Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)))

    def crosses_nothing(self, start: Point, end: Point) -> bool:
        """Whether a leader keeps clear of what is taken, but for the hole that it begins at."""
        for share in np.linspace(0.1, 1, max(2, math.ceil(math.dist(start, end) / 1.5))):
            x, y = start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])
            if any(b.x0 - 0.2 < x < b.x1 + 0.2 and b.y0 - 0.2 < y < b.y1 + 0.2 for b in self.boxes):
                return False
            if any(math.hypot(x - cx, y - cy) < radius + 0.2 for cx, cy, radius in self.discs) and share > 0.3:
                return False
        return True


def near_hole(ground: Ground, hole: Spot, wordings: Sequence[tuple[str, Hand]], within: Sequence[Box]) -> list[Fill]:
    """The fullest wording that has room beside a hole, within its panel if it can; taken from the ground.

    There is always room for a number beside or at the end of a leader, unless the page is covered all over: then
    nothing is drawn, and the table's figures stand alone.
    """
    set_ = [(hand.block(text), text) for text, hand in wordings]
    tries = [(limit, reaches) for reaches in (REACHES[:2], REACHES[2:]) for limit in (*within, ground.page)]
    for limit, reaches in tries:
        for path, _ in set_:
            for reach, box in _spots(path.bounds, hole, reaches):
                if not _in(box, limit) or not ground.free(box):
                    continue
                start, end = _leader(hole, box)
                if reach >= LED and not ground.crosses_nothing(start, end):
                    continue
                return _placed(ground, path, box, (start, end) if reach >= LED else None)
    return []


def _placed(ground: Ground, path: Path, box: Box, leader: tuple[Point, Point] | None) -> list[Fill]:
    ground.boxes.append(box)
    ink = path.bounds
    fills = [Fill(path.moved(box.x0 - ink.x0, box.y0 - ink.y0), BLACK)]
    if leader:
        ground.line(*leader)
        fills.append(Fill(bar(*leader, LEADER_WIDE), BLACK))
    return fills


def _spots(ink: Box, hole: Spot, reaches: Iterable[float]) -> Iterator[tuple[float, Box]]:
    """Boxes for a wording round a hole, the nearest first."""
    x, y, radius = hole
    for reach in reaches:
        off = radius + GAP + 0.1 + reach
        for right, up in WAYS:
            share = math.sqrt(0.5) if right and up else 1.0
            cx = x + right * (off * share + ink.width / 2)
            cy = y + up * (off * share + ink.height / 2)
            yield reach, Box.centred(ink.width, ink.height, (cx, cy))


def _leader(hole: Spot, box: Box) -> tuple[Point, Point]:
    """From the rim of a hole to the nearest point of a word's box, short of both."""
    x, y, radius = hole
    end = (min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1))
    length = max(math.dist((x, y), end), 1e-6)
    ux, uy = (end[0] - x) / length, (end[1] - y) / length
    return (x + ux * radius, y + uy * radius), (end[0] - ux * 0.4, end[1] - uy * 0.4)


def in_panel(ground: Ground, area: Box, wordings: Sequence[tuple[str, Hand]]) -> list[Fill]:
    """The name of a panel near its middle, as far from the holes as there is room; else close to it on the page."""
    set_ = [hand.block(text) for text, hand in wordings]
    for limit, pad in ((area, 7.0), (area, 3.0), (area, 0.0), (ground.page, 0.0)):
        for path in set_:
            ink = path.bounds
            spots = sorted(_grid(limit, ink), key=lambda at: (round(math.dist(at, area.centre), 3), at))
            for at in spots:
                box = Box.centred(ink.width, ink.height, at)
                if ground.free(box, pad):
                    return _placed(ground, path, box, None)
    return []


def _grid(limit: Box, ink: Box) -> Iterator[Point]:
    room = Box(limit.x0 + ink.width / 2, limit.y0 + ink.height / 2, limit.x1 - ink.width / 2, limit.y1 - ink.height / 2)
    if room.width < 0 or room.height < 0:
        return
    cx, cy = room.centre
    for i in range(-int(room.width / 4), int(room.width / 4) + 1):
        for j in range(-int(room.height / 4), int(room.height / 4) + 1):
            yield (cx + 2 * i, cy + 2 * j)


def _in(box: Box, limit: Box) -> bool:
    return limit.x0 <= box.x0 and limit.y0 <= box.y0 and box.x1 <= limit.x1 and box.y1 <= limit.y1
