"""Least width and radius: opening by a disc takes nothing away afterwards, by shapely and by OpenCV."""

import math
import random

import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import rotate, translate
from shapely.geometry import Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from facegraphic.masks.slivers import Settled, settled, thin_parts

FACE = shapely.box(-30, -20, 30, 20)
RIM = FACE.buffer(8, join_style="mitre").difference(FACE)


def strewn(seed: int) -> BaseGeometry:
    """Twelve rectangles strewn over the face, from hairlines to broad ones."""
    rng = random.Random(seed)
    return unary_union(
        [
            translate(
                rotate(shapely.box(0, 0, rng.uniform(0.3, 15), rng.uniform(0.3, 10)), rng.uniform(0, 180)),
                rng.uniform(-25, 20), rng.uniform(-18, 15),
            )
            for _ in range(12)
        ]
    ).intersection(FACE)  # fmt: skip


def lost(area: BaseGeometry, radius: float) -> float:
    """What opening by a disc takes away of one side, which runs on past the face's edge."""
    whole = unary_union([area.buffer(0.002, join_style="mitre"), RIM])
    opened = whole.buffer(-radius, quad_segs=32).buffer(radius, quad_segs=32)
    return float(area.difference(opened.buffer(0.003)).area)


def pixels(area: BaseGeometry, scale: int) -> np.ndarray[tuple[int, int], np.dtype[np.uint8]]:
    """One side of the face on pixels, with ten millimetres of it all round."""
    picture = np.ones((60 * scale, 80 * scale), np.uint8)
    spot = np.add([(-30, -20), (30, -20), (30, 20), (-30, 20)], (40, 30)) * scale
    cv2.fillPoly(picture, [spot.astype(np.int32)], 0)
    for part in shapely.get_parts(area):
        sheet = np.zeros_like(picture)
        for outline, value in [(part.exterior, 1), *((hole, 0) for hole in part.interiors)]:
            cv2.fillPoly(sheet, [(np.add(outline.coords, (40, 30)) * scale).round().astype(np.int32)], value)
        picture |= sheet
    return picture


def lost_pixels(area: BaseGeometry, radius: float, scale: int = 20) -> int:
    """The same by OpenCV, with a disc a pixel smaller; specks of edges on pixels are not counted."""
    picture = pixels(area, scale)
    reach = radius * scale - 1.5
    across = np.arange(-int(reach), int(reach) + 1)
    disc = (np.add.outer(across**2, across**2) <= reach**2).astype(np.uint8)
    gone = picture & ~cv2.morphologyEx(picture, cv2.MORPH_OPEN, disc) & 1
    return int(cv2.morphologyEx(gone, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)).sum())


def tiles(found: Settled) -> None:
    assert found.opening.area + found.mask.area == pytest.approx(FACE.area, abs=1e-6)
    assert found.opening.intersection(found.mask).area < 1e-6


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 100_000), st.sampled_from([0.4, 0.8, 1.0]))
def test_nothing_is_too_narrow_or_too_sharp_afterwards(seed: int, width: float) -> None:
    found = settled(strewn(seed), FACE, width, width / 2)
    tiles(found)
    assert found.left == ()
    assert lost(found.opening, width / 2 * 0.99) < 0.01
    assert lost(found.mask, width / 2 * 0.99) < 0.01


@pytest.mark.parametrize("seed", range(6))
def test_opencv_agrees(seed: int) -> None:
    raw = strewn(seed)
    found = settled(raw, FACE, 1.0, 0.5)
    assert lost_pixels(found.opening, 0.5) == 0
    assert lost_pixels(found.mask, 0.5) == 0
    assert lost_pixels(raw, 0.5) + lost_pixels(FACE.difference(raw), 0.5) > 100


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 100_000))
def test_merging_alone_leaves_corners_and_edges(seed: int) -> None:
    raw = strewn(seed)
    found = settled(raw, FACE, 0.8)
    tiles(found)
    for side in (found.opening, found.mask):
        whole = unary_union([side.buffer(0.002, join_style="mitre"), RIM])
        assert [part for part in thin_parts(whole, 0.79) if part.area > 0.01] == []
        # No cracks either: hairlines that close when both lips are moved by a micron.
        closed = side.buffer(0.001, join_style="mitre").buffer(-0.001, join_style="mitre")
        assert closed.area - side.area < 1e-3
    changed = raw.symmetric_difference(found.opening)
    merged = unary_union([sliver.shape for sliver in found.slivers])
    assert changed.difference(merged.buffer(0.01)).area < 0.01
    assert found.opened - found.covered == pytest.approx(found.opening.area - raw.area, abs=1e-6)


