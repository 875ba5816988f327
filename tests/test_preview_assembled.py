"""Example jobs as solids and as pictures: hardware at their holes, film that shines, paint of the last coat."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from facegraphic.pipeline.preparing import Prepared, prepare
from facegraphic.preview.assemble import assemble, shell_paint
from facegraphic.preview.camera import camera_for
from facegraphic.preview.model import Model, Setting
from facegraphic.preview.picture import box_picture
from tests.helpers.solids import COMMON, model, plain_looks

EXAMPLES = Path(__file__).parents[1] / "examples"
NAMES = sorted(path.stem for path in EXAMPLES.glob("*.toml"))


@cache
def prepared(name: str) -> Prepared:
    return prepare(EXAMPLES / f"{name}.toml")


def assembled(name: str, setting: Setting | None = None) -> Model:
    return assemble(prepared(name).job, prepared(name).layouts, setting)


@pytest.mark.parametrize("name", NAMES)
def test_hardware_stands_at_the_holes_as_laid_out(name: str) -> None:
    box = assembled(name)
    expected = set()
    for layout in prepared(name).layouts:
        pose = box.poses[layout.face.side]
        for spot in layout.holes:
            control = layout.face.control(spot.hole.id)
            if control is None or control.part is None:
                continue
            expected.add(spot.hole.id)
            middle = pose.carry([(*spot.at, 0.0)])[0]
            points = np.vstack([mesh.points for mesh in box.meshes if mesh.hole == spot.hole.id])
            local = (points - middle) @ np.array([pose.right, pose.up, pose.out]).T
            reach = max(spot.cover / 2 + 0.1, control.part.swing)
            assert np.hypot(local[:, 0], local[:, 1]).max() <= reach
            assert local[:, 2].min() > -1e-4
    assert {mesh.hole for mesh in box.meshes} == expected | {None}


@pytest.mark.parametrize("name", NAMES)
def test_a_setting_turns_knobs_and_lights_lamps(name: str) -> None:
    one, two = assembled(name, Setting(0.0, True)), assembled(name, Setting(1.0, False))
    lit = [mesh for mesh in one.meshes if mesh.material.glow]
    assert lit
    assert not [mesh for mesh in two.meshes if mesh.material.glow]
    assert any((a.points != b.points).any() for a, b in zip(one.meshes, two.meshes, strict=True))


def test_the_shell_wears_the_last_coat_that_goes_over_everything() -> None:
    job = prepared("drift-line").job
    assert shell_paint(job) == "#ece3cc"
    assert shell_paint(replace(job, coats=())) == "#c9ccca"


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("view", ["three-quarter", "top"])
def test_examples_can_be_looked_at(name: str, view: str) -> None:
    box = assembled(name)
    camera = camera_for(box, view, (200, 150))  # type: ignore[arg-type]
    picture = box_picture(box, {}, camera)
    assert picture.shape == (150, 200, 3)
    middle = picture[40:110, 60:140]
    assert middle.std() > 8


def test_film_shines_where_it_lies() -> None:
    box = model(COMMON, paint="#101010")
    camera = camera_for(box, "three-quarter", (400, 300))
    look = plain_looks({"top": "#101010"})["top"]
    rows, columns = look.picture.shape[:2]
    film = np.zeros((rows, columns), np.uint8)
    film[:, columns // 2 :] = 255
    bare = box_picture(box, {"top": look}, camera).astype(int)
    half = box_picture(box, {"top": replace(look, film=film)}, camera).astype(int)
    left, right = (camera.project(box.poses["top"].carry([(x, 0, 0)]))[0].astype(int) for x in (-12, 12))
    assert (half[left[1], left[0]] == bare[left[1], left[0]]).all()
    assert (half[right[1], right[0]] != bare[right[1], right[0]]).any()


def test_a_camera_among_the_meshes_is_refused() -> None:
    box = model()
    camera = replace(camera_for(box, "top", (40, 30)), position=(0.0, 0.0, 15.0))
    with pytest.raises(ValueError, match="among the meshes"):
        box_picture(box, {}, camera)
