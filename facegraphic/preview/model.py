"""The finished box as values: meshes in box space, and what each face wears.

Box space is in mm: x to the user's right, y away from the user, z up; its origin is the middle of the box's foot,
so that the table is the plane z = 0. A face's own coordinates run from its centre, x right and y up as it is seen
from outside; a side's up is towards the top, the top's up is towards the back.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from facegraphic.geometry.path import Box
from facegraphic.preview.vectors import along
from facegraphic.stock.faces import Side

Pixels: TypeAlias = npt.NDArray[np.uint8]
Floats: TypeAlias = npt.NDArray[np.float32]
Indices: TypeAlias = npt.NDArray[np.int32]
Vector: TypeAlias = tuple[float, float, float]


@dataclass(frozen=True)
class Material:
    """How a surface meets light: its "#rrggbb" colour, `rough` from 0 (mirror) to 1 (chalk), `metal`, `glow`."""

    name: str
    colour: str
    rough: float
    metal: float = 0.0
    glow: float = 0.0


@dataclass(frozen=True)
class Mesh:
    """A surface of triangles, anticlockwise from outside: points and unit normals (n × 3), their corners (m × 3).

    With a `side` it wears that face's look, and `on_face` (n × 2) has its points in that face's coordinates. `hole` is
    the id of the hole that a part stands in.
    """

    points: Floats
    normals: Floats
    triangles: Indices
    material: Material
    side: Side | None = None
    on_face: Floats | None = None
    hole: str | None = None


@dataclass(frozen=True)
class Pose:
    """Where a face lies in box space: its centre, and unit vectors along its x, its y, and out of it."""

    centre: Vector
    right: Vector
    up: Vector
    out: Vector

    def carry(self, points: npt.ArrayLike) -> npt.NDArray[np.float64]:
        """Points (n × 3: face x, face y, height over the face) in box space."""
        local = np.atleast_2d(np.asarray(points, float))
        return np.asarray(self.centre) + along(local, np.array([self.right, self.up, self.out]).T)


@dataclass(frozen=True)
class Setting:
    """How the box is shown: knobs turned to a share of their travel (0 to 1), lamps lit or not."""

    knobs: float = 0.5
    lamps: bool = True


@dataclass(frozen=True)
class Model:
    """A box, what stands in its holes, and how it is set; `poses` has every side's."""

    size: Vector
    meshes: tuple[Mesh, ...]
    poses: Mapping[Side, Pose]
    setting: Setting = field(default_factory=Setting)


@dataclass(frozen=True)
class FaceLook:
    """A face as it looks when it is finished, straight on: `picture` (rows from the top, RGB) fills `extent` (face mm).

    The extent is the box round the face's outline, without bleed; beyond the outline the picture goes on in the paint.
    `film` (0 to 255) says where film lies, which shines; None where there is none.
    """

    picture: Pixels
    extent: Box
    film: Pixels | None = None


Looks: TypeAlias = Mapping[Side, FaceLook]
