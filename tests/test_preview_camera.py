"""The camera against OpenCV's pinhole, the pictures against both, visibility against rays that are cast one by one."""

from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from facegraphic.preview.camera import VIEWS, Camera, View, camera_for
from facegraphic.preview.hardware import Fitted
from facegraphic.preview.model import Model
from facegraphic.preview.picture import box_picture
from facegraphic.preview.raster import NOTHING, Flat, Pixels, counted, nearest, outward
from facegraphic.preview.vectors import along, dot, unit
from facegraphic.stock.faces import SIDES, Side, face_outline
from facegraphic.stock.tables import boxes, knobs, parts
from tests.helpers.solids import COMMON, lying, model, plain_looks

Array = npt.NDArray[np.float64]
HALF_PIXEL = 0.5


def by_opencv(camera: Camera, points: npt.ArrayLike) -> Array:
    """The same pinhole, as OpenCV has it: a rotation vector, a translation, the lens as a matrix."""
    turn, _ = cv2.Rodrigues(camera.axes)
    shift = -camera.axes @ np.array(camera.position)
    lens = np.array([[camera.focal, 0, camera.centre[0]], [0, camera.focal, camera.centre[1]], [0, 0, 1.0]])
    found, _ = cv2.projectPoints(np.asarray(points, float).reshape(-1, 1, 3), turn, shift, lens, None)
    return np.asarray(found, float).reshape(-1, 2)


def corners(name: str, side: Side) -> Array:
    """A face's corners, anticlockwise: of the top, where its straight edges would meet."""
    outline = face_outline(boxes()[name], side, *lying(boxes()[name]))
    (w0, w1), h = (outline.bottom / 2, outline.top / 2), outline.height / 2
    return np.array([(-w0, -h, 0), (w0, -h, 0), (w1, h, 0), (-w1, h, 0)])


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("name", boxes())
def test_faces_and_hardware_are_where_opencv_has_them(name: str, view: View) -> None:
    box = model(name, [("top", (3, 5), Fitted(parts()["pot-16"], knobs()["round-16"], 40.0))])
    camera = camera_for(box, view)
    points = np.vstack([mesh.points for mesh in box.meshes])
    assert np.abs(camera.project(points) - by_opencv(camera, points)).max() < 1e-3
    for side in SIDES:
        spots = box.poses[side].carry(corners(name, side))
        assert np.abs(camera.project(spots) - by_opencv(camera, spots)).max() < 1e-6


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("size", [(1600, 1200), (800, 1000), (300, 200)])
def test_the_box_fills_the_picture_and_stays_in_it(view: View, size: tuple[int, int]) -> None:
    box = model(standing=[("top", (0, 40), Fitted(parts()["pot-16"], knobs()["round-32"]))])
    spots = camera_for(box, view, size).project(np.vstack([mesh.points for mesh in box.meshes]))
    low, high = spots.min(axis=0), spots.max(axis=0)
    assert (low > 0.05 * min(size)).all()
    assert (high < np.array(size) - 0.05 * min(size)).all()
    assert ((high - low) / np.array(size)).max() > 0.75


def test_an_unknown_view_is_refused() -> None:
    with pytest.raises(ValueError, match="three-quarter, top"):
        camera_for(model(), "sideways")  # type: ignore[arg-type]


def measured(picture: npt.NDArray[np.uint8], expected: Array) -> Array:
    """The corners of a magenta face in a picture: its edges sought across those expected, lines laid through, cut."""
    share = picture.astype(float)
    magenta = (share[..., 0] + share[..., 2]) / 2 - share[..., 1]
    lines = []
    for number in range(4):
        before, a, b, after = np.roll(expected, 1 - number, axis=0)
        out = (a - before) + (b - after)  # along the sides that meet the edge, so as to stay between them
        out /= np.linalg.norm(out)
        found = []
        for part in np.linspace(0.2, 0.8, 25):
            steps = np.linspace(-8, 8, 321)
            spots = a + part * (b - a) + steps[:, None] * out - 0.5
            seen = map_coordinates(magenta, [spots[:, 1], spots[:, 0]], order=1)
            falls = np.flatnonzero(seen < seen[:60].mean() / 2)
            found.append(a + part * (b - a) + steps[falls[0]] * out)
        found_at = np.array(found)
        centre = found_at.mean(axis=0)
        lines.append((centre, np.linalg.svd(found_at - centre)[2][0]))
    met = []
    for (p, u), (q, v) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        s, _ = np.linalg.solve(np.stack([u, -v], 1), q - p)
        met.append(p + s * u)
    return np.array(met)


def painted(size: tuple[int, int] = (1000, 750), view: View = "three-quarter") -> tuple[Model, Camera]:
    box = model(paint="#808080")
    return box, camera_for(box, view, size)


@pytest.mark.parametrize(
    ("side", "view"), [("top", "three-quarter"), ("front", "three-quarter"), ("right", "three-quarter"), ("top", "top")]
)
def test_a_face_is_drawn_where_opencv_has_its_corners(side: Side, view: View) -> None:
    box, camera = painted(view=view)
    picture = box_picture(box, plain_looks({side: "#c000c0"}), camera)
    expected = by_opencv(camera, box.poses[side].carry(corners(COMMON, side)))
    found = measured(picture, expected)
    assert np.hypot(*(found - expected).T).max() < HALF_PIXEL
    wrong = by_opencv(replace(camera, focal=camera.focal * 1.005), box.poses[side].carry(corners(COMMON, side)))
    assert np.hypot(*(found - wrong).T).max() > HALF_PIXEL
    moved = replace(camera, position=(camera.position[0] + 3, *camera.position[1:]))
    wrong = by_opencv(moved, box.poses[side].carry(corners(COMMON, side)))
    assert np.hypot(*(found - wrong).T).max() > HALF_PIXEL


