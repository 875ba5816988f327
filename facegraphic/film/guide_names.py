"""Where the name of a side stands on its panel: in a corner, clear of holes, labels and creases.

Page mm, x right, y up.
"""

import math
from collections.abc import Iterator, Sequence
from itertools import product

from facegraphic.film.guide_labels import Ground, placed
from facegraphic.film.guide_text import Hand
from facegraphic.geometry.path import Box, Point
from facegraphic.scene.scene import Fill

AIR = (2.5, 1.5)  # more than words keep from each other
DEEP = 16.0  # how far from a corner a name may stand
CORNERS = ((-1, 1), (1, 1), (-1, -1), (1, -1))
LOW_FIRST = ((-1, -1), (1, -1), (-1, 1), (1, 1))


def in_panel(ground: Ground, area: Box, wordings: Sequence[tuple[str, Hand]], corners: Sequence[Point]) -> list[Fill]:
    """The name in the first corner where it has room, else anywhere in the panel, else close by with a leader.

    With no corners it stands in the panel's middle if it can.
    """
    set_ = [hand.block(text) for text, hand in wordings]
    for air, path in product(AIR, set_):
        for at in (at for corner in corners for at in _from_corner(area, path.bounds, corner)):
            box = Box.centred(path.bounds.width, path.bounds.height, at)
            if ground.free(box.grown(air)):
                return placed(ground, path, box, None)
    airs = (*AIR, 0.7, 0.0) if corners else (0.0,)  # an empty panel has but its lines to keep from
    for limit, air in (*((area, air) for air in airs), (ground.page, 0.0)):
        for path in set_:
            ink = path.bounds
            spots = sorted(_grid(limit, ink), key=lambda at: (round(math.dist(at, area.centre), 3), at))
            for at in spots:
                box = Box.centred(ink.width, ink.height, at)
                if ground.free(box.grown(air)):
                    return placed(ground, path, box, None if limit is area else _into(area, box))
    return []


def _from_corner(area: Box, ink: Box, corner: Point) -> Iterator[Point]:
    """Places by a corner of an area, going out from it."""
    steps = [(x, y) for x in range(1, int(DEEP) + 1) for y in range(1, int(DEEP) + 1)]
    right, up = corner
    cx, cy = area.centre
    for x, y in sorted(steps, key=lambda step: (sum(step), max(step))):
        off = (area.width / 2 - x - ink.width / 2, area.height / 2 - y - ink.height / 2)
        if min(off) >= 0:
            yield (cx + right * off[0], cy + up * off[1])


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
