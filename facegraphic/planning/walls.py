"""Sockets on the walls: a row on the back or on both sides, at a height at which their bodies clear all others.

Bodies are compared by the boxes round them along the axes of the room. A wall leans by two degrees, so this asks for up
to a millimetre more than is needed, which is no harm beside figures from memory.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from facegraphic.geometry.solids import Array
from facegraphic.job.model import Hole
from facegraphic.layout.bodies import body
from facegraphic.planning.model import FINE, Item, Placed, space
from facegraphic.stock.cavity import cavity, stand
from facegraphic.stock.faces import Outline, Side, face_outline
from facegraphic.stock.tables import BoxSize, Part

STEP = 1.0
COARSE = 3 * STEP  # between the middles of rows that are tried along a wall
TURNS = (0.0, 90.0)


@dataclass(frozen=True)
class Room:
    """A box as it lies."""

    box: BoxSize
    across: float
    deep: float

    def outline(self, side: Side) -> Outline:
        return face_outline(self.box, side, self.across, self.deep)


@dataclass(frozen=True)
class Sockets:
    placed: tuple[Placed, ...]
    score: float


@lru_cache(maxsize=4096)
def extents(room: Room, side: Side, part: Part, turn: float) -> Array:
    """The boxes round a part's blocks when it sits in the middle of a face: rows of low x, y, z, high x, y, z."""
    where = stand(room.box, side, room.across, room.deep)
    blocks = body(Hole("", 0.0, 0.0, part.hole), part, side, where, room.box, turn).blocks
    return np.array([[*block.solid.low, *block.solid.high] for block in blocks])


def taken(room: Room, placed: Sequence[Placed]) -> Array:
    """The boxes round all blocks of placed parts."""
    rows = [_moved(room, one.side, extents(room, one.side, one.item.part, one.turn), one.x, one.y) for one in placed]
    return np.vstack(rows) if rows else np.zeros((0, 6))


def _moved(room: Room, side: Side, boxes: Array, x: float, y: float) -> Array:
    axes = stand(room.box, side, room.across, room.deep).axes
    return np.asarray(boxes + np.tile(x * axes[0] + y * axes[1], 2), dtype=float)


def inside(room: Room, side: Side, boxes: Array) -> NDArray[np.bool_]:
    """Whether each box of some (…, 6) keeps clear of lid, top, screw posts and of all walls but its own."""
    gap, shell = space("inside"), cavity(room.box, room.across, room.deep)
    low, high = boxes[..., :3], boxes[..., 3:]
    free = np.ones(boxes.shape[:-1], dtype=bool)
    for name, plane in shell.planes.items():
        if name not in (f"the {side} wall", f"the {side}"):
            normal = np.array(plane.normal)
            furthest = np.where(normal > 0, high, low) @ normal
            free &= furthest <= plane.reach - gap + FINE
    posts = np.array([[*post.low, *post.high] for post in shell.posts.values()]).reshape(-1, 6)
    return np.asarray(free & ~meets(boxes, posts, gap), dtype=bool)


