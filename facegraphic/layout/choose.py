"""Choose a place for every label: rows and kinds agree where they can, and each stands clear of the rest."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import groupby
from typing import TypeAlias

from facegraphic.errors import Finding
from facegraphic.job.model import Face, Place
from facegraphic.layout.candidates import FARTHEST, ORDERS, Candidate, LabelMaker
from facegraphic.layout.ground import Ground
from facegraphic.lettering.library import spelled

Label: TypeAlias = tuple[LabelMaker, ...]

ROW_MM = 1.0  # holes whose heights differ by less are one row


def choose(face: Face, ground: Ground, labels: Sequence[Label]) -> tuple[list[Candidate], list[Finding]]:
    """Place every label and take its room; one without room becomes a finding of severity error.

    `labels` has for each label its makers, the way it was asked to be set first.
    """
    chosen: list[Candidate] = []
    findings: list[Finding] = []
    asked = [label for label in labels if label[0].control.place != "auto"]
    free = [label for label in labels if label[0].control.place == "auto"]
    for group in (*_rows(asked), *_rows(free)):
        row = _as_one(group, ground)
        together: Sequence[Candidate | None] = row or [None] * len(group)
        for label, candidate in zip(group, together, strict=True):
            found = candidate or _alone(label, ground)
            if found is None:
                findings.append(_no_room(face, label[0], ground))
                continue
            if found.change:
                findings.append(_fitted(face, found, row or ()))
            # A nudge is the user's last word: it is not searched round, and the checks say what it meets.
            found = replace(found, legend=found.legend.moved(*label[0].control.nudge))
            chosen.append(found)
            ground.take_legend(found.legend)
    return chosen, findings


def _rows(labels: Iterable[Label]) -> list[list[Label]]:
    """Group labels that should look alike: same kind of part, same place asked for, same row of holes."""

    def key(label: Label) -> tuple[str, str, int]:
        hole, control = label[0].hole, label[0].control
        return (control.part.rank if control.part else "", control.place, -round(hole.y / ROW_MM))

    return [list(group) for _, group in groupby(sorted(labels, key=key), key)]


def _tries(label: Label) -> Iterator[tuple[int, Place]]:
    """Ways to set and places to stand, in the order they are tried: a place of the first choice, set smaller, is
    better than another place.
    """
    asked = label[0].control.place
    for places in ORDERS if asked == "auto" else ((asked,),):
        for way in range(len(label)):
            for place in places:
                yield way, place


def _as_one(group: Sequence[Label], ground: Ground) -> Sequence[Candidate] | None:
    """One place and size for a whole row, and one baseline where it reads along the row; None where they can't."""
    for way, place in _tries(min(group, key=len)):
        makers = [label[way] for label in group if label[way].only_smaller]
        row = [candidate for maker in makers if (candidate := maker.nearest(place))]
        if len(row) < len(group):
            continue
        if place in ("above", "below"):
            distance = max(candidate.distance for candidate in row)
            row = [maker.at(place, distance) for maker in makers]
        if all(ground.fits(candidate.area) for candidate in row) and _apart(row, ground.gap):
            return row
    return None


def _apart(row: Sequence[Candidate], gap: float) -> bool:
    return all(a.area.distance(b.area) >= gap for i, a in enumerate(row) for b in row[:i])


def _alone(label: Label, ground: Ground) -> Candidate | None:
    for way, place in _tries(label):
        if candidate := label[way].nearest(place, ground.fits):
            return candidate
    return None


def _fitted(face: Face, candidate: Candidate, row: Sequence[Candidate]) -> Finding:
    name = candidate.legend.name
    longest = max((candidate, *row), key=lambda other: other.legend.box.width).legend
    if longest is not candidate.legend:
        message = f"the label {name} is {candidate.change}, like the others of its row; {longest.name} needs it"
        remedy = f"shorten {longest.name}, or give it more room"
    else:
        message = f"the label {name} had no room as asked, so it is {candidate.change}"
        remedy = "shorten it, or give it more room, if it should look like the others"
    return Finding("legend-fitted", "note", message, remedy, face.side, candidate.legend.box.centre)


def _no_room(face: Face, maker: LabelMaker, ground: Ground) -> Finding:
    """Say what stands in a label's way at the first place it might have had."""
    place = ORDERS[0][0] if maker.control.place == "auto" else maker.control.place
    candidate = maker.nearest(place) or maker.at(place, 2 * FARTHEST)
    blockers = ", ".join(ground.blockers(candidate.area)) or "nothing else"
    name = f'the label "{spelled(maker.control.label)}" of {maker.hole.id}'
    return Finding(
        code="legend-no-room",
        severity="error",
        side=face.side,
        at=candidate.legend.box.centre,
        message=f"{name} has no room; {place} it would meet {blockers}",
        remedy=f"shorten it, lower its height ({maker.control.cap:g} mm), give it another place, or move the hole",
    )
