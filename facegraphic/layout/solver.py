"""Choose one candidate for every item at the least cost, exactly: an integer program, solved with HiGHS."""

import math
import random
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import highspy
import numpy as np

from facegraphic.layout.cliques import bits, clique_rows
from facegraphic.layout.reduction import Part, reduce_problem

TOLERANCE = 1e-6  # of the cost: how far a bound may lie below it and still prove it
TRIES = 40  # of the local search, for each candidate of a part
WORK = 2_000_000  # neighbours visited, at which the local search stops in a part
ENOUGH = 0.9  # of the processor time that a run was given: it was not the machine's other work that stopped it
MORE = 4.0  # times the clock, for a run that was stopped by that
ROWS_PER_CANDIDATE = 10  # beyond this many maximal cliques a smaller set of rows is used


@dataclass(frozen=True)
class Agreement:
    """Things that look better alike: every value that is in use costs `weight` once. values: candidates of each."""

    weight: float
    values: tuple[tuple[int, ...], ...]


@dataclass(frozen=True)
class Problem:
    """Items of which each takes one of its candidates, or is left out.

    items: the candidates of each item; candidates are 0..n-1 and each belongs to one item. costs: at least 0, one per
    candidate. conflicts: pairs of candidates that cannot both be chosen. omission: cost of leaving one item out.
    """

    items: tuple[tuple[int, ...], ...]
    costs: tuple[float, ...]
    conflicts: tuple[tuple[int, int], ...]
    omission: float = 1000.0
    agreements: tuple[Agreement, ...] = ()


@dataclass(frozen=True)
class Solution:
    """What is chosen for each item (None: left out), what that costs, and a cost no solution can go below."""

    chosen: tuple[int | None, ...]
    cost: float
    bound: float

    @property
    def proved(self) -> bool:
        """Whether no solution costs less, up to a relative 1e-6."""
        return self.cost - self.bound <= TOLERANCE * max(1.0, abs(self.cost))

    @property
    def gap(self) -> float:
        """How much of the cost might be saved at most, as a fraction of it."""
        return (self.cost - self.bound) / max(self.cost, 1e-9)


def cost_of(problem: Problem, chosen: Sequence[int | None]) -> float:
    """Return the cost of a choice: candidates, items left out, and values in use."""
    taken = {candidate for candidate in chosen if candidate is not None}
    out = sum(1 for candidate in chosen if candidate is None)
    used = [
        agreement.weight
        for agreement in problem.agreements
        for value in agreement.values
        if not taken.isdisjoint(value)
    ]
    return math.fsum([problem.omission * out, *(problem.costs[candidate] for candidate in taken), *used])


def check_choice(problem: Problem, chosen: Sequence[int | None]) -> None:
    """Raise ValueError unless every item has one of its own candidates or None, and no two are in conflict."""
    if len(chosen) != len(problem.items):
        raise ValueError(f"{len(chosen)} choices for {len(problem.items)} items")
    for number, (item, candidate) in enumerate(zip(problem.items, chosen, strict=True)):
        if candidate is not None and candidate not in item:
            raise ValueError(f"item {number} has no candidate {candidate}")
    taken = set(chosen)
    for one, other in problem.conflicts:
        if one in taken and other in taken:
            raise ValueError(f"candidates {one} and {other} are in conflict")


def solve(problem: Problem, seconds: float = 10.0) -> Solution:
    """Find a choice of the least cost; when `seconds` run out first, the best one found, with a bound.

    They are seconds of this thread on the processor: what else the machine does, and how many jobs are made at a time,
    changes nothing. The same problem gives the same solution, unless time runs out. Raise ValueError when the problem
    is not as `Problem` describes it.
    """
    end = time.thread_time() + seconds
    _check_problem(problem)
    values = [(agreement.weight, value) for agreement in problem.agreements for value in agreement.values]
    reduced = reduce_problem(problem.items, problem.costs, problem.conflicts, problem.omission, values)
    parts = sorted(reduced.parts, key=lambda part: (len(part.names), part.names))
    starts = [_search(part, problem.omission, end) for part in parts]
    kept, bounds = set(reduced.taken), [reduced.cost]
    for number, (part, start) in enumerate(zip(parts, starts, strict=True), 1):
        # Small parts seldom need their share; one that does leaves as much to the larger ones after it.
        share = (end - time.thread_time()) / (1 if number == len(parts) else 2)
        found, bound = _solve_part(part, problem.omission, start, share)
        kept.update(part.names[candidate] for candidate in found)
        bounds.append(bound)
    chosen = tuple(next((candidate for candidate in item if candidate in kept), None) for item in problem.items)
    check_choice(problem, chosen)
    cost = cost_of(problem, chosen)
    return Solution(chosen, cost, min(math.fsum(bounds), cost))


