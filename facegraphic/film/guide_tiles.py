"""A face that is larger than a page, cut into windows that overlap, with marks to lay over each other."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from facegraphic.film.guide_face import FLAT_INK, Laid, draw, middles
from facegraphic.film.guide_text import Hand
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import IDENTITY, Box, Path, Point
from facegraphic.geometry.shapes import bar, outline_band, polygon, rectangle
from facegraphic.scene.scene import Fill, Group, Item

OVERLAP = 20.0  # a hole of the usual sizes is whole on one page at least
MARK = 5.0  # across
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Tiling:
    """A face in its own plane, and the windows of it that the pages show, row by row from the upper left."""

    laid: Laid
    windows: tuple[Box, ...]
    marks: tuple[Point, ...]

    def window(self, group: Group, number: int, room: Box) -> Group:
        """One window of the drawn face in the middle of a page's room."""
        own = self.windows[number]
        move = IDENTITY.translate(room.centre[0] - own.centre[0], room.centre[1] - own.centre[1])
        frame = outline_band(rectangle(own), rectangle(own.grown(-0.1)))
        items = (*_seen(group.items, own), Fill(frame, FLAT_INK, "evenodd"))
        return Group(items, "guide", transform=move, clip=rectangle(own))


def tiled(laid: Laid, room: Box) -> Tiling:
    """The windows of a room's size that cover a face, evenly spread."""
    box = laid.box.grown(1.0)
    columns, rows = _starts(box.width, room.width), _starts(box.height, room.height)
    wide, high = min(room.width, box.width), min(room.height, box.height)
    windows = [Box(box.x0 + x, box.y1 - y - high, box.x0 + x + wide, box.y1 - y) for y in rows for x in columns]
    return Tiling(laid, tuple(windows), tuple(_marks(laid, windows)))


def _starts(length: float, room: float) -> list[float]:
    """Where windows begin along a length."""
    if length <= room:
        return [0.0]
    count = math.ceil((length - OVERLAP) / (room - OVERLAP) - 1e-9)
    return [number * (length - room) / (count - 1) for number in range(count)]


def _marks(laid: Laid, windows: Sequence[Box]) -> Iterator[Point]:
    """Two marks in each overlap of neighbours, clear of holes and lines."""
    holes = [(*laid.at((one.placed.hole.x, one.placed.hole.y)), one.placed.hole.d / 2) for one in laid.holes]
    holes += [(*end, 0.0) for _, end in middles(laid)]
    done: list[Point] = []
    for number, first in enumerate(windows):
        for second in windows[number + 1 :]:
            shared = _shared(first, second)
            if shared is None:
                continue
            for share in (0.2, 0.8):
                spots = list(_along(shared, share))
                spot = max(spots, key=lambda at: min(1.0, _room(at, laid, holes, done)) - spots.index(at) * 1e-6)
                done.append(spot)
                yield spot


def _shared(first: Box, second: Box) -> Box | None:
    """The overlap of two windows side by side or one above the other; not of those that meet at a corner."""
    beside = first.y0 == second.y0 and first.x0 < second.x0 < first.x1 - OVERLAP / 4
    below = first.x0 == second.x0 and second.y0 < first.y0 < second.y1 - OVERLAP / 4
    if not (beside or below):
        return None
    return Box(max(first.x0, second.x0), max(first.y0, second.y0), min(first.x1, second.x1), min(first.y1, second.y1))


def _along(shared: Box, share: float) -> Iterator[Point]:
    """Places along an overlap, the nearest to a share of its length first."""
    upright = shared.height > shared.width
    long = shared.height if upright else shared.width
    for at in sorted((n / 50 for n in range(3, 48)), key=lambda n: abs(n - share)):
        for off in (0.5, 0.35, 0.65):
            x, y = (shared.width * off, at * long) if upright else (at * long, shared.height * off)
            yield (shared.x0 + x, shared.y0 + y)


def _room(at: Point, laid: Laid, holes: Sequence[tuple[float, float, float]], done: Sequence[Point]) -> float:
    """How much of the room that a mark and its letter want there is at a place; 1 and more is enough."""
    box = Box(at[0] - MARK, at[1] - MARK, at[0] + 1.6 * MARK, at[1] + MARK)
    shares = [math.dist(at, hole[:2]) / (hole[2] + 2 + 1.6 * MARK) for hole in holes]
    shares += [math.dist(at, other) / (3 * MARK) for other in done]
    for number in range(4):
        (x0, y0), (x1, y1) = laid.edge(number)
        sides = [(x1 - x0) * (y - y0) - (y1 - y0) * (x - x0) for x in (box.x0, box.x1) for y in (box.y0, box.y1)]
        shares.append(0.0 if min(sides) < 0 < max(sides) else 1.0)
    return min(shares, default=1.0)


def tile_group(tiling: Tiling) -> Group:
    """The face drawn whole in its own plane, with the marks."""
    items: list[Item] = []
    taken = []
    for number, at in enumerate(tiling.marks):
        letter = LETTERS[number % 26] + (str(number // 26 + 1) if number >= 26 else "")
        word = Hand(2.2, "tagstrip-bold").block(letter).moved(at[0] + MARK, at[1])
        items += [Fill(_mark(at), BLACK), Fill(word, BLACK)]
        taken.append(Box(at[0] - MARK, at[1] - MARK, at[0] + 1.6 * MARK, at[1] + MARK))
    group = draw([tiling.laid], tiling.laid.box.grown(1.0), taken)
    return replace(group, items=(*group.items, Group(tuple(items), "guide-marks")))


def _mark(at: Point) -> Path:
    """Two triangles that meet at the place, unlike any hole, and a cross through it."""
    (x, y), r = at, MARK / 2
    upper, lower = ([(x, y), (x - r, y + way * r), (x + r, y + way * r)] for way in (1, -1))
    return polygon(upper) + polygon(lower[::-1]) + bar((x - 1.4 * r, y), (x + 1.4 * r, y), 0.12)


def _seen(items: Sequence[Item], window: Box) -> tuple[Item, ...]:
    """What of a drawing is seen in a window at all."""
    found: list[Item] = []
    for item in items:
        if isinstance(item, Group):
            inner = _seen(item.items, window)
            found += [replace(item, items=inner)] if inner else []
        elif isinstance(item, Fill) and item.path and _meets(item.path, window):
            found.append(item)
    return tuple(found)


def _meets(path: Path, window: Box) -> bool:
    own = path.bounds
    return own.x0 < window.x1 and own.x1 > window.x0 and own.y0 < window.y1 and own.y1 > window.y0
