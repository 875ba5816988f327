"""Tones to black and bare for processes that know no greys, in cells no smaller than what the process holds.

Everything here is arrays: `tone` is the share of ink wanted, 0 to 1, and a true value in a result is ink. Rows run from
the top. Nothing is random: the same tones give the same cells in every run.
"""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Tones: TypeAlias = NDArray[np.float64]
Mask: TypeAlias = NDArray[np.bool_]

NOISE = 0.22  # of the threshold, either way: enough to break the worms that plain diffusion draws in even greys
SEED = 1976
FAINT = 1 / 512  # tones nearer than this to none or all are none or all
BAYER_SIDE = 8
SOLID = 0.7  # a cell that is cut by an edge takes ink from this tone on: only where it joins what stands inside


def diffused(tone: Tones, free: Mask) -> Mask:
    """Error diffusion (Floyd and Steinberg 1976: 7, 3, 5 and 1 sixteenths), rows run there and back.

    Only `free` cells take ink or pass errors on; where a neighbour is missing the others get its share, so that the
    mean is kept up to the edges.
    """
    rows, columns = tone.shape
    # The legacy generator: numpy promises that its numbers never change.
    noise = np.random.RandomState(SEED).uniform(-NOISE, NOISE, tone.shape)
    values = np.pad(tone, ((0, 1), (1, 1))).tolist()
    open_ = np.pad(free, ((0, 1), (1, 1))).astype(int).tolist()
    limits = np.pad(
        np.where(tone < FAINT, 9.0, np.where(tone > 1 - FAINT, -9.0, 0.5 + noise)), ((0, 0), (1, 1))
    ).tolist()
    out = np.zeros((rows, columns + 2), np.bool_)
    for row in range(rows):
        ahead = 1 if row % 2 == 0 else -1
        here, below, mine, next_ = values[row], values[row + 1], open_[row], open_[row + 1]
        limit, inked = limits[row], []
        for i in range(1, columns + 1) if ahead == 1 else range(columns, 0, -1):
            if not mine[i]:
                continue
            error = here[i]
            if error > limit[i]:
                inked.append(i)
                error -= 1.0
            a, b, c, d = 7 * mine[i + ahead], 3 * next_[i - ahead], 5 * next_[i], next_[i + ahead]
            if shares := a + b + c + d:
                error /= shares
                here[i + ahead] += a * error
                below[i - ahead] += b * error
                below[i] += c * error
                below[i + ahead] += d * error
        out[row, inked] = True
    return out[:, 1:-1]


def bayer(side: int) -> NDArray[np.int64]:
    """Bayer's matrix of a side that is a power of two: M(2n) = [[4M, 4M + 2], [4M + 3, 4M + 1]]."""
    matrix = np.zeros((1, 1), np.int64)
    while len(matrix) < side:
        matrix = np.block([[4 * matrix, 4 * matrix + 2], [4 * matrix + 3, 4 * matrix + 1]])
    return matrix


def ordered(tone: Tones, free: Mask) -> Mask:
    """Ordered dither by Bayer's 8 × 8 matrix, each threshold in the middle of its step."""
    limits = (bayer(BAYER_SIDE) + 0.5) / BAYER_SIDE**2
    tiles = [-(-length // BAYER_SIDE) for length in tone.shape]
    return np.asarray((tone > np.tile(limits, tiles)[: tone.shape[0], : tone.shape[1]]) & free)


def in_cells(kind: str, tone: NDArray[Any], free: Mask, side: int) -> Mask:
    """Pixels screened in square cells of `side` pixels, counted from the upper left corner.

    Cells that lie wholly in `free` share out their tone; those that it cuts have ink where they are nearly solid.
    """
    rows, columns = tone.shape
    pad = ((0, -rows % side), (0, -columns % side))
    sums = _cell_sums(np.pad(np.where(free, tone, 0), pad), side)
    counts = _cell_sums(np.pad(free, pad).astype(np.float32), side)
    means = np.asarray(sums / np.maximum(counts, 1), np.float64)
    whole = counts == side * side
    cells = (diffused if kind == "diffusion" else ordered)(means, whole)
    cells |= ~whole & (counts > 0) & (means > SOLID)
    return np.asarray(cells.repeat(side, 0).repeat(side, 1)[:rows, :columns] & free)


def _cell_sums(values: NDArray[Any], side: int) -> NDArray[Any]:
    rows, columns = (length // side for length in values.shape)
    return np.asarray(values.reshape(rows, side, columns, side).sum(axis=(1, 3), dtype=np.float64))
