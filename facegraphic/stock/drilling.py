"""Which bits drill a hole: of each system the nearest that is not smaller, a pilot before it, a step drill if large."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from facegraphic.stock.tables import Bit, bits, drill_rules

System = Literal["mm", "in"]


@dataclass(frozen=True)
class Drilled:
    """The bits for a hole of `d` mm in one system; `final` is None where the table has none so large.

    `over` is how much larger the bit is than the hole, in mm; a tiny minus is a rounded figure.
    """

    d: float
    pilot: Bit | None
    final: Bit | None

    @property
    def over(self) -> float:
        return self.final.diameter - self.d if self.final else 0.0


def drilled(d: float, system: System) -> Drilled:
    """The bits for a hole of some diameter in mm, from the metric or the inch bits of the table."""
    rules = drill_rules()
    final = not_smaller(d, system)
    pilot = not_smaller(rules.pilot, system) if d > rules.pilot_above else None
    return Drilled(d, pilot, final)


def wants_step_drill(d: float) -> bool:
    """Whether a twist bit of this size is likely to grab in thin metal."""
    return d > drill_rules().step_above


def not_smaller(d: float, system: System) -> Bit | None:
    """The smallest bit of a system that makes a hole of at least `d` mm."""
    least = d - drill_rules().fits
    return next((bit for bit in _series(system) if bit.diameter >= least), None)


@cache
def _series(system: System) -> tuple[Bit, ...]:
    rows = (bit for bit in bits().values() if bit.name.endswith(f" {system}"))
    return tuple(sorted(rows, key=lambda bit: bit.diameter))
