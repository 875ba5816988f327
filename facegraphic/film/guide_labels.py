"""Find room for the guide's words beside its holes: nothing in the way, each clearly its own hole's, rows alike.

Unlike legends on the box these are read once, at the bench: clear of everything is enough. Page mm, x right, y up.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from facegraphic.film.guide_text import Hand
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.geometry.shapes import bar
from facegraphic.scene.scene import Fill

GAP = 0.7  # between words and what is near them
LEADER_WIDE = 0.12
# Sideways, then above and below, then aslant: where the eye looks for a word that belongs to a hole.
WAYS = ((0, -1), (0, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1))
STRAIGHT = WAYS[:4]
NEAR, FAR = (0.0, 1.0), (3.0, 5.0, 8.0, 12.0, 17.0, 24.0, 32.0)  # from the latter on a leader shows whose word it is
LEVEL = 1.0  # holes no further off than this are in a row
CLOSER = 0.75  # how much nearer a word must be to its own hole than to any other


@dataclass
class Ground:
    """What is taken: boxes, and discs as x, y, radius. Words may stand within `page` only."""

    page: Box
    boxes: list[Box] = field(default_factory=list)
    discs: list[tuple[float, float, float]] = field(default_factory=list)
    _rows: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 4)))
    _known: int = 0

    def free(self, box: Box, pad: float = 0.0) -> bool:
        """Whether a box keeps `GAP` from all that is taken, and `pad` more from the discs."""
        page = self.page
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1:
            return False
        if self.boxes:
            own = self._array()
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

    def back_to(self, count: int) -> None:
        """Give free what was taken after the first `count` boxes."""
        del self.boxes[count:]
        self._known = min(self._known, count)

    def _array(self) -> NDArray[np.float64]:
        """The boxes as rows; only those that are new since the last call are copied."""
        while len(self._rows) < len(self.boxes):
            self._rows = np.vstack([self._rows, np.zeros((len(self._rows) + 64, 4))])
        self._rows[self._known : len(self.boxes)] = np.asarray(self.boxes[self._known :]).reshape(-1, 4)
        self._known = len(self.boxes)
        return self._rows[: self._known]

    def told(self, box: Box, spot: "Spot") -> bool:
        """Whether a word there is clearly nearer to its own hole than to any other, by middles and by rims."""
        x, y, radius = np.asarray(self.discs).T
        others = np.hypot(x - spot.x, y - spot.y) > 1e-6
        (cx, cy) = box.centre
        middles = np.hypot(x - cx, y - cy)
        dx, dy = np.maximum(np.maximum(box.x0 - x, x - box.x1), 0), np.maximum(np.maximum(box.y0 - y, y - box.y1), 0)
        rims = np.maximum(np.hypot(dx, dy) - radius, 0)
        if not others.any():
            return True
        own = ~others
        return bool(
            middles[own].min() <= CLOSER * middles[others].min() and rims[own].min() <= CLOSER * rims[others].min()
        )

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


def name_holes(ground: Ground, spots: Sequence[Spot], wordings: Sequence[Wording], within: Box) -> list[list[Fill]]:
    """Words beside holes, each nearer to its own than to any other or led to it by a line; by hole.

    A wording has a text for each hole, the fullest first, three short ones last. All holes have one wording and one
    side, or one side a row, if they can; then each row the fullest that it has room for, hole by hole if need be. If
    even the shortest does not do for all, those that it does not do for stand off at the end of a leader, on the page
    if need be; with no room there either the table alone has them.
    """
    if not spots:
        return []
    kept = len(ground.boxes)
    whole, rows = [list(range(len(spots)))], _rows(spots)
    ways = [(groups, way) for way in (STRAIGHT, WAYS) for groups in (whole, rows)]
    most = max(1, len(wordings) - 3)
    for wording in wordings[:most]:
        for groups, way in ways:
            ground.back_to(kept)
            found = [_group(ground, [spots[n] for n in group], _paths(wording, group), within, way) for group in groups]
            if all(found):
                return _by_number(groups, found)
    singles = [[n] for n in whole[0]]
    for group_of, choice in [(rows, wordings[most - 1 : -2])] + [
        (groups, [wording]) for wording in wordings[-2:] for groups in (rows, singles)
    ]:
        ground.back_to(kept)
        found = [_fullest(ground, spots, group, choice, within) for group in group_of]
        if all(found):
            return _by_number(group_of, found)
    for n, one in enumerate(found):
        if not one:
            [path] = _paths(wordings[-1], [n])
            found[n] = [_led(ground, spots[n], path, within) or _led(ground, spots[n], path, ground.page)]
    return _by_number(singles, found)


def _paths(wording: Wording, group: Sequence[int]) -> list[Path]:
    return [wording[1].block(wording[0][n]) for n in group]


def _by_number(groups: Sequence[Sequence[int]], found: Sequence[Sequence[list[Fill]]]) -> list[list[Fill]]:
    """What was found by groups, in the order of the holes."""
    pairs = [pair for group, words in zip(groups, found, strict=True) for pair in zip(group, words, strict=True)]
    return [words for _, words in sorted(pairs, key=lambda pair: pair[0])]


def _fullest(
    ground: Ground, spots: Sequence[Spot], group: Sequence[int], wordings: Sequence[Wording], limit: Box
) -> list[list[Fill]]:
    """The words of a row on one side in the fullest wording that has room, or each hole's by itself; else nothing."""
    for wording in wordings:
        if found := _group(ground, [spots[n] for n in group], _paths(wording, group), limit, WAYS):
            return found
    if len(group) == 1:
        return []
    kept = len(ground.boxes)
    singly = [_fullest(ground, spots, [n], wordings, limit) for n in group]
    if all(singly):
        return [words for one in singly for words in one]
    ground.back_to(kept)
    return []


