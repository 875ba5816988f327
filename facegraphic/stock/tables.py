"""The stock tables as frozen rows. Each is read once from its TOML file in this package."""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any, Literal

from facegraphic.units import MM_PER_INCH, parse_length

Look = Literal["clear", "white", "plate", "toner", "relief"]


@dataclass(frozen=True)
class BoxSize:
    """A die-cast box: outer `size` in mm (length, width, height) at the rim, walls leaning by `draft` degrees."""

    name: str
    size: tuple[float, float, float]
    draft: float
    edge: float
    corner: float
    lid: float
    wall: float
    title: str = ""
    source: str = ""
    post: float = 0.0

    @property
    def volume(self) -> float:
        """Of the block that holds it (mm³)."""
        return math.prod(self.size)


@dataclass(frozen=True)
class Part:
    """A panel part; lengths in mm, angles in degrees. See parts.toml for what each figure is."""

    name: str
    title: str
    rank: str
    hole: float
    thread: float
    nut: float
    washer: float
    above: float
    body: tuple[float, float]
    depth: float
    source: str
    bezel: float = 0.0
    travel: float = 0.0
    step: float = 0.0
    throws: int = 0
    swing: float = 0.0
    tread: float = 0.0
    knob: str = ""
    body_at: tuple[float, float] = (0.0, 0.0)
    lugs: tuple[float, float, float] = (0.0, 0.0, 0.0)
    plug: tuple[float, float] = (0.0, 0.0)

    @property
    def reach(self) -> float:
        """How far it reaches below the panel, lugs and plug included."""
        return max(self.depth + self.lugs[2], self.plug[1])

    @property
    def seat(self) -> float:
        """Diameter of what the part itself covers on top of the panel."""
        return max(self.hole, self.nut, self.washer, self.bezel)

    @property
    def hides(self) -> float:
        """Diameter of the circle that it hides of the panel however its nut is turned; 0 for a part without a rim.

        A nut reaches least at its flats, √3/2 of what it is across the corners (plain geometry). Where a rim stands
        above the panel, the nut is taken to sit below.
        """
        return self.bezel or max(self.washer, self.nut * math.sqrt(3) / 2)

    @property
    def turns(self) -> bool:
        return self.travel > 0

    @property
    def endless(self) -> bool:
        return self.travel >= 360

    @property
    def detents(self) -> int:
        """How many positions a stepped part has; 0 for one that turns smoothly."""
        if not self.step:
            return 0
        return round(self.travel / self.step) + (0 if self.endless else 1)


@dataclass(frozen=True)
class Knob:
    name: str
    diameter: float
    height: float
    source: str
    title: str = ""


@dataclass(frozen=True)
class Film:
    """A process: what it does to the art and the smallest things it can hold (mm). See films.toml."""

    name: str
    title: str
    mirrored: bool
    bits: int
    ground: Literal["paint", "none"]
    look: Look
    line: float
    gap: float
    line_reversed: float
    gap_reversed: float
    text: float
    bleed: float
    cut: Literal["line", "ticks"]
    holes: Literal["mark", "clear", "through"]
    clear: float
    down: str
    ink: str
    source: str
    border: float = 0.0
    choke: float = 0.0
    rim: float = 0.0

    @property
    def steps(self) -> int:
        return len(courses()[self.name].order)

    @property
    def work(self) -> str:
        return self._hours("work")

    @property
    def wait(self) -> str:
        return self._hours("wait")

    @property
    def cautions(self) -> str:
        return ", ".join(dict.fromkeys(name for step in self._course() for name in step.hazards))

    def _course(self) -> list["Step"]:
        return [steps()[name] for name in courses()[self.name].order]

    def _hours(self, kind: str) -> str:
        least, most = (sum(getattr(step, kind)[end] for step in self._course()) / 60 for end in (0, 1))
        return f"{least:.0f} to {most:.0f} h"

    @property
    def stays(self) -> bool:
        """Whether a film stays on the box, which may hang over a hole's edge; ink and toner alone do not."""
        return self.look in ("clear", "white")


@dataclass(frozen=True)
class Paper:
    name: str
    size: tuple[float, float]
    source: str


@dataclass(frozen=True)
class Bit:
    """A drill bit by diameter in mm."""

    name: str
    diameter: float
    source: str


@dataclass(frozen=True)
class DrillRules:
    """How bits are chosen, in mm. See bits.toml."""

    pilot: float
    pilot_above: float
    step_above: float
    fits: float


@dataclass(frozen=True)
class Tolerance:
    """How far something strays, in mm, with one process or ("") with any. See tolerances.toml."""

    name: str
    key: str
    value: float
    title: str
    source: str
    process: str = ""


@dataclass(frozen=True)
class Spacing:
    """A distance that boxes are laid out by, in mm. See spacing.toml."""

    name: str
    value: float
    title: str
    source: str


