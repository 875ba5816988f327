"""How things look in pictures: shapes of hardware, and surfaces. See hardware.toml and surfaces.toml."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from facegraphic.stock.tables import rows


@dataclass(frozen=True)
class Shape:
    """Figures of a kind of hardware by name: mm, degrees or shares. See hardware.toml for what each is."""

    name: str
    title: str
    figures: Mapping[str, float]
    source: str

    def __getitem__(self, figure: str) -> float:
        return self.figures[figure]


@dataclass(frozen=True)
class Bore:
    """What a socket looks like from outside: diameters of its mouth and of the pin in it (0: none), in mm."""

    part: str
    mouth: float
    source: str
    pin: float = 0.0
    plastic: bool = False


@dataclass(frozen=True)
class Surface:
    """How a surface meets light: sRGB `colour`, `rough` and `metal` and `glow` from 0 to 1."""

    name: str
    title: str
    colour: str
    rough: float
    source: str
    metal: float = 0.0
    glow: float = 0.0


@dataclass(frozen=True)
class Light:
    """A soft box: where it stands and how far it spreads in degrees, what it lights, how it shines in reflections."""

    name: str
    title: str
    azimuth: float
    elevation: float
    wide: float
    high: float
    strength: float
    shine: float
    source: str


@cache
def shapes() -> Mapping[str, Shape]:
    return {
        name: Shape(name, row.pop("title"), {key: float(row[key]) for key in row if key != "source"}, row["source"])
        for name, row in rows("hardware")["shape"].items()
    }


@cache
def bores() -> Mapping[str, Bore]:
    """By the socket's name in parts.toml."""
    return {name: Bore(part=name, **row) for name, row in rows("hardware")["bore"].items()}


@cache
def surfaces() -> Mapping[str, Surface]:
    return {name: Surface(name=name, **row) for name, row in rows("surfaces")["surface"].items()}


@cache
def lights() -> Mapping[str, Light]:
    return {name: Light(name=name, **row) for name, row in rows("surfaces")["light"].items()}
