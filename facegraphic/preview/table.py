"""The table that the box stands on, with its shadow: all there is behind the box."""

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw

from facegraphic.film.colour import coded, to_linear
from facegraphic.geometry.path import Box
from facegraphic.preview.camera import Camera
from facegraphic.preview.faces import stands_on
from facegraphic.preview.ground import softened
from facegraphic.preview.meeting import diffuse, held
from facegraphic.preview.model import Model, Pose
from facegraphic.preview.studio import dome, rays
from facegraphic.preview.tones import material
from facegraphic.preview.vectors import along
from facegraphic.preview.warp import enlarged, spread

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]

STEP = 1.6  # mm from point to point of the shadow on the table, at least
ROOM = 110.0  # mm of table round the box over which its shadow is known, at least
LOW = 3.5  # times its height that a box is seen to throw its shadow
FADED = 0.3  # of that room, over which the shadow fades away: it has no end of its own
FEW = 64  # points by which a group of meshes is known to its shadow
DOME = 72
CORNERS, BESIDE = 56, 0.001  # of a shadow that one ray throws; radians
POOL = 2.1  # how far the light on the table reaches, in lengths of the box
MOST = 320  # points across the table: the shadows of large boxes are coarser
KNOWN = 400  # points across the picture at which the light on the table is reckoned
STANDS = Pose((0.0, 0.0, 0.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def seen_table(model: Model, camera: Camera) -> Floats:
    """The table in every pixel of the camera's picture (h × w × 3), as a picture shows it."""
    around = max(ROOM, LOW * model.size[2])
    box = Box.centred(model.size[0] + 2 * around, model.size[1] + 2 * around)
    across, up = FADED * around / box.width, FADED * around / box.height
    key, room = (_faded(share, across, up) for share in shadows(model, box))
    flat = np.array([[0.0, 0.0, 1.0]], np.float32)
    one, none = np.ones(1, np.float32), np.zeros(1, np.float32)
    by_key = float(diffuse(flat, one, none)[0])
    by_room = float(diffuse(flat, none, one)[0])
    light = np.asarray(by_key * key + by_room * room, np.float32)
    # All of it is soft: a few hundred points across the picture know it.
    step = max(1, round(max(camera.size) / KNOWN))
    few = camera.coarser(step)
    whole = spread(light, box, STANDS, few, by_key + by_room) * _pool(model, few)
    colour = to_linear(coded(material("table").colour)).astype(np.float32)
    grey = enlarged(held(whole * colour.mean()), step, camera.size)
    return np.asarray(grey[..., None] * (colour / colour.mean()), np.float32)


def shadows(model: Model, box: Box) -> tuple[Floats, Floats]:
    """The shares of key light and of the room's that reach the table, over a grid (rows from the nearer edge)."""
    groups = _groups(model)
    # Soft boxes are wide, and so are their shadows' edges: many rays, none of which draws an edge of its own.
    key = _reached(groups, rays("key", 8, 6), box)
    room = _reached(groups[:1], dome(DOME), box)
    return softened(key), softened(room)


def _faded(share: Floats, across: float, up: float) -> Floats:
    """Light that is whole at the edges of its grid, from some shares of its sides inwards as it was."""
    rows, columns = share.shape
    x = np.minimum((np.arange(columns) + 0.5) / columns, 1 - (np.arange(columns) + 0.5) / columns) / across
    y = np.minimum((np.arange(rows) + 0.5) / rows, 1 - (np.arange(rows) + 0.5) / rows) / up
    inside = np.clip(x, 0, 1) * np.clip(y, 0, 1)[:, None]
    return np.asarray(1 - (1 - share) * inside * inside * (3 - 2 * inside), np.float32)


def _groups(model: Model) -> list[Array]:
    """Points round the box, then round what stands in each hole of it."""
    found: dict[tuple[str | None, str | None], list[Array]] = {}
    for mesh in model.meshes:
        found.setdefault((mesh.hole, stands_on(mesh, model)), []).append(mesh.points.astype(float))
    shell = np.unique(np.vstack(found.pop((None, None), [np.zeros((0, 3))])), axis=0)
    rest = [np.vstack(points) for points in found.values()]
    return [shell[_outermost(shell)], *(points[:: max(1, len(points) // FEW)] for points in rest)]


def _outermost(points: Array) -> npt.NDArray[np.bool_]:
    """Points that a shadow's outline may be drawn by: low ones, and high ones."""
    return np.asarray((points[:, 2] < 1.0) | (points[:, 2] > 0.8 * points[:, 2].max()))


def _reached(groups: Sequence[Array], ways: Array, box: Box) -> Floats:
    step = max(STEP, max(box.width, box.height) / MOST)
    columns, rows = round(box.width / step), round(box.height / step)
    thrown = [outlines(points, ways) for points in groups]
    hidden = np.zeros((rows, columns), np.float32)
    for each in zip(*thrown, strict=True):
        picture = Image.new("L", (columns, rows))
        draw = ImageDraw.Draw(picture)
        for ring in each:
            draw.polygon(((ring - np.array([box.x0, box.y0])) / step - 0.5).ravel().tolist(), fill=1)
        hidden += np.asarray(picture)
    return np.asarray(1 - hidden / len(ways), np.float32)


def outlines(points: Array, ways: Array) -> list[Array]:
    """The outlines of the shadows that points throw on the table together, one for each direction of light."""
    falls = ways[:, :2] / ways[:, 2:]
    on_table = points[None, :, :2] - points[None, :, 2:] * falls[:, None]
    # The farthest point each way is a corner of the hull; so many ways find all that the grid could show. The ends of
    # the walls' long edges are found by ways just beside straight out of them, where both are as far.
    walls = np.arange(4)[:, None] * (math.tau / 4) + np.array([-BESIDE, BESIDE])
    turn = np.sort(np.append((np.arange(CORNERS) + 0.5) * (math.tau / CORNERS), walls))
    x, y = on_table[..., 0, None].astype(np.float32), on_table[..., 1, None].astype(np.float32)
    far = x * np.cos(turn).astype(np.float32)
    far += y * np.sin(turn).astype(np.float32)
    return [one[corners] for one, corners in zip(on_table, far.argmax(axis=1), strict=True)]


def _pool(model: Model, camera: Camera) -> Floats:
    """The light on the table, which falls off round the box, in every pixel."""
    width, height = camera.size
    x, y = np.arange(width) + 0.5, np.arange(height) + 0.5
    right, down = np.meshgrid((x - camera.centre[0]) / camera.focal, (y - camera.centre[1]) / camera.focal)
    lens = np.stack([right, down, np.ones(right.shape)], -1).reshape(-1, 3)
    ways = along(lens, camera.axes.T).reshape(height, width, 3)
    down = np.minimum(ways[..., 2], -1e-3)
    on = np.array(camera.position)[:2] - ways[..., :2] * (camera.position[2] / down)[..., None]
    reach = POOL * max(model.size)
    away = np.hypot(on[..., 0] + 0.12 * reach, on[..., 1] - 0.1 * reach)
    return np.asarray(1 / (1 + (away / reach) ** 2), np.float32)
