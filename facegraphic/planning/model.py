"""What is asked of a box, and the box that is planned for it. Lengths are mm, places as on each face from outside."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache

from facegraphic.layout.cover import LEVER_MM
from facegraphic.stock.faces import Side
from facegraphic.stock.tables import BoxSize, Kind, Knob, Part, kinds, spacings

HAND = ("pots", "rotaries", "toggles", "pushbuttons")
FINE = 1e-9


def space(name: str) -> float:
    """A distance of spacing.toml."""
    return spacings()[name].value


@dataclass(frozen=True)
class Wish:
    """How many parts of each kind are asked for; a box and a knob when they are to be these and no others."""

    counts: Mapping[str, int]
    box: str | None = None
    knob: str | None = None
    process: str = "waterslide-clear"

    def count(self, kind: str) -> int:
        return self.counts.get(kind, 0)


@dataclass(frozen=True, eq=False)
class Shape:
    """What counts for a part's distance to others: what it covers, and its body from its middle (x0, y0, x1, y1).

    Alike parts share one, so that it is its own key.
    """

    kind: str
    radius: float
    tread: float
    body: tuple[float, float, float, float]

    @property
    def is_hand(self) -> bool:
        return self.kind in HAND


@dataclass(frozen=True)
class Item:
    """One part that is to be placed; `number` counts the `of` parts of its kind from 0."""

    kind: Kind
    number: int
    part: Part
    knob: Knob | None
    of: int = 1

    @property
    def label(self) -> str:
        """A placeholder: a word of its own while there are enough, else all of the kind are numbered alike."""
        words = self.kind.words
        if self.of <= len(words):
            return words[self.number]
        return f"{self.kind.many} {self.number + 1}" if self.kind.many else ""

    @property
    def id(self) -> str:
        return f"{self.kind.stem}-{self.number + 1}"

    @cached_property
    def radius(self) -> float:
        """How far it covers the panel, a lever's reach included."""
        covered = max(self.part.seat, self.knob.diameter if self.knob else 0.0) / 2
        return max(covered, self.part.swing + LEVER_MM / 2 if self.part.swing else 0.0)

    @property
    def is_hand(self) -> bool:
        return self.kind.name in HAND

    @cached_property
    def shape(self) -> Shape:
        return _shape(self.kind.name, self.part, self.radius)


@lru_cache(maxsize=256)
def _shape(kind: str, part: Part, radius: float) -> Shape:
    (x, y), (w, h) = part.body_at, part.body
    return Shape(kind, radius, part.tread, (x - w / 2, y - h / 2, x + w / 2, y + h / 2))


@dataclass(frozen=True)
class Placed:
    """An item where it stands on a face, its body turned by `turn` degrees."""

    item: Item
    side: Side
    x: float
    y: float
    turn: float = 0.0


@dataclass(frozen=True)
class Short:
    """A rule that is not kept: how much is missing (mm), and why, for a person."""

    by: float
    why: str


@dataclass(frozen=True)
class Plan:
    """A box that lies `across` mm wide with everything in its place; `score` is less for a better look."""

    box: BoxSize
    across: float
    deep: float
    placed: tuple[Placed, ...]
    score: float
    refused: tuple[tuple[str, str], ...] = field(default=())

    def on(self, side: Side) -> tuple[Placed, ...]:
        return tuple(one for one in self.placed if one.side == side)


def items_of(wish: Wish, variant: Mapping[str, tuple[Part, Knob | None]]) -> dict[str, list[Item]]:
    """The items of each kind, in the parts and knobs of a variant."""
    counts = {name: wish.count(name) for name in kinds()}
    return {
        name: [Item(kind, n, *variant[name], counts[name]) for n in range(counts[name])]
        for name, kind in kinds().items()
    }


@lru_cache(maxsize=4096)
def needed(one: Shape, other: Shape) -> float:
    """How far apart the middles of two parts on the top face have to be, their bodies aside."""
    if one.kind == other.kind == "footswitches":
        return space("feet")
    if "footswitches" in (one.kind, other.kind):
        foot, lesser = (one, other) if one.kind == "footswitches" else (other, one)
        if lesser.is_hand:
            return space("foot-room") + lesser.radius
        return foot.tread / 2 + space("lamp") + lesser.radius
    gap = space("fingers") if one.is_hand and other.is_hand else max(space("lamp"), space("label") + 0.4)
    return one.radius + other.radius + gap


@lru_cache(maxsize=65536)
def under(one: Shape, other: Shape, dx: float) -> float:
    """How far below one part another has to stand, `dx` mm to its right, by covers and by bodies; at least 0."""
    need = needed(one, other)
    drop = math.sqrt(need * need - dx * dx) if abs(dx) < need else 0.0
    a, b, gap = one.body, other.body, space("inside") - FINE
    if dx + b[0] - a[2] < gap and a[0] - b[2] - dx < gap:
        drop = max(drop, b[3] - a[1] + space("inside"))
    return drop


def beside(one: Shape, other: Shape) -> float:
    """How far to the right of one part another has to stand at the same height."""
    return max(needed(one, other), one.body[2] - other.body[0] + space("inside"))
