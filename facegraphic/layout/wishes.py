"""What makes a layout good, as a written cost: the fewer points, the better. Placing labels keeps the sum least.

Costs are points without a unit; one point is about a millimetre and a half that a label stands farther from its
control. Each wish is a function of its own; what several labels owe each other is an `Agreement`.
"""

from collections import defaultdict
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from facegraphic.geometry.path import Box
from facegraphic.job.model import Place
from facegraphic.layout.candidates import MIRRORED, WAYS, Candidate, Label, rows
from facegraphic.layout.solver import Agreement

NOT_AS_ASKED = 60.0  # a place other than the job's own wish
ELSEWHERE = 1.0  # a place other than in the last run, where that is known
PER_MM = 0.5  # from the nearest that the control's cover allows
PER_TENTH = 1.0  # set a tenth smaller
CONDENSED, TWO_LINES = 4.0, 5.0
ANOTHERS, DOUBTFUL = 12.0, 3.0  # nearer to another control than to its own, or hardly farther
STACKED = 4.0  # reads as one text with a word of its own control
AS_ONE = 4.0  # two labels that would read as one text
NEAR_LINES, NEAR_WORDS = 1.0, 1.4  # gaps that make them so, as shares of the capitals' height
CROWDED = 1.5  # close beside a figure of its own scale

# Below is where most panels have their labels and where the scale is open; a level lever leaves room above and below,
# an upright one beside it, and a foot hides what is below its switch (common practice).
_USUAL: dict[Place, float] = {"below": 0.0, "above": 1.0, "right": 2.0, "left": 2.3}
_UPRIGHT: dict[Place, float] = {"right": 0.0, "left": 0.3, "below": 2.0, "above": 2.5}
_FOOT: dict[Place, float] = {"above": 0.0, "right": 2.0, "left": 2.3, "below": 3.0}
_DIAGONAL, _ARC = 6.0, 7.0

ROW_PLACE, KIND_PLACE, KIND_SIZE, KIND_FONT, BASELINE, SYMMETRY = 3.0, 2.0, 25.0, 2.0, 6.0, 2.5
SAME_MM = 0.5  # holes this close to mirrored positions are a pair


@dataclass(frozen=True)
class Pair:
    """Two candidates, by number, that cost some points when both are chosen."""

    a: int
    b: int
    points: float


@dataclass(frozen=True)
class Cost:
    """The points of one candidate, each with its reason."""

    parts: tuple[tuple[str, float], ...]

    @property
    def total(self) -> float:
        return sum(points for _, points in self.parts)


def costs(
    found: Sequence[Candidate], labels: Sequence[Label], mute: Sequence[Label], earlier: Mapping[str, str]
) -> list[Cost]:
    """The cost of every candidate by itself.

    `mute` are the controls without a label, which a label may be taken for as well; `earlier` has the place of each
    hole's label in the last run.
    """
    boxes = np.array([candidate.box for candidate in found]).reshape(-1, 4)
    away = _distances(boxes, [*labels, *mute])
    number = {id(label): n for n, label in enumerate(labels)}
    priced = []
    for index, candidate in enumerate(found):
        own = number[id(candidate.label)]
        others = np.delete(away[index], own)
        parts = [
            _place(candidate),
            _change(candidate, earlier),
            ("farther from its control", PER_MM * candidate.spare),
            *_setting(candidate),
            _doubt(float(away[index][own]), float(others.min(initial=np.inf))),
            _company(candidate),
        ]
        priced.append(Cost(tuple((why, round(points, 6)) for why, points in parts if points > 1e-9)))
    return priced


def _place(candidate: Candidate) -> tuple[str, float]:
    control, place = candidate.label.control, candidate.place
    if control.place != "auto":
        return "not where the job wants it", 0.0 if place == control.place else NOT_AS_ASKED
    table = _USUAL
    if control.part and control.part.throws and control.positions and control.lever == "upright":
        table = _UPRIGHT
    elif candidate.label.rank == "footswitch":
        table = _FOOT
    return f"{place}, not where it is best", table.get(place, _DIAGONAL if place in WAYS else _ARC)


def _change(candidate: Candidate, earlier: Mapping[str, str]) -> tuple[str, float]:
    before = earlier.get(candidate.label.hole.id, candidate.place)
    return "stood elsewhere in the last run", 0.0 if before == candidate.place else ELSEWHERE


def _setting(candidate: Candidate) -> list[tuple[str, float]]:
    control, style = candidate.label.control, candidate.fitting.style
    tenths = 10 * (1 - style.cap / control.cap)
    return [
        ("set smaller", PER_TENTH * tenths),
        ("condensed", CONDENSED if "condensed" in candidate.fitting.change else 0.0),
        ("on two lines", TWO_LINES if "two lines" in candidate.fitting.change else 0.0),
    ]


def _doubt(own: float, other: float) -> tuple[str, float]:
    """A reader takes a legend for that of the nearest control (common practice; MIL-STD-1472E 5.5.2: very near it)."""
    if other < own + 0.3:
        return "nearer to another control", ANOTHERS
    return "hardly nearer to its own control than to another", DOUBTFUL if other < 1.4 * own + 0.5 else 0.0


