"""From a box's outer size to the flat, printable face of each side.

A face ends where its rounded edges begin. With walls leaning by a draft angle, an edge of radius r between the top
and a wall starts r·tan((90° − draft)/2) from the line where the two planes meet; plain trigonometry.
"""

import math
from dataclasses import dataclass, replace
from typing import Literal, get_args

from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import polygon, rounded_rectangle
from facegraphic.stock.tables import BoxSize

Side = Literal["top", "back", "front", "left", "right"]
SIDES: tuple[Side, ...] = get_args(Side)


@dataclass(frozen=True)
class Outline:
    """A face's outline round its own centre: a rounded rectangle, or a symmetric trapezoid (radius 0)."""

    bottom: float
    top: float
    height: float
    radius: float = 0.0

    @property
    def size(self) -> tuple[float, float]:
        return (max(self.bottom, self.top), self.height)

    @property
    def box(self) -> Box:
        return Box.centred(*self.size)

    @property
    def path(self) -> Path:
        if self.bottom == self.top:
            return rounded_rectangle(self.box, self.radius)
        y = self.height / 2
        return polygon([(-self.bottom / 2, -y), (self.bottom / 2, -y), (self.top / 2, y), (-self.top / 2, y)])

    def grown(self, by: float) -> "Outline":
        """The outline at a distance outside (negative: inside), corners kept round where they are."""
        if self.height + 2 * by <= 0 or min(self.bottom, self.top) + 2 * by <= 0:
            raise ValueError("nothing is left of the outline")
        lean = (self.top - self.bottom) / 2 / self.height
        slant = by * math.hypot(1, lean)
        return replace(
            self,
            bottom=self.bottom + 2 * (slant - lean * by),
            top=self.top + 2 * (slant + lean * by),
            height=self.height + 2 * by,
            radius=max(0.0, self.radius + by) if self.radius else 0.0,
        )


def face_outline(box: BoxSize, side: Side, across: float, deep: float) -> Outline:
    """The printable face of one side of a box that lies `across` mm wide and `deep` mm deep before its user.

    Sides are trapezoids between lid and top edge, without the rounded upright edges. Raises ValueError when the
    radii leave nothing flat.
    """
    high = box.size[2]
    draft = math.radians(box.draft)
    edge = box.edge * math.tan((math.pi / 2 - draft) / 2)
    if side == "top":
        inset = high * math.tan(draft) + edge
        outline = Outline(across - 2 * inset, across - 2 * inset, deep - 2 * inset, max(0.0, box.corner - edge))
    else:
        run = across if side in ("front", "back") else deep
        height = (high - box.lid) / math.cos(draft) - edge
        crown = high - edge * math.cos(draft)
        bottom = run - 2 * box.lid * math.tan(draft) - 2 * box.corner
        outline = Outline(bottom, run - 2 * crown * math.tan(draft) - 2 * box.corner, height)
    if min(outline.bottom, outline.top, outline.height) <= 0:
        raise ValueError(f"edge and corner radii leave no flat {side} face")
    return outline
