"""Light on the box: shadows fall away from the light, lamps light what is round them, pictures come out the same."""

from dataclasses import replace

import cv2
import numpy as np
import numpy.typing as npt
import pytest
import shapely

from facegraphic.film.colour import coded, luminance, to_linear
from facegraphic.geometry.path import Box
from facegraphic.preview.body import body, poses
from facegraphic.preview.camera import Camera, camera_for
from facegraphic.preview.ground import FEW, LEVELS, Heights, air_over, passed
from facegraphic.preview.hardware import Fitted
from facegraphic.preview.model import Model
from facegraphic.preview.picture import box_picture
from facegraphic.preview.studio import direction, dome, rays
from facegraphic.preview.table import outlines, seen_table
from facegraphic.preview.tones import Tones, material
from facegraphic.stock.shown import lights
from facegraphic.stock.tables import boxes, knobs, parts
from tests.helpers.solids import COMMON, model, plain_looks

SIZE = (640, 480)
KNOB = Fitted(parts()["pot-16"], knobs()["round-16"])
LAMP = Fitted(parts()["lamp-5-holder"], None)
GREY = plain_looks(dict.fromkeys(("top", "front", "right", "left", "back"), "#909090"))  # type: ignore[arg-type]


def bright(picture: npt.NDArray[np.uint8], camera: Camera, spot: npt.ArrayLike) -> float:
    """Luminance round a point of box space, over a few pixels."""
    x, y = (int(v) for v in camera.project(spot)[0])
    return float(luminance(to_linear(picture[y - 1 : y + 2, x - 1 : x + 2] / 255)).mean())


def away_from_light() -> npt.NDArray[np.float64]:
    towards = direction(lights()["key"].azimuth, lights()["key"].elevation)
    flat = -towards[:2] / np.linalg.norm(towards[:2])
    return np.array([flat[0], flat[1], 0.0])


def ratio(box: Model, bare: Model, spot: npt.ArrayLike, view: str = "top") -> float:
    """By how much a point is as bright as without what was added to the box."""
    camera = camera_for(bare, view, SIZE)  # type: ignore[arg-type]
    return bright(box_picture(box, GREY, camera), camera, spot) / bright(box_picture(bare, GREY, camera), camera, spot)


def test_a_knob_throws_its_shadow_away_from_the_light() -> None:
    bare, box = model(), model(standing=[("top", (0, 0), KNOB)])
    middle = np.array(box.poses["top"].centre)
    dark, light = (ratio(box, bare, middle + way * 12.5 * away_from_light()) for way in (1, -1))
    assert dark < 0.8
    assert light > 0.9
    assert ratio(box, bare, middle + 40 * np.array([0.0, 1.0, 0.0])) == pytest.approx(1, abs=0.02)


def test_the_box_throws_its_shadow_on_the_table_away_from_the_light() -> None:
    box = model()
    camera = camera_for(box, "top", (800, 400))
    picture = box_picture(box, GREY, camera)
    reach = box.size[0] / 2 + 12
    dark, light = (bright(picture, camera, way * reach * away_from_light()) for way in (1, -1))
    assert dark < 0.75 * light


@pytest.mark.parametrize("size", [(112.4, 60.5, 31.0), (420.0, 250.0, 90.0), (60.0, 40.0, 120.0)])
def test_the_table_has_no_seam_and_is_well_lit_round_boxes_of_any_size(size: tuple[float, float, float]) -> None:
    """Away from the box the light changes softly: the shadow has no end of its own. Steps of 4 % were seen as lines."""
    box = replace(boxes()[COMMON], size=size)
    tones = Tones.of("#808080", True)
    shell = body(box, size[0], size[1], tones.paint, material("hollow"))
    whole = Model(size, tuple(shell), poses(box, size[0], size[1]))
    camera = camera_for(whole, "three-quarter", SIZE)
    table = seen_table(whole, camera)[..., 1]
    own = np.zeros(table.shape, np.uint8)
    hull = cv2.convexHull(camera.project(np.vstack([mesh.points for mesh in shell])).astype(np.int32))
    cv2.fillConvexPoly(own, hull, 1)
    away = cv2.dilate(own, np.ones((81, 81))) == 0
    steps = np.maximum(np.abs(np.diff(table, axis=0))[:, :-1], np.abs(np.diff(table, axis=1))[:-1])
    assert steps[away[:-1, :-1]].max() < 0.02
    assert np.median(table[away]) > 0.5


def test_a_block_hides_light_just_where_its_shadow_lies() -> None:
    """A wall 10 mm high under light from 45 degrees: its shadow is 10 mm long (plain geometry)."""
    values = np.zeros((40, 120), np.float32)
    values[:, 56:64] = 10.0
    ground = Heights(Box(0, 0, 60, 20), 0.5, values)
    share = passed(ground, direction(180.0, 45.0), 0.0)[20]
    x = (np.arange(120) + 0.5) / 2
    assert share[x < 27].min() == 1
    assert share[(x > 32.5) & (x < 40.5)].max() == 0
    assert share[x > 43.5].min() == 1
    other = passed(ground, direction(0.0, 45.0), 0.0)[20]
    assert other[::-1] == pytest.approx(share, abs=0.35)
    assert passed(ground, direction(180.0, 45.0), 10.5).min() > 0.6