def _company(candidate: Candidate) -> tuple[str, float]:
    """Beside or under a word of its own control a label reads as part of that word."""
    box, cap = candidate.box, candidate.cap
    beside = 0
    for legend in candidate.label.own:
        across, along = _gaps(box, legend.box)
        if legend.role == "numeral":
            if along < 0 and 0 <= across < 0.9 * cap:
                return "crowds a figure of its scale", CROWDED
        elif across < 0 and 0 <= along < 1.4 * cap:
            return "stacked with a word of its control", STACKED
        elif along < 0 and 0 <= across < 2 * cap:
            beside += 1
    return "in one line with words of its control", STACKED if beside else 0.0


def _gaps(a: Box, b: Box) -> tuple[float, float]:
    """The gaps between two boxes sideways and upright; negative where they overlap."""
    return max(a.x0 - b.x1, b.x0 - a.x1), max(a.y0 - b.y1, b.y0 - a.y1)


def _distances(boxes: NDArray[np.float64], labels: Sequence[Label]) -> NDArray[np.float64]:
    """From every box to what every control takes, shape (boxes, labels), in mm; 0 where they meet."""
    x = np.array([label.hole.x for label in labels])
    y = np.array([label.hole.y for label in labels])
    radius = np.array([label.body for label in labels])
    dx = np.maximum(np.maximum(boxes[:, :1] - x, x - boxes[:, 2:3]), 0)
    dy = np.maximum(np.maximum(boxes[:, 1:2] - y, y - boxes[:, 3:4]), 0)
    found: NDArray[np.float64] = np.maximum(np.hypot(dx, dy) - radius, 0)
    return found


def agreements(found: Sequence[Candidate], labels: Sequence[Label]) -> list[Agreement]:
    """What labels owe each other: one place in a row and for a kind, one size and font for a kind, one baseline
    in a row, and mirrored places where the holes are mirrored about the face's axis.
    """
    # Labels go by their numbers here: to hash one as a value, its whole lettering would be gone through.
    number = {id(label): n for n, label in enumerate(labels)}
    row = rows(labels)
    groups: dict[Hashable, tuple[float, dict[Hashable, list[int]], set[int]]] = {}

    def add(group: Hashable, weight: float, value: Hashable, index: int) -> None:
        _, values, members = groups.setdefault(group, (weight, defaultdict(list), set()))
        values[value].append(index)
        members.add(number[id(found[index].label)])

    for index, candidate in enumerate(found):
        label = candidate.label
        kind = (label.rank, label.control.lever if label.rank == "switch" else "", label.control.place)
        add(("row place", row[number[id(label)]], kind), ROW_PLACE, candidate.place, index)
        add(("kind place", kind), KIND_PLACE, candidate.place, index)
        add(("kind size", label.rank, label.control.cap), KIND_SIZE, round(candidate.cap, 3), index)
        add(("kind font", label.rank), KIND_FONT, candidate.fitting.style.font.name, index)
        # Beside its control a label has the row's own height: that is one line as well.
        level = candidate.place not in ("below", "above")
        line = "beside" if level else (candidate.place, round(candidate.baseline, 2))
        add(("baseline", row[number[id(label)]]), BASELINE, line, index)
    for a, b in combinations(labels, 2):
        if _mirrored(a, b):
            for index, candidate in enumerate(found):
                if candidate.label is a or candidate.label is b:
                    place = candidate.place
                    value = MIRRORED.get(place, place) if candidate.label is b else place
                    add(("pair", a.hole.id, b.hole.id), SYMMETRY, value, index)
    return [
        Agreement(weight, tuple(map(tuple, values.values())))
        for weight, values, members in groups.values()
        if len(members) > 1 and len(values) > 1
    ]


def reading_as_one(found: Sequence[Candidate], conflicts: Sequence[tuple[int, int]]) -> list[Pair]:
    """Pairs of candidates that may both be chosen but would read as two lines, or two words, of one text."""
    straight = [index for index, candidate in enumerate(found) if candidate.band is None]
    if not straight:
        return []
    barred = set(conflicts)
    boxes = np.array([found[index].box for index in straight])
    caps = np.array([found[index].cap for index in straight])
    across = np.maximum(boxes[:, None, 0] - boxes[None, :, 2], boxes[None, :, 0] - boxes[:, None, 2])
    along = np.maximum(boxes[:, None, 1] - boxes[None, :, 3], boxes[None, :, 1] - boxes[:, None, 3])
    cap = np.minimum(caps[:, None], caps[None, :])
    close = ((across < 0) & (along < NEAR_LINES * cap)) | ((along < 0) & (across < NEAR_WORDS * cap))
    first, second = np.nonzero(np.triu(close, 1))
    pairs = ((straight[a], straight[b]) for a, b in zip(first.tolist(), second.tolist(), strict=True))
    return [Pair(a, b, AS_ONE) for a, b in pairs if found[a].label is not found[b].label and (a, b) not in barred]


def _mirrored(a: Label, b: Label) -> bool:
    """Whether two controls of one kind stand as mirror images about the face's upright axis."""
    across, level = abs(a.hole.x + b.hole.x), abs(a.hole.y - b.hole.y)
    same = a.rank == b.rank and a.control.place == b.control.place == "auto"
    return same and across < SAME_MM and level < SAME_MM and abs(a.hole.x) > SAME_MM