@dataclass(frozen=True)
class Kind:
    """A kind of part that a box can be asked to hold, and what is usually taken for it. See spacing.toml."""

    name: str
    title: str
    stem: str
    part: tuple[str, ...]
    words: tuple[str, ...]
    many: str
    source: str
    knobs: tuple[str, ...] = ()
    handle: float = 0.0


@dataclass(frozen=True)
class Hazard:
    """What can hurt, and how to keep it from doing so."""

    name: str
    title: str
    text: str
    source: str


@dataclass(frozen=True)
class Step:
    """One step from print to finished box; `work` and `wait` are minutes, least and most. See steps.toml."""

    name: str
    title: str
    text: str
    check: str
    work: tuple[int, int]
    wait: tuple[int, int]
    hazards: tuple[str, ...]
    source: str


@dataclass(frozen=True)
class MaskStuff:
    """What a mask is made of; lengths in mm, `dust` in mm². See masks.toml for what each figure is."""

    name: str
    title: str
    least: float
    radius: float
    dust: float
    need: str
    lay: str
    source: str


@dataclass(frozen=True)
class Course:
    """What a process needs, and its steps in order, by name."""

    process: str
    needs: tuple[str, ...]
    order: tuple[str, ...]
    source: str


def _read(name: str) -> dict[str, Any]:
    return tomllib.loads((resources.files(__package__) / f"{name}.toml").read_text(encoding="utf-8"))


def rows(name: str) -> dict[str, Any]:
    """One of this package's TOML files, for tables that are kept elsewhere."""
    return _read(name)


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}


@cache
def boxes() -> Mapping[str, BoxSize]:
    return {name: BoxSize(name=name, **_tuples(row)) for name, row in _read("boxes")["box"].items()}


@cache
def parts() -> Mapping[str, Part]:
    return {name: Part(name=name, **_tuples(row)) for name, row in _read("parts")["part"].items()}


@cache
def knobs() -> Mapping[str, Knob]:
    return {name: Knob(name=name, **row) for name, row in _read("knobs")["knob"].items()}


@cache
def films() -> Mapping[str, Film]:
    return {name: Film(name=name, **row) for name, row in _read("films")["film"].items()}


@cache
def papers() -> Mapping[str, Paper]:
    rows = _read("papers")["paper"]
    return {
        name: Paper(name, (parse_length(row["size"][0]), parse_length(row["size"][1])), row["source"])
        for name, row in rows.items()
    }


@cache
def bits() -> Mapping[str, Bit]:
    """Metric bits by size, then inch bits by 64ths."""
    table = _read("bits")
    found = {f"{d:g} mm": Bit(f"{d:g} mm", d, table["source"]) for d in table["metric"]}
    for n in range(table["smallest_64ths"], table["largest_64ths"] + 1):
        name = _inch_name(n)
        found[name] = Bit(name, n / 64 * MM_PER_INCH, table["source"])
    return found


@cache
def drill_rules() -> DrillRules:
    table = _read("bits")
    return DrillRules(table["pilot"], table["pilot_above"], table["step_above"], table["fits"])


@cache
def tolerances() -> Mapping[str, Tolerance]:
    return {name: Tolerance(name=name, **row) for name, row in _read("tolerances")["tolerance"].items()}


def usual_tolerance(key: str, process: str) -> float:
    """The stock tolerance of a process under a key of [tolerance], in mm: its own, or else everybody's."""
    rows = [row for row in tolerances().values() if row.key == key and row.process in ("", process)]
    return max(rows, key=lambda row: bool(row.process)).value


@cache
def spacings() -> Mapping[str, Spacing]:
    return {name: Spacing(name=name, **row) for name, row in _read("spacing")["spacing"].items()}


@cache
def kinds() -> Mapping[str, Kind]:
    """What a box can be asked to hold, by the name of the count."""
    return {name: Kind(name=name, **_tuples(row)) for name, row in _read("spacing")["kind"].items()}


def _inch_name(n: int) -> str:
    bottom = 64
    while n % 2 == 0:
        n, bottom = n // 2, bottom // 2
    return f"{n}/{bottom} in"


@cache
def hazards() -> Mapping[str, Hazard]:
    return {name: Hazard(name=name, **row) for name, row in _read("steps")["hazard"].items()}


@cache
def steps() -> Mapping[str, Step]:
    return {name: Step(name=name, **_tuples(row)) for name, row in _read("steps")["step"].items()}


@cache
def courses() -> Mapping[str, Course]:
    """By process, the course of its steps."""
    return {name: Course(process=name, **_tuples(row)) for name, row in _read("steps")["process"].items()}


@cache
def masks() -> Mapping[str, MaskStuff]:
    return {name: MaskStuff(name=name, **row) for name, row in _read("masks")["mask"].items()}


@cache
def colours() -> Mapping[str, str]:
    """Colours in plain words: "#rrggbb" by name. See colours.toml."""
    return dict(_read("colours")["colour"])
