"""Round dots on a turned lattice, growing with the tone, as a process camera's screen makes them.

Ink stands as dots in light tones; in dark ones bare holes stand half a step aside. Dots begin round and grow squarer
where they near each other, so that the bare lines between them never fall under what the process holds; a tone too
light for the smallest dot is carried by leaving dots out, evenly, and in the darks holes likewise.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from facegraphic.film.screen import Mask, Tones, diffused
from facegraphic.geometry.dots import SQUAREST, share

BAND = 256  # rows worked at once
GUARD = 0.5  # pixels that sizes are kept above the least, since a rim falls between pixels


@dataclass(frozen=True)
class Lattice:
    """A screen in pixels: its `step`, its `angle` (radians, counter-clockwise), the least ink and the least bare."""

    step: float
    angle: float
    ink: float
    bare: float

    @property
    def most_ink(self) -> float:
        """The largest share of a cell that a dot can take and leave the least bare between itself and the next."""
        return share(SQUAREST) * (1 - self.bare / self.step) ** 2

    @property
    def most_bare(self) -> float:
        return share(SQUAREST) * (1 - self.ink / self.step) ** 2


def in_round_dots(tone: NDArray[Any], free: Mask, lattice: Lattice) -> Mask:
    """Pixels screened in round dots on a lattice through the middle of the picture; ink only in `free`."""
    places = _Places(tone.shape, lattice)
    means, holds = places.means(tone, free, 0.0)
    bare, bared = places.means(1 - tone, free, 0.5)
    dots = _sizes(means, holds, lattice.ink / lattice.step, lattice.most_ink)
    holes = _sizes(bare, bared, lattice.bare / lattice.step, lattice.most_bare)
    dark = _without_strays(means > (lattice.most_ink + 1 - lattice.most_bare) / 2)
    inside, outside = _shapes(lattice.bare / lattice.step), _shapes(lattice.ink / lattice.step)
    out = np.zeros(tone.shape, np.bool_)
    for rows, u, v in places.bands():
        i, j, x, y = places.cells(u, v, 0.0)
        inked = _within(x, y, dots[i, j], inside)
        k, m, x, y = places.cells(u, v, 0.5)
        out[rows] = np.where(dark[i, j], ~_within(x, y, holes[k, m], outside), inked) & free[rows]
    return out


def _without_strays(dark: Mask) -> Mask:
    """Cells as their neighbours are, where none of the four is like them: one alone would make a cross of its own."""
    near = np.pad(dark, 1, mode="edge").astype(np.int64)
    alike = near[:-2, 1:-1] + near[2:, 1:-1] + near[1:-1, :-2] + near[1:-1, 2:]
    return np.asarray((dark & (alike > 0)) | (alike == 4))


def _sizes(wanted: Tones, free: Mask, least: float, most: float) -> Tones:
    """The share of its cell that each dot takes: below the least dot's, some have that and the others none."""
    smallest = math.pi / 4 * least**2
    faint = free & (wanted < smallest)
    some = diffused(np.where(faint, wanted / smallest, 0.0), faint)
    return np.where(faint, some * smallest, np.minimum(wanted, most))


@cache
def _shapes(between: float) -> tuple[Tones, Tones, Tones]:
    """Shares of a cell, with half widths and exponents of dots that leave `between` of a step to the next."""
    widest = (1 - between) / 2
    powers = np.linspace(2.0, SQUAREST, 65)
    round_shares = np.linspace(0.0, math.pi * widest**2, 64, endpoint=False)
    square_shares = np.array([4 * widest**2 * share(power) for power in powers])
    halves = np.concatenate([np.sqrt(round_shares / math.pi), np.full(len(powers), widest)])
    return np.concatenate([round_shares, square_shares]), halves, np.concatenate([np.full(64, 2.0), powers])


def _within(x: Tones, y: Tones, taken: Tones, shapes: tuple[Tones, Tones, Tones]) -> Mask:
    """Whether points (in steps from a dot's middle) lie in the dot that takes a share of its cell."""
    shares, halves, powers = shapes
    # The half width of a round dot goes with the root of its share, which straight lines between entries would miss.
    half = np.where(taken < shares[64], np.sqrt(taken / math.pi), halves[-1])
    power = np.interp(taken, shares, powers)
    return np.asarray((np.abs(x) ** power + np.abs(y) ** power < half**power) & (taken > 0))


class _Places:
    """Where the pixels of a picture lie on a lattice through its middle."""

    def __init__(self, shape: tuple[int, ...], lattice: Lattice) -> None:
        self.shape = shape
        self.lattice = lattice
        reach = math.ceil(math.hypot(*shape) / 2 / lattice.step) + 2
        self.reach, self.count = reach, 2 * reach + 1

    def bands(self) -> Iterator[tuple[slice, Tones, Tones]]:
        """Rows, and their pixels' middles in steps along and across the lattice."""
        high, wide = self.shape
        cos, sin = math.cos(self.lattice.angle), math.sin(self.lattice.angle)
        x = (np.arange(wide) + 0.5 - wide / 2)[None, :] / self.lattice.step
        for top in range(0, high, BAND):
            rows = slice(top, min(top + BAND, high))
            y = (high / 2 - np.arange(rows.start, rows.stop) - 0.5)[:, None] / self.lattice.step
            yield rows, x * cos + y * sin, y * cos - x * sin

    def cells(self, u: Tones, v: Tones, aside: float) -> tuple[NDArray[Any], NDArray[Any], Tones, Tones]:
        """Each pixel's cell, row and column, and its place from the cell's middle; `aside` moves the cells."""
        column, row = np.floor(u + aside), np.floor(v + aside)
        return (
            row.astype(np.int64) + self.reach,
            column.astype(np.int64) + self.reach,
            u + aside - column - 0.5,
            v + aside - row - 0.5,
        )

    def means(self, tone: NDArray[Any], free: Mask, aside: float) -> tuple[Tones, Mask]:
        """The mean tone of each cell over what is free of it, and which cells have anything free."""
        sums, counts = np.zeros(self.count**2), np.zeros(self.count**2)
        for rows, u, v in self.bands():
            i, j, _, _ = self.cells(u, v, aside)
            here = free[rows]
            cell = (i * self.count + j)[here]
            sums += np.bincount(cell, tone[rows][here], self.count**2)
            counts += np.bincount(cell, minlength=self.count**2)
        shape = (self.count, self.count)
        return (sums / np.maximum(counts, 1)).reshape(shape), (counts > 0).reshape(shape)
