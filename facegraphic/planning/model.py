"""What is asked of a box, and the box that is planned for it. Lengths are mm, places as on each face from outside."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

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


@dataclass(frozen=True)
class Item:
    """One part that is to be placed; `number` counts its kind from 0."""

    kind: Kind
    number: int
    part: Part
    knob: Knob | None

    @property
    def label(self) -> str:
        words = self.kind.words
        return words[self.number] if self.number < len(words) else f"{words[-1]} {self.number + 1}" if words else ""

    @property
    def id(self) -> str:
        return f"{self.kind.stem}-{self.number + 1}"

    @property
    def radius(self) -> float:
        """How far it covers the panel, a lever's reach included."""
        covered = max(self.part.seat, self.knob.diameter if self.knob else 0.0) / 2
        return max(covered, self.part.swing + LEVER_MM / 2 if self.part.swing else 0.0)

    @property
    def is_hand(self) -> bool:
        return self.kind.name in HAND


@dataclass(frozen=True)
class Placed:
    """An item where it stands on a face, its body turned by `turn` degrees."""

    item: Item
    side: Side
    x: float
    y: float
    turn: float = 0.0

    def body(self) -> tuple[float, float, float, float]:
        """The rectangle that its body takes below the top face, unturned: x0, y0, x1, y1."""
        (x, y), (w, h) = self.item.part.body_at, self.item.part.body
        return (self.x + x - w / 2, self.y + y - h / 2, self.x + x + w / 2, self.y + y + h / 2)


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
    return {name: [Item(kind, n, *variant[name]) for n in range(wish.count(name))] for name, kind in kinds().items()}


def needed(one: Item, other: Item) -> float:
    """How far apart the middles of two items on the top face have to be, their bodies aside."""
    pair = {one.kind.name, other.kind.name}
    if pair == {"footswitches"}:
        return space("feet")
    if "footswitches" in pair:
        lesser = other if one.kind.name == "footswitches" else one
        foot = one if lesser is other else other
        if lesser.is_hand:
            return space("foot-room") + lesser.radius
        return foot.part.tread / 2 + space("lamp") + lesser.radius
    gap = space("fingers") if one.is_hand and other.is_hand else max(space("lamp"), space("label") + 0.4)
    return one.radius + other.radius + gap


def too_close(one: Placed, other: Placed) -> float:
    """How much two parts of the top face lack in distance, by covers or by bodies; 0 or less when they are clear."""
    lack = needed(one.item, other.item) - math.hypot(one.x - other.x, one.y - other.y)
    a, b = one.body(), other.body()
    gaps = (b[0] - a[2], a[0] - b[2], b[1] - a[3], a[1] - b[3])
    return max(lack, space("inside") - max(gaps))
