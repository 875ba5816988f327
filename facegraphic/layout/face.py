"""Lay out one face: scales and throws first, which belong to their controls, then labels, frames and free text."""

import shapely

from facegraphic.errors import Finding, Severity
from facegraphic.geometry.path import Point
from facegraphic.geometry.regions import region
from facegraphic.job.model import Face, Finish, Hole
from facegraphic.layout.candidates import LabelMaker
from facegraphic.layout.choose import choose
from facegraphic.layout.cover import cover_diameter, cover_region
from facegraphic.layout.frames import frame
from facegraphic.layout.ground import Ground, box_region
from facegraphic.layout.model import FaceLayout, Legend, Mark, PlacedHole
from facegraphic.layout.scales import Dial, dial
from facegraphic.layout.texts import free_text
from facegraphic.layout.throws import throws


def lay_out(face: Face, finish: Finish) -> FaceLayout:
    """Place everything on a face; what could not be placed is in the findings."""
    ground = Ground(face, finish)
    legends: list[Legend] = []
    marks: list[Mark] = []
    findings: list[Finding] = []
    labels = []
    for control in face.controls:
        hole = face.hole(control.hole)
        scale = dial(hole, control, finish, lambda box: ground.fits(box_region(box)))
        around = [*scale.legends, *throws(hole, control, finish)]
        findings += _crowded(face, ground, hole, scale, around)
        own = [cover_region(hole, control), *(region(mark.path) for mark in scale.marks)]
        own += [box_region(legend.box) for legend in around]
        for mark in scale.marks:
            ground.take_mark(mark)
        for legend in around:
            ground.take_legend(legend)
        marks += scale.marks
        legends += around
        if control.label:
            labels.append(LabelMaker.ways(hole, control, finish, tuple(own)))
    chosen, refused = choose(face, ground, labels)
    legends += [candidate.legend for candidate in chosen]
    findings += refused
    _frames(face, finish, ground, legends, marks)
    # A text that may stand anywhere gives way to those that have their place.
    for text in sorted(face.texts, key=lambda text: text.at is None):
        placed, said = free_text(text, face, finish, ground)
        findings += said
        if placed:
            legends.append(placed)
            ground.take_legend(placed)
    return FaceLayout(face, _placed_holes(face), tuple(legends), tuple(marks), tuple(findings))


def _crowded(face: Face, ground: Ground, hole: Hole, scale: Dial, legends: list[Legend]) -> list[Finding]:
    """What a control's own scale and throw legends meet: they have one place only, so it is said, not solved."""
    mend = "use a smaller knob or height, fewer figures (step), shorter words, or move the hole"
    findings = []

    def say(code: str, severity: Severity, at: Point, message: str) -> None:
        findings.append(Finding(code, severity, message, mend, face.side, at))

    if scale.thinned:
        say("scale-thinned", "warning", (hole.x, hole.y), f"the scale of {hole.id} has no room for all its figures")
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


def _frames(face: Face, finish: Finish, ground: Ground, legends: list[Legend], marks: list[Mark]) -> None:
    for wish in face.frames:
        members = [cover_region(hole, face.control(hole.id)) for hole in face.holes if hole.id in wish.holes]
        members += [region(mark.path) for mark in marks if mark.hole in wish.holes]
        members += [box_region(legend.box) for legend in legends if legend.hole in wish.holes]
        mark, title = frame(wish, members, finish)
        marks.append(mark)
        ground.take_mark(mark)
        if title:
            legends.append(title)
            ground.take_legend(title)


def _placed_holes(face: Face) -> tuple[PlacedHole, ...]:
    placed = []
    for hole in face.holes:
        control = face.control(hole.id)
        part = control.part.name if control and control.part else None
        placed.append(PlacedHole(hole, part, cover_diameter(hole, control)))
    return tuple(placed)
