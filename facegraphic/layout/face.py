"""Lay out one face: what has one place only first (scales, throws, fixed texts), then labels, frames and free text."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.errors import Finding, Severity
from facegraphic.geometry.path import Box, Point
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.model import ARCS, Control, Face, Finish, Frame, Hole
from facegraphic.layout.candidates import Label
from facegraphic.layout.choose import findings, place_labels
from facegraphic.layout.cover import cover_diameter, cover_region
from facegraphic.layout.dial_marks import MARK_CLEAR, MARK_LONG
from facegraphic.layout.enclosure import Enclosure
from facegraphic.layout.explain import reasons
from facegraphic.layout.frames import frame
from facegraphic.layout.ground import Ground, box_region, mark_owner
from facegraphic.layout.lines import section_line
from facegraphic.layout.model import FaceLayout, Legend, Mark, PlacedHole, Proof, Reason
from facegraphic.layout.placing import Placing
from facegraphic.layout.room import Room, apart
from facegraphic.layout.scales import Dial, dial
from facegraphic.layout.texts import free_text
from facegraphic.layout.throws import throws


def lay_out(face: Face, finish: Finish, earlier: Mapping[str, str] | None = None) -> FaceLayout:
    """Place everything on a face; what could not be placed is in the findings.

    `earlier` gives the place of each hole's label in the last run: staying there is then worth something.
    """
    return settle(arrange(face, finish, earlier), face, finish)


@dataclass(frozen=True)
class Arranged:
    """A face with its labels placed, but for what follows from their nudges. Not to be changed once it is made."""

    ground: Ground
    build: "_Build"
    placing: Placing
    said: tuple[Finding, ...]
    reasons: tuple[Reason, ...]


def arrange(face: Face, finish: Finish, earlier: Mapping[str, str] | None = None) -> Arranged:
    """Place what has one place only, then the labels. Nothing here looks at nudges."""
    ground = Ground(face, finish)
    build = _Build([], [], [])
    for wish in face.lines:
        line, title, said = section_line(wish, face, finish)
        build.findings.extend(said)
        _take(ground, build, [line], [title] if title else [])
    standing = [(f"hole {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]
    labels = [_control(face, finish, ground, build, control) for control in face.controls]
    standing += [(legend.name, apart(legend, finish.gap)) for legend in build.legends]
    standing += [(mark_owner(mark), region(mark.path)) for mark in build.marks]
    for text in (text for text in face.texts if text.at is not None):
        placed, said = free_text(text, face, finish, ground)
        build.findings.extend(said)
        if placed:
            build.legends.append(placed)
            standing.append((placed.name, apart(placed, finish.gap)))
            ground.take_legend(placed)
    standing += _treads(face)
    room = Room(ground.inside, finish.gap, standing)
    placing = place_labels(labels, finish, room, _enclosures(face, finish, ground, build), earlier or {})
    return Arranged(ground, build, placing, tuple(findings(face, finish, placing)), reasons(finish, placing))


def settle(arranged: Arranged, face: Face, finish: Finish) -> FaceLayout:
    """Nudge the labels, and place what goes by where they stand. `face` may differ in its nudges from the arranged."""
    placing, ground, build = arranged.placing, arranged.ground.copy(), arranged.build.copy()
    build.findings.extend(arranged.said)
    nudges = {control.hole: control.nudge for control in face.controls}
    for candidate in filter(None, placing.chosen):
        # A nudge is the user's last word: it is not searched round, and the checks say what it meets.
        legend = candidate.legend.moved(*nudges[candidate.label.hole.id])
        build.legends.append(legend)
        _take_apart(ground, legend, finish.gap)
    _frames(face, finish, ground, build)
    for owner, area in _treads(face):
        ground.take(owner, area)
    for text in (text for text in face.texts if text.at is None):
        placed, said = free_text(text, face, finish, ground)
        build.findings.extend(said)
        if placed:
            build.legends.append(placed)
            _take_apart(ground, placed, finish.gap)
    return FaceLayout(
        face,
        _placed_holes(face),
        tuple(build.legends),
        tuple(build.marks),
        tuple(build.findings),
        arranged.reasons,
        Proof(placing.points, placing.solution.proved, placing.solution.gap),
    )


@dataclass(frozen=True)
class _Build:
    """What has been placed so far."""

    legends: list[Legend]
    marks: list[Mark]
    findings: list[Finding]

    def copy(self) -> "_Build":
        return _Build(list(self.legends), list(self.marks), list(self.findings))


def _treads(face: Face) -> list[tuple[str, BaseGeometry]]:
    """Where feet come down on the face."""
    controls = [(face.hole(control.hole), control.part) for control in face.controls]
    return [
        (f"the foot on {hole.id}", disc_region(hole.x, hole.y, part.tread))
        for hole, part in controls
        if part and part.tread
    ]


def _take(ground: Ground, build: _Build, marks: Sequence[Mark], legends: Sequence[Legend]) -> None:
    """Place marks and legends for good."""
    build.marks.extend(marks)
    build.legends.extend(legends)
    for mark in marks:
        ground.take_mark(mark)
    for legend in legends:
        ground.take_legend(legend)


def _take_apart(ground: Ground, legend: Legend, gap: float) -> None:
    """Take a legend with so much room that no text placed after it reads as one with it."""
    if legend.role == "label" and legend.place in ARCS:
        ground.take_legend(legend)
    else:
        ground.take(legend.name, apart(legend, gap))


def _control(face: Face, finish: Finish, ground: Ground, build: _Build, control: Control) -> Label:
    """Place what has one place only, a control's scale and words, and give its label, which is still to be placed."""
    hole = face.hole(control.hole)
    scale = dial(hole, control, finish, lambda box: ground.fits(box_region(box)))
    around = [*scale.legends, *throws(hole, control, finish)]
    build.findings.extend(_crowded(face, ground, hole, scale, around))
    _take(ground, build, scale.marks, around)
    body = cover_diameter(hole, control) / 2
    if scale.marks:
        body += MARK_CLEAR + MARK_LONG
    return Label(hole, control, tuple(around), body)


