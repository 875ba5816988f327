"""Parts as meshes above the panel: nuts, washers, bushings, levers, buttons, lamps, sockets, and knobs on shafts.

Everything stands round the hole, x and y as on the face, z up from the panel, in the figures of parts.toml and
knobs.toml and, for what is only looked at, hardware.toml.
"""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from facegraphic.preview.knobs import is_bar, knob_surfaces
from facegraphic.preview.model import Material, Mesh
from facegraphic.preview.shapes import Surface, hexagon, lathe, mesh, tilted, turned
from facegraphic.preview.tones import Tones, material
from facegraphic.stock.shown import bores, shapes
from facegraphic.stock.tables import Knob, Part

ROUND = 6  # pieces of a rounded end


@dataclass(frozen=True)
class Fitted:
    """What stands in a hole: `bearing` of its pointer in degrees, `lean` of its lever as a direction, none upright."""

    part: Part | None
    knob: Knob | None
    bearing: float = 0.0
    lean: tuple[float, float] = (0.0, 0.0)


Made = tuple[Surface, Material]


@lru_cache(maxsize=256)
def hardware(fitted: Fitted, tones: Tones) -> tuple[Mesh, ...]:
    """The meshes of a part with its knob, round its hole."""
    made: list[Made] = []
    if fitted.part is not None:
        made += _BUILDERS[_kind(fitted.part)](fitted, tones)
    if fitted.knob is not None:
        body, line = knob_surfaces(fitted.knob)
        made += [(turned(body, fitted.bearing), tones.knob), (turned(line, fitted.bearing), tones.line)]
    return tuple(mesh(surface, stuff) for surface, stuff in made)


def _kind(part: Part) -> str:
    if part.turns:
        return "turning"
    if part.throws:
        return "lever"
    return "button" if part.rank == "switch" else part.rank


def _seat(part: Part, stuff: Material) -> Iterator[Made]:
    """Washer and nut."""
    if part.washer:
        yield lathe(_dished(part.washer / 2, part.thread / 2, shapes()["washer"]["high"]), 64), material("steel")
    if part.nut:
        low, high = _nut(part)
        yield hexagon(part.nut, low, high, part.thread, shapes()["nut"]["chamfer"]), stuff


def _nut(part: Part) -> tuple[float, float]:
    """Where a part's nut begins and ends over the panel."""
    low = shapes()["washer"]["high"] if part.washer else 0.0
    return low, low + min(shapes()["nut"]["high"], 0.6 * part.above)


def _slab(radius: float, low: float, high: float, bevel: float) -> list[tuple[float, float]]:
    """The profile of a disc with a bevelled upper rim, closed on top."""
    return [(radius, low), (radius, high - bevel), (radius - bevel, high), (0.0, high)]


def _dished(radius: float, bore: float, high: float) -> list[tuple[float, float]]:
    """The profile of a pressed washer, which falls a little towards its rim."""
    rise = np.linspace(0, 1, 5)
    return [
        (radius, 0.0),
        (radius, 0.4 * high),
        *((radius + (bore - radius) * t, high * (0.5 + t - 0.5 * t * t)) for t in rise),
    ]


def _threaded(radius: float, low: float, high: float) -> list[tuple[float, float]]:
    """The profile of a thread from level to level, with its end bevelled, up to where its bore begins."""
    f = shapes()["bushing"]
    pitch, bevel = f["pitch"], f["bevel"]
    root = radius - 0.45 * pitch
    turns = max(1, int((high - bevel - low) / pitch))
    profile = [(root, low)]
    for turn in range(turns):
        z = low + turn * (high - bevel - low) / turns
        step = (high - bevel - low) / turns
        profile += [(radius, z + 0.4 * step), (radius, z + 0.6 * step), (root, z + step)]
    return [*profile, (radius - bevel, high)]