def test_what_is_on_a_face_is_drawn_in_its_place() -> None:
    """A magenta patch in the look's upper right quarter, whose corners the projection knows."""
    box, camera = painted()
    looks = plain_looks({"top": "#808080"})
    look = looks["top"]
    rows, columns = look.picture.shape[:2]
    look.picture[: rows // 2, columns // 2 :] = (192, 0, 192)
    extent = look.extent
    x, y = (columns // 2) / columns * extent.width + extent.x0, extent.y1 - (rows // 2) / rows * extent.height
    patch = [(x, y, 0), (extent.x1, y, 0), (extent.x1, extent.y1, 0), (x, extent.y1, 0)]
    expected = by_opencv(camera, box.poses["top"].carry(patch))
    found = measured(box_picture(box, looks, camera), expected)
    assert np.hypot(*(found - expected).T).max() < HALF_PIXEL


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_products_of_vectors_are_the_library_s(kind: type) -> None:
    random = np.random.default_rng(3)
    vectors, others = random.normal(size=(2, 500, 3)).astype(kind)
    axes = random.normal(size=(2, 3))
    near = 1e-5 if kind is np.float32 else 1e-12
    assert along(vectors, axes) == pytest.approx(vectors @ axes.T, abs=near)
    assert along(vectors, axes).dtype == kind
    assert dot(vectors, others) == pytest.approx(np.einsum("ij,ij->i", vectors, others), abs=near)
    assert unit(vectors) == pytest.approx(vectors / np.linalg.norm(vectors, axis=1, keepdims=True), abs=near)


def cast(
    triangles: Array, camera: Camera, at: tuple[float, float]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.bool_]]:
    """The nearest triangle at each pixel by Möller and Trumbore's test (J. Graphics Tools 2(1), 1997), outsides only;
    and where that is in doubt: at an edge, or with two as near.
    """
    width, height = camera.size
    x, y = np.meshgrid(np.arange(width) + at[0], np.arange(height) + at[1])
    lens = np.stack(
        [(x - camera.centre[0]) / camera.focal, (y - camera.centre[1]) / camera.focal, np.ones(x.shape)], -1
    )
    ways = lens.reshape(-1, 3) @ camera.axes
    best, found = np.full(len(ways), np.inf), np.full(len(ways), NOTHING)
    doubt = np.zeros(len(ways), bool)
    for number, (a, b, c) in enumerate(triangles):
        one, two = b - a, c - a
        across = np.cross(ways, two)
        det = across @ one
        with np.errstate(divide="ignore", invalid="ignore"):
            u = across @ (np.array(camera.position) - a) / det
            over = np.cross(np.array(camera.position) - a, one)
            v = ways @ over / det
            t = two @ over / det
            least = np.minimum(np.minimum(u, v), 1 - u - v)
        hit = (det > 0) & (least >= 0) & (t > 0)
        doubt |= (det > 0) & (np.abs(least) < 1e-7)
        doubt |= hit & (np.abs(t - best) < 1e-5)
        nearer = hit & (t < best)
        best[nearer], found[nearer] = t[nearer], number
    return found, doubt


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.tuples(st.floats(0.05, 0.95), st.floats(0.05, 0.95)))
def test_what_is_seen_is_what_rays_meet_first(seed: int, at: tuple[float, float]) -> None:
    random = np.random.default_rng(seed)
    triangles = random.uniform(-20, 20, (60, 1, 3)) + random.normal(0, random.choice([0.3, 3, 20]), (60, 3, 3))
    triangles = np.clip(triangles, -60, 60)
    camera = Camera((0, -150, 80), (0, 0, 0), (0, 0, 1), 70.0, (48, 36), (24.0, 18.0))
    found = nearest(_flat(triangles, camera), Pixels(48, 36), at)
    expected, doubt = cast(triangles, camera, at)
    assert doubt.mean() < 0.05
    assert (found[~doubt] == expected[~doubt]).all()
    wanted = random.random((36, 48)) < 0.2
    some = nearest(_flat(triangles, camera), counted(wanted), at)
    assert (some == found[wanted.reshape(-1)]).all()


def test_a_planted_fault_in_what_is_seen_is_found() -> None:
    random = np.random.default_rng(5)
    triangles = random.uniform(-20, 20, (60, 1, 3)) + random.normal(0, 4, (60, 3, 3))
    camera = Camera((0, -150, 80), (0, 0, 0), (0, 0, 1), 70.0, (48, 36), (24.0, 18.0))
    expected, doubt = cast(triangles, camera, (0.5, 0.5))
    shown = np.bincount(expected[expected != NOTHING]).argmax()
    triangles[shown] = triangles[shown][::-1]
    found = nearest(_flat(triangles, camera), Pixels(48, 36))
    assert (found[~doubt] != expected[~doubt]).any()


def _flat(triangles: Array, camera: Camera) -> Flat:
    seen = camera.seen(triangles.reshape(-1, 3)).reshape(-1, 3, 3)
    return outward(camera.focal * seen[..., :2] / seen[..., 2:] + np.array(camera.centre), 1 / seen[..., 2])