def test_light_in_the_air_is_what_gets_past_at_each_level() -> None:
    """Rays are walked once for all levels: the mean of them is that of rays walked at each level by itself."""
    box = model(standing=[("top", (0, 0), KNOB), ("top", (14, 9), LAMP)])
    pose, outline = box.poses["top"], Box.centred(112.4, 60.5)
    air = air_over([mesh for mesh in box.meshes if mesh.hole], pose, outline)
    for number, level in enumerate(LEVELS):
        free = air.values[number, ..., 2]
        expected = np.mean([passed(air.ground, ray, level) for ray in dome(FEW)], axis=0)
        assert air.values[number, ..., 1] / free == pytest.approx(expected, abs=1e-5)
        if level < 5:
            other = np.mean([passed(air.ground, ray, level + 1) for ray in dome(FEW)], axis=0)
            assert np.abs(air.values[number, ..., 1] / free - other).max() > 0.01


@pytest.mark.parametrize("way", [(0.0, 0.0, 1.0), (0.3, -0.2, 0.9), (-0.9, 0.1, 0.2), (0.0, 0.95, 0.15)])
def test_a_shadow_s_outline_is_the_hull_of_what_throws_it(way: tuple[float, float, float]) -> None:
    """Against GEOS: as large to a five hundredth, and never beyond it."""
    for standing in ([], [("top", (0.0, 0.0), KNOB)]):
        points = np.vstack([mesh.points for mesh in model(standing=standing).meshes]).astype(float)  # type: ignore[arg-type]
        (ring,) = outlines(points, np.array([way]))
        thrown = points[:, :2] - points[:, 2:] * np.array(way[:2]) / way[2]
        hull = shapely.MultiPoint(thrown).convex_hull
        found = shapely.Polygon(ring)
        assert hull.buffer(1e-3).contains(found)
        assert found.area == pytest.approx(hull.area, rel=0.002)


def test_rays_of_a_light_are_unit_vectors_round_its_middle() -> None:
    for name, light in lights().items():
        found = rays(name, 6, 4)
        assert np.linalg.norm(found, axis=1) == pytest.approx(1)
        mean = found.mean(axis=0) / np.linalg.norm(found.mean(axis=0))
        assert mean @ direction(light.azimuth, light.elevation) > 0.99
    spread = dome(200)
    assert spread[:, 2].min() > 0
    assert spread[:, 2].mean() == pytest.approx(2 / 3, abs=0.01)  # of directions weighted by the cosine: calculus


def test_a_lit_lamp_lights_the_face_round_it() -> None:
    dark, lit = (model(standing=[("top", (0, 0), LAMP)], lit=on) for on in (False, True))
    camera = camera_for(dark, "top", SIZE)
    spot = camera.project(np.array(dark.poses["top"].centre) + np.array([7.5, 0, 0]))[0].astype(int)
    one, two = (box_picture(box, GREY, camera)[spot[1], spot[0]].astype(int) for box in (dark, lit))
    assert two[0] - one[0] >= 6
    assert two[0] - one[0] > 2 * abs(int(two[2] - one[2]))


@pytest.mark.parametrize("paint", ["#ffffff", "#000000", "#d02020", "#173f4a"])
def test_paint_keeps_its_colour_in_the_light(paint: str) -> None:
    """The middle of a bare top, against the paint itself: as light by a factor, the same hue."""
    box = model(paint=paint)
    camera = camera_for(box, "three-quarter", SIZE)
    x, y = camera.project(box.poses["top"].centre)[0].astype(int)
    light = to_linear(box_picture(box, {}, camera)[y - 2 : y + 3, x - 2 : x + 3].reshape(-1, 3).mean(axis=0) / 255)
    own = to_linear(coded(paint))
    assert light == pytest.approx(own, abs=0.16)
    if np.ptp(own) > 0.02:
        assert light.argsort().tolist() == own.argsort().tolist()


def test_pictures_are_the_same_each_time_and_differ_with_the_setting() -> None:
    box = model(standing=[("top", (0, 20), KNOB)])
    camera = camera_for(box, "three-quarter", (320, 240))
    one, two = (box_picture(box, GREY, camera) for _ in range(2))
    assert one.shape == (240, 320, 3)
    assert (one == two).all()
    turned = Fitted(KNOB.part, KNOB.knob, 90.0)
    assert (one != box_picture(model(standing=[("top", (0, 20), turned)]), GREY, camera)).any()


def test_parts_on_every_side_can_be_looked_at_from_anywhere() -> None:
    socket = Fitted(parts()["socket-6.35"], None)
    box = model(standing=[(side, (0, 0), socket) for side in ("top", "front", "back", "left", "right")])  # type: ignore[misc]
    for azimuth in range(0, 360, 60):
        way = direction(azimuth, 35.0) * 300
        position = (float(way[0]), float(way[1]), float(way[2]))
        camera = Camera(position, (0, 0, 15), (0, 0, 1), 300.0, (160, 120), (80.0, 60.0))
        picture = box_picture(box, {}, camera)
        assert picture.std() > 5


def test_holes_of_two_faces_may_be_called_the_same() -> None:
    """A knob on the top and a socket at the back are not one body to the light, whatever their holes are called."""
    box = model(standing=[("top", (0, -30), KNOB), ("back", (0, 0), Fitted(parts()["socket-6.35"], None))])
    same = replace(box, meshes=tuple(mesh if mesh.hole is None else replace(mesh, hole="one") for mesh in box.meshes))
    camera = camera_for(box, "three-quarter", (320, 240))
    assert (box_picture(box, GREY, camera) == box_picture(same, GREY, camera)).all()
