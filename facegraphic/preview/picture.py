"""The picture of a box: what is seen where, then light on it, with soft edges where surfaces meet."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from facegraphic.film.colour import to_coded
from facegraphic.geometry.path import Box
from facegraphic.preview.bloom import bloomed
from facegraphic.preview.camera import Camera
from facegraphic.preview.faces import LitFace, light_face, seen_face, stands_on
from facegraphic.preview.ground import air_over
from facegraphic.preview.model import Looks, Model, Pixels
from facegraphic.preview.raster import NOTHING, Flat, Stack, counted, flattened, nearest, nearest_at, stacked
from facegraphic.preview.raster import Pixels as Wanted
from facegraphic.preview.shading import Around, Seen, Stuffs, shaded
from facegraphic.preview.table import seen_table
from facegraphic.preview.vectors import along, unit
from facegraphic.stock.faces import SIDES, Side

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Kinds = npt.NDArray[np.int32]
Flags = npt.NDArray[np.bool_]

# Where in a pixel the edge between surfaces is looked for: eight rooks on a board, none on another's row or column.
SPOTS = tuple(((x + 0.5) / 8, (y + 0.5) / 8) for x, y in enumerate((3, 6, 1, 4, 7, 2, 5, 0)))
BEND = 3.0  # steps of a normal's component from which two triangles are looked at apart
AT_A_TIME = 16_384  # points that are lit together: so many stay close to the processor
BAND = 16  # rows that are written at a time
AROUND = 2.0  # px round a face within which its picture is made


@dataclass(frozen=True, eq=False)
class _Scene:
    """A model ready to be looked at: triangles, which of SIDES each mesh stands on (−1: the box's own)."""

    model: Model
    looks: Looks
    camera: Camera
    stack: Stack
    flat: Flat
    sides: Ints


def box_picture(model: Model, looks: Looks, camera: Camera) -> Pixels:
    """The box as the camera sees it, RGB, rows from the top. Faces without a look wear their mesh's material."""
    stack = stacked(model.meshes)
    scene = _Scene(model, looks, camera, stack, flattened(stack, camera), _stands(model))
    width, height = camera.size
    found = nearest(scene.flat, Wanted(width, height))
    faces = _lit_faces(scene)
    picture = seen_table(model, camera).reshape(-1, 3)
    whole = _face_pictures(scene, faces)
    shell = _Light(scene, faces)
    meeting = _meeting(scene, found)
    behind = picture[meeting.edges]
    rest = _with_faces(scene, whole, picture.reshape(height, width, 3), found.reshape(height, width))
    picture[rest] = shell(rest, found[rest], (0.5, 0.5))
    _smoothed(shell, whole, picture, meeting, behind)
    shown = picture.reshape(height, width, 3)
    bloomed(shown, model, camera)
    return _written(shown)


def _stands(model: Model) -> Ints:
    """On which of SIDES each mesh stands."""
    sides = [stands_on(mesh, model) for mesh in model.meshes]
    return np.array([NOTHING if side is None else SIDES.index(side) for side in sides])


def _lit_faces(scene: _Scene) -> Mapping[Side, LitFace]:
    """The faces that the camera sees, with light on them."""
    found: dict[Side, LitFace] = {}
    eye = scene.camera.position
    for number, side in enumerate(SIDES):
        pose = scene.model.poses[side]
        if float(np.subtract(eye, pose.centre) @ np.array(pose.out)) > 0:
            standing = [mesh for mesh, on in zip(scene.model.meshes, scene.sides, strict=True) if on == number]
            found[side] = light_face(standing, _extent(scene.model, side), pose, eye)
    return found


def _extent(model: Model, side: Side) -> Box:
    flat = next(mesh.on_face for mesh in model.meshes if mesh.side == side)
    assert flat is not None
    (x0, y0), (x1, y1) = flat.min(axis=0).tolist(), flat.max(axis=0).tolist()
    return Box(x0, y0, x1, y1)


class _Light:
    """Colours of points on what is not flat."""

    def __init__(self, scene: _Scene, faces: Mapping[Side, LitFace]) -> None:
        self.scene = scene
        self._around: dict[int, Around] = {}
        for side, face in faces.items():
            number = SIDES.index(side)
            standing = [mesh for mesh, on in zip(scene.model.meshes, scene.sides, strict=True) if on == number]
            if standing:
                bare = _bare(scene.model, side)
                air = air_over(standing, face.pose, face.side_box)
                self._around[number] = Around(face, face.mean(scene.looks.get(side), bare), air)
        self._told = _told(scene.stack, scene.flat)
        self._stuffs = Stuffs.of(scene.model.meshes, scene.sides)

    def __call__(self, places: Ints, triangles: Ints, at: tuple[Array, Array] | tuple[float, float]) -> Floats:
        found = np.empty((len(places), 3), np.float32)
        x, y = (np.broadcast_to(np.asarray(one, np.float32), len(places)) for one in at)
        for start in range(0, len(places), AT_A_TIME):
            part = np.s_[start : start + AT_A_TIME]
            found[part] = self._lit(places[part], triangles[part], (x[part], y[part]))
        return found

    def _lit(self, places: Ints, triangles: Ints, at: tuple[Floats, Floats]) -> Floats:
        camera = self.scene.camera
        y, x = np.divmod(places.astype(np.int32), np.int32(camera.size[0]))
        px, py = x.astype(np.float32) + at[0], y.astype(np.float32) + at[1]
        ox, oy, near, near_x, near_y, *normal, turn = self._told.take(triangles, axis=0).T
        dx, dy = px - ox, py - oy
        nearness = np.maximum(near + near_x * dx + near_y * dy, np.float32(1e-9))
        normals = unit(
            np.stack(
                [n + nx * dx + ny * dy for n, nx, ny in zip(normal[::3], normal[1::3], normal[2::3], strict=True)]
            ).T
        )
        centre, focal = np.array(camera.centre, np.float32), np.float32(camera.focal)
        lens = np.stack([(px - centre[0]) / focal, (py - centre[1]) / focal, np.ones_like(px)]).T
        ways = along(lens, camera.axes.T)
        points = np.array(camera.position, np.float32) + ways / nearness[:, None]
        seen = Seen(points, normals, unit(ways), turn / nearness, self.scene.stack.owner[triangles])
        return shaded(seen, self._stuffs, self._around)


def _bare(model: Model, side: Side) -> str:
    return next(mesh.material.colour for mesh in model.meshes if mesh.side == side)


def _told(stack: Stack, flat: Flat) -> Floats:
    """What is to be known of each triangle that is seen (m × 15): where its first corner lies in the picture; nearness
    there, and by how much it grows to the right and down; the same of each component of its normals, which are as long
    as their points are near; by how much those change from a pixel to the next.
    """
    near = stack.normals[flat.number].astype(float) * flat.nearness[..., None]
    values = (flat.nearness, *(near[..., axis] for axis in range(3)))
    planes = [Flat(flat.corners, one, flat.number).planes[:, 1:] for one in values]
    turn = np.sqrt(sum((one * one).sum(axis=1) for one in planes[1:]))
    told = np.zeros((len(stack.owner), 15), np.float32)
    each = [np.column_stack([one[:, 0], plane]) for one, plane in zip(values, planes, strict=True)]
    told[flat.number] = np.column_stack([flat.corners[:, 0], *each, turn])
    return told


def _face_pictures(scene: _Scene, faces: Mapping[Side, LitFace]) -> Mapping[int, tuple[int, int, Floats]]:
    """For each mesh that is a face that is seen: the upper left corner of its picture, and that picture."""
    found: dict[int, tuple[int, int, Floats]] = {}
    width, height = scene.camera.size
    for number, mesh in enumerate(scene.model.meshes):
        if mesh.side is None or mesh.side not in faces:
            continue
        outline = scene.camera.project(mesh.points)
        x0, y0 = (max(0, int(v)) for v in np.floor(outline.min(axis=0) - AROUND))
        x1, y1 = np.minimum(np.ceil(outline.max(axis=0) + AROUND), (width, height)).astype(int)
        if x1 <= x0 or y1 <= y0:
            continue
        cx, cy = scene.camera.centre
        part = replace(scene.camera, size=(int(x1 - x0), int(y1 - y0)), centre=(cx - x0, cy - y0))
        look = scene.looks.get(mesh.side)
        found[number] = (x0, y0, seen_face(faces[mesh.side], look, mesh.material.colour, part))
    return found


def _with_faces(scene: _Scene, faces: Mapping[int, tuple[int, int, Floats]], picture: Floats, found: Ints) -> Ints:
    """Put the faces into the picture where they are seen; returns the places where something else of the box is."""
    kinds = np.append(scene.stack.owner, NOTHING).astype(np.int16)
    owner = kinds[found]
    rest = owner != NOTHING
    for number, (x0, y0, look) in faces.items():
        part = np.s_[y0 : y0 + look.shape[0], x0 : x0 + look.shape[1]]
        here = owner[part] == number
        np.copyto(picture[part], look, where=here[..., None])
        rest[part] &= ~here
    return np.flatnonzero(rest)


def _colours(
    light: _Light, faces: Mapping[int, tuple[int, int, Floats]], behind: Floats, what: tuple[Ints, Ints, Array]
) -> Floats:
    """The colours of triangles at places of the picture, each at a spot of its pixel; what is behind where there is
    none (n × 3, changed).
    """
    (places, triangles, at), colours = what, behind
    owner = np.where(triangles == NOTHING, NOTHING, light.scene.stack.owner[triangles])
    rest = triangles != NOTHING
    for number, (x0, y0, picture) in faces.items():
        here = np.flatnonzero(owner == number)
        y, x = np.divmod(places[here], light.scene.camera.size[0])
        inside = np.clip(y - y0, 0, picture.shape[0] - 1), np.clip(x - x0, 0, picture.shape[1] - 1)
        colours[here] = picture[inside]
        rest[here] = False
    some = np.flatnonzero(rest)
    if len(some):
        colours[some] = light(places[some], triangles[some], (at[some, 0], at[some, 1]))
    return colours


@dataclass(frozen=True, eq=False)
class _Meeting:
    """Pixels in which surfaces meet, by their places: the triangles at several spots of each, and of how many spots
    each of those stands for the kind (spots × n, see `_counted_alike`).
    """

    edges: Ints
    triangles: Ints
    counts: npt.NDArray[np.int8]


def _meeting(scene: _Scene, found: Ints) -> _Meeting:
    width, height = scene.camera.size
    kinds = np.append(_kinds(scene.stack), NOTHING).astype(np.int32)  # the last for NOTHING itself
    kind = kinds[found]
    wanted = _edges(kind.reshape(height, width))
    edges = np.flatnonzero(wanted)
    triangles = nearest_at(scene.flat, counted(wanted), SPOTS)
    return _Meeting(edges, triangles, _counted_alike(kinds[triangles], kind[edges]))


def _smoothed(
    light: _Light, faces: Mapping[int, tuple[int, int, Floats]], picture: Floats, meeting: _Meeting, behind: Floats
) -> None:
    """Where surfaces meet, mean what is seen at several spots of each pixel; changes the picture."""
    edges, counts = meeting.edges, meeting.counts
    total = (len(SPOTS) - counts.sum(axis=0, dtype=np.float32))[:, None] * picture[edges]
    spot, place = np.nonzero(counts)
    what = (edges[place], meeting.triangles[spot, place], np.array(SPOTS)[spot])
    colours = _colours(light, faces, behind[place], what) * counts[spot, place, None]
    for channel in range(3):
        total[:, channel] += np.bincount(place, colours[:, channel], len(edges)).astype(np.float32)
    picture[edges] = total / len(SPOTS)


def _counted_alike(there: Kinds, middle: Kinds) -> npt.NDArray[np.int8]:
    """How many spots of a pixel show what each does (spots × n), told at the first of those that are alike; 0 for all
    that show what is seen in its middle.
    """
    counts = np.zeros(there.shape, np.int8)
    done = there == middle
    for number, (own, kind) in enumerate(zip(counts, there, strict=True)):
        alike = (there[number:] == kind) & ~done[number]
        alike.sum(axis=0, dtype=np.int8, out=own)
        done[number:] |= alike
    return counts


def _kinds(stack: Stack) -> Ints:
    """A number for each triangle that those share that are looked at as one: of one mesh, facing nearly alike."""
    steps = np.round(stack.facets * BEND).astype(np.int64) + 4
    return np.asarray(((stack.owner * 9 + steps[:, 0]) * 9 + steps[:, 1]) * 9 + steps[:, 2])


def _edges(kind: Kinds) -> Flags:
    """Pixels of which a neighbour is of another kind."""
    edges = np.zeros(kind.shape, bool)
    across, down = kind[:, 1:] != kind[:, :-1], kind[1:] != kind[:-1]
    edges[:, 1:] |= across
    edges[:, :-1] |= across
    edges[1:] |= down
    edges[:-1] |= down
    return edges


_CODED = (to_coded(np.linspace(0, 1, 1 << 14)) * 255 * 256).astype(np.uint16)


def _written(picture: Floats) -> Pixels:
    """Shown light as 8-bit sRGB, with a dither of a step so that soft light does not band."""
    rows, columns = picture.shape[:2]
    written = np.empty((rows, 3 * columns), np.uint8)
    noise = np.repeat(_noise(rows, columns), 3, axis=1)
    light = picture.reshape(rows, -1)
    for top in range(0, rows, BAND):  # as many rows as a processor keeps close by
        band = np.s_[top : top + BAND]
        steps = (light[band] * np.float32(len(_CODED) - 1)).astype(np.intp)
        written[band] = _CODED.take(steps, mode="clip") + noise[band] >> 8
    return written.reshape(rows, columns, 3)


def _noise(rows: int, columns: int) -> npt.NDArray[np.uint16]:
    """Noise without large patches (an interleaved gradient), up to 255: the same for every picture."""
    x, y = np.arange(columns, dtype=np.float32), np.arange(rows, dtype=np.float32)[:, None]
    value = np.float32(0.06711056) * x + np.float32(0.00583715) * y
    for scale in (52.9829189, 256):
        value -= np.floor(value)
        value *= np.float32(scale)
    return np.minimum(value, 255).astype(np.uint16)