def test_a_thread_of_mask_is_opened_and_a_hairline_covered() -> None:
    thread = unary_union([shapely.box(-20, -10, -5, 10), shapely.box(-4.8, -10, 10, 10)])
    found = settled(thread, FACE, 0.5)
    assert [(s.side, s.merged) for s in found.slivers] == [("mask", True)]
    assert found.slivers[0].thickness == pytest.approx(0.2, abs=0.01)
    assert found.opened == pytest.approx(0.2 * 20, abs=0.05)
    hair = unary_union([shapely.box(-20, -10, -5, 10), shapely.box(0, -10, 0.3, 10)])
    found = settled(hair, FACE, 0.5)
    assert [(s.side, round(s.thickness, 2), s.merged) for s in found.slivers] == [("opening", 0.3, True)]
    assert found.opening.symmetric_difference(shapely.box(-20, -10, -5, 10)).area < 1e-3


def test_slivers_can_be_told_only() -> None:
    hair = unary_union([shapely.box(-20, -10, -5, 10), shapely.box(0, -10, 0.3, 10)])
    found = settled(hair, FACE, 0.5, merge=False)
    assert [(s.side, s.merged) for s in found.left] == [("opening", False)]
    assert found.opening.equals(hair)
    assert (found.opened, found.covered) == (0, 0)


def test_what_is_just_wide_enough_stays() -> None:
    strips = unary_union([shapely.box(-20, 0, 20, 0.8), shapely.box(-20, 1.6, 20, 5)])
    found = settled(strips, FACE, 0.8)
    assert found.slivers == ()
    assert found.opening.symmetric_difference(strips).area < 1e-6


def test_rounding_takes_just_the_corners() -> None:
    # Plane geometry: each right angle lacks r²(1 - π/4), and the furthest point moves (√2 - 1) r.
    box = shapely.box(-10, -5, 10, 5)
    found = settled(box, FACE, 0.5, 1.5)
    assert found.covered == pytest.approx(4 * 1.5**2 * (1 - math.pi / 4), rel=0.02)
    assert found.opened == pytest.approx(0, abs=1e-3)
    assert shapely.hausdorff_distance(found.opening.boundary, box.boundary) == pytest.approx(
        1.5 * (math.sqrt(2) - 1), rel=0.02
    )
    inner = FACE.difference(box)  # the same corners, of the mask now
    assert settled(inner, FACE, 0.5, 1.5).opened == pytest.approx(4 * 1.5**2 * (1 - math.pi / 4), rel=0.02)


def test_bounds_of_the_face_make_nothing_thin() -> None:
    edge = unary_union([shapely.box(-30, -20, -29.9, 20), shapely.box(29.8, -20, 30, 0)])
    assert [s for s in settled(edge, FACE, 0.5).slivers if s.shape.area > 0.1] == []


def test_what_is_thin_altogether_is_covered_and_told() -> None:
    found = settled(shapely.box(-10, 0, 10, 0.2), FACE, 0.5)
    assert found.opening.is_empty
    assert [(s.side, s.merged) for s in found.slivers] == [("opening", True)]
    assert found.covered == pytest.approx(4.0)


def test_planted_slivers_are_seen() -> None:
    good = Point(0, 0).buffer(8, quad_segs=32)
    assert lost(good, 0.49) < 0.01
    assert lost_pixels(good, 0.5) == 0
    assert lost(good.union(shapely.box(7, -0.2, 12, 0.2)), 0.49) > 1
    assert lost_pixels(good.union(shapely.box(7, -0.2, 12, 0.2)), 0.5) > 100
    assert lost_pixels(good.difference(shapely.box(-3, -0.1, 3, 0.1)), 0.5) == 0  # of the opening nothing is thin
    assert lost_pixels(FACE.difference(good).union(shapely.box(-9, -0.2, 9, 0.2)), 0.5) > 100
