"""Why a label can't stand, and the smallest change that would free it: set smaller, shorter, or its hole moved.

Everything else stays where the best layout for the others has put it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from facegraphic.errors import Finding
from facegraphic.geometry.shapes import polar
from facegraphic.job.model import ARCS, Face, Finish, Place
from facegraphic.layout.candidates import STRAIGHT, Label, nearest, sketch_of, ways
from facegraphic.layout.placing import Placing
from facegraphic.layout.room import Room, apart
from facegraphic.lettering.fitting import Fitting
from facegraphic.lettering.library import spelled

MOST_MOVED = 20.0
DIRECTIONS = ("up", "up and right", "right", "down and right", "down", "down and left", "left", "up and left")
TRIES = 20
OUT = np.arange(0.0, 6.0, 0.5)  # a little farther out than the nearest, too


@dataclass(frozen=True)
class _Case:
    """A label without room among all that stands now."""

    finish: Finish
    label: Label
    room: Room

    @property
    def places(self) -> tuple[Place, ...]:
        asked = self.label.control.place
        return STRAIGHT if asked in ("auto", *ARCS) else (asked, *STRAIGHT)

    def stands(self, fittings: Sequence[Fitting], cut: float = 0.0) -> bool:
        """Whether the label, `cut` mm shorter than it is, has room in one of some ways to set it."""
        sketches = [sketch_of(0, self.label, self.finish, way, place) for way in fittings for place in self.places]
        areas = [sketch.boxes(sketch.start + OUT, cut) for sketch in sketches if sketch.block.ink.width > cut]
        return bool(areas) and bool(self.room.clear(np.concatenate(areas)).any())


def no_room(face: Face, finish: Finish, placing: Placing, number: int, advise: bool) -> Finding:
    """Name a label that found no place, what blocks it at its first place, and, if asked, what would free it."""
    label = placing.labels[number]
    case = _Case(finish, label, _as_it_stands(placing, label))
    asked = label.control.place
    place: Place = "below" if asked == "auto" else asked
    beside: Place = {"around": "above", "under": "below"}.get(place, place)  # type: ignore[assignment]
    first = nearest(label, finish, ways(label, finish)[0], beside)
    blockers = ", ".join(case.room.blockers(first.area)) or "a frame, or what stands farther out"
    text = spelled(label.control.label).replace("\n", " ")
    return Finding(
        code="legend-no-room",
        severity="error",
        side=face.side,
        at=first.box.centre,
        message=f'the label "{text}" of {label.hole.id} has no room; {place} it would meet {blockers}',
        remedy=_remedy(case) if advise else "mend the others first: too many labels have no room to advise on each",
    )


def _as_it_stands(placing: Placing, label: Label) -> Room:
    """The room that is left once all other labels have their places, and the frames that don't hold this one."""
    assert placing.room is not None
    room = placing.room
    legends = [candidate.legend for candidate in placing.chosen if candidate]
    standing = list(zip(room.owners, room.taken, strict=True))
    standing += [(legend.name, apart(legend, room.gap)) for legend in legends]
    standing += [("a frame", frame.area()) for frame in placing.enclosures if label.hole.id not in frame.wish.holes]
    return Room(room.inside, room.gap, standing)


def _remedy(case: _Case) -> str:
    if case.stands(ways(case.label, case.finish)):
        # It has room by itself, so what is in its way is the frame that would have to grow round it.
        return (
            "its frame has no room to grow round it: move the frame's holes, leave it out of the frame, or shorten it"
        )
    found = [text for text in (_smaller(case), _shorter(case), _moved(case)) if text]
    return "; or ".join(found) or "take a larger face, fewer controls, or leave this label out"


def _smaller(case: _Case) -> str:
    """The height at which it would stand, even one below what the process holds."""
    asked = ways(case.label, case.finish)
    least = min(way.style.cap for way in asked)

    def works(less: float) -> bool:
        return case.stands([replace(way, style=way.style.at(least - less)) for way in asked])

    less = _least(works, least - 0.8)
    if less is None:
        return ""
    cap = math.floor(10 * (least - less)) / 10
    below = "" if cap >= case.finish.least_text else f", which {case.finish.film.name} may not hold"
    return f"set it {cap:g} mm high{below}"


def _shorter(case: _Case) -> str:
    """By how much it must be shorter at the least."""
    asked = ways(case.label, case.finish)
    longest = max(sketch_of(0, case.label, case.finish, way, "below").block.ink.width for way in asked)
    cut = _least(partial(case.stands, asked), 0.9 * longest)
    return f"shorten it by {math.ceil(10 * cut) / 10:g} mm" if cut is not None else ""


def _moved(case: _Case) -> str:
    """How far its hole must move, with all that is its own, in the direction where that is least."""
    hole = case.label.hole
    own = {
        f"hole {hole.id}",
        f"the foot on {hole.id}",
        f"the scale of {hole.id}",
        *(legend.name for legend in case.label.own),
    }
    standing = list(zip(case.room.owners, case.room.taken, strict=True))
    rest = replace(case, room=Room(case.room.inside, case.room.gap, [(o, a) for o, a in standing if o not in own]))
    its = [(o, a) for o, a in standing if o in own]
    best: tuple[float, int] | None = None
    for bearing in range(0, 360, 45):
        far = _least(partial(_stands_moved, rest, its, bearing), MOST_MOVED)
        if far is not None and (best is None or far < best[0] - 0.05):
            best = (far, bearing)
    if best is None:
        return ""
    return f"move hole {hole.id} {math.ceil(10 * best[0]) / 10:g} mm {DIRECTIONS[best[1] // 45]}"


def _stands_moved(case: _Case, own: Sequence[tuple[str, BaseGeometry]], bearing: float, far: float) -> bool:
    """Whether hole, cover, scale and words have room when moved, and the label beside them."""
    hole = case.label.hole
    x, y = polar((hole.x, hole.y), far, bearing)
    dx, dy = x - hole.x, y - hole.y
    moved = [(owner, translate(area, dx, dy)) for owner, area in own]
    if not case.room.clear(np.array([area for _, area in moved], dtype=object)).all():
        return False
    words = tuple(legend.moved(dx, dy) for legend in case.label.own)
    standing = [*zip(case.room.owners, case.room.taken, strict=True), *moved]
    label = replace(case.label, hole=replace(hole, x=x, y=y), own=words)
    case = replace(case, room=Room(case.room.inside, case.room.gap, standing), label=label)
    return case.stands(ways(case.label, case.finish))


def _least(works: Callable[[float], bool], most: float) -> float | None:
    """The least amount that works, to 0.05: tries rise evenly, then the last step is halved."""
    step = most / TRIES
    for number in range(1, TRIES + 1):
        if works(number * step):
            low, high = (number - 1) * step, number * step
            while high - low > 0.05:
                middle = (low + high) / 2
                low, high = (low, middle) if works(middle) else (middle, high)
            return high
    return None