def meets(boxes: Array, others: Array, gap: float) -> NDArray[np.bool_]:
    """Whether each box of some (…, 6) comes nearer than `gap` to any of others (n, 6)."""
    a = boxes[..., None, :]
    apart = (a[..., :3] >= others[:, 3:] + gap - FINE) | (others[:, :3] >= a[..., 3:] + gap - FINE)
    return np.asarray((~apart.any(axis=-1)).any(axis=-1), dtype=bool)


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of the same items on one wall: the x (rows, items) and y (rows) of each, what it costs in looks, and the
    boxes round its blocks (rows, blocks, 6).
    """

    side: Side
    items: tuple[Item, ...]
    turn: float
    xs: Array
    ys: Array
    costs: Array
    solids: Array

    def placed(self, number: int) -> tuple[Placed, ...]:
        at = zip(self.items, self.xs[number].tolist(), strict=True)
        return tuple(Placed(item, self.side, x, float(self.ys[number]), _turned(item, self.turn)) for item, x in at)


NOTHING = Rows("back", (), 0.0, np.zeros((1, 0)), np.zeros(1), np.zeros(1), np.zeros((1, 0, 6)))


@dataclass
class Finder:
    """Finds rows of sockets round what stands on the top face."""

    room: Room
    top: Array
    _grids: dict[tuple[Side, Part, float], NDArray[np.bool_]] = field(default_factory=dict)
    _found: dict[tuple[Side, tuple[str, ...], float], Rows] = field(default_factory=dict)

    def sockets(self, jacks: Sequence[Item], dc: Sequence[Item]) -> Sockets | None:
        """The best-looking of all ways to place them: all on the back, or sockets on the sides and power by them."""
        if not jacks and not dc:
            return Sockets((), 0.0)
        half = len(jacks) // 2
        # The first jack is the input, on the player's right, which is the left of the back face.
        row = (*jacks[: len(jacks) - half], *dc, *jacks[len(jacks) - half :])
        ways = [self._joined(self._rows("back", row, turn), NOTHING, NOTHING, turn / 900) for turn in TURNS]
        if jacks:
            right, left = tuple(jacks[::2]), tuple(jacks[1::2])
            for turn in TURNS:
                sides = self._rows("right", right, turn), self._rows("left", left, turn)
                ways.append(self._joined(self._rows("back", tuple(dc), turn), *sides, 6 + turn / 900))
                if dc:
                    both = self._rows("right", (*right, *dc[1:]), turn), self._rows("left", (*left, *dc[:1]), turn)
                    ways.append(self._joined(NOTHING, *both, 12 + turn / 900))
        return min(filter(None, ways), key=lambda sockets: sockets.score, default=None)

    def _joined(self, back: Rows, right: Rows, left: Rows, extra: float) -> Sockets | None:
        """The best rows for the three walls that clear each other; those of the sides mirrored if that can be."""
        gap = space("inside")
        if not (len(back.costs) and len(right.costs) and len(left.costs)):
            return None
        facing = right.costs[:, None] + left.costs[None, :] + _stagger(right, left)
        facing[_clash(right.solids, left.solids, gap)] = np.inf
        for number in np.argsort(back.costs, kind="stable"):
            solids = back.solids[number : number + 1]
            total = facing.copy()
            total[_clash(right.solids, solids, gap)[:, 0]] = np.inf
            total[:, _clash(left.solids, solids, gap)[:, 0]] = np.inf
            one, other = np.unravel_index(int(total.argmin()), total.shape)
            if np.isfinite(total[one, other]):
                placed = (*back.placed(int(number)), *right.placed(int(one)), *left.placed(int(other)))
                return Sockets(placed, float(total[one, other] + back.costs[number]) + extra)
        return None

    def _rows(self, side: Side, items: tuple[Item, ...], turn: float) -> Rows:
        """Rows at one height with one pitch, with what each costs in looks."""
        if not items:
            return NOTHING
        if (key := (side, tuple(item.id for item in items), turn)) not in self._found:
            self._found[key] = self._row_by_row(side, items, turn)
        return self._found[key]

    def _row_by_row(self, side: Side, items: tuple[Item, ...], turn: float) -> Rows:
        """All pitches and middles at once, each row at the height nearest to the wall's middle that is free."""
        xs, ys = axes_of(self.room, side)
        grids = [self._grid(side, item.part, _turned(item, turn)) for item in items]
        columns, costs = _columns(self.room, side, items, turn)
        free = np.logical_and.reduce([grid[columns[:, i]] for i, grid in enumerate(grids)])
        high = np.where(free, np.abs(ys), np.inf).argmin(axis=1)
        fits = free.any(axis=1)
        at, y = xs[columns[fits]], ys[high[fits]]
        axes = stand(self.room.box, side, self.room.across, self.room.deep).axes
        solids = [
            extents(self.room, side, item.part, _turned(item, turn))
            + np.tile(at[:, i, None] * axes[0] + y[:, None] * axes[1], 2)[:, None, :]
            for i, item in enumerate(items)
        ]
        return Rows(side, items, turn, at, y, costs[fits] + np.abs(y) / 10, np.concatenate(solids, axis=1))

    def _grid(self, side: Side, part: Part, turn: float) -> NDArray[np.bool_]:
        """Where on a wall a part may sit, by x and y."""
        if (key := (side, part, turn)) not in self._grids:
            free = wall_grid(self.room, side, part, turn)
            self._grids[key] = free & ~self._meets_top(side, part, turn)
        return self._grids[key]

    def _meets_top(self, side: Side, part: Part, turn: float) -> NDArray[np.bool_]:
        """Where on a wall a part would meet what hangs from the top, by x and y.

        A move along the wall changes one coordinate only, one up the wall the others: so overlaps are found for
        each by itself and joined as one product.
        """
        own, axes = (
            extents(self.room, side, part, turn),
            stand(self.room.box, side, self.room.across, self.room.deep).axes,
        )
        xs, ys = axes_of(self.room, side)
        along = [k for k in range(3) if abs(axes[0, k]) > FINE]
        up = [k for k in range(3) if k not in along]
        by_x = _overlaps(own, self.top, xs[:, None] * axes[0], along)
        by_y = _overlaps(own, self.top, ys[:, None] * axes[1], up)
        return np.asarray(by_x @ by_y.T > 0.5, dtype=bool)


def _overlaps(own: Array, others: Array, shifts: Array, coordinates: Sequence[int]) -> Array:
    """Whether each own box, moved by each shift (n, 3), is near each other one by some coordinates: (n, pairs)."""
    near = np.ones((len(shifts), len(own), len(others)), dtype=bool)
    for k in coordinates:
        low, high = (
            own[None, :, None, k] + shifts[:, None, None, k],
            own[None, :, None, k + 3] + shifts[:, None, None, k],
        )
        near &= (low < others[:, k + 3] + space("inside") - FINE) & (others[:, k] < high + space("inside") - FINE)
    return near.reshape(len(shifts), -1).astype(np.float32)


