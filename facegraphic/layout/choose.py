"""Choose a place for every label, all at once: the hard rules are conflicts, the wishes are a cost, and it is proved.

The hard rules need no weights: a candidate that meets anything that stands, or leaves the margin, is never made, and
two that come too near to each other are never chosen together. A label that finds no place is left out and told.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely

from facegraphic.errors import Finding
from facegraphic.job.model import Face, Finish
from facegraphic.layout.bends import bends
from facegraphic.layout.candidates import Candidate, Label, candidates
from facegraphic.layout.enclosure import Enclosure, enclosing
from facegraphic.layout.placing import Placing
from facegraphic.layout.refused import no_room
from facegraphic.layout.room import Room
from facegraphic.layout.solver import Problem, solve
from facegraphic.layout.wishes import Pair, agreements, costs, reading_as_one

SECONDS = 5.0
ADVISED = 8  # refusals for which the smallest change is worked out; a face with more wants another plan
FULL = 40  # labels; on fuller faces pairs that read as one are too many to weigh
LEFT_OUT = 1000.0  # more than any layout without faults costs


def place_labels(
    controls: Sequence[Label], finish: Finish, room: Room, enclosures: Sequence[Enclosure], earlier: Mapping[str, str]
) -> Placing:
    """Place the labels of a face's controls; `earlier` has the place of each in the last run, if that is wanted."""
    labels = [control for control in controls if control.control.label]
    mute = [control for control in controls if not control.control.label and control.rank != "lamp"]
    straight, bent = candidates(labels, finish, room), bends(labels, finish, room)
    kept = [
        [candidate for candidate in (*own, *arcs) if not any(frame.forbids(candidate) for frame in enclosures)]
        for own, arcs in zip(straight, bent, strict=True)
    ]
    found = [candidate for own in kept for candidate in own]
    ends = np.cumsum([0, *(len(own) for own in kept)]).tolist()
    items = tuple(tuple(range(start, end)) for start, end in pairwise(ends))
    priced = costs(found, labels, mute, earlier)
    conflicts = _conflicts(found, finish.gap, enclosures)
    pairs = reading_as_one(found, conflicts) if len(labels) <= FULL else []
    problem = _with_pairs(
        Problem(
            items=items,
            costs=tuple(cost.total for cost in priced),
            conflicts=conflicts,
            omission=LEFT_OUT,
            agreements=tuple(agreements(found, labels)),
        ),
        pairs,
    )
    solution = solve(problem, SECONDS)
    return Placing(tuple(labels), tuple(found), tuple(priced), problem, solution, room, tuple(pairs), tuple(enclosures))


def _with_pairs(problem: Problem, pairs: Sequence[Pair]) -> Problem:
    """Charge for pairs of candidates that are chosen together.

    Each pair is an item of its own with three stand-ins: one is barred by the first of the pair, one by the second,
    and the third is never barred but costs the pair's points. So it costs nothing unless both are chosen.
    """
    count = len(problem.costs)
    items, costs_, conflicts = list(problem.items), list(problem.costs), list(problem.conflicts)
    for number, pair in enumerate(pairs):
        first = count + 3 * number
        items.append((first, first + 1, first + 2))
        costs_ += [0.0, 0.0, pair.points]
        conflicts += [(pair.a, first), (pair.b, first + 1)]
    return replace(problem, items=tuple(items), costs=tuple(costs_), conflicts=tuple(conflicts))


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
    refused = [number for number, candidate in enumerate(placing.chosen) if candidate is None]
    said = [no_room(face, finish, placing, number, n < ADVISED) for n, number in enumerate(refused)]
    said += [_elsewhere(face, c) for c in placing.chosen if c and c.label.control.place not in ("auto", c.place)]
    said += _fitted(face, placing)
    if not placing.solution.proved:
        message = f"the layout may not be the best: proved within {placing.solution.gap:.1%} of it in the time allowed"
        mend = "give some labels a place of their own, which leaves less to search"
        said.append(Finding("layout-not-proved", "note", message, mend, face.side))
    return said


def _elsewhere(face: Face, candidate: Candidate) -> Finding:
    name, asked = candidate.legend.name, candidate.label.control.place
    message = f'the label {name} has no room with place = "{asked}", so it stands {candidate.place}'
    mend = "shorten it, or ask for another place"
    return Finding("legend-elsewhere", "warning", message, mend, face.side, candidate.box.centre)


def _fitted(face: Face, placing: Placing) -> list[Finding]:
    """Name the labels that could not be set as asked, and say how many of their kind are set small to be like them."""
    found = []
    changed = [(i, c) for i, c in enumerate(placing.chosen) if c and c.fitting.change]
    for rank in dict.fromkeys(c.label.rank for _, c in changed):
        kind = [(i, c) for i, c in changed if c.label.rank == rank]
        # Whoever could have been set as asked, by itself, is not to blame.
        short = [c for i, c in kind if all(placing.found[k].fitting.change for k in placing.problem.items[i])]
        short = short or [max((c for _, c in kind), key=lambda c: c.box.width)]
        others = len(kind) - len(short)
        for number, candidate in enumerate(short):
            message = f"the label {candidate.legend.name} had no room as asked, so it is {candidate.fitting.change}"
            if others and not number:
                message += f", and {others} more of its kind {'is' if others == 1 else 'are'} set small to be like it"
            mend = "shorten it, or give it more room"
            found.append(Finding("legend-fitted", "note", message, mend, face.side, candidate.box.centre))
    return found
