"""Why each label stands where it stands: what it costs, what would have been next best, what ruled the rest out."""

from collections.abc import Sequence

from facegraphic.job.model import Finish, Place
from facegraphic.layout.candidates import STRAIGHT, Candidate, nearest, ways
from facegraphic.layout.model import Reason
from facegraphic.layout.placing import Placing


def reasons(finish: Finish, placing: Placing) -> tuple[Reason, ...]:
    """The reason for every label's place, in the order of the job's controls."""
    return tuple(
        _reason(finish, placing, number, candidate) for number, candidate in enumerate(placing.chosen) if candidate
    )


def _reason(finish: Finish, placing: Placing, number: int, candidate: Candidate) -> Reason:
    index = placing.solution.chosen[number]
    assert index is not None
    second, extra = _runner_up(placing, number)
    return Reason(
        legend=candidate.legend.name,
        stands=described(candidate),
        cost=placing.priced[index].total,
        parts=placing.priced[index].parts,
        runner_up=described(second) if second else "",
        extra=extra,
        ruled_out=tuple(_ruled_out(finish, placing, number)),
    )


def described(candidate: Candidate) -> str:
    """A candidate in words."""
    how = f", {candidate.fitting.change}" if candidate.fitting.change else ""
    return f"{candidate.place}, {candidate.distance:.1f} mm from the hole's centre{how}"


def _runner_up(placing: Placing, number: int) -> tuple[Candidate | None, float]:
    """The best other place of a label while all others stay, and how many points more it would cost."""
    out = placing.solution.chosen[number]
    assert out is not None
    here = placing.found[out]
    best: tuple[float, int] | None = None
    for index in placing.problem.items[number]:
        if placing.found[index].place == here.place or placing.meets(index, but=out):
            continue
        more = placing.swapped(out, index)
        if best is None or more < best[0] - 1e-9:
            best = (more, index)
    if best is None:
        return None, 0.0
    return placing.found[best[1]], placing.standing - placing.solution.cost + best[0]


def _ruled_out(finish: Finish, placing: Placing, number: int) -> list[tuple[Place, str]]:
    """The straight places at which the label would meet something that has its one place, however it is set."""
    label = placing.labels[number]
    asked = ways(label, finish)[0]
    own: Sequence[Candidate] = [placing.found[index] for index in placing.problem.items[number]]
    found: list[tuple[Place, str]] = []
    for place in STRAIGHT:
        if placing.room is None or any(c.place == place for c in own):
            continue
        blockers = placing.room.blockers(nearest(label, finish, asked, place).area)
        found.append((place, ", ".join(blockers) or "what stands farther out, or a frame"))
    return found
