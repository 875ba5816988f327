"""Labels bent round their control. A candidate's area is the band that its letters lie in: its outlines are only
made for the one that is chosen.
"""

import math
from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.shapes import polar
from facegraphic.job.model import ARCS, Finish, Place
from facegraphic.layout.candidates import Candidate, Label, one_line, straight_block, ways
from facegraphic.layout.room import Room
from facegraphic.lettering.fitting import Fitting
from facegraphic.lettering.text import Block, line_length, set_arc

STEP, FARTHEST = 0.5, 3.0
WIDEST = math.radians(200)  # more of the circle than this turns letters upside down
LARGEST = 12.0  # how much larger than the control's own circle a label may ask for, in mm
BAND_STEP = 8.0  # degrees


def bends(labels: Sequence[Label], finish: Finish, room: Room) -> list[list[Candidate]]:
    """For each label its clear candidates on an arc, in one line: as asked, and smaller when the job wants an arc."""
    sketched = [(number, c) for number, label in enumerate(labels) for c in _tries(label, finish)]
    found: list[list[Candidate]] = [[] for _ in labels]
    taken: set[tuple[int, int, Place]] = set()
    clear = room.clear(np.array([candidate.area for _, candidate in sketched], dtype=object))
    for (number, candidate), stands in zip(sketched, clear, strict=True):
        key = (number, id(candidate.fitting), candidate.place)
        if stands and key not in taken:
            taken.add(key)
            found[number].append(candidate)
    return found


def _tries(label: Label, finish: Finish) -> Iterator[Candidate]:
    """Every arc at growing distances, the nearest first."""
    asked, part = label.control.place, label.control.part
    if asked not in ARCS and (asked != "auto" or part is None or not part.turns):
        return
    for fitting in ways(label, finish):
        length = line_length(one_line(fitting), fitting.style)
        start = max(label.body + finish.gap, length / WIDEST)
        if fitting.change and (asked == "auto" or "two lines" in fitting.change):
            continue
        if start > label.body + finish.gap + LARGEST:
            continue
        for place in (asked,) if asked in ARCS else ARCS:
            for more in np.arange(0.0, FARTHEST, STEP).tolist():
                yield _bent(label, finish, fitting, place, start + more)


def middle_of(label: Label, place: Place) -> float:
    """Where the middle of an arc stands, in degrees clockwise from straight up."""
    if label.control.bearing is not None:
        return label.control.bearing
    return 180.0 if place == "under" else 0.0


def _bent(label: Label, finish: Finish, fitting: Fitting, place: Place, radius: float) -> Candidate:
    block = straight_block(fitting)
    spare = radius - label.body - finish.gap
    band = _band(label, fitting, place, radius, block)
    at = (label.hole.x, label.hole.y)

    def bend() -> Block:
        return set_arc(one_line(fitting), fitting.style, radius, middle_of(label, place), place == "under")

    return Candidate(label, fitting, place, radius, spare, block, at, finish.ink, band, bend)


def _band(label: Label, fitting: Fitting, place: Place, radius: float, block: Block) -> BaseGeometry:
    """The part of a ring that the letters lie in."""
    low, high = block.ink.y0 - block.body.y0, block.ink.y1 - block.body.y0
    inner, outer = radius + low, radius + high
    if place == "under":
        inner, outer = radius + fitting.style.cap - high, radius + fitting.style.cap - low
    half = math.degrees(line_length(one_line(fitting), fitting.style) / radius) / 2
    turns = np.linspace(-half, half, max(3, math.ceil(2 * half / BAND_STEP))) + middle_of(label, place)
    # The chords of the outer edge must not cut into the letters.
    outer /= math.cos(math.radians(turns[1] - turns[0]) / 2)
    centre = (label.hole.x, label.hole.y)
    ring = [polar(centre, outer, turn) for turn in turns] + [polar(centre, inner, turn) for turn in turns[::-1]]
    return shapely.Polygon(ring)