def _columns(room: Room, side: Side, items: tuple[Item, ...], turn: float) -> tuple[NDArray[np.intp], Array]:
    """The places along a wall, as numbers of its grid, of every row that is tried: (rows, items), and their costs."""
    xs, _ = axes_of(room, side)
    pitches = np.array(_pitches(room.outline(side).size[0], items, turn))
    # The back keeps to its middle; on the sides a row may stand anywhere along the wall, as far to one end as to the
    # other, so that it can face another.
    far = 0 if side == "back" else math.floor(xs[-1] / COARSE)
    middles = COARSE * np.arange(-far, far + 1)
    at = middles[None, :, None] + (np.arange(len(items)) - (len(items) - 1) / 2) * pitches[:, None, None]
    columns = np.round((at - xs[0]) / (STEP / 2)).astype(np.intp).reshape(-1, len(items))
    costs = (np.arange(len(pitches))[:, None] / 10 + np.abs(middles)[None, :] / 20).reshape(-1)
    on = (columns.min(axis=1) >= 0) & (columns.max(axis=1) < len(xs))
    return columns[on], costs[on]


@lru_cache(maxsize=1024)
def wall_grid(room: Room, side: Side, part: Part, turn: float) -> NDArray[np.bool_]:
    """Where on a wall the box itself lets a part sit: metal round its hole, its nut on the flat, its body inside."""
    xs, ys = axes_of(room, side)
    outline = room.outline(side)
    rim = max(part.hole / 2 + space("web"), part.seat / 2 + 0.5)
    wide = np.abs(xs) <= min(outline.top, outline.bottom) / 2 - rim + FINE
    flat = wide[:, None] & (np.abs(ys) <= outline.height / 2 - rim + FINE)[None, :]
    axes = stand(room.box, side, room.across, room.deep).axes
    shift = xs[:, None, None] * axes[0] + ys[None, :, None] * axes[1]
    boxes = extents(room, side, part, turn)[None, None] + np.concatenate([shift, shift], axis=-1)[:, :, None, :]
    return np.asarray(flat & inside(room, side, boxes).all(axis=-1), dtype=bool)


def axes_of(room: Room, side: Side) -> tuple[Array, Array]:
    """The x and y at which sockets are tried on a wall."""
    outline = room.outline(side)
    x, y = math.floor(outline.size[0] / 2), math.floor(outline.height / 2)
    return np.arange(-x, x + FINE, STEP / 2), np.arange(-y, y + FINE, STEP / 2)


def _clash(some: Array, others: Array, gap: float) -> NDArray[np.bool_]:
    """Whether any block of each row of some (n, a, 6) comes nearer than `gap` to one of others (m, b, 6): (n, m)."""
    found = np.zeros((len(some), len(others)), dtype=bool)
    low, high = some[..., :3], some[..., 3:] + gap - FINE
    low_others, high_others = others[..., :3], others[..., 3:] + gap - FINE
    # Block by block: whole tables of truths are many times faster than one of all blocks and coordinates at once.
    for i, j in product(range(some.shape[1]), range(others.shape[1])):
        near = np.ones_like(found)
        for k in range(3):
            near &= low[:, None, i, k] < high_others[:, j, k]
            near &= low_others[:, j, k] < high[:, None, i, k]
        found |= near
    return found


def _stagger(right: Rows, left: Rows) -> Array:
    """What it costs in looks that two rows are not each other's mirror image."""
    if not right.items or not left.items:
        return np.zeros((len(right.costs), len(left.costs)))
    off = np.abs(right.xs[:, None, 0] + left.xs[None, :, 0]) + np.abs(right.ys[:, None] - left.ys[None, :])
    return np.asarray(off / 4 + np.where(off > 0.1, 3.0, 0.0), dtype=float)


def _turned(item: Item, turn: float) -> float:
    return turn if item.kind.name == "jacks" else 0.0


def _pitches(run: float, items: Sequence[Item], turn: float) -> list[float]:
    """A pitch that shares a wall out evenly, then wider and narrower ones."""
    if len(items) == 1:
        return [0.0]
    least = max(_apart(a, b, turn) for a, b in pairwise(items))
    pitches = np.arange(math.ceil(least), run / (len(items) - 1), 2 * STEP).tolist()
    return sorted(pitches, key=lambda pitch: abs(pitch - run / len(items)))


def _apart(one: Item, other: Item, turn: float) -> float:
    """The least pitch of two neighbours on a wall: plugs, nuts, bodies."""

    def wide(item: Item) -> float:
        width, height = item.part.body
        return height if _turned(item, turn) else width

    plugs = (one.kind.handle + other.kind.handle) / 2 + space("plugs")
    return max(plugs, one.part.seat / 2 + other.part.seat / 2 + 1, (wide(one) + wide(other)) / 2 + space("inside"))
