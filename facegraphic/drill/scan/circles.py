"""Where holes may be: round spots, darker or lighter than the face, at any of many thresholds."""

import math
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.vision import Array, cv


@dataclass(frozen=True)
class Spot:
    """A candidate in mm; `polarity` is 1 where the rim steps up outwards (a dark hole), else −1."""

    x: float
    y: float
    d: float
    polarity: int
    worth: float


def find_spots(view: Array, per_mm: float, size: tuple[float, float]) -> list[Spot]:
    """Candidates in a flattened grey picture (0 to 255) of a face of `size` mm, best first, each place once."""
    c = cv()
    smooth = c.GaussianBlur(view, (0, 0), max(0.8, 0.06 * per_mm))
    low, high = np.percentile(smooth, (0.2, 99.8))
    found: list[Spot] = []
    for level in np.linspace(low, high, limits.LEVELS + 2)[1:-1]:
        for polarity in (1, -1):
            mask = ((smooth < level) if polarity > 0 else (smooth > level)).astype(np.uint8)
            for opened in (0.0, 0.8):
                found += _round_parts(_opened(mask, opened * per_mm), per_mm, polarity)
    height, width = view.shape
    placed = [
        Spot((s.x - (width - 1) / 2) / per_mm, ((height - 1) / 2 - s.y) / per_mm, s.d / per_mm, s.polarity, s.worth)
        for s in found
    ]
    inside = [s for s in placed if abs(s.x) < size[0] / 2 - 0.3 * s.d and abs(s.y) < size[1] / 2 - 0.3 * s.d]
    return _once(inside)


def _opened(mask: Array, size: float) -> Array:
    """Without what is thinner than some pixels: pencil lines, and the necks to shadows."""
    c = cv()
    across = round(size)
    if across < 2:
        return mask
    disc = c.getStructuringElement(c.MORPH_ELLIPSE, (across | 1, across | 1))
    return np.asarray(c.morphologyEx(mask, c.MORPH_OPEN, disc))


def _round_parts(mask: Array, per_mm: float, polarity: int) -> list[Spot]:
    """The parts of a mask that are about as wide as high, and as full as a disc. Burrs and glare inside are filled."""
    c = cv()
    found = []
    contours, _ = c.findContours(mask, c.RETR_EXTERNAL, c.CHAIN_APPROX_NONE)
    for contour in contours:
        x, y, w, h = c.boundingRect(contour)
        across = math.sqrt(w * h)
        if not limits.SMALLEST * per_mm < across < limits.LARGEST * per_mm or max(w, h) > limits.STRETCH * min(w, h):
            continue
        area = c.contourArea(contour) + c.arcLength(contour, True) / 2
        fill = area / (math.pi / 4 * w * h)
        if not limits.FILL[0] < fill < limits.FILL[1]:
            continue
        solid = area / max(c.contourArea(c.convexHull(contour)) + 0.5 * c.arcLength(contour, True), 1.0)
        d = math.sqrt(4 * area / math.pi)
        worth = solid - abs(1 - fill) - 0.3 * (max(w, h) / min(w, h) - 1)
        found.append(Spot(x + (w - 1) / 2, y + (h - 1) / 2, d, polarity, worth))
    return found


def _once(spots: list[Spot]) -> list[Spot]:
    """Alike spots merged, best first; of one place a few different sizes stay."""
    kept: list[Spot] = []
    for spot in sorted(spots, key=lambda s: -s.worth):
        alike = any(
            spot.polarity == k.polarity
            and math.hypot(spot.x - k.x, spot.y - k.y) < 0.15 * k.d
            and 0.85 < spot.d / k.d < 1.18
            for k in kept
        )
        if not alike:
            kept.append(spot)
    return kept[:400]