def _check_problem(problem: Problem) -> None:
    """Raise ValueError when candidates, costs, conflicts or agreements are not what `Problem` says they are."""
    count = len(problem.costs)
    if sorted(candidate for item in problem.items for candidate in item) != list(range(count)):
        raise ValueError("candidates must be 0..n-1, each in one item, with one cost each")
    weights = [problem.omission, *problem.costs, *(agreement.weight for agreement in problem.agreements)]
    if not all(math.isfinite(weight) and weight >= 0 for weight in weights):
        raise ValueError("costs and weights must be finite and not negative")
    if any(one == other for one, other in problem.conflicts):
        raise ValueError("a candidate cannot be in conflict with itself")
    named = {candidate for pair in problem.conflicts for candidate in pair}
    named.update(candidate for one in problem.agreements for value in one.values for candidate in value)
    if named and not 0 <= min(named) <= max(named) < count:
        raise ValueError("a conflict or an agreement names a candidate that is not there")


def _part_cost(part: Part, omission: float, taken: Sequence[int]) -> float:
    """Return the cost of choosing `taken` in a part and leaving its other items out."""
    kept = set(taken)
    used = [weight for weight, users in part.values if not kept.isdisjoint(users)]
    return math.fsum([omission * (len(part.items) - len(kept)), *(part.costs[one] for one in kept), *used])


class _Choice:
    """A choice within a part that changes step by step and stays free of conflicts."""

    def __init__(self, part: Part, omission: float) -> None:
        self.near = [tuple(bits(mask)) for mask in part.near]
        self.saving = [omission - cost for cost in part.costs]
        self.weights = [weight for weight, _ in part.values]
        self.uses: list[list[int]] = [[] for _ in part.names]
        for value, (_, users) in enumerate(part.values):
            for user in users:
                self.uses[user].append(value)
        self.used = [0] * len(part.values)  # by how many of the chosen
        self.barred = [0] * len(part.names)  # by how many of the chosen
        self.chosen: set[int] = set()
        self.work = 0  # neighbours visited: a clock that is the same on every machine

    def gain(self, one: int) -> float:
        """Return what taking a candidate would save if nothing bars it."""
        return self.saving[one] - sum(self.weights[value] for value in self.uses[one] if not self.used[value])

    def take(self, one: int) -> float:
        """Take a candidate that nothing bars and return what it saves."""
        gain = self.gain(one)
        self.chosen.add(one)
        self._count(one, 1)
        return gain

    def drop(self, one: int) -> float:
        """Undo the taking of a candidate and return what that loses."""
        self.chosen.discard(one)
        self._count(one, -1)
        return self.gain(one)

    def _count(self, one: int, step: int) -> None:
        """Count a candidate in or out of what bars its neighbours and uses its values."""
        self.work += len(self.near[one])
        for other in self.near[one]:
            self.barred[other] += step
        for value in self.uses[one]:
            self.used[value] += step

    def fill(self, among: Iterable[int]) -> tuple[float, list[int]]:
        """Take what nothing bars, the most saved for each neighbour first; return what it saves and who is new."""
        total, new = 0.0, []
        open_ = [one for one in among if not self.barred[one] and one not in self.chosen]
        for one in sorted(open_, key=lambda one: (-self.gain(one), len(self.near[one]))):
            if not self.barred[one] and self.gain(one) > 0:
                total += self.take(one)
                new.append(one)
        return total, new

    def force(self, one: int) -> None:
        """Take a candidate, drop what bars it and fill what comes free; undo it all if that costs more."""
        out = [other for other in self.near[one] if other in self.chosen]
        lost = sum([self.drop(other) for other in out])
        gain = self.take(one)
        more, new = self.fill(sorted({far for other in out for far in self.near[other]}))
        if gain + more < lost - 1e-9:
            for other in (one, *new):
                self.drop(other)
            for other in out:
                self.take(other)


def _search(part: Part, omission: float, end: float) -> list[int]:
    """Choose greedily, then force candidates in one after another until `end`, and keep what costs no more."""
    choice = _Choice(part, omission)
    choice.fill(range(len(part.names)))
    dice = random.Random(1)
    for _ in range(TRIES * len(part.names)):
        if choice.work > WORK or time.thread_time() > end:
            break
        one = dice.randrange(len(part.names))
        if one not in choice.chosen and choice.barred[one] <= 2:
            choice.force(one)
    return sorted(choice.chosen)


