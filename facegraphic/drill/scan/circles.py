"""Where holes may be: round spots, darker or lighter than the face, at any of many thresholds."""

import math
from collections.abc import Sequence, Sized
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.outline import fail
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
    """Candidates in a flattened grey picture (0 to 255) of a face of `size` mm, best first, each place once.

    UserError for a picture so full of specks or spots that it would take minutes.
    """
    c = cv()
    smooth = c.GaussianBlur(view, (0, 0), max(0.8, 0.06 * per_mm))
    low, high = np.percentile(smooth, (0.2, 99.8))
    found: list[Spot] = []
    specks = 0
    for level in np.linspace(low, high, limits.LEVELS + 2)[1:-1]:
        for polarity in (1, -1):
            mask = ((smooth < level) if polarity > 0 else (smooth > level)).astype(np.uint8)
            for opened in (0.0, 0.8):
                contours, _ = c.findContours(_opened(mask, opened * per_mm), c.RETR_EXTERNAL, c.CHAIN_APPROX_NONE)
                specks += len(contours)
                if specks > limits.MOST_SPECKS:
                    raise fail("the picture is all specks", "scan it with less noise, or photograph it in better light")
                found += _round_parts(contours, per_mm, polarity)
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


def crowd(spots: Sized) -> None:
    """UserError for so many spots in a picture that it can be none of a drilled face."""
    if len(spots) > limits.MOST_SPOTS:
        what = f"the picture shows more than {limits.MOST_SPOTS} round spots"
        raise fail(what, "is it of a drilled face? cover mesh and patterned ground with plain paper")


def _round_parts(contours: Sequence[Array], per_mm: float, polarity: int) -> list[Spot]:
    """The contours that are about as wide as high, and as full as a disc. Burrs and glare inside are filled."""
    c = cv()
    found: list[Spot] = []
    least = limits.SMALLEST * per_mm  # around something as wide there are more than twice as many points
    for contour in contours:
        if len(contour) < least:
            continue
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
        crowd(found)
    return found


def _once(spots: list[Spot]) -> list[Spot]:
    """Alike spots merged, best first; of one place a few different sizes stay. So many as are to be measured."""
    kept: list[Spot] = []
    for spot in sorted(spots, key=lambda s: -s.worth):
        if len(kept) == limits.KEPT:
            break
        alike = any(
            spot.polarity == k.polarity
            and math.hypot(spot.x - k.x, spot.y - k.y) < 0.15 * k.d
            and 0.85 < spot.d / k.d < 1.18
            for k in kept
        )
        if not alike:
            kept.append(spot)
    return kept
