"""Where every label may stand in a straight line: for each way to set it and each place, the nearest clear spot.

A candidate's distance is from the hole's centre to the near side of the text. Further
candidates stand on the baseline the row would share, and beyond the control's own words and figures.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box
from facegraphic.job.model import Control, Finish, Hole, Place
from facegraphic.layout.cover import reach
from facegraphic.layout.ground import box_region
from facegraphic.layout.model import Legend
from facegraphic.layout.room import Room, text_gaps
from facegraphic.lettering.fitting import Fitting, fittings
from facegraphic.lettering.library import condensed_of
from facegraphic.lettering.text import Block, set_block
from facegraphic.lettering.text import Style as TextStyle

STEP, FARTHEST = 0.2, 9.0
ROW_MM = 1.0  # holes whose heights differ by less are one row
S = math.sqrt(0.5)
WAYS: dict[Place, tuple[float, float]] = {
    "below": (0, -1), "above": (0, 1), "right": (1, 0), "left": (-1, 0),
    "above-left": (-S, S), "above-right": (S, S), "below-left": (-S, -S), "below-right": (S, -S),
}  # fmt: skip
STRAIGHT: tuple[Place, ...] = ("below", "above", "right", "left")
MIRRORED: dict[Place, Place] = {
    "left": "right", "right": "left",
    "above-left": "above-right", "above-right": "above-left",
    "below-left": "below-right", "below-right": "below-left",
}  # fmt: skip


@dataclass(frozen=True)
class Label:
    """A control's label to be placed: `own` are the words and figures at it, `body` the radius of all it takes (mm)."""

    hole: Hole
    control: Control
    own: tuple[Legend, ...]
    body: float

    @property
    def rank(self) -> str:
        return self.control.part.rank if self.control.part else ""


@dataclass(frozen=True, eq=False)
class Candidate:
    """A label as it could stand: set in some way and moved by `shift` from where its block was made (mm).

    `spare` is how much farther from the hole it is than its cover asks for. A bent label has the `band` it takes, and
    `bend`, which makes its block.
    """

    label: Label
    fitting: Fitting
    place: Place
    distance: float
    spare: float
    block: Block
    shift: tuple[float, float]
    ink: str
    band: BaseGeometry | None = None
    bend: Callable[[], Block] | None = None

    @cached_property
    def legend(self) -> Legend:
        block = (self.bend() if self.bend else self.block).moved(*self.shift)
        return Legend(block, "label", self.place, self.ink, self.label.hole.id)

    @cached_property
    def box(self) -> Box:
        return Box(*self.band.bounds) if self.band is not None else self.block.ink.moved(*self.shift)

    @cached_property
    def area(self) -> BaseGeometry:
        """What it takes: the box of its ink, or the band its letters lie in."""
        return self.band if self.band is not None else box_region(self.box)

    @property
    def cap(self) -> float:
        return self.fitting.style.cap

    @property
    def baseline(self) -> float:
        """Height of its last baseline."""
        return self.block.body.y0 + self.shift[1]

    def keep_out(self, gap: float) -> BaseGeometry:
        """Its area with half of what it keeps from other labels; touching ones are just apart."""
        if self.band is not None:
            return self.band.buffer(gap / 2 - 1e-6)
        across, along = text_gaps(self.cap, gap)
        dx, dy = across / 2 - 1e-6, along / 2 - 1e-6
        box = self.box
        return box_region(Box(box.x0 - dx, box.y0 - dy, box.x1 + dx, box.y1 + dy))


