"""Convex solids: worked by hand, and against the hull of the Minkowski difference that scipy (Qhull) makes."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

from facegraphic.geometry.solids import Array, Plane, Solid, block, hexahedron, overlap, way_out

CUBE = block(np.zeros(3), np.eye(3), (-1, -1, -1), (1, 1, 1))
number = st.floats(-8, 8).map(lambda x: round(x, 3))
size = st.floats(0.5, 6).map(lambda x: round(x, 3))


def turned(a: float, b: float, c: float) -> Array:
    """Axes turned round z, then y, then x."""
    rz = np.array([[math.cos(a), math.sin(a), 0], [-math.sin(a), math.cos(a), 0], [0, 0, 1]])
    ry = np.array([[math.cos(b), 0, math.sin(b)], [0, 1, 0], [-math.sin(b), 0, math.cos(b)]])
    rx = np.array([[1, 0, 0], [0, math.cos(c), math.sin(c)], [0, -math.sin(c), math.cos(c)]])
    return np.asarray(rz @ ry @ rx)


@st.composite
def solids(draw: st.DrawFn) -> Solid:
    """A block or a tapered one, turned any way."""
    axes = turned(*(draw(st.floats(-3, 3)) for _ in range(3)))
    at = np.array([draw(number) / 2 for _ in range(3)])
    x, y, z, taper = draw(size), draw(size), draw(size), draw(st.floats(0.3, 1))
    ring = np.array([(-x, -y), (x, -y), (x, y), (-x, y)])
    lower = np.column_stack([ring, np.full(4, -z)]) @ axes + at
    upper = np.column_stack([ring * taper, np.full(4, z)]) @ axes + at
    return hexahedron(lower, upper)


def hull(one: Solid, other: Solid) -> Array:
    """The planes of the Minkowski difference other - one: rows of normal and offset, n·x + offset <= 0 inside."""
    points = (other.corners[None, :, :] - one.corners[:, None, :]).reshape(-1, 3)
    return np.asarray(ConvexHull(points).equations)


@pytest.mark.parametrize(
    ("at", "deep"), [((1.5, 0, 0), 0.5), ((0, -1.9, 0.3), 0.1), ((2.05, 0, 0), -0.05), ((1.95, 1.95, 0), 0.05)]
)
def test_two_cubes_by_hand(at: tuple[float, float, float], deep: float) -> None:
    assert overlap(CUBE, CUBE.moved(np.array(at))) == pytest.approx(deep, abs=1e-12)


def test_a_cube_turned_by_45_degrees_reaches_to_its_corner() -> None:
    corner = block(np.array([1 + math.sqrt(2), 0, 0]), turned(math.pi / 4, 0, 0), (-1, -1, -1), (1, 1, 1))
    assert overlap(CUBE, corner.moved(np.array([-0.05, 0, 0]))) == pytest.approx(0.05, abs=1e-9)
    assert overlap(CUBE, corner.moved(np.array([0.05, 0, 0]))) == pytest.approx(-0.05, abs=1e-9)


def test_edges_that_cross_are_parted_by_their_own_axis() -> None:
    # Two cubes, one on an edge along x, one on an edge along y above it: edges meet at a height of 2·√2.
    low = block(np.zeros(3), turned(0, 0, math.pi / 4), (-1, -1, -1), (1, 1, 1))
    high = block(np.array([0, 0, 2 * math.sqrt(2) - 0.05]), turned(0, math.pi / 4, 0), (-1, -1, -1), (1, 1, 1))
    assert overlap(low, high) == pytest.approx(0.05, abs=1e-9)
    assert overlap(low, high.moved(np.array([0, 0, 0.1]))) < 0


def test_the_way_out_by_hand() -> None:
    other = CUBE.moved(np.array([1.5, 0.5, 0.0]))
    for way, far in (((-1, 0, 0), 0.5), ((1, 0, 0), 3.5), ((0, 1, 0), 2.5), ((-0.6, 0.8, 0), 0.5 / 0.6)):
        assert way_out(CUBE, other, np.array(way, dtype=float)) == pytest.approx(far, abs=1e-12)
    assert way_out(CUBE, CUBE.moved(np.array([2.01, 0, 0])), np.array([1.0, 0, 0])) == 0


@given(solids(), solids())
@settings(max_examples=150, deadline=None)
def test_penetration_is_the_origins_depth_in_the_minkowski_difference(one: Solid, other: Solid) -> None:
    depth = float((-hull(one, other)[:, 3]).min())
    assume(abs(depth) > 1e-6)
    found = overlap(one, other)
    if depth > 0:
        assert found == pytest.approx(depth, abs=1e-6)
    else:
        assert found < 0
    assert overlap(other, one) == pytest.approx(found, abs=1e-9)


@given(solids(), solids(), st.tuples(number, number, number))
@settings(max_examples=150, deadline=None)
def test_the_way_out_is_where_a_ray_leaves_the_minkowski_difference(
    one: Solid, other: Solid, way: tuple[float, float, float]
) -> None:
    assume(np.linalg.norm(way) > 0.1)
    planes, direction = hull(one, other), np.array(way) / np.linalg.norm(way)
    assume(float((-planes[:, 3]).min()) > 1e-3)
    along = planes[:, :3] @ direction
    far = float((-planes[along > 1e-9, 3] / along[along > 1e-9]).min())
    found = way_out(one, other, direction)
    assert found == pytest.approx(far, rel=1e-6, abs=1e-6)
    assert overlap(one.moved(direction * (found + 1e-6)), other) <= 1e-6
    assert overlap(one.moved(direction * (found - 1e-3)), other) > 0


def test_a_plane_is_overrun_by_the_furthest_corner() -> None:
    plane = Plane((0.0, 0.0, 1.0), 0.75)
    assert plane.overrun(CUBE) == pytest.approx(0.25)
    assert plane.overrun(CUBE.moved(np.array([0, 0, -1.0]))) == pytest.approx(-0.75)