def _rows(spots: Sequence[Spot]) -> list[list[int]]:
    """Holes by number in rows or, if those are longer, in columns, as they lie on the page."""
    ways = []
    for level in ([spot.y for spot in spots], [spot.x for spot in spots]):
        rows: list[list[int]] = []
        for number in sorted(range(len(spots)), key=lambda n: (-level[n], n)):
            if rows and level[rows[-1][-1]] - level[number] <= LEVEL:
                rows[-1].append(number)
            else:
                rows.append([number])
        ways.append(rows)
    return min(ways, key=len)


def _group(
    ground: Ground, spots: Sequence[Spot], paths: Sequence[Path], limit: Box, ways: Sequence[tuple[int, int]]
) -> list[list[Fill]]:
    """Words all on the same side of their holes, if they can in a line; nothing if there is no such side."""
    kept = len(ground.boxes)
    most = max(spot.reach for spot in spots)
    for way in ways:
        for common in (True, False) if len(spots) > 1 else (False,):
            fills: list[list[Fill]] = []
            for spot, path in zip(spots, paths, strict=True):
                wide = [most - spot.reach] if common else NEAR
                boxes = (_place(path.bounds, spot, way, reach) for reach in wide)
                box = next(
                    (box for box in boxes if _in(box, limit) and ground.free(box) and ground.told(box, spot)), None
                )
                if box is None:
                    break
                fills.append(placed(ground, path, box, None))
            else:
                return fills
            ground.back_to(kept)
    return []


def _led(ground: Ground, spot: Spot, path: Path, limit: Box) -> list[Fill]:
    """One word at the end of a leader in the first place that is free; nothing if there is none."""
    for reach in FAR:
        for way in WAYS:
            box = _place(path.bounds, spot, way, reach)
            if _in(box, limit) and ground.free(box):
                leader = _leader(spot, box)
                if ground.crosses_nothing(*leader):
                    return placed(ground, path, box, leader)
    return []


def placed(ground: Ground, path: Path, box: Box, leader: tuple[Point, Point] | None) -> list[Fill]:
    """A word in its box, which is taken from now on, and its leader."""
    ground.boxes.append(box)
    ink = path.bounds
    fills = [Fill(path.moved(box.x0 - ink.x0, box.y0 - ink.y0), BLACK)]
    if leader:
        ground.line(*leader)
        fills.append(Fill(bar(*leader, LEADER_WIDE), BLACK))
    return fills


def _place(ink: Box, spot: Spot, way: tuple[int, int], reach: float) -> Box:
    """Where a wording stands beside a hole; aslant it may stand between the arms of the cross."""
    right, up = way
    off = (spot.radius * math.sqrt(0.5) if right and up else spot.reach) + GAP + 0.1 + reach
    x, y = spot.x + right * (off + ink.width / 2), spot.y + up * (off + ink.height / 2)
    return Box.centred(ink.width, ink.height, (x, y))


def _leader(spot: Spot, box: Box) -> tuple[Point, Point]:
    """From the rim of a hole to the nearest point of a word's box, short of both."""
    x, y = spot.x, spot.y
    end = (min(max(x, box.x0), box.x1), min(max(y, box.y0), box.y1))
    length = max(math.dist((x, y), end), 1e-6)
    ux, uy = (end[0] - x) / length, (end[1] - y) / length
    first = spot.radius + 0.3
    return (x + ux * first, y + uy * first), (end[0] - ux * 0.4, end[1] - uy * 0.4)


def _in(box: Box, limit: Box) -> bool:
    return limit.x0 <= box.x0 and limit.y0 <= box.y0 and box.x1 <= limit.x1 and box.y1 <= limit.y1