def _solve_part(part: Part, omission: float, start: list[int], seconds: float) -> tuple[list[int], float]:
    """Return the candidates to choose in a part, no worse than `start`, and a bound on its cost."""
    end = time.thread_time() + seconds
    cost = _part_cost(part, omission, start)
    low = math.fsum(min(omission, *(part.costs[one] for one in item)) for item in part.items)
    if cost <= low or seconds <= 0:
        return start, min(low, cost)
    found, bound = _run(_model(part, omission), len(part.names), end)
    best = start
    if _fits(part, found) and _part_cost(part, omission, found) < cost:
        best, cost = found, _part_cost(part, omission, found)
    # A bound above a choice that was checked is false, and then nothing the run said is to be trusted.
    if bound > cost + TOLERANCE * max(1.0, cost):
        bound = low
    return best, min(max(low, bound), cost)


def _fits(part: Part, taken: Sequence[int]) -> bool:
    """Tell whether no two of these candidates of a part are in conflict, siblings included."""
    mask = sum(1 << one for one in set(taken))
    return not any(part.near[one] & mask for one in taken)


def _model(part: Part, omission: float) -> highspy.HighsLp:
    """Write a part as an integer program: a 0/1 column for each candidate, then one for each value."""
    count = len(part.names)
    rows = [(list(bits(row)), -1) for row in clique_rows(part.near, ROWS_PER_CANDIDATE * count)]
    item_of = {candidate: number for number, item in enumerate(part.items) for candidate in item}
    for value, (_, users) in enumerate(part.values):
        by_item: dict[int, list[int]] = {}
        for user in users:
            by_item.setdefault(item_of[user], []).append(user)
        rows += [(together, count + value) for together in by_item.values()]
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = count + len(part.values), len(rows)
    lp.col_cost_ = np.array([cost - omission for cost in part.costs] + [weight for weight, _ in part.values])
    lp.offset_ = omission * len(part.items)
    lp.col_lower_, lp.col_upper_ = np.zeros(lp.num_col_), np.ones(lp.num_col_)
    lp.row_lower_ = np.full(len(rows), -highspy.kHighsInf)
    lp.row_upper_ = np.array([1.0 if value < 0 else 0.0 for _, value in rows])
    lp.integrality_ = [highspy.HighsVarType.kInteger] * lp.num_col_
    index = [column for together, value in rows for column in (together if value < 0 else [*together, value])]
    lengths = [len(together) + (value >= 0) for together, value in rows]
    matrix = lp.a_matrix_
    matrix.format_ = highspy.MatrixFormat.kRowwise
    matrix.start_ = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int32)
    matrix.index_ = np.array(index, dtype=np.int32)
    matrix.value_ = np.array([-1.0 if column >= count else 1.0 for column in index])
    return lp


class _Silent(highspy.Highs):
    """HiGHS without its banner, which it prints while it is being made."""

    def enableCallbacks(self) -> None:
        """Silence everything instead; no callbacks are used."""
        self.silent()


def _run(lp: highspy.HighsLp, count: int, end: float) -> tuple[list[int], float]:
    """Run HiGHS until `end`; return which of the first `count` columns it chose, and its bound.

    HiGHS looks at the clock on the wall. Where that has stopped it while the machine did other things, it runs again.
    """
    seconds = wall = max(0.0, end - time.thread_time())
    while True:
        start = time.thread_time()
        result = _run_once(lp, count, wall)
        if not result.stopped or time.thread_time() - start >= ENOUGH * seconds:
            return result.chosen, result.bound
        wall *= MORE


@dataclass(frozen=True)
class _Result:
    """Which columns HiGHS chose, its bound, and whether its time had run out."""

    chosen: list[int]
    bound: float
    stopped: bool = False


def _run_once(lp: highspy.HighsLp, count: int, seconds: float) -> _Result:
    """Run HiGHS for some seconds on the clock.

    Without a result that it stands by, nothing is chosen and the bound is minus infinity.
    """
    highs = _Silent()  # type: ignore[no-untyped-call]
    options = {"threads": 1, "mip_rel_gap": 0.0, "mip_feasibility_tolerance": 1e-9, "time_limit": seconds}
    passed = [highs.setOptionValue(name, value) for name, value in options.items()]
    passed.append(highs.passModel(lp))
    if any(status != highspy.HighsStatus.kOk for status in passed):
        return _Result([], -math.inf)
    status = highs.run()
    if status == highspy.HighsStatus.kError:
        # Something else in this process ran HiGHS with another number of threads, and left its workers behind.
        highspy.Highs.resetGlobalScheduler(True)
        status = highs.run()
    stopped = highs.getModelStatus() == highspy.HighsModelStatus.kTimeLimit
    done = stopped or highs.getModelStatus() == highspy.HighsModelStatus.kOptimal
    if status == highspy.HighsStatus.kError or not done:
        return _Result([], -math.inf)
    solution, bound = highs.getSolution(), highs.getInfo().mip_dual_bound
    chosen = [column for column in range(count) if solution.col_value[column] > 0.5] if solution.value_valid else []
    return _Result(chosen, bound if math.isfinite(bound) else -math.inf, stopped)
