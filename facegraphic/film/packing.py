"""Pack rectangles on sheets: as few sheets as can be found, and of each sheet the shortest strip from its top.

The method is that of maximal free rectangles (a survey of it: Jylänki 2010): a sheet is the list of the largest
rectangles that are still free in it, which may overlap; a piece is set into one of them, and those it touches are cut
anew. What comes first and which free rectangle it takes is tried in many ways, always the same ones.

Lengths are mm, x right and y down from the upper left corner of the sheet.
"""

import itertools
import math
import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal, NamedTuple

PLAY = 1e-9
SHUFFLES = 80
WORK = 30_000  # pieces set in all, over every way that is tried
MOST_AT_ONCE = 150  # pieces up to which all sheets are filled at once; beyond that, sheet by sheet
ROUNDS = 300
FEW = 6  # pieces of one sheet up to which every way of turning them is tried


class Rect(NamedTuple):
    """A rectangle by its upper left corner and size."""

    x: float
    y: float
    w: float
    h: float

    def meets(self, other: "Rect") -> bool:
        return (
            self.x < other.x + other.w - PLAY
            and other.x < self.x + self.w - PLAY
            and self.y < other.y + other.h - PLAY
            and other.y < self.y + self.h - PLAY
        )

    def holds(self, other: "Rect") -> bool:
        return (
            self.x <= other.x + PLAY
            and self.y <= other.y + PLAY
            and self.x + self.w >= other.x + other.w - PLAY
            and self.y + self.h >= other.y + other.h - PLAY
        )


class Spot(NamedTuple):
    """Where piece `number` lies; turned by a quarter if `turned`."""

    number: int
    rect: Rect
    turned: bool


Size = tuple[float, float]
Rule = Literal["top", "snug", "tight", "slim"]
RULES: tuple[Rule, ...] = ("top", "snug", "tight", "slim")
Layout = list[list[Spot]]


def _area(size: Size) -> float:
    return size[0] * size[1]


def _width(size: Size) -> float:
    return size[0]


def _height(size: Size) -> float:
    return size[1]


# By what pieces are put in order, the largest first.
MEASURES: tuple[Callable[[Size], float], ...] = (_area, max, min, _height, _width, sum)


class _Sheet:
    """A sheet being filled."""

    def __init__(self, free: Sequence[Rect]) -> None:
        self.free = list(free)
        self.spots: list[Spot] = []

    def add(self, index: int, ways: Iterable[tuple[Size, bool]], rule: Rule) -> bool:
        """Set a piece where the rule likes it best; False if it finds no room."""
        best: tuple[tuple[float, ...], Spot] | None = None
        for (w, h), turned in ways:
            for rect in self.free:
                if w > rect.w + PLAY or h > rect.h + PLAY:
                    continue
                score = _score(rect, w, h, rule)
                if best is None or score < best[0]:
                    best = score, Spot(index, Rect(rect.x, rect.y, w, h), turned)
        if best is None:
            return False
        self.spots.append(best[1])
        self.free = without(self.free, best[1].rect)
        return True


def _score(rect: Rect, w: float, h: float, rule: Rule) -> tuple[float, ...]:
    left = (rect.w - w, rect.h - h)
    if rule == "top":  # as high up as can be, then left
        return (rect.y + h, rect.x)
    if rule == "snug":  # the least room beside the piece
        return (min(left), max(left), rect.y, rect.x)
    if rule == "slim":  # the least room on the piece's roomier side
        return (max(left), min(left), rect.y, rect.x)
    return (rect.w * rect.h - w * h, min(left), rect.y, rect.x)


def without(free: Iterable[Rect], taken: Rect) -> list[Rect]:
    """The maximal free rectangles once a rectangle is taken out of some."""
    whole: list[Rect] = []
    cut: list[Rect] = []
    for rect in free:
        if rect.meets(taken):
            cut += _around(rect, taken)
        else:
            whole.append(rect)
    kept = whole
    for number, rect in enumerate(cut):
        others = itertools.chain(whole, cut[:number], (later for later in cut[number + 1 :] if later != rect))
        if not any(other.holds(rect) for other in others):
            kept = [*kept, rect]
    return kept


def _around(rect: Rect, taken: Rect) -> Iterator[Rect]:
    """The up to four largest rectangles of `rect` beside `taken`."""
    right, bottom = rect.x + rect.w, rect.y + rect.h
    if taken.x > rect.x + PLAY:
        yield Rect(rect.x, rect.y, taken.x - rect.x, rect.h)
    if taken.x + taken.w < right - PLAY:
        yield Rect(taken.x + taken.w, rect.y, right - taken.x - taken.w, rect.h)
    if taken.y > rect.y + PLAY:
        yield Rect(rect.x, rect.y, rect.w, taken.y - rect.y)
    if taken.y + taken.h < bottom - PLAY:
        yield Rect(rect.x, taken.y + taken.h, rect.w, bottom - taken.y - taken.h)


