"""Models packed for pages: what is unpacked again is what was packed. The page's script is held by test_box_view.py."""

import base64
import json
from typing import Any

import numpy as np
from helpers.shown_boxes import PAINT, SIDES, box
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from facegraphic.preview.model import Mesh, Model
from facegraphic.preview.packed import packed

KINDS = {"points": "<u2", "normals": "<i1", "triangles": "<u2", "on_face": "<f4"}


def numbers(mesh: dict[str, Any], name: str) -> Any:
    kind = "<u4" if name == "triangles" and mesh.get("wide") else KINDS[name]
    return np.frombuffer(base64.b64decode(mesh[name]), kind)


def unpacked(told: dict[str, Any], mesh: dict[str, Any]) -> Any:
    counts = numbers(mesh, "points").reshape(-1, 3)
    return np.array(told["grid"]["low"]) + counts * np.array(told["grid"]["step"])


def test_points_come_back_within_half_a_step_and_the_rest_as_it_was() -> None:
    model = box()
    told = json.loads(json.dumps(packed(model)))
    step = np.array(told["grid"]["step"])
    assert (step < 0.003).all()  # mm
    for mesh, written in zip(model.meshes, told["meshes"], strict=True):
        assert (np.abs(unpacked(told, written) - mesh.points) <= step / 2 + 1e-5).all()
        assert np.abs(numbers(written, "normals").reshape(-1, 3) / 127 - mesh.normals).max() <= 0.5 / 127 + 1e-6
        assert (numbers(written, "triangles").reshape(-1, 3) == mesh.triangles).all()
        assert written.get("side") == mesh.side and written.get("hole") == mesh.hole
        material = told["materials"][written["material"]]
        assert (material["name"], material["colour"]) == (mesh.material.name, mesh.material.colour)
        if mesh.on_face is not None:
            assert (numbers(written, "on_face").reshape(-1, 2) == mesh.on_face).all()
    assert set(told["poses"]) == set(SIDES)


def test_meshes_that_meet_still_do() -> None:
    model = box(parts=False)
    told = packed(model)
    corners = {tuple(point) for written in told["meshes"] for point in unpacked(told, written).tolist()}
    assert len(corners) == 8


def test_a_mesh_of_many_points_has_wide_indices() -> None:
    count = 70_000
    points = np.random.default_rng(3).uniform(-50, 50, (count, 3)).astype(np.float32)
    normals = np.tile(np.array([0, 0, 1], np.float32), (count, 1))
    triangles = np.array([[0, count - 2, count - 1]], np.int32)
    told = packed(Model((100, 100, 100), (Mesh(points, normals, triangles, PAINT),), box().poses))
    assert numbers(told["meshes"][0], "triangles").tolist() == [0, count - 2, count - 1]


@settings(suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(st.lists(st.tuples(*[st.floats(-200, 200, width=32)] * 3), min_size=3, max_size=40))
def test_any_points_come_back(points: list[tuple[float, float, float]]) -> None:
    values = np.array(points, np.float32)
    mesh = Mesh(values, np.zeros_like(values), np.array([[0, 1, 2]], np.int32), PAINT)
    told = packed(Model((1, 1, 1), (mesh,), {}))
    span = np.ptp(values.astype(float), axis=0)
    assert (np.abs(unpacked(told, told["meshes"][0]) - values) <= span / 65535 / 2 + 1e-4).all()


def test_a_planted_fault_would_be_seen() -> None:
    model = box()
    told = packed(model)
    told["meshes"][0]["points"], told["meshes"][1]["points"] = told["meshes"][1]["points"], told["meshes"][0]["points"]
    assert np.abs(unpacked(told, told["meshes"][0]) - model.meshes[0].points).max() > 1
