"""Bridges that hold the islands of a stencil, so that it is one piece.

The pieces of the material are joined by a minimum spanning tree over their exact distances: no set of straight
bridges from piece to piece is shorter in all. Then, from the innermost outwards, each bridge gets its place, and a
large island gets a second one about opposite the first, unless it is already held from two sides.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from facegraphic.geometry.path import Point
from facegraphic.masks.places import (
    Floats,
    Places,
    Setting,
    best_one,
    best_two,
    between,
    crowding,
    landed,
    opposite_bound,
)

FRAME = 0
LARGE_WIDTHS = 5.0  # an island longer than this many bridge widths needs two bridges (common practice)
MOST_TREES = 40
WORTH = 0.01  # a plan must be this much shorter to take another's place


@dataclass(frozen=True)
class Bridge:
    """A straight bridge, mm. `start` and `end` lie on the edges of the pieces that it joins (0 is the frame).

    Its shape is a rectangle that reaches into both until they are as wide as it is (half a width on a straight edge),
    so that it is nowhere thinner than asked; where pieces touch in a point (length 0) it is a round-ended strip there.
    """

    start: Point
    end: Point
    shape: Polygon
    joins: tuple[int, int]

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)


@dataclass(frozen=True)
class Island:
    """A piece that would fall out: its number, the numbers of its bridges (those of islands within it too).

    `apart` is the largest angle between two of its bridges as seen from its middle, degrees; 0 with one bridge.
    """

    number: int
    shape: Polygon
    large: bool
    bridges: tuple[int, ...]
    apart: float


@dataclass(frozen=True)
class Stencil:
    """Material in one piece, its bridges, and the islands that they hold."""

    material: BaseGeometry
    bridges: tuple[Bridge, ...]
    islands: tuple[Island, ...]
    width: float

    @property
    def bridge_length(self) -> float:
        return sum(bridge.length for bridge in self.bridges)


def pieces_of(material: BaseGeometry) -> list[Polygon]:
    """The pieces of a material, the frame (the piece that reaches furthest) first, the others by place."""
    found = [part for part in shapely.get_parts(material) if isinstance(part, Polygon) and part.area > 0]
    found.sort(key=lambda part: (-shapely.box(*part.bounds).area, part.bounds))
    return found


def bridged(material: BaseGeometry, width: float, large: float | None = None) -> Stencil:
    """Hold all islands of a material (the face without its openings) by bridges `width` mm wide.

    :param large: an island longer than this, mm, gets two bridges at least; by default 5 widths
    :raises ValueError: if the width is not positive
    """
    if not width > 0:
        raise ValueError("a bridge needs a width above 0")
    pieces = pieces_of(material)
    if len(pieces) < 2:
        return Stencil(material, (), (), width)
    setting = Setting.of(MultiPolygon(pieces), pieces, width)
    plan = _shortest(setting, large if large is not None else LARGE_WIDTHS * width)
    joined = unary_union([*pieces, *(bridge.shape for bridge in plan.bridges)])
    return Stencil(joined, tuple(plan.bridges), tuple(plan.account()), width)


def spanning_tree(pieces: Sequence[BaseGeometry]) -> list[tuple[int, int]]:
    """The pairs of pieces to join so that all hang together by the least total distance (Kruskal's algorithm)."""
    count = len(pieces)
    first, second = np.triu_indices(count, 1)
    shapes = np.array(pieces, dtype=object)
    distances = shapely.distance(shapes[first], shapes[second])
    group = list(range(count))
    edges = []
    for number in np.argsort(distances, kind="stable"):
        a, b = int(first[number]), int(second[number])
        if group[a] != group[b]:
            edges.append((a, b))
            old, new = group[b], group[a]
            group = [new if member == old else member for member in group]
    return edges


def _shortest(setting: Setting, large: float) -> "_Plan":
    """The plan of the spanning tree, or of one near it whose bridges are shorter in all.

    Two large islands side by side may share a bridge, or each do better with the frame, which the tree alone does not
    see: so every link of them is tried in place of each that it makes needless.
    """
    best = _Plan.built(setting, large, spanning_tree(setting.pieces))
    tried: set[frozenset[tuple[int, int]]] = set()
    found = True
    while found:
        found = False
        for tree in best.swapped():
            if frozenset(tree) not in tried and len(tried) < MOST_TREES:
                tried.add(frozenset(tree))
                plan = _Plan.built(setting, large, tree)
                if plan.length < best.length * (1 - WORTH):
                    best, found = plan, True
                    break
    return best


def _reached(links: Sequence[tuple[int, int]], without: int | None) -> set[int]:
    """The pieces that hang on the frame, by links that do not pass this piece."""
    reached, new = {FRAME}, [FRAME]
    while new:
        piece = new.pop()
        for a, b in links:
            for here, there in ((a, b), (b, a)):
                if here == piece and there not in reached and there != without:
                    reached.add(there)
                    new.append(there)
    return reached


@dataclass
class _Plan:
    setting: Setting
    large: float
    tree: list[tuple[int, int]]
    links: list[tuple[int, int]]
    bridges: list[Bridge] = field(default_factory=list)

    @classmethod
    def built(cls, setting: Setting, large: float, tree: list[tuple[int, int]]) -> "_Plan":
        plan = cls(setting, large, tree, list(tree))
        plan.build()
        return plan

    @property
    def length(self) -> float:
        return sum(bridge.length for bridge in self.bridges)

    def swapped(self) -> Iterator[list[tuple[int, int]]]:
        """Trees with one more link between large islands or one and the frame, and one link fewer at either of them."""
        pieces = self.setting.pieces
        large = [FRAME, *(number for number in range(1, len(pieces)) if self.is_large(number))]
        for link in combinations(large, 2):
            if link in self.tree:
                continue
            reach = pieces[link[0]].distance(pieces[link[1]])
            for old in self.tree:
                near = pieces[old[0]].distance(pieces[old[1]]) * 2 > reach and set(old) & set(link)
                tree = sorted({*self.tree, link} - {old})
                if near and len(_reached(tree, None)) == len(pieces):
                    yield tree

    def build(self) -> None:
        for island, parent in self._from_within():
            if self.is_large(island):
                self._hold_twice(island, parent)
            else:
                found, flaw = self._places(island, [parent])
                self._add(island, found, best_one(found, flaw))

    def is_large(self, island: int) -> bool:
        box = shapely.minimum_rotated_rectangle(self.setting.pieces[island])
        points = shapely.get_coordinates(box)
        return max(math.dist(points[0], points[1]), math.dist(points[1], points[2])) > self.large

    def _from_within(self) -> list[tuple[int, int]]:
        """Every island with the piece that it hangs on, those furthest from the frame in the tree first."""
        order, seen = [(FRAME, FRAME)], {FRAME}
        for piece, _ in order:
            for a, b in self.links:
                for here, there in ((a, b), (b, a)):
                    if here == piece and there not in seen:
                        seen.add(there)
                        order.append((there, piece))
        return order[:0:-1]

    def _hold_twice(self, island: int, parent: int) -> None:
        outside = _reached(self.links, island)
        first, flaw = self._places(island, [parent])
        second, flaw_2 = self._places(island, sorted(outside))
        x0, y0, x1, y1 = self.setting.pieces[island].bounds
        i, j = best_two(first, second, (flaw, flaw_2), math.hypot(x1 - x0, y1 - y0) / 2)
        pair = first.lengths[i] + second.lengths[j]
        held = self._opposite_to_held(island, outside, first)
        if len(held) and first.lengths[held].min() <= pair:
            some = first.only(held)
            self._add(island, some, best_one(some, flaw[held]))
            return
        self._add(island, first, i)
        self._add(island, second, j)
        self.links.append((island, int(second.holders[j])))

    def _opposite_to_held(self, island: int, outside: set[int], first: Places) -> npt.NDArray[np.int64]:
        """Numbers of the places that stand opposite a bridge by which another piece holds this island already."""
        middle = self.setting.pieces[island].centroid
        held = [self._bearing(b, middle) for b in self.bridges if island in b.joins and outside & set(b.joins)]
        if not held:
            return np.array([], dtype=np.int64)
        angle = np.max([between(first.bearings, bearing) for bearing in held], axis=0)
        return np.flatnonzero(angle >= max(opposite_bound(angle, first.lengths), 90.0))

    def _places(self, island: int, holders: Sequence[int]) -> tuple[Places, Floats]:
        found, flaw = self.setting.found(island, holders)
        return found, flaw + crowding(found, self.setting.width, [bridge.shape for bridge in self.bridges])

    def _add(self, island: int, found: Places, number: int) -> None:
        chosen = found.only([number])
        (x0, y0), (x1, y1) = chosen.starts[0].tolist(), chosen.ends[0].tolist()
        shape = landed(self.setting, chosen, 0, island)
        self.bridges.append(Bridge((x0, y0), (x1, y1), shape, (island, int(chosen.holders[0]))))

    @staticmethod
    def _bearing(bridge: Bridge, middle: shapely.Point) -> float:
        x, y = (bridge.start[0] + bridge.end[0]) / 2, (bridge.start[1] + bridge.end[1]) / 2
        return math.degrees(math.atan2(y - middle.y, x - middle.x))

    def account(self) -> list[Island]:
        """What holds each island."""
        found = []
        for number, piece in enumerate(self.setting.pieces):
            if number == FRAME:
                continue
            mine = [index for index, bridge in enumerate(self.bridges) if number in bridge.joins]
            bearings = [self._bearing(self.bridges[index], piece.centroid) for index in mine]
            apart = max((float(between(a, b)) for a in bearings for b in bearings), default=0.0)
            found.append(Island(number, piece, self.is_large(number), tuple(mine), apart))
        return found
