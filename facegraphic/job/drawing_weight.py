"""How much work one element of a drawing is by itself, in steps: its segments, how they cross, and its text.

A step is some 10 microseconds of one processor of 2020 or so, measured with CairoSVG and cairo 1.16 on drawings of
many thousands alike. An estimate: it need tell drawings apart that take seconds from those that take minutes.
"""

import random
import re
import xml.etree.ElementTree as ET
from itertools import pairwise

from facegraphic.job.path_data import FIGURES

ELEMENT, ROUND, SEGMENT, ARC = 17, 18, 2, 3  # steps of any element, and beside it of a circle, a segment, an arc
STYLE, TEXT, HANDED_DOWN = 5, 10, 50  # characters a step: of a style, of other values, of what elements below get too
CROSSINGS = 30  # pairs of segments that may cross, a step: cairo sorts and splits them, once for each band of rows
FEW, TRIED, AT_ONCE = (
    60,
    200,
    20,
)  # segments of which any may cross any; and how many are tried of more, so many at once
_SEGMENT = re.compile(r"([A-DF-Za-df-z])([^A-DF-Za-df-z]*)")
_FIGURE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_OWN = ("d", "points", "style", "transform", "id", "class")
Corner = tuple[float, float]


def segments_of(node: ET.Element) -> list[Corner]:
    """The corners of an element's path or points, one for each segment, as near as need be."""
    if path := node.get("d", ""):
        return _path_corners(path)
    figures = [float(figure) for figure in _FIGURE.findall(node.get("points", ""))]
    return list(zip(figures[::2], figures[1::2], strict=False))


def _path_corners(path: str) -> list[Corner]:
    corners: list[Corner] = []
    x = y = 0.0
    for letter, text in _SEGMENT.findall(path):
        small, figures = letter.lower(), [float(figure) for figure in _FIGURE.findall(text)]
        wanted = FIGURES.get(small, 0)
        if not wanted:
            corners.append((x, y))
            continue
        for start in range(0, len(figures) - wanted + 1, wanted):
            ends = figures[start : start + wanted]
            base = (x, y) if letter.islower() else (0.0, 0.0)
            if small == "h":
                x = base[0] + ends[0]
            elif small == "v":
                y = base[1] + ends[0]
            else:
                x, y = base[0] + ends[-2], base[1] + ends[-1]
            corners.append((x, y))
        # Arcs whose flags stand without blanks have fewer figures than they need.
        corners += [(x, y)] * (len(figures) // 5 - len(figures) // 7 if small == "a" else 0)
    return corners


def own_steps(node: ET.Element, corners: list[Corner]) -> int:
    """The steps of an element by itself, but for what every element takes."""
    steps = SEGMENT * len(corners) + crossings(corners) // CROSSINGS
    steps += ARC * sum(node.get("d", "").count(letter) for letter in "aA")
    steps += ROUND if node.tag.endswith(("}circle", "}ellipse")) else 0
    return steps + len(node.get("style", "")) // STYLE + len(node.get("transform", "")) // TEXT


def handed_down(node: ET.Element) -> int:
    """Characters that an element hands down to all below it, each of which reads them again."""
    given = sum(len(key) + len(value) for key, value in node.items() if key not in _OWN)
    return given + len(node.get("style", ""))


def crossings(corners: list[Corner]) -> int:
    """About how many pairs of a path's segments may cross: those whose boxes meet. Counted for some, if many."""
    many = len(corners)
    if many <= FEW:
        return many * many // 2
    import numpy as np  # a while to load, and few drawings have such paths

    ends = np.array([(*a, *b) for a, b in pairwise(corners)])
    low, high = np.minimum(ends[:, :2], ends[:, 2:]), np.maximum(ends[:, :2], ends[:, 2:])
    left, top, right, bottom = low[:, 0], low[:, 1], high[:, 0], high[:, 1]
    tried = np.array(random.Random(many).sample(range(many - 1), min(TRIED, many - 1)))
    meet = 0
    for some in np.array_split(tried, max(1, len(tried) // AT_ONCE)):
        one = some[:, None]
        beside = (left <= right[one]) & (right >= left[one])
        meet += int(np.count_nonzero(beside & (top <= bottom[one]) & (bottom >= top[one])))
    return meet * many // (2 * len(tried))
