"""Find room for the guide's words beside its holes and lines: the first place of a list where nothing is in the way.

Unlike legends on the box these are read once, at the bench: clear of everything is enough. Page mm, x right, y up.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from facegraphic.film.guide_text import Hand
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.geometry.shapes import bar
from facegraphic.scene.scene import Fill

GAP = 0.7  # between words and what is near them
LEADER_WIDE = 0.12
# Sideways, then above and below, then aslant: where the eye looks for a word that belongs to a hole.
WAYS = ((0, -1), (0, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1))
NEAR, FAR = (0.0, 1.0), (3.0, 5.0, 8.0, 12.0, 17.0, 24.0, 32.0)
LED = 2.5  # from here on a leader shows whose word it is


@dataclass
class Ground:
    """What is taken: boxes, and discs as x, y, radius. Words may stand within `page` only."""

    page: Box
    boxes: list[Box] = field(default_factory=list)
    discs: list[tuple[float, float, float]] = field(default_factory=list)

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
        """Whether a leader keeps clear of holes and words; lines and the arms of crosses it may pass."""
        shares = np.linspace(0, 1, max(3, math.ceil(math.dist(start, end))))
        xs, ys = start[0] + shares * (end[0] - start[0]), start[1] + shares * (end[1] - start[1])
        for box in self.boxes:
            if (
                min(box.width, box.height) > 0.5
                and ((xs > box.x0 - 0.3) & (xs < box.x1 + 0.3) & (ys > box.y0 - 0.3) & (ys < box.y1 + 0.3))[:-1].any()
            ):
                return False
        return all(bool((np.hypot(xs - x, ys - y) >= radius + 0.25).all()) for x, y, radius in self.discs)


@dataclass(frozen=True)
class Spot:
    """A hole to be named: its centre, its radius, and how far its cross reaches."""

    x: float
    y: float
    radius: float
    reach: float

    def take(self, ground: "Ground") -> None:
        ground.discs.append((self.x, self.y, self.radius))
        ground.boxes.append(Box(self.x - self.reach, self.y, self.x + self.reach, self.y))
        ground.boxes.append(Box(self.x, self.y - self.reach, self.x, self.y + self.reach))


Wording = tuple[Sequence[str], Hand]


def name_holes(ground: Ground, spots: Sequence[Spot], wordings: Sequence[Wording], within: Box) -> list[Fill]:
    """Words beside holes, all in the fullest wording for which every hole has room close by within its panel.

    A wording has a text for each hole. If even the shortest does not do for all, those that it does not do for stand
    off at the end of a leader, on the page if need be; with no room there either the table alone has that hole.
    """
    kept = (len(ground.boxes), len(ground.discs))
    fills: list[Fill] = []
    for texts, hand in wordings:
        del ground.boxes[kept[0] :], ground.discs[kept[1] :]
        placed = [
            _beside(ground, spot, hand.block(text), within, NEAR) for spot, text in zip(spots, texts, strict=True)
        ]
        if all(placed):
            return [fill for one in placed for fill in one]
        far = [(spot, hand.block(text)) for spot, text, one in zip(spots, texts, placed, strict=True) if not one]
        fills = [fill for one in placed for fill in one]
    for spot, path in far if wordings and spots else ():
        fills += _beside(ground, spot, path, within, FAR) or _beside(ground, spot, path, ground.page, FAR)
    return fills


def _beside(ground: Ground, spot: Spot, path: Path, limit: Box, reaches: Iterable[float]) -> list[Fill]:
    """One word in the first place that is free; nothing if there is none."""
    for reach, box in _places(path.bounds, spot, reaches):
        if not _in(box, limit) or not ground.free(box):
            continue
        leader = _leader(spot, box) if reach >= LED else None
        if leader is None or ground.crosses_nothing(*leader):
            return _placed(ground, path, box, leader)
    return []


def _placed(ground: Ground, path: Path, box: Box, leader: tuple[Point, Point] | None) -> list[Fill]:
    ground.boxes.append(box)
    ink = path.bounds
    fills = [Fill(path.moved(box.x0 - ink.x0, box.y0 - ink.y0), BLACK)]
    if leader:
        ground.line(*leader)
        fills.append(Fill(bar(*leader, LEADER_WIDE), BLACK))
    return fills


def _places(ink: Box, spot: Spot, reaches: Iterable[float]) -> Iterator[tuple[float, Box]]:
    """Boxes for a wording round a hole, the nearest first; aslant it may stand between the arms of the cross."""
    for reach in reaches:
        for right, up in WAYS:
            off = (spot.radius * math.sqrt(0.5) if right and up else spot.reach) + GAP + 0.1 + reach
            yield (
                reach,
                Box.centred(
                    ink.width,
                    ink.height,
                    (spot.x + right * (off + ink.width / 2), spot.y + up * (off + ink.height / 2)),
                ),
            )


def _leader(spot: Spot, box: Box) -> tuple[Point, Point]:
    """From the rim of a hole to the nearest point of a word's box, short of both."""
    x, y = spot.x, spot.y
    end = (min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1))
    length = max(math.dist((x, y), end), 1e-6)
    ux, uy = (end[0] - x) / length, (end[1] - y) / length
    first = spot.radius + 0.3
    return (x + ux * first, y + uy * first), (end[0] - ux * 0.4, end[1] - uy * 0.4)


def in_panel(ground: Ground, area: Box, wordings: Sequence[tuple[str, Hand]]) -> list[Fill]:
    """The name of a panel near its middle, far from holes if it can; else close by on the page, with a leader."""
    set_ = [hand.block(text) for text, hand in wordings]
    for limit, pad in ((area, 7.0), (area, 3.0), (area, 0.0), (ground.page, 0.0)):
        for path in set_:
            ink = path.bounds
            spots = sorted(_grid(limit, ink), key=lambda at: (round(math.dist(at, area.centre), 3), at))
            for at in spots:
                box = Box.centred(ink.width, ink.height, at)
                if ground.free(box, pad):
                    return _placed(ground, path, box, None if limit is area else _into(area, box))
    return []


def _into(area: Box, box: Box) -> tuple[Point, Point]:
    """A leader from a word outside a panel to a little inside of it."""
    inner = area.grown(-min(2.0, area.width / 4, area.height / 4))
    (x, y) = box.centre
    end = (min(max(x, inner.x0), inner.x1), min(max(y, inner.y0), inner.y1))
    start = (min(max(end[0], box.x0), box.x1), min(max(end[1], box.y0), box.y1))
    length = max(math.dist(start, end), 1e-6)
    return (start[0] + (end[0] - start[0]) * 0.5 / length, start[1] + (end[1] - start[1]) * 0.5 / length), end


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
