"""How the labels of a face were placed: kept beside the layout, so that it can be explained and mended."""

from collections.abc import Sequence
from dataclasses import dataclass, field

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
        first = len(self.found)
        stand_ins = []
        for number, pair in enumerate(self.pairs):
            both = 2 if pair.a in taken and pair.b in taken else 1 if pair.a in taken else 0
            stand_ins.append(first + 3 * number + both)
        return cost_of(self.problem, [*chosen, *stand_ins])