@dataclass(frozen=True)
class Stack:
    """What there is to pack on: the free rectangles of a started sheet, if there is one, and of every fresh sheet."""

    fresh: tuple[Rect, ...]
    started: tuple[Rect, ...] | None = None

    def sheets(self) -> Iterator[_Sheet]:
        if self.started is not None:
            yield _Sheet(self.started)
        while True:
            yield _Sheet(self.fresh)


def pack(sizes: Sequence[Size], stack: Stack, turn: bool = True) -> Layout | None:
    """Every piece's spot, sheet by sheet; None if a piece does not even fit on an empty fresh sheet.

    With a started sheet, the first of the sheets is that one, and it may stay empty. `turn` allows quarter turns.
    """
    if not all(_ways(size, turn) and _Sheet(stack.fresh).add(0, _ways(size, turn), "top") for size in sizes):
        return None
    found = [_layout(order, sizes, stack, turn, rule) for order, rule in _trials(sizes)]
    found.append(_by_patterns(sizes, stack, turn))
    best = _fewer(min(found, key=_cost), sizes, stack, turn)
    return [_shortest(sheet, sizes, free, turn) for sheet, free in zip(best, _frees(stack), strict=False)]


def _frees(stack: Stack) -> Iterator[tuple[Rect, ...]]:
    for sheet in stack.sheets():
        yield tuple(sheet.free)


def _fewer(layout: Layout, sizes: Sequence[Size], stack: Stack, turn: bool) -> Layout:
    """Take the emptiest sheet and a few others apart and pack them anew, again and again, to get by with one less."""
    frees = list(itertools.islice(_frees(stack), len(layout)))
    kept = 1 if stack.started is not None else 0  # the started sheet is no fresh one to be saved
    if len(sizes) > MOST_AT_ONCE:
        return layout
    luck = random.Random(len(sizes))
    for _ in range(ROUNDS):
        if len(layout) - kept < 2:
            break
        emptiest = min(range(kept, len(layout)), key=lambda i: _filled(layout[i]))
        others = [i for i in range(len(layout)) if i != emptiest]
        chosen = sorted(luck.sample(others, min(len(others), luck.randint(1, 3))))
        pool = [spot.number for i in (*chosen, emptiest) for spot in layout[i]]
        pool.sort(key=lambda i: -sizes[i][0] * sizes[i][1] * luck.uniform(0.5, 1.0))
        sheets = [_Sheet(frees[i]) for i in chosen]
        rule = luck.choice(RULES)
        rest = [i for i in pool if not any(sheet.add(i, _ways(sizes[i], turn), rule) for sheet in sheets)]
        last = _Sheet(frees[emptiest])
        if not all(last.add(i, _ways(sizes[i], turn), rule) for i in rest) or _filled(last.spots) > _filled(
            layout[emptiest]
        ):
            continue
        for i, sheet in zip(chosen, sheets, strict=True):
            layout[i] = sheet.spots
        layout[emptiest] = last.spots
        if not rest:
            del layout[emptiest], frees[emptiest]
    return layout


def _filled(sheet: Iterable[Spot]) -> float:
    return sum(spot.rect.w * spot.rect.h for spot in sheet)


def _cost(layout: Layout) -> tuple[float, ...]:
    """Sheets, then the sum of their strips, then the last one's."""
    strips = [strip(sheet) for sheet in layout]
    return (len(layout), round(sum(strips), 6), round(strips[-1], 6) if strips else 0.0)


def strip(sheet: Iterable[Spot]) -> float:
    """How far down a sheet is used."""
    return max((spot.rect.y + spot.rect.h for spot in sheet), default=0.0)


def _ways(size: Size, turn: bool) -> list[tuple[Size, bool]]:
    w, h = size
    ways = [(size, False)]
    return [*ways, ((h, w), True)] if turn and abs(w - h) > PLAY else ways


