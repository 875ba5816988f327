"""The flat faces as the camera sees them: their looks, lit, with what stands on them throwing its shadow."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image

from facegraphic.film.colour import coded, to_linear
from facegraphic.geometry.path import Box
from facegraphic.preview.camera import Camera
from facegraphic.preview.ground import FINE_CELLS, heights, lit_face, softened
from facegraphic.preview.meeting import diffuse, gleams, held, table_light
from facegraphic.preview.model import FaceLook, Mesh, Model, Pose
from facegraphic.preview.tones import material
from facegraphic.preview.vectors import along, unit
from facegraphic.preview.warp import LINEAR, coarse, enlarged, spread, warped
from facegraphic.stock.faces import Side

Floats = npt.NDArray[np.float32]
FILM = 1.35  # how much more film gleams than paint: lacquer flows out smoother on it
BARE_CELLS = 1_500  # of a face on which nothing stands: without shadows light changes slowly
COVERED = 0.3  # mm over the face
FOOT = 0.16  # how bright the foot of hardware is in its reflections, on a face that is 1
GLOW = 0.9  # of a lit lamp on the face round it
SHADED_GLEAM = 0.35  # of a reflection that is left where no light of the room comes


@dataclass(frozen=True, eq=False)
class LitFace:
    """A face with light on it: over its grid what it sends back of white light, and what gleams on paint and film.

    `cast` is diffuse light (h × w × 3), `gleams` two layers (h × w): on paint, on film. `covered`: where something
    stands. Rows from the lower edge.
    """

    side_box: Box
    pose: Pose
    cast: Floats
    gleams: tuple[Floats, Floats]
    covered: npt.NDArray[np.bool_]

    def mean(self, look: FaceLook | None, bare: str) -> Floats:
        """The face's colour where it is lit, over the grid (h × w × 3): what nuts and knobs see of it."""
        rows, columns = self.cast.shape[:2]
        if look is None:
            own: Floats = np.asarray(to_linear(coded(bare)), np.float32)
        else:
            small = Image.fromarray(look.picture).resize((columns, rows), Image.Resampling.BOX)
            own = LINEAR[np.asarray(small)[::-1]]
        # The look knows nothing of hardware: what is mirrored there is metal in its own shade.
        free = self.cast[~self.covered]
        shade = FOOT * free.mean() if len(free) else 0.0
        colours = np.where(self.covered[..., None], np.float32(shade), own * self.cast)
        for _ in range(2):
            colours = np.stack([softened(colours[..., channel]) for channel in range(3)], -1)
        return np.asarray(colours, np.float32)


def stands_on(mesh: Mesh, model: Model) -> Side | None:
    """The side that a mesh of hardware stands on: that whose plane it lies over; None for the box's own.

    Its hole's id does not tell: holes of two faces may be called the same.
    """
    if mesh.hole is None:
        return None
    middle = mesh.points.mean(axis=0)

    def over(side: Side) -> float:
        pose = model.poses[side]
        return float((middle - np.array(pose.centre)) @ np.array(pose.out))

    return max(model.poses, key=over)


def light_face(meshes: Sequence[Mesh], box: Box, pose: Pose, eye: tuple[float, float, float]) -> LitFace:
    """Light on a face with `meshes` standing on it, seen from a place in box space."""
    ground = heights(meshes, pose, box, FINE_CELLS if meshes else BARE_CELLS)
    lit = lit_face(ground, pose)
    rows, columns = lit.shares.shape[1:]
    x = box.x0 + (np.arange(columns) + 0.5) * box.width / columns
    y = box.y0 + (np.arange(rows) + 0.5) * box.height / rows
    grid = np.stack([*np.meshgrid(x, y), np.zeros((rows, columns))], -1).reshape(-1, 3)
    points = pose.carry(grid)
    normal = np.array([pose.out], np.float32)
    key, room = lit.shares.reshape(2, -1)
    cast = diffuse(normal, key, room) + table_light(normal, points[:, 2].astype(np.float32)) * room
    ways = (points - np.array(eye)).astype(np.float32)
    ways = unit(ways)
    left = SHADED_GLEAM + (1 - SHADED_GLEAM) * room
    roughs = [material(name).rough for name in ("paint", "film")]
    on_paint, on_film = (
        np.asarray(one * left, np.float32).reshape(rows, columns) for one in gleams(ways, normal, roughs)
    )
    whole = cast.reshape(rows, columns, 1) + _glows(meshes, pose, grid).reshape(rows, columns, -1)
    return LitFace(
        box, pose, np.asarray(whole, np.float32), (on_paint, np.float32(FILM) * on_film), ground.values > COVERED
    )


def _glows(meshes: Sequence[Mesh], pose: Pose, grid: npt.NDArray[np.float64]) -> Floats:
    """What lit lamps throw on the face round them: their colour, by the distance and the slope."""
    total = np.zeros((len(grid), 3), np.float32)
    for mesh in meshes:
        if not mesh.material.glow:
            continue
        local = along(mesh.points.astype(float) - np.array(pose.centre), (pose.right, pose.up, pose.out))
        x, y, _ = (local.min(axis=0) + local.max(axis=0)) / 2
        high = float(local[:, 2].max())
        away = (grid[:, 0] - x) ** 2 + (grid[:, 1] - y) ** 2
        share = high**3 / (away + high * high) ** 1.5
        total += (GLOW * mesh.material.glow * share)[:, None] * to_linear(coded(mesh.material.colour))
    return total


def seen_face(face: LitFace, look: FaceLook | None, bare: str, camera: Camera) -> Floats:
    """A lit face in every pixel of a camera's picture (h × w × 3), as a picture shows it."""
    width, height = camera.size
    rows, columns = face.cast.shape[:2]
    step = coarse(face.side_box, (columns, rows), face.pose, camera)
    few = camera.coarser(step)

    def laid(layer: Floats) -> Floats:
        return enlarged(spread(layer, face.side_box, face.pose, few), step, camera.size)

    one = _one_colour(look, bare)
    film = None
    if look is not None and (one is None or look.film is not None):
        colours, film = warped(look, face.pose, camera)
    else:
        colours = np.broadcast_to(np.float32(0) if one is None else one, (height, width, 3)).copy()
    first = laid(face.cast[..., 0])
    grey = float(np.ptp(face.cast, axis=2).max()) < 1e-6
    for channel in range(3):
        colours[..., channel] *= first if grey or not channel else laid(face.cast[..., channel])
    on_paint = laid(face.gleams[0])
    if film is not None:
        on_paint = on_paint + film * (laid(face.gleams[1]) - on_paint)
    colours += on_paint[..., None]
    return held(colours)


def _one_colour(look: FaceLook | None, bare: str) -> Floats | None:
    """The linear light of a face that is of one colour all over, as bare ones are."""
    if look is None:
        return np.asarray(to_linear(coded(bare)), np.float32)
    first = look.picture[0, 0]
    return LINEAR[first] if (look.picture == first).all() else None
