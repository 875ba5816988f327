"""The straight side of a face: edge points across a rough side, and the line that most of them support."""

import math
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.scan.limits import BIAS, SIDE_BAND, SIDE_ENDS, SIDE_RAYS, SIDE_SMOOTH, SMOOTH, STEP
from facegraphic.drill.scan.vision import Array, Light, peak, sample, slopes


@dataclass(frozen=True)
class Side:
    """A side's line through `at` along `along` (unit, pixels), how far from the truth it may be (standard
    deviation), how far the edge bends from it at the middle (against its ends), and the blur of its edge; pixels.
    `support` is the share of its length where a sharp edge is seen."""

    at: Array
    along: Array
    doubt: float = 0.0
    bend: float = 0.0
    blur: float = 0.0
    support: float = 0.0

    @property
    def normal(self) -> Array:
        return np.array([-self.along[1], self.along[0]])


def find_side(light: Light, start: Array, end: Array, reach: float = SIDE_BAND) -> Side | None:
    """The side near the line from start to end, the face lying on its right hand as y runs down; no farther off than a
    share `reach` of its length.

    None if no straight edge is there. Of several lines alike in strength the outermost is taken: within lie the
    creases of a rounded edge, and without it only shadows, which are softer. The step may go either way, for beside a
    pale face its own shadow may be darker than it, and the open ground lighter.
    """
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    outward = np.array([along[1], -along[0]])
    band = max(6.0, reach * length)
    offsets = np.arange(-band, band + STEP / 2, STEP)
    count = int(min(SIDE_RAYS, max(40, length * (1 - 2 * SIDE_ENDS))))
    shares = np.linspace(SIDE_ENDS, 1 - SIDE_ENDS, count) * length
    points = start + shares[:, None, None] * along + offsets[:, None] * outward
    fall = _sharpness(sample(light, points))
    spots = _edges(fall, shares, offsets)
    found = _line(spots, length)
    if found is None:
        return None
    slope, height, near = found
    u, v, _ = near.T
    left = v - (height + slope * u)
    spread = float(1.4826 * np.median(np.abs(left - np.median(left))))
    spacing = length * (1 - 2 * SIDE_ENDS) / count
    free = max(4.0, len(u) * min(1.0, spacing / 2.5))
    bend = float(np.polyfit(u / length - 0.5, left, 2)[0]) * 0.25 if len(u) > 20 else 0.0
    direction = along + slope * outward
    return Side(
        start + along * length / 2 + outward * (height + slope * length / 2),
        direction / np.linalg.norm(direction),
        math.hypot(2 * spread / math.sqrt(free), BIAS),
        bend,
        _blur(np.abs(slopes(sample(light, points), STEP, SMOOTH)), offsets, shares, slope, height),
        len(np.unique(u)) / count,
    )


def _sharpness(profiles: Array) -> Array:
    """How sharply the light changes: its slope, less what of it is left when smoothed much more. A shadow's edge, which
    is soft already, loses nothing by smoothing."""
    sharp, soft = np.abs(slopes(profiles, STEP, SIDE_SMOOTH)), np.abs(slopes(profiles, STEP, 3 * SIDE_SMOOTH))
    return np.asarray(np.clip(sharp - 0.8 * soft, 0, None))


def _edges(fall: Array, shares: Array, offsets: Array) -> Array:
    """Rows (place along, offset outwards, strength) of every marked step down outwards."""
    inner = fall[:, 1:-1]
    top = (inner >= fall[:, :-2]) & (inner > fall[:, 2:]) & (inner > 0.25 * np.percentile(fall.max(1), 75))
    rows, columns = np.nonzero(top)
    shift = peak(fall[rows], columns + 1)
    heights = offsets[columns + 1] + shift * STEP
    return np.column_stack([shares[rows], heights, fall[rows, columns + 1]])


def _line(spots: Array, length: float) -> tuple[float, float, Array] | None:
    """Slope, height at the start, and the spots of the outermost of the strongest lines."""
    if len(spots) < 20:
        return None
    u, v, strength = spots.T
    worth = np.minimum(strength / np.percentile(strength, 80), 1.0)
    rng = np.random.default_rng(SIDE_RAYS)
    a, b = rng.integers(0, len(spots), (2, 600))
    apart = np.abs(u[a] - u[b]) > 0.3 * length
    a, b = a[apart], b[apart]
    if not len(a):
        return None
    slope = (v[b] - v[a]) / (u[b] - u[a])
    height = v[a] - slope * u[a]
    near = np.abs(v - (height[:, None] + slope[:, None] * u)) < 1.5
    support = (near * worth).sum(1)
    middle = height + slope * length / 2
    strong = support > 0.6 * support.max()
    if near[int(np.argmax(support))].sum() < 0.35 * len(np.unique(u)):
        return None
    edge = middle[strong].max()
    best = max(np.flatnonzero(strong & (middle > edge - 3.0)), key=lambda i: support[i])
    return _refined(u, v, (float(slope[best]), float(height[best])), spots)


def _refined(u: Array, v: Array, line: tuple[float, float], spots: Array) -> tuple[float, float, Array] | None:
    """Least squares again and again with Tukey's weights, which leave out what is far off."""
    slope, height = line
    width = 2.0
    order = np.lexsort((np.abs(v - (height + slope * u)), u))
    nearest = order[np.unique(u[order], return_index=True)[1]]  # one spot of each ray
    u, v, spots = u[nearest], v[nearest], spots[nearest]
    for _ in range(12):
        left = v - (height + slope * u)
        weight = np.clip(1 - (left / width) ** 2, 0, None) ** 2
        if (weight > 0).sum() < 10:
            return None
        slope, height = (float(x) for x in np.polyfit(u, v, 1, w=np.sqrt(weight)))
        near = np.abs(v - (height + slope * u)) < 2
        spread = 1.4826 * float(np.median(np.abs(v[near] - (height + slope * u[near])))) if near.any() else 0.5
        width = max(0.5, min(2.0, 4.7 * spread))
    return slope, height, spots[np.abs(v - (height + slope * u)) < max(1.0, width)]


def _blur(fall: Array, offsets: Array, shares: Array, slope: float, height: float) -> float:
    """Standard deviation of the edge's own blur in pixels, from the mean profile across the line."""
    span = np.arange(-12, 12 + STEP / 2, STEP)
    rows = [
        np.interp(height + slope * u + span, offsets, row, left=0, right=0) for u, row in zip(shares, fall, strict=True)
    ]
    return width_of(np.median(rows, axis=0), span)


def width_of(bump: Array, span: Array) -> float:
    """The standard deviation of a bump of slope by its width at half height, less the smoothing."""
    top = int(np.argmax(np.where(np.abs(span) <= 3, bump, -np.inf)))
    half = bump[top] / 2
    if half <= 0:
        return float(span[-1] - span[0])
    left, right = top, top
    while left > 0 and bump[left] > half:
        left -= 1
    while right < len(bump) - 1 and bump[right] > half:
        right += 1
    sigma = float(span[right] - span[left]) / 2.3548
    return math.sqrt(max(sigma**2 - SMOOTH**2, 0.0))
