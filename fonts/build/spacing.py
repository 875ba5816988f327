"""Side bearings and kerning by one optical rule, without hand-made lists.

Two neighbours stand so that the white between them, taken as a mean over the height both
share and counted only to a certain depth, equals the white between two straight stems a
letter gap apart.  A side bearing is the distance so found against a straight stem; a kerning
value is what a pair asks for beyond its two side bearings.  ISO 3098-0 gives the letter gap
(2h/10) and allows to lessen it where this improves the look; the rule here says by how much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from fonts.build.design import CAP, GRID, LETTER_GAP, X_HEIGHT

Array = NDArray[np.float64]
ROW = GRID / 10
ROWS: Array = np.arange(-4 * GRID, 14 * GRID, ROW) + ROW / 2
_FAR = 1e5  # stands for "no ink in this row"
_DEPTH = 1.65 * LETTER_GAP  # white counts no deeper than this across a gap
_CLEAR = 0.84 * LETTER_GAP  # ink never comes nearer than this
_CLEAR_POINT = 0.95 * LETTER_GAP  # the same for punctuation, which has no area to balance
_NEAR = 23  # rows over which nearness is judged (2.3 grid units)
MOST, LEAST = 0.22 * CAP, 0.02 * CAP  # largest and smallest kerning worth keeping


@dataclass(frozen=True, slots=True)
class Profile:
    """How far the ink of each row is from the extreme left and right of a glyph.

    :ivar left, right: shape (rows,), font units, ``_FAR`` where there is no ink.
    :ivar near_left, near_right: the same, the least of the rows nearby.
    :ivar x_min, x_max: the extremes themselves.
    :ivar height: top of the band in which the glyph is judged.
    :ivar half: half the stroke width, the radius of the round ends of a stem.
    """

    left: Array
    right: Array
    near_left: Array
    near_right: Array
    x_min: float
    x_max: float
    height: float
    half: float


def _least_nearby(edge: Array) -> Array:
    padded = np.pad(edge, _NEAR // 2, constant_values=_FAR)
    least: Array = sliding_window_view(padded, _NEAR).min(axis=1)
    return least


def profile(rings: list[np.ndarray], height: float, half: float) -> Profile:
    """Measure flattened contours (each of shape (points, 2), font units)."""
    low, high = np.full(len(ROWS), np.inf), np.full(len(ROWS), -np.inf)
    for ring in rings:
        a, b = ring, np.roll(ring, -1, axis=0)
        rise = b[:, 1] - a[:, 1]
        crossing = (a[:, 1, None] <= ROWS) != (b[:, 1, None] <= ROWS)
        with np.errstate(divide="ignore", invalid="ignore"):
            x = a[:, 0, None] + (ROWS - a[:, 1, None]) * ((b - a)[:, 0] / rise)[:, None]
        low = np.minimum(low, np.where(crossing, x, np.inf).min(axis=0))
        high = np.maximum(high, np.where(crossing, x, -np.inf).max(axis=0))
    points = np.concatenate(rings)
    x_min, x_max = float(points[:, 0].min()), float(points[:, 0].max())
    left = np.where(np.isfinite(low), low - x_min, _FAR)
    right = np.where(np.isfinite(high), x_max - high, _FAR)
    return Profile(left, right, _least_nearby(left), _least_nearby(right), x_min, x_max, height, half)


def stem(height: float, half: float) -> Profile:
    """Return the straight stem every other shape is compared with, its ends round."""
    into_end = np.maximum(half - np.minimum(ROWS, height - ROWS), 0)
    bend = half - np.sqrt(np.maximum(half**2 - into_end**2, 0))
    edge = np.where((ROWS > 0) & (height > ROWS), bend, _FAR)
    near = _least_nearby(edge)
    return Profile(edge, edge, near, near, 0.0, 0.0, height, half)


@cache
def _white_of_stems(height: float, half: float) -> float:
    """Return the mean white between two straight stems a letter gap apart."""
    edge = stem(height, half).left[(ROWS > 0) & (height > ROWS)]
    return float(np.minimum(2 * edge + LETTER_GAP, _DEPTH).mean())


def distances(left: Profile, rights: Sequence[Profile]) -> Array:
    """Return how far apart the extremes should stand for one glyph before each of several.

    :returns: shape (len(rights),), font units.
    """
    heights = np.array([min(left.height, right.height) for right in rights])
    band = (ROWS > 0) & (heights[:, None] > ROWS)
    white = left.right + np.array([right.left for right in rights])
    rows = band.sum(axis=1)
    wanted = np.array([_white_of_stems(height, left.half) for height in heights.tolist()])
    low, high = np.full(len(rights), -2.0 * _DEPTH), np.full(len(rights), float(_DEPTH))
    for _ in range(20):
        middle = (low + high) / 2
        mean = np.where(band, np.clip(white + middle[:, None], 0, _DEPTH), 0).sum(axis=1) / rows
        low, high = np.where(mean < wanted, middle, low), np.where(mean < wanted, high, middle)
    found: Array = np.maximum(low, _CLEAR - nearest(left, rights))
    return found


def nearest(left: Profile, rights: Sequence[Profile]) -> Array:
    """Return the least distance of ink when the extremes touch, rows nearby included."""
    spread = (left.near_right + np.array([right.left for right in rights])).min(axis=1)
    other = (left.right + np.array([right.near_left for right in rights])).min(axis=1)
    found: Array = np.minimum(np.minimum(spread, other), _FAR)
    return found


def bearings(shape: Profile) -> tuple[int, int]:
    """Return left and right side bearing of a letter, font units."""
    straight = stem(shape.height, shape.half)
    half = LETTER_GAP / 2
    before, after = distances(straight, [shape])[0], distances(shape, [straight])[0]
    return round(before - half), round(after - half)


def kern(left: Profile, rights: Sequence[Profile], between: Array, point: NDArray[np.bool_]) -> list[int]:
    """Return the kerning of one glyph before each of several; 0 where it is not worth it.

    :param between: shape (len(rights),), the two side bearings of each pair together.
    :param point: shape (len(rights),), true where one of the two is punctuation, which is
        only kept near and has no area to balance.
    """
    wanted = np.where(point, _CLEAR_POINT - nearest(left, rights), distances(left, rights))
    values = np.clip(wanted - between, -MOST, np.where(point, 0.0, MOST / 2))
    return [2 * round(v / 2) if abs(v) >= LEAST else 0 for v in values.tolist()]


def band_height(zone: str) -> float:
    """Return the height up to which glyphs of a zone are judged."""
    return X_HEIGHT if zone == "lower" else CAP
