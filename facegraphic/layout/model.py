"""A face laid out: legends and ruled marks as outlines in face millimetres, never mirrored."""

from dataclasses import dataclass, replace
from typing import Literal

from facegraphic.errors import Finding
from facegraphic.geometry.path import Box, Path, Point
from facegraphic.job.model import Face, Hole
from facegraphic.lettering.library import spelled
from facegraphic.lettering.text import Block

LegendRole = Literal["label", "position", "numeral", "frame", "text"]
MarkRole = Literal["tick", "frame", "line"]


@dataclass(frozen=True)
class Legend:
    """A piece of lettering where it stands; `hole` names the control it belongs to, if any."""

    block: Block
    role: LegendRole
    place: str
    ink: str
    hole: str | None = None
    angle: float = 0.0

    @property
    def text(self) -> str:
        """What it says, symbols by their names in braces."""
        return spelled(self.block.text)

    @property
    def name(self) -> str:
        """What messages call it: its text, and whose it is."""
        text = self.text.replace("\n", " ")
        return f'"{text}" of {self.hole}' if self.hole else f'"{text}"'

    @property
    def path(self) -> Path:
        return self.block.path

    @property
    def box(self) -> Box:
        """The box of its ink."""
        return self.block.ink

    def moved(self, dx: float, dy: float) -> "Legend":
        return replace(self, block=self.block.moved(dx, dy)) if dx or dy else self


@dataclass(frozen=True)
class Mark:
    """A ruled shape: a tick or dot of a scale, a frame, or a section line."""

    path: Path
    role: MarkRole
    ink: str
    hole: str | None = None
    rule: Literal["nonzero", "evenodd"] = "evenodd"


@dataclass(frozen=True)
class PlacedHole:
    """A hole with what sits in it: `cover` is the diameter that part and knob hide of the face."""

    hole: Hole
    part: str | None
    cover: float

    @property
    def at(self) -> Point:
        return (self.hole.x, self.hole.y)


@dataclass(frozen=True)
class Reason:
    """Why a label stands where it stands: its cost in points, by wish; the next best place and what that would cost
    more; and the places that were never open, with what blocks them.
    """

    legend: str
    stands: str
    cost: float
    parts: tuple[tuple[str, float], ...]
    runner_up: str
    extra: float
    ruled_out: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Proof:
    """What the placing of all labels costs together, and whether that is proved to be the least."""

    cost: float
    proved: bool
    gap: float


@dataclass(frozen=True)
class FaceLayout:
    face: Face
    holes: tuple[PlacedHole, ...]
    legends: tuple[Legend, ...]
    marks: tuple[Mark, ...]
    findings: tuple[Finding, ...]
    reasons: tuple[Reason, ...] = ()
    proof: Proof | None = None
