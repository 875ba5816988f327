"""Light on everything that is not flat: rounded edges, corners, hardware, point by point as the camera sees it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from facegraphic.film.colour import coded, to_linear
from facegraphic.preview.faces import LitFace
from facegraphic.preview.ground import Air
from facegraphic.preview.meeting import diffuse, fresnel, held, mirrored, table_light
from facegraphic.preview.model import Mesh
from facegraphic.preview.studio import blur, shine
from facegraphic.preview.vectors import along

Floats = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.floating]
Ints = npt.NDArray[np.int64]

OUT = 0.9  # mm before a point at which its air is asked for light
TURNS, MOST_TURN = 1.6, 0.9  # tangents, of a radian
BLOCKED = 0.45  # of a reflection that is left where no light of the room comes
PANEL = 0.75  # of what a reflection that goes down sees, the face; the rest is what stands round the box
LIFT = 2.0  # how much brighter metal is shown than the studio would make it
MEANED = 2.5  # how soon a blurred reflection of the face is that of all of it
CORE = 0.85  # how much brighter a lit lens is where it is looked into


@dataclass(frozen=True, eq=False)
class Seen:
    """Points that are seen: where, their normals, the way of sight to them (n × 3 each), by how much their normals turn
    from a pixel to the next, and of which mesh each is.
    """

    points: Floats
    normals: Floats
    ways: Floats
    turn: Floats
    owner: Ints


@dataclass(frozen=True, eq=False)
class Around:
    """What stands round hardware: its face as it is lit, that face's colours over the grid, and the air over it."""

    face: LitFace
    colours: Floats
    air: Air


@dataclass(frozen=True, eq=False)
class Stuffs:
    """What each mesh is made of: colour, `rough`, `metal` and `glow` (m × 6), and the number of the face that it stands
    on; −1 for the box's own.
    """

    values: Floats
    sides: Ints

    @classmethod
    def of(cls, meshes: tuple[Mesh, ...], sides: Ints) -> "Stuffs":
        told = [(*to_linear(coded(one.colour)), one.rough, one.metal, one.glow) for one in (m.material for m in meshes)]
        return cls(np.array(told, np.float32), sides)


def shaded(seen: Seen, stuffs: Stuffs, around: Mapping[int, Around]) -> Floats:
    """The colours of points as a picture shows them (n × 3), with what stands round those that stand on a face."""
    values = stuffs.values[seen.owner]
    albedo, (rough, metal, glow) = values[:, :3], values[:, 3:].T
    # What turns much within a pixel mirrors all that it sweeps over: it looks rough.
    soft = blur(rough) + np.minimum(TURNS * seen.turn, MOST_TURN)
    count = len(seen.points)
    key, room = np.ones(count, np.float32), np.ones(count, np.float32)
    on, cosine = mirrored(seen.ways, seen.normals)
    bounce = np.repeat(table_light(seen.normals, seen.points[:, 2])[:, None], 3, axis=1)
    mirror = np.repeat(shine(on, soft)[:, None], 3, axis=1)
    stands = stuffs.sides[seen.owner]
    for number, other in around.items():
        here = np.flatnonzero(stands == number)
        if len(here):
            _on_face(here, seen, other, (key, room, bounce, mirror), on, soft)
    cast = diffuse(seen.normals, key, room)[:, None] + bounce
    # Where a point sees little of the room, its reflection does not either.
    mirror *= (BLOCKED + (1 - BLOCKED) * room)[:, None]
    plain = fresnel(cosine, rough)[:, None]
    metallic = albedo + (1 - albedo) * ((1 - cosine) ** 5)[:, None] * (1 - rough)[:, None]
    straight = plain + metal[:, None] * (metallic - plain)
    light = albedo * cast * (1 - metal)[:, None] + straight * mirror * (1 + (LIFT - 1) * metal)[:, None]
    core = (CORE * cosine**2)[:, None]
    light += glow[:, None] * (albedo * (0.15 + core) + 0.55 * core**4)
    return held(light)


def _on_face(
    here: Ints,
    seen: Seen,
    other: Around,
    into: tuple[Floats, Floats, Floats, Floats],
    on: Floats,
    soft: Floats,
) -> None:
    """Light on hardware: what gets past its neighbours, what its face throws back, and the face in its reflection."""
    key, room, bounce, mirror = into
    pose = other.face.pose
    axes = np.array([pose.right, pose.up, pose.out], np.float32)
    normals = along(seen.normals[here], axes)
    local = along(seen.points[here] - np.array(pose.centre, np.float32), axes)
    key[here], room[here] = other.air.at(local + OUT * normals)
    facing = (0.5 - 0.5 * normals[:, 2]).astype(np.float32)
    bounce[here] += facing[:, None] * _colours(other, local[:, :2] + 3.0 * normals[:, :2]) * room[here, None]
    ways = along(on[here], axes)
    down = np.maximum(-ways[:, 2], 0.02)
    spot = local[:, :2] + ways[:, :2] * (np.maximum(local[:, 2], 0) / down)[:, None]
    share = np.clip(0.5 - ways[:, 2] / (0.03 + 1.3 * soft[here]), 0, 1)
    share = (PANEL * share * share * (3 - 2 * share))[:, None]
    sharp, mean = _colours(other, spot), other.colours.mean(axis=(0, 1))
    blurred = sharp + np.clip(MEANED * soft[here] - 0.1, 0, 1)[:, None] * (mean - sharp)
    mirror[here] += share * (blurred - mirror[here])


def _colours(other: Around, spots: Numbers) -> Floats:
    """The face's lit colours at spots of it, between cells in proportion; beyond its edge those of the edge."""
    rows, columns = other.colours.shape[:2]
    box = other.face.side_box
    x = np.clip((spots[:, 0] - box.x0) * (columns / box.width) - 0.5, 0, columns - 1.01).astype(np.float32)
    y = np.clip((spots[:, 1] - box.y0) * (rows / box.height) - 0.5, 0, rows - 1.01).astype(np.float32)
    j, k = y.astype(np.int64), x.astype(np.int64)
    fy, fx = (y - j)[:, None].astype(np.float32), (x - k)[:, None].astype(np.float32)
    flat, at = other.colours.reshape(-1, 3), j * columns + k
    lower = flat[at] + fx * (flat[at + 1] - flat[at])
    upper = flat[at + columns] + fx * (flat[at + columns + 1] - flat[at + columns])
    return np.asarray(lower + fy * (upper - lower), np.float32)
