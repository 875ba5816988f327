"""Curves fitted back: near enough both ways, few nodes, true corners and straight edges, no crossings."""

import math

import numpy as np
import pytest
import shapely
from fontTools.pens.areaPen import AreaPen
from helpers.outlines import counters, font, letter, nested
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.fit_curves import fitted, fitted_line, node_count
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.regions import region
from facegraphic.geometry.shapes import disc, rounded_rectangle

FINE = 0.0005


def points_in(area: BaseGeometry) -> int:
    return sum(len(ring.coords) - 1 for part in shapely.get_parts(area) for ring in (part.exterior, *part.interiors))


def stray(path: Path, area: BaseGeometry) -> float:
    """The Hausdorff distance (shapely's, both ways) of a path's outline and a region's."""
    first, second = region(path, flatness=FINE).boundary, area.boundary
    return max(
        float(shapely.distance(shapely.points(shapely.get_coordinates(shapely.segmentize(a, 0.05))), b).max())
        for a, b in ((first, second), (second, first))
    )


def area_by_fonttools(path: Path) -> float:
    """The exact area within lines and cubics, holes taken off."""
    pen = AreaPen(None)
    for op, *c in path.segments:
        if op == "M":
            pen.moveTo((c[0], c[1]))
        elif op == "L":
            pen.lineTo((c[0], c[1]))
        elif op == "C":
            pen.curveTo((c[0], c[1]), (c[2], c[3]), (c[4], c[5]))
        else:
            pen.closePath()
    return float(pen.value)


def crossing(path: Path) -> bool:
    lines = [shapely.LinearRing(ring) for ring in path.rings(FINE)]
    apart = all(not a.intersects(b) for i, a in enumerate(lines) for b in lines[i + 1 :])
    return not (apart and all(line.is_simple for line in lines))


@pytest.mark.parametrize("name", ["dejavu", "liberation", "osifont", "allerta_medium"])
def test_letters(name: str) -> None:
    before = after = 0
    for character in "BCDGOQRSabcdeghopqs0235689@&%ß":
        area = letter(font(name), character)
        path = fitted(area)
        assert stray(path, area) <= 0.02, character
        assert not crossing(path), character
        assert len(path.rings()) == len(shapely.get_parts(area)) + counters(area), character
        assert area_by_fonttools(path) == pytest.approx(area.area, rel=2e-3), character
        before, after = before + points_in(area), after + node_count(path)
    assert after <= before / 5


@pytest.mark.parametrize("character", "OSg&")
def test_the_area_is_that_of_the_curves_themselves(character: str) -> None:
    """To 0.1 %, with fontTools' area of the glyph as it is drawn."""
    face = font("dejavu")
    scale = 20 / face.cap_height
    true = face.outline(face.shape(character)[0].index)
    path = fitted(letter(face, character))
    assert area_by_fonttools(path) == pytest.approx(abs(area_by_fonttools(true)) * scale**2, rel=1e-3)


@pytest.mark.parametrize("radius", [0.5, 2.0, 4.7625, 20.0])
def test_circles_become_four_cubics_as_true_as_four_can_be(radius: float) -> None:
    # Mortensen's note: the radial error of four quarter arcs is at most +2.7253e-4 of the radius, never inside.
    count = math.ceil(math.pi / math.acos(1 - 0.005 / radius))  # chords that stray 0.005 mm
    angles = np.linspace(0, math.tau, count, endpoint=False)
    path = fitted(Polygon(np.column_stack([3 + radius * np.cos(angles), radius * np.sin(angles) - 2])))
    assert [segment[0] for segment in path.segments] == ["M", "C", "C", "C", "C", "Z"]
    points = np.array(path.rings(1e-6)[0])
    errors = np.hypot(points[:, 0] - 3, points[:, 1] + 2) / radius - 1
    assert errors.min() > -1e-6
    assert errors.max() < 2.7253e-4 + 1e-6
    assert node_count(fitted(region(disc((3.0, -2.0), 2 * radius)))) == 4


@settings(max_examples=60, deadline=None)
@given(st.floats(6, 60), st.floats(6, 60), st.floats(0.5, 1.9), st.floats(0, 90))
def test_rounded_rectangles_are_four_lines_and_four_curves(
    width: float, height: float, radius: float, turn: float
) -> None:
    area = rotate(region(rounded_rectangle(Box(0, 0, width, height), radius)), turn)
    path = fitted(area)
    assert node_count(path) <= 9
    assert sum(segment[0] == "C" for segment in path.segments) == 4
    assert stray(path, area) <= 0.02


