"""What every reader of hole positions gives back, and how much any of them takes in.

Positions are mm as the file has them, x right and y up; what the file's zero is on the box is the job's matter.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from facegraphic.errors import Problem
from facegraphic.geometry.path import Point
from facegraphic.stock.limits import limit

Kind = Literal["table", "NC drill", "DXF", "SVG"]

# Files are made by strangers; beyond these they are refused, before they cost time or memory.
MOST_BYTES = limit("drill-bytes")
MOST_DRAWING_BYTES = limit("drawing-bytes")
MOST_HOLES = limit("holes")
MOST_ENTITIES = limit("entities")
DEEPEST = limit("blocks-deep")
LARGEST_MM = float(limit("far-out"))
LONGEST_ID = limit("id-length")
RIGHT_FILE = "is this the right file? a face has a few dozen holes"


@dataclass(frozen=True)
class DrillHole:
    """A round hole: middle and diameter in mm; where the file has it, as far as its format can say."""

    id: str
    x: float
    y: float
    d: float
    line: int | None = None
    layer: str = ""
    tool: str = ""


@dataclass(frozen=True)
class Slot:
    """What a cutter `width` mm wide leaves on its way from `start` to `end`: no round hole, so it is only told."""

    start: Point
    end: Point
    width: float
    line: int | None = None
    tool: str = ""
    routed: bool = False


@dataclass(frozen=True)
class Asked:
    """What the user says of a file: the unit of figures that have none of their own, and the layers wanted (all)."""

    units: str | None = None
    layers: tuple[str, ...] = ()


@dataclass(frozen=True)
class Reading:
    """A file read. `problems` forbid its use; `notes` tell what was left out or taken on trust.

    `layers` counts the holes of every layer, also of those not wanted; `page` is a drawing's width and height in mm,
    whose lower left corner is then zero.
    """

    kind: Kind
    holes: tuple[DrillHole, ...] = ()
    slots: tuple[Slot, ...] = ()
    notes: tuple[Problem, ...] = ()
    problems: tuple[Problem, ...] = ()
    layers: Mapping[str, int] = field(default_factory=dict)
    page: tuple[float, float] | None = None


class LeftOut(Problem):
    """A note of what may be missing among the holes: left out, or cut off with the file's end."""


class Unreadable(Exception):
    """Stops a reader at once: the one problem that makes the rest of the file not worth reading."""

    def __init__(self, what: str, mend: str, line: int | None = None) -> None:
        super().__init__(what)
        self.what, self.mend, self.line = what, mend, line

    @property
    def told(self) -> tuple[str, str, int | None]:
        return self.what, self.mend, self.line


class TooMuch(Unreadable):
    """A drawing with no end of elements: it may be that these are holes."""


def too_many_holes() -> Unreadable:
    return Unreadable(f"the file holds too many holes: more than {MOST_HOLES} holes are not read", RIGHT_FILE)


def too_large(size: int, most: int) -> Unreadable:
    return Unreadable(f"the file has {size} bytes, more than {most} are not read", RIGHT_FILE)


def far(length: float) -> str:
    """A length without end in a few characters: 1e9, 25400.

    >>> far(1e9), far(-25400.0)
    ('1e9', '-25400')
    """
    return re.sub(r"e\+?(-?)0*", r"e\1", f"{length:g}")
