"""The box folded out: the planes of its sides as panels, hinged at the edges of the top.

A panel ends where the planes meet, as if no edge were rounded: there a rule or calliper laid on the neighbour reads
from, and there paper is creased. Its coordinates are those of its face, round the centre of the flat, printable part,
x right and y up as seen from outside. Plain trigonometry on a frustum whose walls lean by the draft.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

from fontTools.misc.transform import Transform

from facegraphic.geometry.path import IDENTITY, Box, Point
from facegraphic.job.model import Job
from facegraphic.stock.faces import SIDES, Outline, Side, face_outline
from facegraphic.stock.tables import BoxSize

TAB = 6.0  # how wide the tabs are that hold the folded paper together
TABBED: tuple[Side, ...] = ("front", "back")
# The side that stands at the left edge of each, as one looks straight at it from outside with the box on its base.
LEFT_OF: Mapping[Side, Side] = {"top": "left", "back": "right", "front": "left", "left": "back", "right": "front"}


def edges(side: Side) -> str:
    """What places on a side are measured from: named by the neighbour and the hand it is on, lest one mirrors them."""
    y = "from the edge at FRONT (nearest you)" if side == "top" else "from the lid edge (below)"
    return f"{side.upper()}: x from the edge at {LEFT_OF[side].upper()} (on your left as you look at it), y {y}"


@dataclass(frozen=True)
class Panel:
    """One side's plane; `corners` are lower left, lower right, upper right, upper left."""

    side: Side
    corners: tuple[Point, Point, Point, Point]
    outline: Outline

    @property
    def box(self) -> Box:
        xs, ys = zip(*self.corners, strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))

    def measured(self, at: Point) -> Point:
        """How far a place stands from the left edge, level with it, and from the lower edge, along the plane."""
        (x0, y0), _, _, (x1, y1) = self.corners
        left = x0 + (at[1] - y0) / (y1 - y0) * (x1 - x0)
        return (at[0] - left, at[1] - y0)


def panel(box: BoxSize, side: Side, across: float, deep: float) -> Panel:
    """The plane of one side of a box that lies `across` mm wide and `deep` mm deep."""
    outline = face_outline(box, side, across, deep)
    lean, high = math.tan(math.radians(box.draft)), box.size[2]
    if side == "top":
        x, y = across / 2 - high * lean, deep / 2 - high * lean
        return Panel(side, ((-x, -y), (x, -y), (x, y), (-x, y)), outline)
    run = across if side in ("front", "back") else deep
    lower, upper = run / 2 - box.lid * lean, run / 2 - high * lean
    y0 = -outline.height / 2
    y1 = y0 + (high - box.lid) / math.cos(math.radians(box.draft))
    return Panel(side, ((-lower, y0), (lower, y0), (upper, y1), (-upper, y1)), outline)


def panels(job: Job) -> dict[Side, Panel]:
    """All five sides of a job's box."""
    return {side: panel(job.box, side, job.across, job.deep) for side in SIDES}


def unfolded(found: Mapping[Side, Panel]) -> dict[Side, Transform]:
    """Where each panel lies in the net: from its own coordinates to those round the top's centre."""
    top = found["top"].box
    high = {side: own.box.y1 for side, own in found.items()}
    return {
        "top": IDENTITY,
        "front": IDENTITY.translate(0, top.y0 - high["front"]),
        "back": IDENTITY.translate(0, top.y1 + high["back"]).rotate(math.pi),
        "left": IDENTITY.translate(top.x0 - high["left"], 0).rotate(-math.pi / 2),
        "right": IDENTITY.translate(top.x1 + high["right"], 0).rotate(math.pi / 2),
    }


def tab(start: Point, end: Point, deep: float = TAB) -> tuple[Point, Point, Point, Point]:
    """A tab on the right of an edge, its ends slanted so that neighbours keep clear of each other."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    length = math.hypot(dx, dy)
    deep = min(deep, length / 4)
    along, out = (dx / length, dy / length), (dy / length, -dx / length)
    first = (start[0] + deep * (along[0] + out[0]), start[1] + deep * (along[1] + out[1]))
    last = (end[0] + deep * (out[0] - along[0]), end[1] + deep * (out[1] - along[1]))
    return (start, first, last, end)
