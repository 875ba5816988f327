"""Knobs as surfaces: round ones, ribbed, and bars with a pointer. They point straight up; z is 0 at the panel."""

import math
from collections.abc import Sequence

import numpy as np

from facegraphic.preview.shapes import Array, Surface, joined, lathe, loft
from facegraphic.stock.shown import shapes
from facegraphic.stock.tables import Knob

PER_RIB = 6  # points along a rib
OVER = 0.07  # mm that a pointer line stands out
ROUND = 5  # pieces of a rounded rim


def is_bar(knob: Knob) -> bool:
    return knob.name.startswith("pointer")


def knob_surfaces(knob: Knob) -> tuple[Surface, Surface]:
    """A knob's body, and the line that shows where it points."""
    return _bar(knob) if is_bar(knob) else _round(knob)


def _round(knob: Knob) -> tuple[Surface, Surface]:
    f = shapes()["knob"]
    r, low = knob.diameter / 2, f["foot"]
    high = low + knob.height
    step = low + f["skirt"] * knob.height
    body, cap = f["body"] * r, f["cap"] * r
    ribs = max(12, round(math.tau * body / f["rib"]))
    rise = high - f["bevel"]
    rim = [
        (cap - f["bevel"] * (1 - math.cos(t)), rise + f["bevel"] * math.sin(t))
        for t in np.linspace(0, math.pi / 2, ROUND + 1)
    ]
    flat = rim[-1][0]
    rings = [(0.0, low, 0.0), (r - 0.4, low, 0.0), (r, low + 0.4, 0.0), (r, step - 0.5, 0.0), (r - 0.5, step, 0.0)]
    rings += [(body + 0.25, step, 0.0), (body, step + 0.35, 0.0), (_between(body, cap, 0.12), step + 0.7, 1.0)]
    rings += [(cap + 0.02, rise - 0.9, 1.0), (cap, rise, 0.0)]
    rings += [(x, z, 0.0) for x, z in rim[1:]]
    rings += [(flat * 0.9, high, 0.0), (flat * 0.84, high - f["dish"], 0.0), (0.0, high - f["dish"], 0.0)]
    surface = loft([_ribbed(x, z, f["groove"] * deep, ribs) for x, z, deep in rings])
    line = [(flat * 0.3, high - f["dish"]), (flat * 0.84, high - f["dish"]), (flat * 0.9, high), *rim[::-1]]
    line += [(body, step + 0.35), (body + 0.25, step), (r - 0.5, step), (r, step - 0.5), (r, low + 0.4)]
    return surface, _line(line, f["line"])


def _between(low: float, high: float, share: float) -> float:
    return low + (high - low) * share


def _ribbed(radius: float, z: float, groove: float, ribs: int) -> Array:
    """A ring with grooves, a rib standing straight up where the pointer is."""
    turn = np.arange(ribs * PER_RIB) * (math.tau / ribs / PER_RIB)
    deep = groove * (0.5 - 0.5 * np.cos(ribs * (turn - math.pi / 2))) ** 2
    return np.stack([(radius - deep) * np.cos(turn), (radius - deep) * np.sin(turn), np.full(len(turn), z)], 1)


def _line(path: Sequence[tuple[float, float]], width: float) -> Surface:
    """A ribbon along a profile in the plane x = 0, a little over it, its outer ends drawn in to the body."""
    points = np.array(path)
    along = np.gradient(points, axis=0)
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    over = points + OVER * np.stack([-along[:, 1], along[:, 0]], 1)
    over, under = over[::-1], points[::-1] - OVER * np.stack([-along[:, 1], along[:, 0]], 1)[::-1]
    half = width / 2
    ring = (
        [(half, *p) for p in over],
        [(-half, *p) for p in over],
        [(-half, *p) for p in under],
        [(half, *p) for p in under],
    )
    quad = [np.array([rail[i] for rail in ring]) for i in range(len(points))]
    ends = [np.tile(quad[0].mean(axis=0), (4, 1)), *quad, np.tile(quad[-1].mean(axis=0), (4, 1))]
    return loft(ends)


def _bar(knob: Knob) -> tuple[Surface, Surface]:
    f = shapes()["bar"]
    r, low = knob.diameter / 2, f["foot"]
    high, base, bevel = low + knob.height, low + f["base"], f["bevel"]
    tail = f["tail"] * r
    wide = f["wide"] * r

    def ring(inset: float, z: float) -> Array:
        return _drop((0.0, -(tail - wide)), wide - inset, (0.0, r - 1.0), 1.0 - min(inset, 0.9), z)

    rim = [
        ring(bevel * (1 - math.cos(t)), high - bevel + bevel * math.sin(t))
        for t in np.linspace(0, math.pi / 2, ROUND + 1)
    ]
    bar = loft(
        [
            np.tile([0.0, 0.0, base - 0.2], (len(rim[0]), 1)),
            ring(0.0, base - 0.2),
            *rim,
            rim[-1].mean(axis=0) + 0 * rim[-1],
        ]
    )
    disc = f["tail"] * r * 1.12
    skirt = lathe(
        [(0.0, low), (disc - 0.3, low), (disc, low + 0.3), (disc, base - 0.4), (disc - 0.4, base), (0.0, base)]
    )
    end = r - 1.0 + (1.0 - min(bevel, 0.9))
    line = _line([(0.15 * r, high), (end, high)], f["line"])
    return joined([bar, skirt]), line


def _drop(one: tuple[float, float], r1: float, other: tuple[float, float], r2: float, z: float) -> Array:
    """The hull of two circles, anticlockwise, by its tangents' directions."""
    turn = (np.arange(72) + 0.5) * (math.tau / 72)
    out = np.stack([np.cos(turn), np.sin(turn)], 1)
    first, second = np.array(one) + r1 * out, np.array(other) + r2 * out
    farther = np.einsum("ij,ij->i", first, out) >= np.einsum("ij,ij->i", second, out)
    flat = np.where(farther[:, None], first, second)
    return np.hstack([flat, np.full((len(flat), 1), z)])