@dataclass(frozen=True)
class Sketch:
    """One way to set one label at one place, its distance from the hole still open."""

    number: int
    label: Label
    fitting: Fitting
    place: Place
    block: Block
    start: float

    def shift(self, distance: float) -> tuple[float, float]:
        x, y = self.shifts(np.array([distance]))
        return float(x[0]), float(y[0])

    def shifts(self, distances: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        ux, uy = WAYS[self.place]
        width, height = self.block.ink.width, self.block.body.height
        x = self.label.hole.x + ux * distances + np.sign(ux) * width / 2
        y = self.label.hole.y + uy * distances + np.sign(uy) * height / 2
        return x, y

    def boxes(self, distances: NDArray[np.float64], cut: float = 0.0) -> NDArray[np.object_]:
        """Its ink boxes at several distances, the text `cut` mm shorter than it is, its near side where it was."""
        x, y = self.shifts(distances)
        ink, lean = self.block.ink, float(np.sign(WAYS[self.place][0]))
        half = (ink.width - cut) / 2
        middle = ink.centre[0] + x - lean * cut / 2
        found: NDArray[np.object_] = shapely.box(middle - half, ink.y0 + y, middle + half, ink.y1 + y)
        return found

    def at(self, distance: float, ink: str) -> Candidate:
        shift = self.shift(distance)
        spare = distance - self.start
        return Candidate(self.label, self.fitting, self.place, distance, spare, self.block, shift, ink)


@lru_cache(maxsize=4096)
def _block(text: str, style: TextStyle) -> Block:
    return set_block(text, style)


def straight_block(fitting: Fitting) -> Block:
    """A label's text in one straight line."""
    return _block(one_line(fitting), fitting.style)


def rows(labels: Sequence[Label]) -> list[int]:
    """The number of each label's row, from the top: holes at about one height."""
    order = sorted(range(len(labels)), key=lambda i: -labels[i].hole.y)
    found = [0] * len(labels)
    row, top = -1, math.inf
    for index in order:
        if top - labels[index].hole.y > ROW_MM:
            row, top = row + 1, labels[index].hole.y
        found[index] = row
    return found


def candidates(labels: Sequence[Label], finish: Finish, room: Room) -> list[list[Candidate]]:
    """Every candidate of each label that is clear of all that stands; none for a label without room."""
    sketches = [sketch for number, label in enumerate(labels) for sketch in _sketches(number, label, finish)]
    steps = np.arange(0.0, FARTHEST, STEP)
    first = _first_clear(sketches, steps, room)
    found: list[list[Candidate]] = [[] for _ in labels]
    row = rows(labels)
    further: list[tuple[Sketch, float]] = []
    lines = _row_lines(sketches, first, row)
    for sketch, distance in zip(sketches, first, strict=True):
        if distance is None:
            continue
        found[sketch.number].append(sketch.at(distance, finish.ink))
        others = {_aligned(sketch, lines, row), _on_full_baseline(sketch, lines, row), _beyond_own(sketch, finish.gap)}
        for other in sorted(other for other in others if other is not None):
            if distance + 0.05 < other < distance + FARTHEST:
                further.append((sketch, other))
    areas = [sketch.boxes(np.array([distance]))[0] for sketch, distance in further]
    for (sketch, distance), clear in zip(further, room.clear(np.array(areas, dtype=object)), strict=True):
        if clear:
            found[sketch.number].append(sketch.at(distance, finish.ink))
    return found


def ways(label: Label, finish: Finish) -> list[Fitting]:
    """Every way to set a label, as asked first."""
    style = TextStyle(finish.font, label.control.cap)
    return list(fittings(label.control.label, style, condensed_of(finish.font), finish.least_text))


def nearest(label: Label, finish: Finish, fitting: Fitting, place: Place) -> Candidate:
    """The label set in one way at one place, as near to its hole as its cover lets it, clear or not."""
    sketch = sketch_of(0, label, finish, fitting, place)
    return sketch.at(sketch.start, finish.ink)


def _sketches(number: int, label: Label, finish: Finish) -> Iterator[Sketch]:
    for fitting in ways(label, finish):
        whole = fitting.style.cap == label.control.cap
        for place in WAYS:
            # Diagonals are a last resort, so they are tried as asked and at the smallest only.
            if place in STRAIGHT or whole or place == label.control.place:
                yield sketch_of(number, label, finish, fitting, place)


def sketch_of(number: int, label: Label, finish: Finish, fitting: Fitting, place: Place) -> Sketch:
    ux, uy = WAYS[place]
    start = reach(label.hole, label.control, math.degrees(math.atan2(ux, uy))) + finish.gap
    return Sketch(number, label, fitting, place, _block(fitting.text, fitting.style), start)


def _first_clear(sketches: Sequence[Sketch], steps: NDArray[np.float64], room: Room) -> list[float | None]:
    """For each sketch its first distance that is clear."""
    if not sketches:
        return []
    areas = np.concatenate([sketch.boxes(sketch.start + steps) for sketch in sketches])
    clear = room.clear(areas).reshape(len(sketches), len(steps))
    firsts = np.where(clear.any(axis=1), clear.argmax(axis=1), -1).tolist()
    return [
        None if first < 0 else sketch.start + float(steps[first])
        for sketch, first in zip(sketches, firsts, strict=True)
    ]


def _row_lines(
    sketches: Sequence[Sketch], first: Sequence[float | None], row: Sequence[int]
) -> dict[tuple[int, Place, float, int], float]:
    """The height at which a whole row clears what is its own, by row, place, size and number of lines."""
    lines: dict[tuple[int, Place, float, int], float] = {}
    for sketch, distance in zip(sketches, first, strict=True):
        if distance is None or sketch.place not in ("below", "above"):
            continue
        side = sketch.label.hole.y + WAYS[sketch.place][1] * distance
        key = _line_key(sketch, row)
        lines[key] = (min if sketch.place == "below" else max)(lines.get(key, side), side)
    return lines


def _line_key(sketch: Sketch, row: Sequence[int]) -> tuple[int, Place, float, int]:
    share = sketch.fitting.style.cap / sketch.label.control.cap
    return row[sketch.number], sketch.place, round(share, 3), sketch.fitting.text.count("\n")


def _aligned(sketch: Sketch, lines: dict[tuple[int, Place, float, int], float], row: Sequence[int]) -> float | None:
    side = lines.get(_line_key(sketch, row))
    return None if side is None else abs(side - sketch.label.hole.y)


def _on_full_baseline(
    sketch: Sketch, lines: dict[tuple[int, Place, float, int], float], row: Sequence[int]
) -> float | None:
    """The distance at which a label set smaller shares the baseline of those that are not."""
    number, place, _, breaks = _line_key(sketch, row)
    side = lines.get((number, place, 1.0, breaks))
    if side is None or place != "below":
        return None
    return abs(side - sketch.label.hole.y) + sketch.label.control.cap - sketch.fitting.style.cap


def _beyond_own(sketch: Sketch, gap: float) -> float | None:
    """The distance at which the label stands under, or over, all words and figures of its own control."""
    if sketch.place not in ("below", "above") or not sketch.label.own:
        return None
    y = sketch.label.hole.y
    along = max(text_gaps(sketch.fitting.style.cap, gap)[1], 0.5 * sketch.fitting.style.cap)
    if sketch.place == "below":
        return y - min(legend.box.y0 for legend in sketch.label.own) + along
    return max(legend.box.y1 for legend in sketch.label.own) - y + along


def one_line(fitting: Fitting) -> str:
    """A text as it stands on an arc."""
    return fitting.text.replace("\n", " ")
