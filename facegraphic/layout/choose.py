"""Choose a place for every label: rows and kinds agree where they can, and each stands clear of the rest."""

from collections.abc import Iterable, Sequence
from itertools import groupby

from facegraphic.errors import Finding
from facegraphic.job.model import Face, Place
from facegraphic.layout.candidates import FARTHEST, ORDER, Candidate, LabelMaker
from facegraphic.layout.ground import Ground

ROW_MM = 1.0  # holes whose heights differ by less are one row


def choose(face: Face, ground: Ground, makers: Sequence[LabelMaker]) -> tuple[list[Candidate], list[Finding]]:
    """Place every maker's label and take its room; a label without room becomes a finding of severity error."""
    chosen: list[Candidate] = []
    findings: list[Finding] = []
    asked = [maker for maker in makers if maker.control.place != "auto"]
    free = [maker for maker in makers if maker.control.place == "auto"]
    for group in (*_rows(asked), *_rows(free)):
        together = _as_one(group, ground) or [None] * len(group)
        for maker, candidate in zip(group, together, strict=True):
            found = candidate or _alone(maker, ground)
            if found is None:
                findings.append(_no_room(face, maker, ground))
                continue
            chosen.append(found)
            ground.take_legend(found.legend)
    return chosen, findings


def _rows(makers: Iterable[LabelMaker]) -> list[list[LabelMaker]]:
    """Group makers that should look alike: same kind of part, same place asked for, same row of holes."""

    def key(maker: LabelMaker) -> tuple[str, str, int]:
        rank = maker.control.part.rank if maker.control.part else ""
        return (rank, maker.control.place, -round(maker.hole.y / ROW_MM))

    return [list(group) for _, group in groupby(sorted(makers, key=key), key)]


def _places(maker: LabelMaker) -> tuple[Place, ...]:
    return ORDER if maker.control.place == "auto" else (maker.control.place,)


def _as_one(group: Sequence[LabelMaker], ground: Ground) -> Sequence[Candidate | None] | None:
    """One place for a whole row, and one baseline where it reads along the row; None where they cannot agree."""
    for place in _places(group[0]):
        row = [candidate for maker in group if (candidate := maker.nearest(place))]
        if len(row) < len(group):
            continue
        if place in ("above", "below"):
            distance = max(candidate.distance for candidate in row)
            row = [maker.at(place, distance) for maker in group]
        if all(ground.fits(candidate.area) for candidate in row) and _apart(row, ground.gap):
            return row
    return None


def _apart(row: Sequence[Candidate], gap: float) -> bool:
    return all(a.area.distance(b.area) >= gap for i, a in enumerate(row) for b in row[:i])


def _alone(maker: LabelMaker, ground: Ground) -> Candidate | None:
    for place in _places(maker):
        if candidate := maker.nearest(place, ground.fits):
            return candidate
    return None


def _no_room(face: Face, maker: LabelMaker, ground: Ground) -> Finding:
    """Say what stands in a label's way at the first place it might have had."""
    place = _places(maker)[0]
    candidate = maker.nearest(place) or maker.at(place, FARTHEST)
    blockers = ", ".join(ground.blockers(candidate.area)) or "nothing else"
    x, y = candidate.legend.box.centre
    return Finding(
        code="legend-no-room",
        severity="error",
        side=face.side,
        at=(round(x, 3), round(y, 3)),
        message=f'the label "{maker.control.label}" of {maker.hole.id} has no room; {place} it would meet {blockers}',
        remedy=f"shorten it, lower its height ({maker.control.cap:g} mm), give it another place, or move the hole",
    )