def _turning(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part = fitted.part
    assert part is not None
    if fitted.knob is not None:
        yield from (one for one in _seat(part, material("nickel")) if _below(one[0], fitted.knob))
        return
    f = shapes()["shaft"]
    yield from _seat(part, material("nickel"))
    bush = min(_nut(part)[1] + shapes()["bushing"]["over"], part.above - 0.3)
    profile = _threaded(part.thread / 2, 0.0, bush)
    yield lathe([*profile, (0.0, bush)]), material("nickel")
    yield from _shaft(part, fitted.bearing, f["share"] * part.thread / 2, bush)


def _below(surface: Surface, knob: Knob) -> bool:
    """Whether what is under a knob is to be seen at all: what reaches up into it has to be covered by it."""
    reach = float(np.linalg.norm(surface.points[:, :2], axis=1).max())
    figures = shapes()["bar" if is_bar(knob) else "knob"]
    wide = figures["tail"] * 1.12 if is_bar(knob) else 1.0
    return float(surface.points[:, 2].max()) < figures["foot"] or reach < knob.diameter / 2 * wide - 0.8


def _shaft(part: Part, bearing: float, radius: float, low: float) -> Iterator[Made]:
    """A shaft with a screwdriver's slot across its end, which points as a knob would."""
    f = shapes()["shaft"]
    yield lathe(_slab(radius, low - 0.1, part.above, f["bevel"])), material("steel")
    half, z = f["slot"] / 2, part.above + 0.01
    long = math.sqrt((radius - f["bevel"]) ** 2 - half * half)
    slot = np.array([(-half, -long, z), (half, -long, z), (half, long, z), (-half, long, z)])
    yield turned(Surface(slot, np.array([[0, 1, 2], [0, 2, 3]])), bearing), material("hollow")


def _lever(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part, f = fitted.part, shapes()["lever"]
    assert part is not None
    yield from _seat(part, material("nickel"))
    bush = min(_nut(part)[1] + shapes()["bushing"]["over"], 0.5 * part.above)
    profile = _threaded(part.thread / 2, 0.0, bush)
    mouth = f["root"] / 2 + 0.7
    yield lathe([*profile, (mouth, bush), (mouth - 0.3, bush - 0.3), (0.0, bush - 0.3)]), material("nickel")
    root, tip = f["root"] / 2, f["tip"] / 2
    high = part.above
    end = [(tip * math.cos(t), high - tip + tip * math.sin(t)) for t in np.linspace(0, math.pi / 2, ROUND + 1)]
    bat = lathe(
        [(root, bush - 1.0), (root, bush + 0.8), (tip * 0.94, high - tip - 1.6), (tip, high - tip - 0.8), *end], 32
    )
    lean = f["lean"] if fitted.lean != (0.0, 0.0) else 0.0
    yield tilted(bat, lean, fitted.lean, bush - 1.0), material("chrome")


def _button(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part, f = fitted.part, shapes()["button"]
    assert part is not None
    bezel = part.bezel or part.thread
    rim = 0.4 * part.above
    cap = f["share"] * bezel / 2
    outer = [
        (bezel / 2, 0.0),
        (bezel / 2, rim - 0.5),
        (bezel / 2 - 0.5, rim),
        (cap + 0.25, rim),
        (cap + 0.25, rim - 0.6),
    ]
    yield lathe([*outer, (0.0, rim - 0.6)]), material("chrome")
    yield lathe(_domed(cap, rim - 0.6, part.above, f["bevel"], 0.5)), tones.knob


def _domed(radius: float, low: float, high: float, bevel: float, dome: float) -> list[tuple[float, float]]:
    """The profile of a button: straight, round at its rim, its top rising by `dome` to the middle."""
    rim = high - dome
    profile = [(radius, low)]
    profile += [
        (radius - bevel * (1 - math.cos(t)), rim - bevel + bevel * math.sin(t)) for t in np.linspace(0, 1.25, ROUND)
    ]
    edge, level = profile[-1]
    profile += [
        (edge * math.cos(t), level + (high - level) * math.sin(t)) for t in np.linspace(0, math.pi / 2, ROUND)[1:]
    ]
    return profile


def _footswitch(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part, f = fitted.part, shapes()["footswitch"]
    assert part is not None
    yield from _seat(part, material("nickel"))
    bush = min(f["bush"], 0.6 * part.above)
    stem = min(f["stem"], part.thread - 2) / 2
    yield (
        lathe([*_threaded(part.thread / 2, 0.0, bush), (stem, bush), (stem, bush - 0.8), (0.0, bush - 0.8)]),
        material("nickel"),
    )
    neck = bush + 1.2
    yield lathe([(stem - 0.2, bush - 0.8), (stem - 0.2, neck)]), material("steel")
    cap = min(f["cap"], part.thread) / 2
    domed = _domed(cap, neck + 0.4, part.above, 0.9, f["dome"])
    yield lathe([(0.0, neck), (cap - 0.4, neck), *domed]), material("chrome")


def _lamp(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part, f = fitted.part, shapes()["lamp"]
    assert part is not None
    radius, low = part.thread / 2, 0.0
    if part.bezel:
        radius, rim, edge = f["holder"] * part.bezel / 2, f["rim"], part.bezel / 2
        outer = [(edge, 0.0), (edge, rim * 0.35), (edge * 0.93, rim * 0.8), (edge * 0.84, rim), (radius + 0.15, rim)]
        low = rim * 0.4
        yield lathe([*outer, (radius + 0.15, low), (0.0, low)]), material("chrome")
    dome = min(radius, part.above - low - 0.1)
    top = [
        (radius * math.cos(t), part.above - dome + dome * math.sin(t)) for t in np.linspace(0, math.pi / 2, 2 * ROUND)
    ]
    yield lathe([(radius, low), *top]), tones.lens


def _socket(fitted: Fitted, tones: Tones) -> Iterator[Made]:
    part, f = fitted.part, shapes()["socket"]
    assert part is not None
    bore = bores()[part.name]
    stuff = tones.knob if bore.plastic else material("nickel")
    if bore.plastic:
        stuff = material("black")
    yield from _seat(part, stuff)
    if part.bezel:
        yield (
            lathe([*_slab(part.bezel / 2, 0.0, part.above * 0.7, 0.3)[:-1], (part.thread / 2 - 0.4, part.above * 0.7)]),
            stuff,
        )
    mouth, bevel = bore.mouth / 2, f["bevel"]
    outer = _threaded(part.thread / 2, 0.0, part.above)
    yield lathe([*outer, (mouth + bevel * 0.6, part.above), (mouth, part.above - bevel), (mouth, f["deep"])]), stuff
    floor = [(mouth, f["deep"]), (0.0, f["deep"])]
    yield lathe(floor), material("hollow")
    if bore.pin:
        yield lathe(_slab(bore.pin / 2, f["deep"], part.above * 0.8, 0.3)), material("nickel")


_BUILDERS: dict[str, Callable[[Fitted, Tones], Iterator[Made]]] = {
    "turning": _turning,
    "lever": _lever,
    "button": _button,
    "footswitch": _footswitch,
    "lamp": _lamp,
    "socket": _socket,
}
