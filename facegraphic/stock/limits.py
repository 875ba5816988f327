"""How much is taken from files that strangers may have made: the one table of limits, see limits.toml."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources


@dataclass(frozen=True)
class Limit:
    """The most of something that is still taken, and what it is counted in."""

    name: str
    most: int
    unit: str
    title: str
    source: str = "a choice: see limits.toml"


@cache
def limits() -> Mapping[str, Limit]:
    """Every limit by name."""
    table = tomllib.loads((resources.files(__package__) / "limits.toml").read_text(encoding="utf-8"))
    return {name: Limit(name, **row) for name, row in table["limit"].items()}


@cache
def _steps() -> Mapping[str, int]:
    table = tomllib.loads((resources.files(__package__) / "limits.toml").read_text(encoding="utf-8"))
    return dict(table["step"])


def step(name: str) -> int:
    """What one part of a drawing weighs, in steps of some 10 microseconds. KeyError for a name that is not there."""
    return _steps()[name]


def limit(name: str) -> int:
    """The figure of one limit. KeyError for a name that is not in the table."""
    return limits()[name].most
