"""The room inside a box, and where each of its faces stands round it.

Coordinates of the box: x right, y away from its user, z up from the open rim, which the lid closes from below; the
origin is the middle of the rim. Walls lean inwards by the draft on their way up. The lid's plate is taken to be as
thick as the walls (from memory). A screw post fills a square in each corner, its inner sides leaning as the walls do.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from facegraphic.geometry.solids import Array, Plane, Solid, hexahedron
from facegraphic.stock.faces import Side, face_outline
from facegraphic.stock.tables import BoxSize

CORNERS: Mapping[str, tuple[int, int]] = {
    "far left": (-1, 1),
    "far right": (1, 1),
    "near left": (-1, -1),
    "near right": (1, -1),
}
OUTWARDS: Mapping[Side, tuple[int, int]] = {"back": (0, 1), "front": (0, -1), "left": (-1, 0), "right": (1, 0)}


@dataclass(frozen=True, eq=False)
class Stand:
    """A face in the box: its middle on the outside, and unit vectors as rows: its x, its y, and inwards."""

    middle: Array
    axes: Array

    def point(self, x: float, y: float, inwards: float = 0.0) -> Array:
        return np.asarray(self.middle + np.array([x, y, inwards]) @ self.axes, dtype=float)


@dataclass(frozen=True, eq=False)
class Cavity:
    """What a box leaves free inside: the inner planes of its walls and lid by name, and its screw posts by corner."""

    planes: Mapping[str, Plane]
    posts: Mapping[str, Solid]


@lru_cache(maxsize=256)
def stand(box: BoxSize, side: Side, across: float, deep: float) -> Stand:
    """Where a face stands, the box lying `across` mm wide and `deep` mm deep before its user."""
    high, draft = box.size[2], math.radians(box.draft)
    if side == "top":
        return Stand(np.array([0.0, 0.0, high]), np.array([[1.0, 0, 0], [0, 1.0, 0], [0, 0, -1.0]]))
    z = box.lid + face_outline(box, side, across, deep).height / 2 * math.cos(draft)
    ox, oy = OUTWARDS[side]
    run = (across if ox else deep) / 2 - z * math.tan(draft)
    lean, up = math.sin(draft), math.cos(draft)
    axes = np.array([[-oy, ox, 0.0], [-ox * lean, -oy * lean, up], [-ox * up, -oy * up, -lean]])
    return Stand(np.array([ox * run, oy * run, z]), axes)


@lru_cache(maxsize=64)
def cavity(box: BoxSize, across: float, deep: float) -> Cavity:
    """The room inside a box that lies so."""
    high, draft = box.size[2], math.radians(box.draft)
    planes = {"the lid": Plane((0.0, 0.0, -1.0), -box.wall), "the top": Plane((0.0, 0.0, 1.0), high - box.wall)}
    for side, (ox, oy) in OUTWARDS.items():
        normal = (ox * math.cos(draft), oy * math.cos(draft), math.sin(draft))
        planes[f"the {side} wall"] = Plane(normal, (across if ox else deep) / 2 * math.cos(draft) - box.wall)
    posts = {corner: _post(box, across, deep, way) for corner, way in CORNERS.items()} if box.post else {}
    return Cavity(planes, posts)


def _post(box: BoxSize, across: float, deep: float, way: tuple[int, int]) -> Solid:
    """A screw post from the lid to the top; it runs on into the walls, which are told of by themselves."""
    draft = math.radians(box.draft)

    def ring(z: float) -> Array:
        inset = z * math.tan(draft) + box.wall / math.cos(draft) + box.post
        x, y = across / 2 - inset, deep / 2 - inset
        far_x, far_y = x + box.post, y + box.post
        return np.array([(way[0] * a, way[1] * b, z) for a, b in ((x, y), (far_x, y), (far_x, far_y), (x, far_y))])

    return hexahedron(ring(box.wall), ring(box.size[2] - box.wall))
