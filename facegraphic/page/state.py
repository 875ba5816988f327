"""A job as the page has it, as values: what is shown, what is said of it, what is wrong with its file now."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from facegraphic.errors import Finding, Problem
from facegraphic.film.gang import Gang
from facegraphic.job.model import Control
from facegraphic.pipeline import Prepared
from facegraphic.stock.faces import Side

MOST_STEPS = 200  # back


@dataclass(frozen=True)
class Shown:
    """The last good state: the bytes of the file it was read from, the job laid out, and in which version each face's
    picture, the box as a body, and its paint last changed.
    """

    data: bytes
    prepared: Prepared
    stamps: Mapping[Side, int]
    body: int
    paint: int

    def stamp(self, side: Side) -> int:
        """When a side's look last changed; one that the job has no face for shows the box's paint."""
        return self.stamps.get(side, self.paint)

    @property
    def newest(self) -> int:
        return max((*self.stamps.values(), self.body, self.paint))


@dataclass(frozen=True)
class Judged:
    """What the checks say of one version, and the sheets it is printed on."""

    version: int
    findings: tuple[Finding, ...] = ()
    gangs: tuple[Gang, ...] = ()


@dataclass(frozen=True)
class History:
    """Whole texts that the page has replaced, and those that it has gone back from; the newest last."""

    past: tuple[bytes, ...] = ()
    future: tuple[bytes, ...] = ()

    def done(self, before: bytes) -> "History":
        return History((*self.past, before)[-MOST_STEPS:])

    def undone(self, now: bytes) -> "History":
        return History(self.past[:-1], (*self.future, now))

    def redone(self, now: bytes) -> "History":
        return History((*self.past, now), self.future[:-1])


@dataclass(frozen=True)
class State:
    """One version of a job. `problems` are those of the file as it is now; then the rest is of an earlier one."""

    version: int = 0
    shown: Shown | None = None
    problems: tuple[Problem, ...] = ()
    judged: Judged = field(default_factory=lambda: Judged(0))
    history: History = field(default_factory=History)

    def broken(self, problems: tuple[Problem, ...]) -> "State":
        return replace(self, version=self.version + 1, problems=problems, history=History())

    def showing(self, shown: Shown, history: History) -> "State":
        return replace(self, version=self.version + 1, shown=shown, problems=(), history=history)


@dataclass(frozen=True)
class Change:
    """What became of a look at the file: the version it led to, and the sides whose picture is another."""

    version: int
    sides: tuple[Side, ...] = ()
    broken: bool = False


def stamped(before: Shown | None, data: bytes, prepared: Prepared, version: int) -> Shown:
    """A prepared job as what is shown in a version: what looks as before keeps its older stamp."""
    stamps: dict[Side, int] = {}
    old = {layout.face.side: layout for layout in before.prepared.layouts} if before else {}
    same = before is not None and _look(before.prepared) == _look(prepared)
    for layout in prepared.layouts:
        side = layout.face.side
        kept = same and before is not None and old.get(side) == layout
        stamps[side] = before.stamps[side] if kept and before else version
    body = before.body if before and _body(before.prepared) == _body(prepared) else version
    paint = before.paint if same and before else version
    return Shown(data, prepared, stamps, body, paint)


def _look(prepared: Prepared) -> object:
    """What every face's look goes by, beside its layout."""
    job = prepared.job
    return (job.paint, job.coats, replace(job.finish, tolerance=None, dpi=0))  # type: ignore[arg-type]


def _body(prepared: Prepared) -> object:
    """What the shape of the box and of what stands in it goes by."""
    job = prepared.job
    faces = [(face.side, face.outline, face.holes, tuple(map(_mute, face.controls))) for face in job.faces]
    return (job.box, job.across, job.deep, job.paint, job.coats, job.shown, faces)


def _mute(control: Control) -> Control:
    """A control without what its lettering goes by."""
    return replace(control, key="", label="", place="auto", cap=0.0, nudge=(0.0, 0.0), bearing=None, clear=None)