@settings(max_examples=100, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-200, 200), st.integers(-200, 200)), min_size=3, max_size=9, unique=True)
    .map(lambda points: Polygon(points).buffer(0))
    .filter(lambda area: isinstance(area, Polygon) and area.area > 100)
    .map(lambda area: shapely.affinity.scale(area, 0.1, 0.1))
)
def test_polygons_of_long_edges_stay_what_they_are(area: Polygon) -> None:
    plain = area.simplify(0.0005)
    path = fitted(plain)
    lengths = [math.dist(*pair) for pair in zip(plain.exterior.coords, plain.exterior.coords[1:], strict=False)]
    if min(lengths) > 1 and min(math.sin(turn) for turn in _turns(plain)) > 0.1:
        assert {segment[0] for segment in path.segments} == {"M", "L", "Z"}
        assert region(path).symmetric_difference(plain).area < 1e-6
    assert stray(path, area) <= 0.02 + 0.0005


def _turns(area: Polygon) -> list[float]:
    ring = np.array(area.exterior.coords)[:-1]
    into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    cosine = (into * out).sum(axis=1) / np.hypot(*into.T) / np.hypot(*out.T)
    return [min(float(angle), math.pi / 2) for angle in np.arccos(np.clip(cosine, -1, 1))]


@settings(max_examples=80, deadline=None)
@given(st.integers(0, 100_000), st.floats(-2, 2), st.sampled_from([0.01, 0.02, 0.05]))
def test_offsets_of_random_shapes_are_fitted_both_ways(seed: int, by: float, tolerance: float) -> None:
    openings = shapely.box(-29, -19, 29, 19).difference(nested(seed))
    area = shapely.get_parts(openings.buffer(by, quad_segs=24))[0] if by else shapely.get_parts(openings)[0]
    path = fitted(area, tolerance)
    assert bool(path) is not area.is_empty
    if area.is_empty:  # an offset inwards may leave nothing
        return
    assert stray(path, area) <= tolerance + 0.0005
    assert not crossing(path)
    assert node_count(path) <= points_in(area)


def test_an_empty_region_has_no_outline() -> None:
    assert not fitted(shapely.Polygon())
    assert not fitted(shapely.box(0, 0, 1, 1).buffer(-2))


def test_two_shapes_that_all_but_touch_do_not_cross() -> None:
    outer = Point(0, 0).buffer(10, quad_segs=40)
    inner = rotate(Point(0, 0).buffer(9.99, quad_segs=40), 1)
    other = rotate(Point(0, 0).buffer(9.98, quad_segs=40), 2)
    path = fitted(outer.difference(inner).union(other))
    assert not crossing(path)


def test_open_lines_keep_their_ends() -> None:
    x = np.linspace(0, 20, 400)
    line = LineString(np.column_stack([x, 3 * np.sin(x / 3)]))
    path = fitted_line(line)
    assert path.segments[0][1:] == line.coords[0]
    assert path.segments[-1][-2:] == line.coords[-1]
    assert len(path.segments) < 20
    drawn = LineString(path.rings(FINE)[0])
    assert shapely.hausdorff_distance(drawn, line, densify=0.01) <= 0.02


def test_corners_between_curves_stay_sharp() -> None:
    lens = Point(-6, 0).buffer(10, quad_segs=64).intersection(Point(6, 0).buffer(10, quad_segs=64))
    path = fitted(lens)
    assert node_count(path) <= 6
    for tip in (8.0, -8.0):  # Pythagoras: the circles meet 8 above and below
        assert min(math.dist(segment[-2:], (0, tip)) for segment in path.segments if segment[0] in "MLC") < 0.01


def test_planted_faults_are_seen() -> None:
    area = Point(0, 0).buffer(5, quad_segs=64)
    moved = fitted(shapely.affinity.translate(area, 0.03, 0))
    assert stray(moved, area) > 0.02
    assert crossing(Path((("M", 0, 0), ("L", 4, 4), ("L", 4, 0), ("L", 0, 4), ("Z",))))
    assert crossing(Path.joined([disc((0, 0), 4), disc((1, 0), 4)]))
