"""Make a choice problem smaller without losing its best solution, and split what is left into connected parts."""

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

Value = tuple[float, tuple[int, ...]]  # what using it once costs, and the candidates that use it


@dataclass(frozen=True)
class Part:
    """A connected part of what is left; its candidates are numbered anew, from 0.

    names: the candidate of the whole problem behind each. items: candidates of each item. costs: one per candidate.
    near: as bits, what each candidate cannot be chosen with, its siblings included. values: shared costs.
    """

    names: tuple[int, ...]
    items: tuple[tuple[int, ...], ...]
    costs: tuple[float, ...]
    near: tuple[int, ...]
    values: tuple[Value, ...]


@dataclass(frozen=True)
class Reduced:
    """What is decided (candidates taken; the cost of those and of items left out) and the parts still open."""

    taken: tuple[int, ...]
    cost: float
    parts: tuple[Part, ...]


def reduce_problem(
    items: Sequence[Sequence[int]],
    costs: Sequence[float],
    conflicts: Iterable[tuple[int, int]],
    omission: float,
    values: Iterable[Value],
) -> Reduced:
    """Decide what can be decided and split the rest; together they still hold a solution of the least cost."""
    rest = _Rest(items, costs, conflicts, values)
    rest.shrink(omission)
    alone = {candidate for candidate in rest.live if rest.near[candidate] == {candidate} and not rest.uses[candidate]}
    out = sum(1 for item in items if rest.live.isdisjoint(item))
    cost = omission * out + sum(rest.costs[candidate] for candidate in sorted(alone))
    return Reduced(tuple(sorted(alone)), cost, tuple(rest.part(group) for group in rest.groups(rest.live - alone)))


class _Rest:
    """The candidates that are still live, and what lies between them."""

    def __init__(
        self,
        items: Sequence[Sequence[int]],
        costs: Sequence[float],
        conflicts: Iterable[tuple[int, int]],
        values: Iterable[Value],
    ) -> None:
        self.costs = list(costs)
        self.live = set(range(len(costs)))
        self.item = [0] * len(costs)
        self.near: list[set[int]] = [set() for _ in costs]  # each with itself, its siblings and its conflicts
        for number, item in enumerate(items):
            for candidate in item:
                self.item[candidate] = number
                self.near[candidate].update(item)
        for one, other in conflicts:
            self.near[one].add(other)
            self.near[other].add(one)
        self.values = [(weight, set(users)) for weight, users in values if weight > 0]
        self.uses: list[set[int]] = [set() for _ in costs]
        for value, (_, users) in enumerate(self.values):
            for candidate in users:
                self.uses[candidate].add(value)

    def shrink(self, omission: float) -> None:
        """Delete candidates that are never needed, until none is left to delete.

        A candidate is not needed when leaving its item out costs no more, or when a neighbour that is in no conflict
        the candidate is not in, and costs no more, can stand in for it. (A sibling is a neighbour.)
        """
        queue = deque(range(len(self.costs)))
        waiting = set(queue)
        for value in range(len(self.values)):
            self._fold(value)
        while queue:
            one = queue.popleft()
            waiting.discard(one)
            if one not in self.live:
                continue
            doomed = [one] if self.costs[one] >= omission else self._replaced(one)
            touched = {again for other in doomed for again in self._delete(other)} - waiting
            queue.extend(sorted(touched))
            waiting |= touched

    def _replaced(self, one: int) -> list[int]:
        """Return the neighbours of `one` in whose place it can always be chosen at no more cost."""
        cost, item = self.costs[one], self.item[one]
        found = {other for other in self.near[one] if self.costs[other] >= cost}
        far = [other for other in self.near[one] if self.item[other] != item]
        for other in far:
            found &= self.near[other]
            if len(found) == 1:  # always `one` itself
                return []
        found.discard(one)
        siblings = self.near[one].difference(far)
        return [
            other
            for other in sorted(found)
            if (self.item[other] == item or siblings <= self.near[other])
            and cost + self._extra(one, other) <= self.costs[other]
        ]

    def _extra(self, one: int, other: int) -> float:
        """Return the weight of the values that `one` uses and `other` does not."""
        return sum(self.values[value][0] for value in sorted(self.uses[one] - self.uses[other]))

    def _delete(self, candidate: int) -> set[int]:
        """Delete a candidate and return those that must be looked at again."""
        self.live.discard(candidate)
        touched = self.near[candidate] - {candidate}
        for other in touched:
            self.near[other].discard(candidate)
        for value in sorted(self.uses[candidate]):
            self.values[value][1].discard(candidate)
            touched |= self._fold(value)
        return touched

    def _fold(self, value: int) -> set[int]:
        """Move a value's weight into its users' costs if at most one can be chosen; return who must be looked at."""
        weight, users = self.values[value]
        if not all(users <= self.near[candidate] for candidate in users):
            return set()
        touched: set[int] = set()
        for candidate in users:
            self.costs[candidate] += weight
            self.uses[candidate].discard(value)
            touched |= self.near[candidate]
        users.clear()
        return touched

    def groups(self, candidates: set[int]) -> list[list[int]]:
        """Split candidates into connected groups, each in ascending order."""
        found, left = [], set(candidates)
        for first in sorted(candidates):
            if first not in left:
                continue
            group, edge = [], [first]
            left.discard(first)
            while edge:
                candidate = edge.pop()
                group.append(candidate)
                around = self.near[candidate].union(*(self.values[value][1] for value in self.uses[candidate])) & left
                left -= around
                edge.extend(around)
            found.append(sorted(group))
        return found

    def part(self, group: Sequence[int]) -> Part:
        """Number the candidates of a connected group anew."""
        number = {candidate: index for index, candidate in enumerate(group)}
        items: dict[int, list[int]] = {}
        for candidate in group:
            items.setdefault(self.item[candidate], []).append(number[candidate])
        near = []
        for candidate in group:
            mask = 0
            for other in self.near[candidate]:
                mask |= 1 << number[other]
            near.append(mask & ~(1 << number[candidate]))
        used = sorted({value for candidate in group for value in self.uses[candidate]})
        return Part(
            names=tuple(group),
            items=tuple(tuple(item) for _, item in sorted(items.items())),
            costs=tuple(self.costs[candidate] for candidate in group),
            near=tuple(near),
            values=tuple(
                (self.values[value][0], tuple(sorted(number[user] for user in self.values[value][1]))) for value in used
            ),
        )
