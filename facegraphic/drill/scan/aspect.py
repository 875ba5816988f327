"""Whether a face in a picture has the shape that its size says, and how surely the picture tells.

A picture seen straight on tells it by its sides. In a tilted one the sides of a rectangle meet in two vanishing points,
and with square pixels and the camera's axis in the picture's middle these give the focal length and so the shape: R.
Hartley and A. Zisserman, Multiple View Geometry in Computer Vision, 2nd ed. 2004, section 8.8 (the section from
memory). Where the tilt is too small, or along a side, for that, drilled holes tell it: they are round.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.outline import Quad, fail
from facegraphic.drill.scan.vision import Array, cv


@dataclass(frozen=True)
class Shape:
    """How many times as wide a face is as its size says, against its height, with its standard deviation."""

    share: float
    doubt: float
    flat: bool


def shape_of(quad: Quad, corners: Array, picture: tuple[int, ...]) -> Shape | None:
    """The shape of an outline whose corners are said to stand at `corners` (mm); None where its sides don't tell."""
    middle = np.array([(picture[1] - 1) / 2, (picture[0] - 1) / 2])
    flat = _leaning(quad.corners, corners) < limits.FLAT
    share = _share(quad.corners - middle, corners, flat)
    if share is None:
        return None
    moves = []
    for at in range(4):  # a side that stands off carries both of its corners
        for corner in (at, (at + 1) % 4):
            moved = quad.corners.copy()
            moved[corner] += quad.sides[at].normal * quad.sides[at].doubt
            moves.append(moved - middle)
    if not flat:
        off = limits.OFF_AXIS * max(picture[:2])
        moves += [quad.corners - middle - (off, 0), quad.corners - middle - (0, off)]
    others = [_share(moved, corners, flat) for moved in moves]
    if any(other is None for other in others):
        return None
    doubt = math.hypot(*(math.log(other / share) for other in others if other is not None))
    return Shape(share, doubt, flat)


def told(shape: Shape, given: float, advice: str) -> list[str]:
    """A note where a shape differs from that of the size given (width over height). UserError where it cannot be."""
    off = abs(math.log(shape.share))
    note, most = (limits.FLAT_NOTE, limits.FLAT_MOST) if shape.flat else (limits.TILTED_NOTE, limits.TILTED_MOST)
    seen = shape.share * given
    what = f"the outline is {in_words(seen, given)}, the size given {in_words(given, given)}"
    if off > max(most, 4 * shape.doubt):
        raise fail(what, advice)
    return [f"{what}: {advice}"] if off > max(note, 3 * shape.doubt) else []


def in_words(ratio: float, like: float) -> str:
    """A ratio of width to height, the longer side first where the one it is told beside lies so."""
    return f"{ratio:.3f} to 1" if like >= 1 else f"1 to {1 / ratio:.3f}"


def _through(source: Array, target: Array) -> Array:
    return np.asarray(cv().getPerspectiveTransform(source.astype(np.float32), target.astype(np.float32)), float)


def _leaning(corners: Array, places: Array) -> float:
    """How much larger one end of the face looks than the other, as a share."""
    matrix = _through(places, corners)
    across = np.ptp(places, axis=0)
    return float(np.abs(matrix[2, :2] * across).sum() / abs(matrix[2, 2]))


def _share(corners: Array, places: Array, flat: bool) -> float | None:
    """Corners in pixels from the camera's axis: the lengths of the plane's two unit vectors against each other."""
    matrix = _through(places, corners)
    one, other = matrix[:, 0], matrix[:, 1]
    if flat:
        middle = matrix[:2, 2] / matrix[2, 2]
        one, other = (column[:2] - middle * column[2] for column in (one, other))
        return float(np.linalg.norm(one) / np.linalg.norm(other))
    both = one[2] * other[2]
    square = -float(one[:2] @ other[:2]) / both if abs(both) > 1e-18 else -1.0  # of the focal length
    if square <= 0:
        return None
    lengths = [float(v[:2] @ v[:2]) / square + float(v[2]) ** 2 for v in (one, other)]
    return math.sqrt(lengths[0] / lengths[1])


def by_rough_holes(view: Array, per_mm: float) -> Shape | None:
    """The shape by what is like an ellipse in a flattened grey picture, all wide or high alike; None if too little is,
    or one says this and one that."""
    c = cv()
    smooth = c.GaussianBlur(view, (0, 0), max(0.8, 0.06 * per_mm))
    low, high = np.percentile(smooth, (0.5, 99.5))
    best: list[float] = []
    for level in np.linspace(low, high, 9)[1:-1]:
        for mask in (smooth < level, smooth > level):
            contours, _ = c.findContours(mask.astype(np.uint8), c.RETR_LIST, c.CHAIN_APPROX_NONE)
            found = [share for share in (_ellipse(contour, per_mm) for contour in contours) if share is not None]
            best = found if len(found) > len(best) else best
    return _agreed(best, limits.ALIKE)


def _ellipse(contour: Array, per_mm: float) -> float | None:
    """Log of width over height of a contour that is an ellipse but for a few hundredths, by its moments."""
    c = cv()
    area = c.contourArea(contour)
    if area < 60 or not limits.SMALLEST < math.sqrt(4 * area / math.pi) / per_mm < 0.5 * limits.LARGEST:
        return None
    m = c.moments(contour)
    xx, yy, xy = m["mu20"] / m["m00"], m["mu02"] / m["m00"], m["mu11"] / m["m00"]
    full = 4 * math.pi * math.sqrt(max(xx * yy - xy * xy, 0.0))  # of an ellipse with these moments
    if abs(area / max(full, 1e-9) - 1) > 0.02:
        return None
    return 0.5 * math.log(xx / yy)


def by_rims(stretches: Sequence[float]) -> Shape | None:
    """The shape by how much each hole is wider than high, as a share of its size."""
    return _agreed(stretches, limits.ALIKE / 2)


def _agreed(found: Sequence[float], most: float) -> Shape | None:
    if len(found) < limits.FEWEST:
        return None
    middle = float(np.median(found))
    spread = 1.4826 * float(np.median(np.abs(np.array(found) - middle)))
    if spread > most:
        return None
    # Wide as it is, a hole is drawn too wide: the face is in truth less wide than the size says.
    return Shape(math.exp(-middle), max(1.25 * spread / math.sqrt(len(found)), 0.003), flat=False)


def told_by_holes(shape: Shape | None, given: float) -> list[str]:
    """As `told`, for a shape by its holes."""
    return [] if shape is None else told(shape, given, "check --size (else all holes would be oval the same way)")
