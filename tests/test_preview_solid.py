"""The box and its hardware as meshes: closed, turned outwards, true to the stock tables."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.job.model import Control, Scale
from facegraphic.layout.scales import bearings
from facegraphic.preview.assemble import fitted
from facegraphic.preview.body import body, poses
from facegraphic.preview.hardware import Fitted, hardware
from facegraphic.preview.model import Mesh, Setting
from facegraphic.preview.tones import Tones, material
from facegraphic.stock.faces import SIDES, face_outline
from facegraphic.stock.shown import bores, lights, shapes, surfaces
from facegraphic.stock.tables import BoxSize, Knob, Part, boxes, knobs, parts
from tests.helpers.solids import facets, lying, sides_of, welded

TONES = Tones.of("#808080", True)
OVER = 0.1  # mm that a pointer line stands out, at its edges


def shell(box: BoxSize, upright: bool = True) -> tuple[Mesh, ...]:
    return body(box, *lying(box, upright), TONES.paint, material("hollow"))


def every_part() -> list[Fitted]:
    bare = [Fitted(part, None) for part in parts().values()]
    usual = [Fitted(part, knobs()[part.knob]) for part in parts().values() if part.knob]
    return [*bare, *usual, *(Fitted(None, knob) for knob in knobs().values())]


def named(one: Fitted) -> str:
    return " with ".join(stood.name for stood in (one.part, one.knob) if stood is not None)


@pytest.mark.parametrize("name", boxes())
def test_the_shell_is_closed_and_turned_outwards(name: str) -> None:
    for upright in (True, False):
        _, triangles = welded(shell(boxes()[name], upright))
        sides, doubled = sides_of(triangles)
        assert doubled == 0
        assert {(b, a) for a, b in sides} == sides


def test_a_shell_with_a_face_missing_or_turned_is_not_closed() -> None:
    whole = shell(boxes()["112x60x31"])
    sides, _ = sides_of(welded(whole[1:])[1])
    assert {(b, a) for a, b in sides} != sides
    points, triangles = welded(whole)
    triangles[0] = triangles[0][::-1]
    assert sides_of(triangles)[1] > 0
    assert len(points) > 100


@pytest.mark.parametrize("name", boxes())
def test_the_shell_holds_what_plain_geometry_says(name: str) -> None:
    """The volume by the divergence theorem, against rounded rectangles summed over the height."""
    box = boxes()[name]
    across, deep = lying(box)
    points, triangles = welded(shell(box))
    a, b, c = (points[triangles[:, i]] for i in range(3))
    volume = float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)
    heights = (np.arange(2000) + 0.5) / 2000 * box.size[2]
    inset = 2 * heights * math.tan(math.radians(box.draft))
    levels = (across - inset) * (deep - inset) - (4 - math.pi) * box.corner**2
    assert volume == pytest.approx(float(levels.mean()) * box.size[2], rel=0.01)


@given(st.sampled_from(sorted(boxes())), st.booleans())
def test_poses_are_right_handed_and_carry_each_face_where_it_is(name: str, upright: bool) -> None:
    box = boxes()[name]
    across, deep = lying(box, upright)
    stood = poses(box, across, deep)
    flats = {mesh.side: mesh for mesh in shell(box, upright) if mesh.side}
    assert set(flats) == set(SIDES)
    for side, pose in stood.items():
        axes = np.array([pose.right, pose.up, pose.out])
        assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.cross(pose.right, pose.up) == pytest.approx(np.array(pose.out), abs=1e-12)
        mesh = flats[side]
        assert mesh.on_face is not None
        flat = np.hstack([mesh.on_face, np.zeros((len(mesh.on_face), 1))])
        assert pose.carry(flat) == pytest.approx(mesh.points, abs=2e-4)
        outline = face_outline(box, side, across, deep)
        corners = np.array(list(itertools.chain(*outline.path.rings())))
        for corner in corners[:: max(1, len(corners) // 40)]:
            assert np.hypot(*(mesh.on_face - corner).T).min() < (0.02 if side != "top" else 1.2)
        assert np.ptp(mesh.on_face, axis=0) == pytest.approx(np.ptp(corners, axis=0), abs=2e-3)


def test_walls_lean_by_the_draft_and_stand_where_the_box_ends() -> None:
    """112.4 × 60.5 × 31 with 2° of draft: the top loses 2 · 31 · tan 2° each way (plain trigonometry)."""
    box = boxes()["112x60x31"]
    points = np.vstack([mesh.points for mesh in shell(box)])
    assert np.ptp(points[:, 2]) == pytest.approx(31.0, abs=1e-4)
    assert points[:, 2].min() == pytest.approx(0.0, abs=1e-5)
    foot = points[np.abs(points[:, 2] - 0.6) < 0.01]
    assert np.ptp(foot, axis=0)[:2] == pytest.approx((60.5 - 1.2 * math.tan(math.radians(2)), 112.36), abs=0.02)
    lean = math.radians(2)
    assert poses(box, 60.5, 112.4)["front"].out == pytest.approx((0, -math.cos(lean), math.sin(lean)))


@pytest.mark.parametrize("one", every_part(), ids=named)
def test_every_part_and_knob_has_meshes_that_face_outwards(one: Fitted) -> None:
    meshes = hardware(one, TONES)
    assert meshes
    for mesh in meshes:
        assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1.0, abs=1e-5)
        along = facets(mesh)
        long = np.linalg.norm(along, axis=1)
        assert (long > 0).all()
        at_corners = np.einsum("ij,ikj->ik", along / long[:, None], mesh.normals[mesh.triangles].astype(float))
        assert at_corners.min() > 0.6
        sides, doubled = sides_of(welded([mesh], 1e-4)[1])
        assert doubled == 0
        # What is open is open at a rim that stands on something: no single gaps.
        rims = {side for side in sides if side[::-1] not in sides}
        assert len({a for a, _ in rims}) == len(rims)


@pytest.mark.parametrize("part", parts().values(), ids=lambda part: part.name)
def test_parts_keep_to_their_figures(part: Part) -> None:
    lean = (0.0, 1.0) if part.throws else (0.0, 0.0)
    points = np.vstack([mesh.points for mesh in hardware(Fitted(part, None, lean=lean), TONES)])
    reach = np.hypot(points[:, 0], points[:, 1]).max()
    assert points[:, 2].min() > -1e-6
    assert part.above - 0.6 < points[:, 2].max() <= part.above + 0.011
    if part.throws:
        assert part.seat / 2 - 1e-5 <= reach <= max(part.swing, part.seat / 2) + 1e-5
    else:
        # Under a rim that stands on the panel the nut sits inside the box.
        assert reach == pytest.approx((part.bezel or max(part.nut, part.washer, part.thread)) / 2, abs=1e-5)


SEEN_NUTS = [part for part in parts().values() if part.nut and not part.bezel]


@pytest.mark.parametrize("part", SEEN_NUTS, ids=lambda part: part.name)
def test_nuts_are_hexagons_across_their_corners(part: Part) -> None:
    """A regular hexagon is √3/2 of its corners wide across its flats (plain geometry; ISO 4032 for e and s)."""
    nut = next(
        mesh
        for mesh in hardware(Fitted(part, None), TONES)
        if np.hypot(*mesh.points[:, :2].T).max() == pytest.approx(part.nut / 2, abs=1e-4)
        and mesh.points[:, 2].max() < part.above
        and _upright(mesh) == 6
    )
    turn = np.degrees(np.arctan2(nut.points[:, 1], nut.points[:, 0]))
    reach = np.hypot(nut.points[:, 0], nut.points[:, 1])
    corners = np.sort(np.unique(np.round(turn[reach > part.nut / 2 - 1e-3]) % 360))
    assert np.diff(corners) == pytest.approx(60)
    along = facets(nut)
    walls = np.abs(along[:, 2]) < 1e-6 * np.linalg.norm(along, axis=1)
    units = along[walls] / np.linalg.norm(along[walls], axis=1, keepdims=True)
    off = np.einsum("ij,ij->i", units, nut.points[nut.triangles[walls, 0]])
    assert off == pytest.approx(part.nut * math.sqrt(3) / 4, abs=1e-4)


def _upright(mesh: Mesh) -> int:
    """How many directions the upright triangles of a mesh face."""
    along = facets(mesh)
    units = along / np.linalg.norm(along, axis=1, keepdims=True)
    return len({tuple(unit) for unit in np.round(units[np.abs(units[:, 2]) < 1e-6], 3) + 0.0})


@pytest.mark.parametrize("knob", knobs().values(), ids=lambda knob: knob.name)
def test_knobs_cover_their_circle_and_are_as_high_as_the_table_says(knob: Knob) -> None:
    meshes = hardware(Fitted(None, knob), TONES)
    points = np.vstack([mesh.points for mesh in meshes])
    reach = np.hypot(points[:, 0], points[:, 1]).max()
    assert knob.diameter / 2 - 0.05 <= reach <= knob.diameter / 2 + OVER
    assert np.ptp(points[:, 2]) == pytest.approx(knob.height, abs=OVER)
    assert points[:, 2].min() >= 0.9


@pytest.mark.parametrize("part", [part for part in parts().values() if part.turns], ids=lambda part: part.name)
@pytest.mark.parametrize("knob", knobs().values(), ids=lambda knob: knob.name)
def test_nothing_of_a_part_comes_through_its_knob(part: Part, knob: Knob) -> None:
    bare = {id(mesh) for mesh in hardware(Fitted(None, knob), TONES)}
    meshes = hardware(Fitted(part, knob), TONES)
    above = np.vstack([mesh.points for mesh in meshes[-2:]])
    foot = above[:, 2].min()
    ring = above[np.abs(above[:, 2] - foot) < 0.5]
    for mesh in meshes[:-2]:
        assert id(mesh) not in bare
        high = mesh.points[mesh.points[:, 2] > foot]
        assert high[:, 2].max(initial=0) < foot + 3
        assert np.hypot(high[:, 0], high[:, 1]).max(initial=0) < np.hypot(ring[:, 0], ring[:, 1]).max()


@pytest.mark.parametrize("share", [0.0, 0.25, 0.5, 1.0])
def test_pointers_stand_at_the_marks_of_the_scale(share: float) -> None:
    part, knob = parts()["pot-16"], knobs()["round-16"]
    scale = Scale(tuple(float(i) for i in range(5)))
    control = Control("a", "a", part, knob, scale=scale)
    bearing = bearings(part, scale)[round(share * 4)]
    line = hardware(fitted(control, Setting(share)), TONES)[-1]
    x, y = line.points[:, :2].mean(axis=0)
    assert math.degrees(math.atan2(x, y)) == pytest.approx(bearing, abs=0.5)
    assert fitted(control, Setting(0.5)).bearing == pytest.approx(0)


@pytest.mark.parametrize(("words", "share", "expected"), [(4, 0.0, -45), (4, 1.0, 45), (4, 0.4, -15), (3, 0.5, 0)])
def test_stepped_parts_stand_at_a_step(words: int, share: float, expected: float) -> None:
    """A rotary switch of 12 positions steps by 360°/12 = 30° (arithmetic)."""
    control = Control("a", "a", parts()["rotary-switch"], knobs()["pointer-20"], positions=("x",) * words)
    assert fitted(control, Setting(share)).bearing == pytest.approx(expected)


@pytest.mark.parametrize(
    ("lever", "share", "way"), [("upright", 0.0, (0, 1)), ("upright", 1.0, (0, -1)), ("sideways", 0.0, (-1, 0))]
)
def test_levers_lean_to_the_throw_that_is_named(lever: str, share: float, way: tuple[int, int]) -> None:
    part = parts()["toggle-mini"]
    control = Control("a", "a", part, lever=lever)  # type: ignore[arg-type]
    bat = hardware(fitted(control, Setting(share)), TONES)[-1]
    tip = bat.points[bat.points[:, 2].argmax()]
    assert tip[:2] @ np.array(way) > 1.0
    assert abs(tip[:2] @ np.array(way[::-1])) < 2.0


def test_the_middle_of_three_throws_is_upright() -> None:
    control = Control("a", "a", parts()["toggle-mini-3"])
    assert fitted(control, Setting(0.5)).lean == (0.0, 0.0)


def test_lamps_glow_when_they_are_lit() -> None:
    lamp = Fitted(parts()["lamp-5-holder"], None)
    assert max(mesh.material.glow for mesh in hardware(lamp, Tones.of("#808080", True))) == 1
    assert max(mesh.material.glow for mesh in hardware(lamp, Tones.of("#808080", False))) == 0


def test_what_is_looked_at_has_a_source_and_every_socket_a_mouth() -> None:
    for table in (shapes(), surfaces(), lights(), bores()):
        assert all(row.source for row in table.values())
    sockets = {part.name: part for part in parts().values() if part.rank == "socket"}
    assert set(bores()) == set(sockets)
    for name, bore in bores().items():
        assert bore.pin < bore.mouth < sockets[name].thread


@given(
    st.tuples(st.floats(40, 200), st.floats(30, 150), st.floats(15, 80)),
    st.tuples(st.floats(0, 6), st.floats(0, 3), st.floats(0, 8), st.floats(0, 6)),
)
def test_boxes_of_any_figures_are_closed(size: tuple[float, float, float], figures: tuple[float, ...]) -> None:
    draft, edge, corner, lid = figures
    meshes = shell(BoxSize("any", size, draft, edge, corner, lid, 2.0))
    for mesh in meshes:
        assert np.isfinite(mesh.points).all()
        assert np.linalg.norm(mesh.normals, axis=1) == pytest.approx(1.0, abs=1e-5)
    points, triangles = welded(meshes, 1e-4)
    a, b, c = (points[triangles[:, i]] for i in range(3))
    volume = float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6)
    assert 0.4 * math.prod(size) < volume <= math.prod(size) * 1.001
    # What a closed surface throws on any plane is nothing, all told (the divergence theorem).
    assert np.cross(b - a, c - a).sum(axis=0) == pytest.approx(np.zeros(3), abs=0.5)