def _enclosures(face: Face, finish: Finish, ground: Ground, build: _Build) -> list[Enclosure]:
    """The frames with what they hold for certain, before labels are placed."""
    found = []
    for wish in face.frames:
        held = _members(face, wish, build)
        others = [cover_region(hole, face.control(hole.id)) for hole in face.holes if hole.id not in wish.holes]
        others += [region(mark.path) for mark in build.marks if mark.hole and mark.hole not in wish.holes]
        others += [box_region(legend.box) for legend in build.legends if legend.hole not in wish.holes]
        contents = Box(*shapely.total_bounds(held))
        found.append(Enclosure(wish, contents, shapely.union_all(others), ground.inside, finish))
    return found


def _members(face: Face, wish: Frame, build: _Build) -> list[BaseGeometry]:
    """All that a frame holds of what has been placed so far."""
    held = [cover_region(hole, face.control(hole.id)) for hole in face.holes if hole.id in wish.holes]
    held += [region(mark.path) for mark in build.marks if mark.hole in wish.holes]
    return held + [box_region(legend.box) for legend in build.legends if legend.hole in wish.holes]


def _crowded(face: Face, ground: Ground, hole: Hole, scale: Dial, legends: list[Legend]) -> list[Finding]:
    """What a control's own scale and throw legends meet: they have one place only, so it is said, not solved."""
    mend = "use a smaller knob or height, fewer figures (step), shorter words, or move the hole"
    findings = []

    def say(code: str, severity: Severity, at: Point, message: str) -> None:
        findings.append(Finding(code, severity, message, mend, face.side, at))

    if scale.thinned:
        some = "all" if scale.legends else "any of"
        say("scale-thinned", "warning", (hole.x, hole.y), f"the scale of {hole.id} has no room for {some} its figures")
    for legend in legends:
        meets = [owner for owner in ground.blockers(box_region(legend.box)) if owner != f"hole {hole.id}"]
        if meets:
            message = f"{legend.name} meets {', '.join(meets)}"
            say("legend-no-room", "error", legend.box.centre, message)
    if not scale.marks:
        return findings
    ticks = shapely.union_all([region(mark.path) for mark in scale.marks])
    meets = [owner for owner in ground.blockers(ticks) if owner not in (f"hole {hole.id}", "the margin")]
    if meets:
        say("scale-no-room", "error", (hole.x, hole.y), f"the scale of {hole.id} meets {', '.join(meets)}")
    elif not region(face.outline.path).contains(ticks):
        say("scale-no-room", "error", (hole.x, hole.y), f"the scale of {hole.id} runs over the face's edge")
    elif not ground.inside.contains(ticks):
        say("scale-over-margin", "warning", (hole.x, hole.y), f"the scale of {hole.id} runs into the margin")
    return findings


def _frames(face: Face, finish: Finish, ground: Ground, build: _Build) -> None:
    for wish in face.frames:
        mark, title = frame(wish, _members(face, wish, build), finish)
        _take(ground, build, [mark], [title] if title else [])


def _placed_holes(face: Face) -> tuple[PlacedHole, ...]:
    placed = []
    for hole in face.holes:
        control = face.control(hole.id)
        part = control.part.name if control and control.part else None
        placed.append(PlacedHole(hole, part, cover_diameter(hole, control)))
    return tuple(placed)
