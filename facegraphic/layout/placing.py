"""How the labels of a face were placed: kept beside the layout, so that it can be explained and mended."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence, Set
from dataclasses import dataclass, field
from functools import cached_property

from facegraphic.layout.candidates import Candidate, Label
from facegraphic.layout.enclosure import Enclosure
from facegraphic.layout.room import Room
from facegraphic.layout.solver import Problem, Solution, cost_of
from facegraphic.layout.wishes import Cost, Pair


@dataclass(frozen=True)
class Placing:
    """How the labels of a face were placed: what could be chosen, at which cost, and what was."""

    labels: tuple[Label, ...] = ()
    found: tuple[Candidate, ...] = ()
    priced: tuple[Cost, ...] = ()
    problem: Problem = field(default_factory=lambda: Problem((), (), ()))
    solution: Solution = field(default_factory=lambda: Solution((), 0.0, 0.0))
    room: Room | None = None
    pairs: tuple[Pair, ...] = ()
    enclosures: tuple[Enclosure, ...] = ()

    @property
    def chosen(self) -> list[Candidate | None]:
        """Each label's place, None where it found none."""
        indices = self.solution.chosen[: len(self.labels)]
        return [None if index is None else self.found[index] for index in indices]

    @property
    def points(self) -> float:
        """What the layout costs beyond what even a perfect one must: one value for each agreement."""
        taken = {index for index in self.solution.chosen if index is not None}
        kept = (a for a in self.problem.agreements if any(not taken.isdisjoint(value) for value in a.values))
        return self.solution.cost - sum(agreement.weight for agreement in kept)

    def cost(self, chosen: Sequence[int | None]) -> float:
        """The cost of a choice for the labels, pairs that read as one included."""
        taken = set(chosen)
        return cost_of(self.problem, [*chosen, *(self._stand_in(number, taken) for number in range(len(self.pairs)))])

    @cached_property
    def standing(self) -> float:
        """The cost of what was chosen for the labels."""
        return self.cost(self.solution.chosen[: len(self.labels)])

    def swapped(self, out: int, new: int) -> float:
        """What it adds to `cost` of the choice to take one candidate of a label for the one chosen, all others stay.

        It asks only what the two have to do with, so that asking it of every label costs no more for each on a large
        face than on a small one.
        """
        before = self._taken
        after = before - {out} | {new}
        pairs = {number for candidate in (out, new) for number in self._pairs_of[candidate]}
        gone = [out, *(self._stand_in(number, before) for number in pairs)]
        come = [new, *(self._stand_in(number, after) for number in pairs)]
        change = Counter(value for one in come for value in self._values_of[one])
        change.subtract(value for one in gone for value in self._values_of[one])
        costs, used, weights = self.problem.costs, self._used, self._weights
        added = [weights[value] * ((used[value] + more > 0) - (used[value] > 0)) for value, more in change.items()]
        return math.fsum([*(costs[one] for one in come), *(-costs[one] for one in gone), *added])

    def meets(self, candidate: int, but: int) -> bool:
        """Whether a candidate is in conflict with any chosen for a label, but one."""
        return any(other in self._taken and other != but for other in self._near[candidate])

    def _stand_in(self, number: int, taken: Set[int | None]) -> int:
        """What a pair costs is the cost of one of three candidates of its own."""
        pair = self.pairs[number]
        both = 2 if pair.a in taken and pair.b in taken else 1 if pair.a in taken else 0
        return len(self.found) + 3 * number + both

    @cached_property
    def _taken(self) -> frozenset[int | None]:
        return frozenset(self.solution.chosen[: len(self.labels)])

    @cached_property
    def _pairs_of(self) -> Mapping[int, Sequence[int]]:
        """The pairs that a candidate belongs to, by their numbers."""
        return _turned_over((pair.a, pair.b) for pair in self.pairs)

    @cached_property
    def _values_of(self) -> Mapping[int, Sequence[int]]:
        """The values of agreements that a candidate uses, by their numbers."""
        return _turned_over(value for agreement in self.problem.agreements for value in agreement.values)

    @cached_property
    def _weights(self) -> Sequence[float]:
        return [agreement.weight for agreement in self.problem.agreements for _ in agreement.values]

    @cached_property
    def _used(self) -> Mapping[int, int]:
        """By how many of the candidates chosen each value is used."""
        stand_ins = (self._stand_in(number, self._taken) for number in range(len(self.pairs)))
        taken = (one for one in (*self._taken, *stand_ins) if one is not None)
        return Counter(value for one in taken for value in self._values_of[one])

    @cached_property
    def _near(self) -> Mapping[int, Sequence[int]]:
        near: dict[int, list[int]] = defaultdict(list)
        for one, other in self.problem.conflicts:
            near[one].append(other)
            near[other].append(one)
        return near


def _turned_over(groups: Iterable[Sequence[int]]) -> Mapping[int, Sequence[int]]:
    """By member, the numbers of the groups that it is in."""
    found: dict[int, list[int]] = defaultdict(list)
    for number, group in enumerate(groups):
        for one in dict.fromkeys(group):
            found[one].append(number)
    return found
