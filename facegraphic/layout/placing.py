"""How the labels of a face were placed: kept beside the layout, so that it can be explained and mended."""

from dataclasses import dataclass, field

from facegraphic.layout.candidates import Candidate, Label
from facegraphic.layout.room import Room
from facegraphic.layout.solver import Problem, Solution
from facegraphic.layout.wishes import Cost


@dataclass(frozen=True)
class Placing:
    """How the labels of a face were placed: what could be chosen, at which cost, and what was."""

    labels: tuple[Label, ...] = ()
    found: tuple[Candidate, ...] = ()
    priced: tuple[Cost, ...] = ()
    problem: Problem = field(default_factory=lambda: Problem((), (), ()))
    solution: Solution = field(default_factory=lambda: Solution((), 0.0, 0.0))
    room: Room | None = None

    @property
    def chosen(self) -> list[Candidate | None]:
        """Each label's place, None where it found none."""
        return [None if index is None else self.found[index] for index in self.solution.chosen]
