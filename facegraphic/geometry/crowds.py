"""How much the pieces of outlines crowd each other, which is what the time to fill or to offset them goes by."""

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Path

CHUNK = 256
Boxes = npt.NDArray[np.float64]


def crossing(path: Path, most: int) -> int:
    """How many pairs of a path's segments have boxes that meet, neighbours left out; not counted far beyond `most`.

    Boxes are those of control points, in which a segment lies.
    """
    boxes, here = [], (0.0, 0.0)
    for op, *c in path.segments:
        if not c:
            continue
        xs, ys = ([*c[::2]], [*c[1::2]]) if op == "M" else ([here[0], *c[::2]], [here[1], *c[1::2]])
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
        here = (c[-2], c[-1])
    return _meeting(np.array(boxes, dtype=float).reshape(-1, 4), most)


def near(area: BaseGeometry, width: float, most: int) -> int:
    """How many pairs of pieces of one outline of a region lie about as near as `width`; not far beyond `most`."""
    count = 0
    for part in shapely.get_parts(area):
        if count > most:
            break
        points = [shapely.get_coordinates(ring) for ring in (part.exterior, *part.interiors)]
        low = np.concatenate([np.minimum(ring[:-1], ring[1:]) for ring in points]) - width / 2
        high = np.concatenate([np.maximum(ring[:-1], ring[1:]) for ring in points]) + width / 2
        count += _meeting(np.hstack([low, high]), most - count)
    return count


def _meeting(boxes: Boxes, most: int) -> int:
    """Pairs of boxes that meet, each once, without those of neighbours; the count ends soon after `most`."""
    shapes = shapely.box(*boxes.T)
    tree = shapely.STRtree(shapes)
    count = 0
    for start in range(0, len(shapes), CHUNK):
        one, other = tree.query(shapes[start : start + CHUNK])
        count += int(np.count_nonzero(other > one + start + 1))
        if count > most:
            break
    return count
