"""Paths, arcs, regions and outlines, against published figures and independent libraries."""

import math
import pickle
import subprocess
import sys

import cairocffi
import cv2
import numpy as np
import pytest
import shapely
from fontTools.misc.transform import Transform
from fontTools.pens.boundsPen import BoundsPen
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.regions import path_of, region
from facegraphic.geometry.shapes import arc_segments, disc, polygon, rounded_rectangle
from facegraphic.stock.faces import SIDES, Outline, face_outline
from facegraphic.stock.tables import boxes

POINTS = st.lists(st.tuples(st.floats(-20, 20), st.floats(-20, 20)), min_size=3, max_size=8, unique=True)
# Points on a grid of microns: finer than anything that is printed.
MICRONS = st.lists(
    st.tuples(*[st.integers(-20_000, 20_000).map(lambda micron: micron / 1000)] * 2),
    min_size=3,
    max_size=8,
    unique=True,
)


def radial_errors(path: Path, radius: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    ring = np.array(path.rings(1e-9 * radius)[0])
    return np.hypot(ring[:, 0], ring[:, 1]) / radius - 1


def test_quarter_circle_constant() -> None:
    # Mortensen's note: k = 4/3 (sqrt 2 - 1) = 0.5522847498307936.
    (_, _, c1y, *_) = arc_segments((0.0, 0.0), 1.0, 0.0, math.pi / 2)[0]
    assert c1y == pytest.approx(0.5522847498307936, abs=1e-15)


def test_quarter_circle_error() -> None:
    # The same: the radial error of four quarter arcs is at most +2.7253e-4, never inside.
    errors = radial_errors(disc((0.0, 0.0), 2.0), 1.0)
    assert errors.max() == pytest.approx(2.7253e-4, rel=1e-3)
    assert errors.min() > -1e-9


@pytest.mark.parametrize(
    ("degrees", "error"), [(30, 3.727e-7), (45, 4.246e-6), (60, 2.386e-5), (90, 2.725e-4)]
)  # computed for k = 4/3 tan(θ/4)
def test_error_by_arc(degrees: float, error: float) -> None:
    start = ("M", 1.0, 0.0)
    arc = Path((start, *arc_segments((0.0, 0.0), 1.0, 0.0, math.radians(degrees))))
    assert radial_errors(arc, 1.0).max() == pytest.approx(error, rel=2e-3)


def test_a_hole_of_3_8_inch_is_at_most_13_tenths_of_a_micron_large() -> None:
    # Arithmetic on the constant's error: radius 4.7625 mm, at most 0.0013 mm too big.
    assert radial_errors(disc((0.0, 0.0), 9.525), 4.7625).max() * 4.7625 < 0.0013


@given(POINTS)
def test_bounds_hold_the_curve(points: list[tuple[float, float]]) -> None:
    (x, y), *rest = points
    flat = [c for point in (rest * 3)[:6] for c in point]
    path = Path((("M", x, y), ("C", *flat[:6]), ("C", *flat[6:12]), ("Z",)))
    ring = np.array([(x, y), *(p for ring in path.rings(0.001) for p in ring)])
    box = path.bounds
    assert ring.min(axis=0) == pytest.approx((box.x0, box.y0), abs=0.01)
    assert ring.max(axis=0) == pytest.approx((box.x1, box.y1), abs=0.01)


@given(POINTS)
def test_bounds_are_those_of_fonttools(points: list[tuple[float, float]]) -> None:
    (x, y), *rest = points
    a, b, c, d, e, f = (rest * 3)[:6]
    pen = BoundsPen(None)
    pen.moveTo((x, y))
    pen.curveTo(a, b, c)
    pen.lineTo(d)
    pen.curveTo(e, f, (x, y))
    pen.closePath()
    path = Path((("M", x, y), ("C", *a, *b, *c), ("L", *d), ("C", *e, *f, x, y), ("Z",)))
    assert tuple(path.bounds) == pytest.approx(pen.bounds, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(MICRONS, MICRONS)
def test_nonzero_regions_cover_what_cairo_fills(
    first: list[tuple[float, float]], second: list[tuple[float, float]]
) -> None:
    """Cairo's own winding rule, drawn at 10 pixels to the mm with soft edges: covered pixels count the area."""
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_A8, 448, 440)
    context = cairocffi.Context(surface)
    context.scale(10, 10)
    context.translate(22, 22)
    for ring in (first, second):
        context.move_to(*ring[0])
        for point in ring[1:]:
            context.line_to(*point)
        context.close_path()
    context.set_fill_rule(cairocffi.FILL_RULE_WINDING)
    context.fill()
    surface.flush()
    covered = np.frombuffer(surface.get_data(), np.uint8).reshape(440, -1).sum() / 255 / 100
    assert region(polygon(first) + polygon(second)).area == pytest.approx(covered, rel=0.01, abs=0.3)


@settings(max_examples=60, deadline=None)
@given(POINTS, POINTS)
def test_even_odd_regions_have_the_area_that_opencv_fills(
    first: list[tuple[float, float]], second: list[tuple[float, float]]
) -> None:
    """OpenCV's fillPoly fills several contours even-odd."""
    scale = 40
    path = polygon(first) + polygon(second)
    picture = np.zeros((1800, 1800), np.uint8)
    rings = [np.round((np.array(ring) + 22) * scale).astype(np.int32) for ring in (first, second)]
    cv2.fillPoly(picture, rings, 1)
    # OpenCV fills the edge's pixels too: allow a pixel along all edges.
    edge = sum(cv2.arcLength(ring.reshape(-1, 1, 2), True) for ring in rings) / scale**2
    assert abs(region(path, "evenodd").area - picture.sum() / scale**2) < 1.5 * edge + 0.05


@given(POINTS)
def test_nonzero_holds_even_odd(points: list[tuple[float, float]]) -> None:
    nonzero, evenodd = region(polygon(points)), region(polygon(points), "evenodd")
    assert nonzero.area >= evenodd.area - 1e-6
    assert evenodd.difference(nonzero).area < 1e-6


def test_nonzero_and_even_odd_differ_where_they_should() -> None:
    inner = polygon([(1.0, 1.0), (3.0, 1.0), (3.0, 3.0), (1.0, 3.0)])
    outer = polygon([(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)])
    assert region(outer + inner).area == pytest.approx(16)
    assert region(outer + inner, "evenodd").area == pytest.approx(12)
    assert region(path_of(region(outer + inner, "evenodd"))).area == pytest.approx(12)


@given(
    bottom=st.floats(20, 120),
    lean=st.floats(-8, 8),
    height=st.floats(15, 80),
    by=st.floats(-5, 5).map(lambda by: round(by, 3) or 1.0),
)
def test_a_grown_trapezoid_is_shapelys_mitred_buffer(bottom: float, lean: float, height: float, by: float) -> None:
    outline = Outline(bottom, bottom + lean, height) if lean else Outline(bottom, bottom, height)
    grown = region(outline.grown(by).path)
    buffered = region(outline.path).buffer(by, join_style="mitre", mitre_limit=20)
    assert grown.symmetric_difference(buffered).area < 1e-3


@given(
    width=st.floats(30, 120),
    height=st.floats(30, 120),
    radius=st.floats(1, 8),
    by=st.floats(-0.9, 5).map(lambda by: round(by, 3) or 1.0),
)
def test_a_grown_rounded_rectangle_is_shapelys_buffer(width: float, height: float, radius: float, by: float) -> None:
    outline = Outline(width, width, height, radius)
    buffered = region(outline.path).buffer(by, quad_segs=64)
    assert region(outline.grown(by).path).symmetric_difference(buffered).area < 0.15


def test_a_rounded_rectangle_lacks_just_its_corners() -> None:
    # Plane geometry: each corner lacks r²(1 - π/4).
    area = region(rounded_rectangle(Box(0, 0, 40, 30), 5), flatness=1e-4).area
    assert area == pytest.approx(1200 - 4 * 25 * (1 - math.pi / 4), rel=1e-4)


@pytest.mark.parametrize("name", boxes())
def test_faces_lie_within_the_box_and_are_real(name: str) -> None:
    box = boxes()[name]
    long, short, high = box.size
    for side in SIDES:
        assert min(face_outline(box, side, short, long).size) > 0
        width, height = face_outline(box, side, long, short).size
        around = {"top": (long, short), "front": (long, high), "back": (long, high)}.get(side, (short, high))
        assert 0.6 * around[0] < width < around[0]
        assert 0.6 * around[1] < height < around[1]
        outline = shapely.Polygon(face_outline(box, side, long, short).path.rings()[0])
        assert outline.is_valid


def test_a_box_without_draft_or_radii_has_its_outer_faces() -> None:
    from facegraphic.stock.tables import BoxSize

    plain = BoxSize("plain", (100.0, 60.0, 30.0), 0, 0, 0, 0, 2)
    assert face_outline(plain, "top", 100, 60).size == pytest.approx((100, 60))
    assert face_outline(plain, "left", 100, 60).size == pytest.approx((60, 30))


def curves(points: list[tuple[float, float]]) -> Path:
    """A contour of lines and curves through and along some points."""
    (x, y), (a, b), (c, d) = points[:3]
    return Path((("M", x, y), ("C", a, b, c, d, y, x), *(("L", *point) for point in points), ("Z",)))


@given(POINTS, st.floats(-300, 300), st.floats(-300, 300))
def test_moving_is_the_transform_that_moves(points: list[tuple[float, float]], dx: float, dy: float) -> None:
    path = curves(points)
    assert path.moved(dx, dy) == path.transformed(Transform(1, 0, 0, 1, dx, dy))


@given(POINTS, POINTS, st.floats(-300, 300), st.floats(-300, 300))
def test_a_box_that_goes_along_is_the_box_of_what_is_there(
    points: list[tuple[float, float]], others: list[tuple[float, float]], dx: float, dy: float
) -> None:
    known = Path.joined([curves(points).measured, Path(), curves(others).measured.moved(dx, dy)]).moved(dy, dx)
    assert known.bounds == pytest.approx(Path(known.segments).bounds, abs=1e-9)
    part = Path.joined([curves(points).measured, curves(others).moved(dx, dy)])  # one of them not known
    assert part.bounds == pytest.approx(Path(part.segments).bounds, abs=1e-9)


def test_nothing_joined_has_no_box() -> None:
    for nothing in (Path.joined([]), Path.joined([Path(), Path()])):
        with pytest.raises(ValueError, match="empty"):
            assert nothing.bounds


@given(POINTS)
def test_what_a_path_keeps_is_no_part_of_it(points: list[tuple[float, float]]) -> None:
    path, other = curves(points), curves(points)
    kept = [region(path, rule) for rule in ("nonzero", "evenodd")]
    assert all(area is region(path, rule) for area, rule in zip(kept, ("nonzero", "evenodd"), strict=True))
    assert path == other and hash(path) == hash(other) and not other.kept
    assert all(area.equals(region(other, rule)) for area, rule in zip(kept, ("nonzero", "evenodd"), strict=True))
    back = pickle.loads(pickle.dumps(path))
    assert back == path and hash(back) == hash(path) and not back.kept


def test_a_path_has_another_hash_in_another_process() -> None:
    """So none may travel along: strings hash differently there."""
    path = curves([(0.0, 0.0), (1.0, 2.0), (3.0, 1.0)])
    assert {path: 1}[path] == 1
    code = (
        "import pickle, sys; path = pickle.load(sys.stdin.buffer); assert hash(path) == hash(type(path)(path.segments))"
    )
    subprocess.run([sys.executable, "-c", code], input=pickle.dumps(path), check=True, timeout=120)
