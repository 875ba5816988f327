"""Arrangements of a top face in rows, symmetrical about its axis: knobs far from the user, footswitches near.

For every way of dealing the parts to rows, the rows are first stacked as tightly as the rules let them; what is left
of the face's height is then dealt out between them in a few ways, from balanced to crowded, since what sits on the
walls may want the room elsewhere.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, product

from facegraphic.planning.model import FINE, Item, Placed, Short, beside, space, under

Kinds = Mapping[str, Sequence[Item]]
STEP = 0.5  # mm: holes stand on half millimetres, which a person can mark out
MOST_ROWS = 3  # of knobs
NEARLY = 8.0  # mm: two rows closer than this look like one that was marked out badly
SPREADS = ("even", "compact", "wide")
# How the rows, the last row of hand controls and the feet are spread: alike, or the last or the feet otherwise.
_PAIRS = [(rows, last) for rows in SPREADS for last in SPREADS if last in (rows, "compact")]
_WAYS = sorted(
    ((rows, last, feet) for rows, last in _PAIRS for feet in (*SPREADS, "half")),
    key=lambda way: (len(set(way)), SPREADS.index(way[0])),
)
# How the height that is left over is dealt out: above the far row, between hand controls, before the feet, between
# lamp and foot, below the nearest row.
SHARES = (
    (0.5, 1.0, 1.5, 0.2, 0.5),
    (0.1, 0.3, 1.0, 0.0, 0.0),
    (1.0, 0.3, 0.3, 0.0, 0.0),
    (1.0, 0.0, 0.0, 0.0, 0.0),
    (0.0, 0.0, 1.0, 0.0, 0.0),
)
PLAIN = (0.0, 2.0, 8.0, 9.0, 4.0)  # what each of these costs in looks: knobs belong to the far end
TITLE_MORE = 3.0  # mm
UNTITLED = 3.0  # what it costs that no room is kept for the title: more than a size of knobs


@dataclass(frozen=True)
class Row:
    """Items of one row from left to right; `at_feet` when they stand in the columns of the footswitches."""

    items: tuple[Item, ...]
    at_feet: bool = False

    @property
    def radius(self) -> float:
        return max(item.radius for item in self.items)

    @property
    def is_feet(self) -> bool:
        return self.items[0].kind.name == "footswitches"

    @property
    def is_hand(self) -> bool:
        return any(item.is_hand for item in self.items)


@dataclass(frozen=True)
class Arrangement:
    """`score` is less for a better look; none that is found later has less than `floor`."""

    placed: tuple[Placed, ...]
    score: float
    floor: float


def arrangements(kinds: Kinds, width: float, height: float, faults: list[Short] | None = None) -> Iterator[Arrangement]:
    """Every arrangement that fits a face of this size; what keeps the others out goes to `faults`."""
    faults = [] if faults is None else faults
    seen = set()
    if (feet := kinds["footswitches"]) and _limits([Row(tuple(feet))], width, faults) is None:
        return  # whatever else would be wrong as well

    for rank, rows in enumerate(structures(kinds)):
        if (limits := _limits(rows, width, faults)) is None:
            continue
        for number, way in enumerate(_WAYS):
            columns = _columns(rows, limits, width, way)
            if (key := (rank, tuple(map(tuple, columns)))) in seen:
                continue
            seen.add(key)
            if not all(map(_clear, rows, columns)):
                continue
            for share, (ys, titled) in enumerate(_heights(rows, columns, height, faults)):
                placed = tuple(
                    Placed(item, "top", x, y)
                    for row, xs, y in zip(rows, columns, ys, strict=True)
                    for item, x in zip(row.items, xs, strict=True)
                )
                uneven = sum(a - b < NEARLY for a, b in pairwise(ys))
                plain = number + PLAIN[share] + 5.0 * uneven + UNTITLED * (not titled)
                yield Arrangement(placed, 4.0 * rank + plain, 4.0 * rank)


def structures(kinds: Kinds) -> list[tuple[Row, ...]]:
    """Ways of dealing parts to rows from far to near, the better-looking first."""
    knobs = [*kinds["rotaries"], *kinds["pots"]]
    feet, lamps = list(kinds["footswitches"]), list(kinds["lamps"])
    at_feet = lamps[: len(feet)]
    small = [*kinds["toggles"], *kinds["pushbuttons"], *lamps[len(feet) :]]
    found = []
    for hand in _dealings(knobs):
        low = _lamp_row(at_feet, feet)
        near = [Row(tuple(feet))] if feet else []
        found += [(*hand, *rows, *low, *near) for rows in _dealings(small)]
        if small and at_feet and (joined := _joined(small, at_feet, len(feet))):
            found.append((*hand, joined, *near))
        if small and hand and (len(small) + len(hand[-1].items)) <= 5:
            found.append((*hand[:-1], Row(_between(hand[-1].items, small)), *low, *near))
    return sorted(dict.fromkeys(rows for rows in found if all(map(_balanced, rows))), key=_ragged)


def _dealings(items: Sequence[Item]) -> list[list[Row]]:
    """Ways of dealing items to rows: all kinds together, or each kind in rows of its own."""
    found = [[Row(_mirrored(part)) for part in _dealt(items, sizes)] for sizes in _splits(len(items))]
    kinds: dict[str, list[Item]] = {}
    for item in items:
        kinds.setdefault(item.kind.name, []).append(item)
    if len(kinds) > 1:
        own = [
            [[Row(tuple(part)) for part in _dealt(group, sizes)] for sizes in _splits(len(group))]
            for group in kinds.values()
        ]
        found += [[row for rows in ways for row in rows] for ways in product(*own)]
    return found


def _balanced(row: Row) -> bool:
    """Whether its kinds read alike from both ends."""
    names = [item.kind.name for item in row.items]
    return names == names[::-1]


def _ragged(rows: tuple[Row, ...]) -> float:
    """Less for fewer rows, rows of even length, and rows of one kind."""
    sizes = [len(row.items) for row in rows if row.is_hand]
    uneven = sum(abs(a - b) for a, b in pairwise(sizes))
    mixed = sum(len({item.kind.name for item in row.items}) > 1 for row in rows)
    crowded = sum(max(0, size - 4) for size in sizes)
    return 0.5 * len(rows) + 0.4 * uneven + 0.6 * mixed + crowded


def _splits(count: int) -> list[tuple[int, ...]]:
    """Ways to deal a number to rows: 5 as 5, 3 + 2, 4 + 1 and turned about; 6 as 6, 3 + 3, 4 + 2 or 2 + 2 + 2."""
    if not count:
        return [()]
    found = []
    for rows in range(1, min(count, MOST_ROWS) + 1):
        less, more = divmod(count, rows)
        if rows > 2 and more:
            continue
        sizes = (less + 1,) * more + (less,) * (rows - more)
        found += [sizes, sizes[::-1]]
        if rows == 2 and sizes[1] > 1:
            odd = (sizes[0] + 1, sizes[1] - 1)  # between two feet there may be room for a few only
            found += [odd, odd[::-1]]
    return list(dict.fromkeys(found))


def _dealt(items: Sequence[Item], sizes: Sequence[int]) -> list[Sequence[Item]]:
    starts = [sum(sizes[:i]) for i in range(len(sizes))]
    return [items[start : start + size] for start, size in zip(starts, sizes, strict=True)]


def _mirrored(items: Sequence[Item]) -> tuple[Item, ...]:
    """A row whose kinds read alike from both ends where they can, the kinds in their order from the middle outwards."""
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(item.kind.name, []).append(item)
    odd = [group for group in groups.values() if len(group) % 2]
    row: list[Item] = list(odd[0]) if odd else []
    for group in groups.values():
        if not odd or group is not odd[0]:
            half = (len(group) + 1) // 2
            row = [*group[:half], *row, *group[half:]]
    return tuple(row)


def _between(outer: Sequence[Item], inner: Sequence[Item]) -> tuple[Item, ...]:
    half = (len(outer) + 1) // 2
    return (*outer[:half], *inner, *outer[half:])


def _lamp_row(lamps: Sequence[Item], feet: Sequence[Item]) -> list[Row]:
    return [Row(tuple(lamps), at_feet=True)] if lamps and feet else []


def _joined(small: Sequence[Item], lamps: Sequence[Item], feet: int) -> Row | None:
    """Lamps and small controls in one row, each lamp above its foot."""
    if feet == 1 and len(small) % 2 == 0:
        return Row(_between(small, lamps))
    if feet == 2 and len(lamps) == 2:
        return Row(_between(lamps, small), at_feet=True)
    return None


def _limits(rows: Sequence[Row], width: float, faults: list[Short]) -> list[tuple[float, float]] | None:
    """The least and the greatest pitch of each row; None when a row is too wide."""
    limits = []
    for row in rows:
        least = max((beside(a.shape, b.shape) for a, b in pairwise(row.items)), default=0.0)
        steps = len(row.items) - 1
        room = width - 2 * space("edge") - row.items[0].radius - row.items[-1].radius
        most = room / steps if steps else math.inf
        if room < -FINE or least > most + FINE:
            need = least * steps + width - room
            faults.append(
                Short(need - width, f"{_named(row.items)} side by side need {need:.0f} mm, there are {width:.0f}")
            )
            return None
        limits.append((least, most))
    return limits


def _columns(
    rows: Sequence[Row], limits: Sequence[tuple[float, float]], width: float, spreads: tuple[str, str, str]
) -> list[list[float]]:
    """The x of every item."""
    found: dict[int, list[float]] = {}
    for number, (row, limit) in enumerate(zip(rows, limits, strict=True)):
        if not row.at_feet:
            last = row.is_hand and not any(other.is_hand for other in rows[number + 1 :])
            spread = spreads[2 if row.is_feet else 1 if last else 0]
            pitch = _pitch(limit, len(row.items), width, spread)
            found[number] = _spread(len(row.items), pitch)
    for number, row in enumerate(rows):
        if row.at_feet:
            found[number] = _over_feet(row, found[len(rows) - 1])
    return [found[number] for number in range(len(rows))]


def _pitch(limit: tuple[float, float], count: int, width: float, spread: str) -> float:
    least, most = limit
    least = math.ceil(least / STEP / 2 - FINE) * STEP * 2
    most = max(least, math.floor(most / STEP / 2 + FINE) * STEP * 2) if count > 1 else least
    even = round(width / count / STEP / 2) * STEP * 2
    half = round((least + most) / 2 / STEP / 2) * STEP * 2 if count > 1 else least
    wish = {"even": even, "compact": least, "wide": most, "half": half}[spread]
    return min(max(wish, least), most)


def _spread(count: int, pitch: float) -> list[float]:
    return [(i - (count - 1) / 2) * pitch for i in range(count)]


def _over_feet(row: Row, feet: Sequence[float]) -> list[float]:
    """Over the feet; fewer lamps than feet stand over the outer ones, a single one in the middle."""
    count = len(row.items)
    if count == 1:
        return [0.0] if len(feet) != 1 else [feet[0]]
    return [feet[0] + i * (feet[-1] - feet[0]) / (count - 1) for i in range(count)]


def _heights(
    rows: Sequence[Row], columns: Sequence[Sequence[float]], height: float, faults: list[Short]
) -> Iterator[tuple[list[float], bool]]:
    """The y of every row, in each way to deal out what is left of the height, and whether the title has its share."""
    if not rows:
        yield [], True
        return
    gaps: list[float] = []
    above: list[Placed] = []
    y = 0.0
    for row, xs in zip(rows, columns, strict=True):
        if above:
            step = _drop(above, row, xs, y)
            gaps.append(y - step)
            y = step
        above += [Placed(item, "top", x, y) for item, x in zip(row.items, xs, strict=True)]
    far, near = space("edge") + rows[0].radius, space("edge") + _below(rows[-1])
    highest = math.floor((height / 2 - far) / STEP + FINE) * STEP
    left = highest - math.ceil((near - height / 2) / STEP - FINE) * STEP - sum(gaps)
    if left < -FINE:
        need = height - left
        faults.append(Short(-left, f"{_told(rows)} need {need:.0f} mm from far to near, there are {height:.0f}"))
        return
    # Of what is left the title gets its share first, and a little more where there is some.
    title = min(left, space("title") + TITLE_MORE) // STEP * STEP if left >= space("title") else 0.0
    for shares in SHARES:
        weights = [shares[0], *(_share(a, b, shares) for a, b in pairwise(rows)), shares[4]]
        total = sum(weights) or 1.0
        extra = [math.floor((left - title) * weight / total / STEP + FINE) * STEP for weight in weights]
        extra[_title_gap(rows)] += title
        ys = [highest - extra[0]]
        for gap, more in zip(gaps, extra[1:-1], strict=True):
            ys.append(ys[-1] - gap - more)
        yield ys, title > 0


def _title_gap(rows: Sequence[Row]) -> int:
    """Where the title goes: between hand controls and the rest; under hand controls alone, over the rest alone."""
    hand = sum(row.is_hand for row in rows)
    return hand if all(row.is_hand for row in rows[:hand]) else 0


def _below(row: Row) -> float:
    """The room that the nearest row needs towards the user, its labels included; these stand clear of a shoe."""
    if row.is_feet and len(row.items) > 1:
        return row.items[0].part.tread / 2 + space("label")
    return row.radius + (space("label") if row.is_hand else 0.0)


def _share(one: Row, other: Row, shares: tuple[float, ...]) -> float:
    if one.is_hand and other.is_hand:
        return shares[1]
    return shares[2] if one.is_hand else shares[3]


def _drop(above: Sequence[Placed], row: Row, xs: Sequence[float], start: float) -> float:
    """The highest y at which a row is clear of all above it and lower than the last."""
    y = start - STEP
    for one in above:
        for item, x in zip(row.items, xs, strict=True):
            y = min(y, one.y - under(one.item.shape, item.shape, x - one.x))
    return math.floor(y / STEP + FINE) * STEP


def _clear(row: Row, xs: Sequence[float]) -> bool:
    """Whether the items of a row clear each other, neighbours or not."""
    pairs = combinations(zip(row.items, xs, strict=True), 2)
    return all(b - a >= beside(one.shape, other.shape) - FINE for (one, a), (other, b) in pairs)


def _named(items: Sequence[Item]) -> str:
    counts: dict[str, int] = {}
    for item in items:
        counts[item.kind.title] = counts.get(item.kind.title, 0) + 1
    return " and ".join(f"{count} {title}{_plural(title) if count > 1 else ''}" for title, count in counts.items())


def _plural(title: str) -> str:
    return "es" if title.endswith("ch") else "s"


def _told(rows: Sequence[Row]) -> str:
    return f"{len(rows)} rows ({'; '.join(_named(row.items) for row in rows)})"
