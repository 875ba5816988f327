"""Choose a place for every label, all at once: the hard rules are conflicts, the wishes are a cost, and it is proved.

The hard rules need no weights: a candidate that meets anything that stands, or leaves the margin, is never made, and
two that come too near to each other are never chosen together. A label that finds no place is left out and told.
"""

from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np
import shapely

from facegraphic.errors import Finding
from facegraphic.job.model import Face, Finish
from facegraphic.layout.candidates import Candidate, Label, candidates
from facegraphic.layout.enclosure import Enclosure, enclosing
from facegraphic.layout.placing import Placing
from facegraphic.layout.refused import no_room
from facegraphic.layout.room import Room
from facegraphic.layout.solver import Problem, solve
from facegraphic.layout.wishes import agreements, costs

SECONDS = 8.0
LEFT_OUT = 1000.0  # more than any layout without faults costs


def place_labels(
    labels: Sequence[Label], finish: Finish, room: Room, enclosures: Sequence[Enclosure], earlier: Mapping[str, str]
) -> Placing:
    """Place all labels of a face; `earlier` has the place of each hole's label in the last run, if that is wanted."""
    kept = [
        [candidate for candidate in own if not any(frame.forbids(candidate) for frame in enclosures)]
        for own in candidates(labels, finish, room)
    ]
    found = [candidate for own in kept for candidate in own]
    ends = np.cumsum([0, *(len(own) for own in kept)]).tolist()
    items = tuple(tuple(range(start, end)) for start, end in pairwise(ends))
    priced = costs(found, labels, earlier)
    problem = Problem(
        items=items,
        costs=tuple(cost.total for cost in priced),
        conflicts=_conflicts(found, finish.gap, enclosures),
        omission=LEFT_OUT,
        agreements=tuple(agreements(found, labels)),
    )
    return Placing(tuple(labels), tuple(found), tuple(priced), problem, solve(problem, SECONDS), room)


def _conflicts(found: Sequence[Candidate], gap: float, enclosures: Sequence[Enclosure]) -> tuple[tuple[int, int], ...]:
    """Pairs of candidates of different labels that would stand too near to each other, or a frame between them."""
    if not found:
        return ()
    areas = np.array([candidate.keep_out(gap) for candidate in found], dtype=object)
    first, second = shapely.STRtree(areas).query(areas, predicate="intersects")
    pairs = {
        (a, b)
        for a, b in zip(first.tolist(), second.tolist(), strict=True)
        if a < b and found[a].label is not found[b].label
    }
    return tuple(sorted(pairs | enclosing(found, enclosures)))


def findings(face: Face, finish: Finish, placing: Placing) -> list[Finding]:
    """What is to be said of the labels as they were placed."""
    said = []
    for number, candidate in enumerate(placing.chosen):
        if candidate is None:
            said.append(no_room(face, finish, placing, number))
        else:
            said += _said_of(face, candidate, [other for other in placing.chosen if other])
    if not placing.solution.proved:
        message = f"the layout may not be the best: proved within {placing.solution.gap:.1%} of it in the time allowed"
        mend = "give some labels a place of their own, which leaves less to search"
        said.append(Finding("layout-not-proved", "note", message, mend, face.side))
    return said


def _said_of(face: Face, candidate: Candidate, others: Sequence[Candidate]) -> list[Finding]:
    said = []
    name, control = candidate.legend.name, candidate.label.control
    if control.place not in ("auto", candidate.place):
        message = f"the label {name} has no room {control.place} its control, so it stands {candidate.place}"
        mend = "shorten it, or ask for another place"
        said.append(Finding("legend-elsewhere", "warning", message, mend, face.side, candidate.box.centre))
    if candidate.fitting.change:
        alike = [c for c in others if c.label.rank == candidate.label.rank and c.fitting.change]
        longest = max((candidate, *alike), key=lambda other: other.box.width)
        if longest is not candidate and longest.cap <= candidate.cap:
            message = f"the label {name} is {candidate.fitting.change}, to be like {longest.legend.name}"
            mend = f"shorten {longest.legend.name}, or give it more room"
        else:
            message = f"the label {name} had no room as asked, so it is {candidate.fitting.change}"
            mend = "shorten it, or give it more room, if it should look like the others"
        said.append(Finding("legend-fitted", "note", message, mend, face.side, candidate.box.centre))
    return said