def _trials(sizes: Sequence[Size]) -> Iterator[tuple[list[int], Rule]]:
    """Orders of the pieces and rules for setting them, as many as time allows."""
    if not sizes or len(sizes) > MOST_AT_ONCE:
        return
    indices = range(len(sizes))
    orders = [sorted(indices, key=partial(_first, sizes, measure)) for measure in MEASURES]
    luck = random.Random(len(sizes))
    for _ in range(SHUFFLES):
        orders.append(sorted(indices, key=lambda i: -sizes[i][0] * sizes[i][1] * luck.uniform(0.6, 1.0)))
    trials = ((order, rule) for order in orders for rule in RULES)
    yield from itertools.islice(trials, max(len(RULES), WORK // len(sizes)))


def _first(sizes: Sequence[Size], measure: Callable[[Size], float], index: int) -> tuple[float, float, int]:
    return (-measure(sizes[index]), -max(sizes[index]), index)


def _by(measure: Callable[[Size], float], entry: tuple[Size, tuple[Size, bool]]) -> float:
    return -measure(entry[1][0])


def _layout(order: Iterable[int], sizes: Sequence[Size], stack: Stack, turn: bool, rule: Rule) -> Layout:
    """Set pieces in order, each on the first sheet that has room."""
    fresh = stack.sheets()
    opened = [next(fresh)]
    for index in order:
        ways = _ways(sizes[index], turn)
        if not any(sheet.add(index, ways, rule) for sheet in opened):
            opened.append(next(fresh))
            while not opened[-1].add(index, ways, rule):
                opened.append(next(fresh))
    return [sheet.spots for sheet in opened]


def _by_patterns(sizes: Sequence[Size], stack: Stack, turn: bool) -> Layout:
    """Fill a sheet as full as can be and repeat it while there are pieces for it; then the next, until none are left.

    Many copies then make few kinds of sheet.
    """
    left: dict[Size, list[int]] = {}
    for index in reversed(range(len(sizes))):
        left.setdefault(sizes[index], []).append(index)
    layout: Layout = []
    for number, free in enumerate(_frees(stack)):
        if not any(left.values()):
            break
        if number < len(layout):
            continue
        pattern = _fullest(left, free, turn)
        kinds = [sizes[spot.number] for spot in pattern]
        times = min((len(left[kind]) // kinds.count(kind) for kind in kinds), default=1)
        for _ in range(1 if stack.started is not None and not layout else times):
            layout.append([spot._replace(number=left[sizes[spot.number]].pop()) for spot in pattern])
    return layout or [[]]


def _fullest(left: dict[Size, list[int]], free: tuple[Rect, ...], turn: bool) -> list[Spot]:
    """The fullest sheet of pieces of some kinds, then that with the shortest strip."""
    kinds = [kind for kind, indices in left.items() if indices]
    entries = [(kind, way) for kind in kinds for way in _ways(kind, turn)]
    if len(entries) <= 4:
        orders = list(itertools.permutations(entries))
    else:
        orders = [tuple(sorted(entries, key=partial(_by, measure))) for measure in MEASURES]
    best: tuple[tuple[float, float], list[Spot]] = ((math.inf, math.inf), [])
    for order, rule in itertools.product(orders, RULES):
        sheet, used = _Sheet(free), dict.fromkeys(kinds, 0)
        for kind, way in order:
            indices = left[kind]
            while used[kind] < len(indices) and sheet.add(indices[-1 - used[kind]], [way], rule):
                used[kind] += 1
        area = sum(spot.rect.w * spot.rect.h for spot in sheet.spots)
        best = min(best, ((round(-area, 6), round(strip(sheet.spots), 6)), sheet.spots), key=lambda pair: pair[0])
    return best[1]


def _shortest(sheet: list[Spot], sizes: Sequence[Size], free: tuple[Rect, ...], turn: bool) -> list[Spot]:
    """The same pieces on the same sheet in a shorter strip, where one is found; in the order of the pieces."""
    best = sheet
    indices = sorted(spot.number for spot in sheet)
    for order, ways in _turnings(indices, sizes, turn):
        again = _Sheet(free)
        if all(again.add(index, ways[index], "top") for index in order) and strip(again.spots) < strip(best) - 1e-6:
            best = again.spots
    return sorted(best)


def _turnings(
    indices: list[int], sizes: Sequence[Size], turn: bool
) -> Iterator[tuple[list[int], dict[int, list[tuple[Size, bool]]]]]:
    """Orders of a sheet's pieces, with the ways that each may lie: of a few, every way each."""
    ways = {index: _ways(sizes[index], turn) for index in indices}
    fixed = [ways]
    if len(indices) <= FEW:
        fixed = [dict(zip(indices, ([way] for way in some), strict=True)) for some in itertools.product(*ways.values())]
    for chosen in fixed:
        lying = {index: chosen[index][0][0] for index in indices}
        for key in (partial(_tall, lying), partial(_wide, lying), partial(_large, lying)):
            yield sorted(indices, key=key), chosen


def _tall(lying: dict[int, Size], index: int) -> tuple[float, float, int]:
    return (-lying[index][1], -lying[index][0], index)


def _wide(lying: dict[int, Size], index: int) -> tuple[float, float, int]:
    return (-lying[index][0], -lying[index][1], index)


def _large(lying: dict[int, Size], index: int) -> tuple[float, int]:
    return (-lying[index][0] * lying[index][1], index)
