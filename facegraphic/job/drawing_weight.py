"""How much work one element of a drawing is by itself, in steps: its segments, how they cross, and its text.

A step is some 10 microseconds of one processor of 2020 or so, measured with CairoSVG and cairo 1.16 on drawings of
many thousands alike. An estimate: it need tell drawings apart that take seconds from those that take minutes.
"""

import math
import random
import re
import xml.etree.ElementTree as ET
import zlib
from dataclasses import dataclass, field

from facegraphic.job.path_data import FIGURES
from facegraphic.stock.limits import step

ELEMENT, ROUND, SEGMENT, ARC = step("element"), step("round"), step("segment"), step("arc")
STYLE, TEXT, HANDED_DOWN = 5, 10, 50  # characters a step: of a style, of other values, of what elements below get too
CROSSINGS = step("crossings")  # pairs of segments that may cross: cairo sorts and splits them, in each band of rows
FEW = 60  # segments of which any may cross any
TRIED, AT_ONCE = 200, 20  # how many are tried of more, and so many of them at once
_SEGMENT = re.compile(r"([A-DF-Za-df-z])([^A-DF-Za-df-z]*)")
_FIGURE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_OWN = ("d", "points", "style", "transform", "id", "class")
Bounds = tuple[float, float, float, float]  # left, top, right, bottom


@dataclass
class Outline:
    """What a path or polygon draws: the box of each segment with its control points, and how many moves stand between.

    A move draws nothing, so it crosses nothing either: of a thousand dots in one path none need touch another.
    """

    segments: list[Bounds] = field(default_factory=list)
    moves: int = 0

    @property
    def corners(self) -> int:
        return len(self.segments) + self.moves


def outline(node: ET.Element) -> Outline:
    """The outline of an element's path or points, as near as need be."""
    if path := node.get("d", ""):
        return _path_outline(path)
    figures = [float(figure) for figure in _FIGURE.findall(node.get("points", ""))]
    at = list(zip(figures[::2], figures[1::2], strict=False))
    ends = zip(at, [*at[1:], *at[:1]], strict=True)
    return Outline([(min(x, u), min(y, v), max(x, u), max(y, v)) for (x, y), (u, v) in ends])


def _path_outline(path: str) -> Outline:
    found = Outline()
    at = start = (0.0, 0.0)
    for letter, text in _SEGMENT.findall(path):
        small, figures = letter.lower(), [float(figure) for figure in _FIGURE.findall(text)]
        wanted = FIGURES.get(small, 0)
        if not wanted:
            found.segments.append(_around(at, [start[0]], [start[1]]))
            at = start
            continue
        for first in range(0, len(figures) - wanted + 1, wanted):
            xs, ys = _points(small, figures[first : first + wanted], at, letter.islower())
            if small == "m" and not first:
                start, found.moves = (xs[-1], ys[-1]), found.moves + 1
            else:
                found.segments.append(_around(at, xs, ys))
            at = xs[-1], ys[-1]
        # Arcs whose flags stand without blanks have fewer figures than they need.
        found.segments += [(*at, *at)] * (len(figures) // 5 - len(figures) // 7 if small == "a" else 0)
    return found


def _points(small: str, ends: list[float], at: tuple[float, float], relative: bool) -> tuple[list[float], list[float]]:
    """Where a segment's control points and, last, its end lie; of an arc, how far it may reach."""
    x, y = at if relative else (0.0, 0.0)
    if small == "h":
        return [x + ends[0]], [at[1]]
    if small == "v":
        return [at[0]], [y + ends[0]]
    if small != "a":
        return [x + end for end in ends[::2]], [y + end for end in ends[1::2]]
    to = x + ends[5], y + ends[6]
    beyond = _reach(ends, (to[0] - at[0], to[1] - at[1]))
    (left, right), (top, bottom) = sorted((at[0], to[0])), sorted((at[1], to[1]))
    return [left - beyond, right + beyond, to[0]], [top - beyond, bottom + beyond, to[1]]


def _reach(arc: list[float], chord: tuple[float, float]) -> float:
    """How far an arc may reach beyond its chord, as SVG has it: radii that are too short for it grow alike (F.6.6)."""
    turn = math.radians(arc[2])
    along = chord[0] * math.cos(turn) + chord[1] * math.sin(turn)
    across = chord[1] * math.cos(turn) - chord[0] * math.sin(turn)
    rx, ry = abs(arc[0]), abs(arc[1])
    if not rx or not ry:
        return 0.0  # it is a line
    half = math.hypot(along / rx, across / ry) / 2  # of the chord, where the ellipse is a circle of radius 1
    if half >= 1:
        return max(rx, ry) * half
    return max(rx, ry) * (2.0 if arc[3] else half * half / (1 + math.sqrt(1 - half * half)))


def _around(at: tuple[float, float], xs: list[float], ys: list[float]) -> Bounds:
    return min(at[0], *xs), min(at[1], *ys), max(at[0], *xs), max(at[1], *ys)


def segment_steps(node: ET.Element, drawn: Outline) -> int:
    """The steps of an element's segments by themselves."""
    steps = SEGMENT * drawn.corners + ARC * sum(node.get("d", "").count(letter) for letter in "aA")
    return steps + (ROUND if node.tag.endswith(("}circle", "}ellipse")) else 0)


def text_steps(node: ET.Element) -> int:
    """The steps of an element's values that are long."""
    return len(node.get("style", "")) // STYLE + len(node.get("transform", "")) // TEXT


def handed_down(node: ET.Element) -> int:
    """Characters that an element hands down to all below it, each of which reads them again."""
    given = sum(len(key) + len(value) for key, value in node.items() if key not in _OWN)
    return given + len(node.get("style", ""))


def crossings(segments: list[Bounds], grown: float = 0.0, few: int = FEW) -> int:
    """About how many pairs of a path's segments may cross: those whose boxes meet. Counted for some, if many.

    Boxes are grown by half a stroke's width on all sides for pairs of strokes that overlap. Of a `few`, any may.
    """
    many = len(segments)
    if many <= few:
        return many * many // 2
    import numpy as np  # a while to load, and few drawings have such paths

    boxes = np.array(segments)
    left, top, right, bottom = boxes.T + np.array([[-grown], [-grown], [grown], [grown]])
    # Which are tried depends on all of them, so that nobody can lay just those apart.
    tried = np.array(random.Random(zlib.crc32(boxes.tobytes())).sample(range(many), min(TRIED, many)))
    meet = 0
    for some in np.array_split(tried, max(1, len(tried) // AT_ONCE)):
        one = some[:, None]
        beside = (left <= right[one]) & (right >= left[one])
        meet += int(np.count_nonzero(beside & (top <= bottom[one]) & (bottom >= top[one])))
    return meet * many // (2 * len(tried))
