"""Room for text is found exactly: all the largest empty rectangles, none overlooked, and the best one taken."""

import math
import random
import re
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from helpers.jobs import lay
from hypothesis import given, settings
from hypothesis import strategies as st
from samples import FOLDER, JOBS
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.load import load_job
from facegraphic.job.model import Face, Finish, FreeText
from facegraphic.layout.free_space import free_in, free_rectangles, grown, slabs, without
from facegraphic.layout.ground import SLAB, Ground, box_region
from facegraphic.layout.texts import AMPLE, best_place, free_text
from facegraphic.pipeline.preparing import prepare
from facegraphic.stock.faces import Outline

SIDE = 6
SNAP = 0.002  # boxes of slabs are moved out to whole microns
CORNER = math.sqrt(2) - 1  # of the gap: what a grown box has over a rounded one at its corner


def boxes_between(low: int, high: int) -> st.SearchStrategy[Box]:
    """Boxes on whole numbers, some without area."""
    pair = st.tuples(st.integers(low, high), st.integers(low, high)).map(sorted)
    return st.tuples(pair, pair).map(lambda xy: Box(xy[0][0], xy[1][0], xy[0][1], xy[1][1]))


def overlap(a: Box, b: Box) -> bool:
    return min(a.x1, b.x1) > max(a.x0, b.x0) and min(a.y1, b.y1) > max(a.y0, b.y0)


def holds(outer: Box, inner: Box) -> bool:
    return outer.x0 <= inner.x0 and outer.y0 <= inner.y0 and outer.x1 >= inner.x1 and outer.y1 >= inner.y1


def by_trying_all(side: int, obstacles: Sequence[Box]) -> set[Box]:
    """The maximal empty boxes on whole numbers, by looking at every box there is."""
    spans = [(a, b) for a in range(side) for b in range(a + 1, side + 1)]
    every = [Box(a, c, b, d) for a, b in spans for c, d in spans]
    empty = [box for box in every if not any(overlap(box, obstacle) for obstacle in obstacles)]
    return {box for box in empty if not any(other != box and holds(other, box) for other in empty)}


@settings(max_examples=300, deadline=None)
@given(st.lists(boxes_between(-1, SIDE + 1), max_size=9))
def test_they_are_those_that_trying_all_boxes_finds(obstacles: list[Box]) -> None:
    found = free_rectangles(Box(0, 0, SIDE, SIDE), obstacles)
    assert len(found) == len(set(found))
    assert set(found) == by_trying_all(SIDE, obstacles)


@settings(max_examples=50, deadline=None)
@given(st.lists(boxes_between(-1, SIDE + 1), max_size=9), st.randoms())
def test_the_order_of_obstacles_is_nothing_to_them(obstacles: list[Box], chance: random.Random) -> None:
    shuffled = list(obstacles)
    chance.shuffle(shuffled)
    container = Box(0, 0, SIDE, SIDE)
    assert free_rectangles(container, shuffled) == free_rectangles(container, obstacles)


@settings(max_examples=300, deadline=None)
@given(st.lists(boxes_between(-1, SIDE + 1), max_size=9), st.integers(0, 9))
def test_one_obstacle_after_another_leaves_what_all_do(obstacles: list[Box], first: int) -> None:
    container = Box(0, 0, SIDE, SIDE)
    rooms = free_rectangles(container, obstacles[:first])
    for obstacle in obstacles[first:]:
        if obstacle.width > 0 and obstacle.height > 0:
            rooms = without(rooms, obstacle)
    assert rooms == free_rectangles(container, obstacles)


def test_an_empty_and_a_full_container() -> None:
    container = Box(-3.5, -2, 3.5, 2)
    assert free_rectangles(container, []) == [container]
    assert free_rectangles(container, [Box(-4, -3, 4, 3)]) == []
    assert free_rectangles(Box(1, 1, 1, 5), []) == []


def test_four_hundred_obstacles_are_fast() -> None:
    chance = random.Random(7)
    corners = [(chance.uniform(0, 115), chance.uniform(0, 60)) for _ in range(400)]
    obstacles = [Box(x, y, x + chance.uniform(0.3, 4), y + chance.uniform(0.3, 2)) for x, y in corners]
    free_rectangles(Box(0, 0, 115, 60), obstacles[:10])
    times = []
    for _ in range(3):
        start = time.perf_counter()
        found = free_rectangles(Box(0, 0, 115, 60), obstacles)
        times.append(time.perf_counter() - start)
    assert len(found) > 1000
    assert min(times) < 0.3


def bent() -> BaseGeometry:
    """A band with a gap, as a frame that its title breaks: nothing of its inside may be covered."""
    ring = shapely.box(0, 0, 30, 20).buffer(2).difference(shapely.box(0, 0, 30, 20).buffer(1.6))
    return ring.difference(shapely.box(10, 19, 20, 25))


SHAPES = {
    "disc": disc_region(3.3, -1.7, 16.0),
    "ring": disc_region(0, 0, 20).difference(disc_region(0, 0, 19)),
    "turned": shapely.Polygon([(0, 0), (10, 3), (9.4, 5), (-0.6, 2)]),
    "box": shapely.box(0.1, 0.2, 7.3, 1.9),
    "two": disc_region(0, 0, 4).union(disc_region(10, 1, 6)),
    "frame": bent(),
    "needle": shapely.Polygon([(0, 0), (20, 0.05), (0, 0.1)]),
    "outside": shapely.box(-30, -20, 30, 20).difference(region(Outline(60, 60, 40, 6).path)),
    "outside of a trapezoid": shapely.box(-30, -10, 30, 10).difference(region(Outline(60, 50, 20).path)),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("tolerance", [0.1, SLAB, 1.0])
def test_slabs_cover_a_shape_and_little_more(name: str, tolerance: float) -> None:
    shape = SHAPES[name]
    cover = shapely.union_all([box_region(box) for box in slabs(np.array([shape]), tolerance)])
    assert cover.covers(shape)
    corners = shapely.points(shapely.get_coordinates(cover))
    assert max(shapely.distance(corners, shape)) < tolerance + SNAP
    assert shape.buffer(tolerance + SNAP).covers(cover)


def test_a_box_is_one_slab_and_a_disc_few() -> None:
    assert len(slabs(np.array([SHAPES["box"]]), SLAB)) == 1
    assert 8 < len(slabs(np.array([SHAPES["disc"]]), SLAB)) <= 16 / SLAB
    assert slabs(np.array([shapely.Polygon()]), SLAB) == []


@pytest.mark.parametrize("name", SHAPES)
def test_what_is_grown_holds_all_that_is_near(name: str) -> None:
    shape, gap = SHAPES[name], 0.8
    cover = shapely.union_all([box_region(box) for box in grown(np.array([shape]), gap, SLAB)])
    assert cover.covers(shape.buffer(gap, quad_segs=64))
    assert shape.buffer(gap + max(SLAB, CORNER * gap) + SNAP).covers(cover)


def test_room_beside_a_disc_is_not_lost() -> None:
    inside, knob = shapely.box(-20, -20, 20, 20), disc_region(0, 0, 30)
    rooms = free_in(inside, [knob], 1.0, SLAB)
    # In a corner the largest square reaches to where the diagonal meets the grown knob.
    reach = 20 - 16 / math.sqrt(2)
    squares = [min(room.width, room.height) for room in rooms if room.x0 > 0 and room.y0 > 0]
    assert reach - 2 * SLAB < max(squares) < reach


# Faces


def ground_of(face: Face, finish: Finish) -> Ground:
    """The room on a face with its holes and all texts that have a place."""
    ground = Ground(face, finish)
    for text in face.texts:
        if text.at is not None:
            placed, _ = free_text(text, face, finish, ground)
            assert placed
            ground.take_legend(placed)
    return ground


def faces() -> list[tuple[str, Face, Finish]]:
    found = []
    for name in JOBS:
        job = load_job(FOLDER / f"{name}.toml")
        found += [(f"{name} {face.side}", face, job.finish) for face in job.faces]
    return found


FACES = {name: (face, finish) for name, face, finish in faces()}


def maker(cap: float, angle: float = 0.0, text: str = "SKERRY WORKS") -> FreeText:
    return FreeText(text, None, cap, angle)


@pytest.mark.parametrize("name", FACES)
@pytest.mark.parametrize(("cap", "angle"), [(1.5, 0.0), (3.0, 0.0), (2.0, 90.0), (2.0, 20.0), (6.0, 0.0)])
def test_a_text_stands_clear_or_is_said_to_have_no_room(name: str, cap: float, angle: float) -> None:
    face, finish = FACES[name]
    ground = ground_of(face, finish)
    placed, said = free_text(maker(cap, angle), face, finish, ground)
    assert (placed is None) == (len(said) == 1)
    if placed:
        assert ground.fits(box_region(placed.box))
        assert placed.place == "auto"


def test_the_sizes_tried_both_fit_and_fail() -> None:
    outcomes = set()
    for face, finish in FACES.values():
        ground = ground_of(face, finish)
        outcomes |= {free_text(maker(cap), face, finish, ground)[0] is None for cap in (1.5, 6.0)}
    assert outcomes == {True, False}


@pytest.mark.parametrize("name", FACES)
def test_every_largest_rectangle_keeps_the_gap(name: str) -> None:
    face, finish = FACES[name]
    ground = ground_of(face, finish)
    rooms = ground.free()
    assert len(rooms) > 20
    assert all(ground.fits(box_region(room)) for room in rooms)
    assert len(set(rooms)) == len(rooms)


@pytest.mark.parametrize("name", FACES)
def test_no_room_is_overlooked(name: str) -> None:
    """Whatever rectangle keeps its gap lies in one that was found, but for what the covers of round things take."""
    face, finish = FACES[name]
    ground = ground_of(face, finish)
    rooms = ground.free()
    short = max(SLAB, CORNER * finish.gap) + SNAP
    chance = random.Random(name)
    tried = 0
    for _ in range(3000):
        width, height = face.outline.size
        at = (chance.uniform(-width / 2, width / 2), chance.uniform(-height / 2, height / 2))
        size = (chance.uniform(1, width), chance.uniform(1, height / 3))
        box = Box.centred(*size, at)
        if ground.fits(box_region(box)):
            tried += 1
            if min(size) > 2 * short:
                assert any(holds(room, box.grown(-short)) for room in rooms)
    assert tried > 20


def test_it_is_the_same_each_time() -> None:
    face, finish = FACES["slow-ferry top"]
    placed = [free_text(maker(2.0), face, finish, ground_of(face, finish))[0] for _ in range(2)]
    assert placed[0]
    assert placed[0] == placed[1]


@pytest.mark.parametrize("text", ["gypsy jog", "“ ”", "A,"])
@pytest.mark.parametrize("angle", [0.0, 30.0])
def test_it_is_centred_by_its_ink(text: str, angle: float) -> None:
    face, finish = FACES["slow-ferry top"]
    ground = ground_of(face, finish)
    placed, _ = free_text(maker(2.0, angle, text), face, finish, ground)
    assert placed
    assert placed.box == pytest.approx(best_place(placed.box, ground.free()))


@pytest.mark.parametrize("text", ["", " ", " \n ", "\u00a0"])
def test_a_text_without_ink_is_none(text: str) -> None:
    face, finish = FACES["slow-ferry top"]
    ground = Ground(face, finish)
    assert free_text(maker(2.0, 0.0, text), face, finish, ground) == (None, [])
    assert free_text(replace(maker(2.0, 0.0, text), at=(0.0, 0.0)), face, finish, ground) == (None, [])


# The best place

INK = Box.centred(20, 3)
AMPLE_WIDE, AMPLE_HIGH = 20 + 2 * AMPLE, 3 + 2 * AMPLE


def middle(rooms: Sequence[Box]) -> tuple[float, float] | None:
    place = best_place(INK, rooms)
    return place.centre if place else None


def test_a_text_stands_in_the_middle_of_one_room() -> None:
    assert middle([Box(-30, 0, 30, 20)]) == (0, 10)


def test_it_stands_on_the_axis_where_the_room_lets_it() -> None:
    assert middle([Box(-11, 0, 60, 20)]) == (0, 10)


def test_it_stands_as_near_the_axis_as_leaves_it_room() -> None:
    assert middle([Box(5, 0, 65, 20)]) == (5 + AMPLE + 10, 10)
    assert middle([Box(5, 0, 27, 20)]) == (16, 10)
    assert middle([Box(-65, 0, -5, 20)]) == (-20, 10)


def test_more_room_is_better_up_to_ample_room() -> None:
    tight, roomy = Box(-15, -20, 15, -16), Box(-15, 0, 15, 8)
    assert middle([tight, roomy]) == middle([roomy, tight]) == (0, 4)
    ample, near = Box.centred(AMPLE_WIDE, AMPLE_HIGH, (0, -20)), Box(1, 0, 121, 60)
    assert middle([ample, near]) == (0, -20)
    assert middle([ample, Box(-60, 0, 60, 60)]) == (0, 30), "where both are ample the wider one is taken"


def test_equal_rooms_are_taken_from_below_and_from_the_left() -> None:
    low, high = (Box.centred(30, 8, (0, y)) for y in (-9, 9))
    assert middle([high, low]) == middle([low, high]) == (0, -9)
    left, right = (Box.centred(30, 8, (x, 0)) for x in (-40, 40))
    assert middle([right, left]) == middle([left, right]) == (-40, 0)


def test_a_little_off_the_axis_is_worse_than_a_little_less_room() -> None:
    off, on = Box(-9.5, 0, 40, 13), Box(-10.5, 20, 10.5, 33)
    assert middle([off, on]) == (0, 26.5)
    assert middle([off]) == (5.5, 6.5)


def test_room_on_one_side_alone_is_no_room() -> None:
    lopsided, even = Box(-10, -20, 60, -7), Box(-14, 0, 14, 13)
    assert middle([lopsided, even]) == (0, 6.5)
    assert middle([lopsided]) == (0, -13.5)


def test_what_holds_no_text_is_no_place() -> None:
    assert middle([Box(0, 0, 19.9, 50), Box(0, 0, 50, 2.9)]) is None
    assert middle([]) is None
    assert middle([Box(0, 0, 20, 3)]) == (10, 1.5)


def test_ink_off_its_origin_is_centred_by_its_ink() -> None:
    place = best_place(Box(0, 0, 10, 2), [Box(-30, 0, 30, 20)])
    assert place == Box(-5, 9, 5, 11)


# Without room

HEAD = '[box]\nstock = "93x39x31"\n[finish]\nprocess = "adhesive-label"\n[[face]]\nside = "top"\n'


def findings(folder: Path, body: str) -> list[str]:
    found = prepare(lay(folder, HEAD + body)).findings
    return [f"{f.message}; {f.remedy}" for f in found if f.code == "legend-no-room"]


def automatic(text: str, height: float, more: str = "") -> str:
    return f'[[face.text]]\ntext = "{text}"\nat = "auto"\nheight = {height}\n{more}'


@pytest.mark.parametrize("more", ["", "tracking = 1.5", "tracking = -0.5", "angle = 90"])
def test_the_height_that_is_advised_fits_and_the_next_does_not(tmp_path: Path, more: str) -> None:
    said = findings(tmp_path / "large", automatic("THE LONGEST OF TITLES", 18, more))
    assert len(said) == 1
    advice = re.search(r"; set it ([\d.]+) mm high or less, shorten it, or say where it may stand", said[0])
    assert advice
    height = float(advice[1])
    assert findings(tmp_path / "fits", automatic("THE LONGEST OF TITLES", height, more)) == []
    assert findings(tmp_path / "over", automatic("THE LONGEST OF TITLES", round(height + 0.1, 1), more)) != []


def test_the_largest_place_is_told(tmp_path: Path) -> None:
    said = findings(tmp_path, automatic("THE LONGEST OF TITLES", 18))
    sizes = re.search(
        r"of ([\d.]+) × ([\d.]+) mm finds no room; the largest free place for it is (.*) × (.*) mm;", said[0]
    )
    assert sizes
    wide, high, room_wide, room_high = map(float, sizes.groups())
    assert room_wide < wide or room_high < high
    job = load_job(lay(tmp_path / "again", HEAD))
    inside = Ground(job.faces[0], job.finish).inside.bounds
    # Nothing stands on this face: but for its round corners, the place is all of it within the margin.
    assert room_wide == pytest.approx(inside[2] - inside[0], abs=1)
    assert room_high > 18 * room_wide / wide


def test_no_height_below_what_the_process_holds_is_advised(tmp_path: Path) -> None:
    said = findings(tmp_path, automatic("AN ENDLESS LINE " * 20, 2))
    assert len(said) == 1
    assert "set it" not in said[0]
    assert "shorten it, make room on the face, or say where" in said[0]


def test_a_face_without_any_room_is_told() -> None:
    face, finish = FACES["slow-ferry top"]
    ground = Ground(face, finish)
    ground.take("a plate", region(face.outline.path))
    assert ground.free() == []
    placed, said = free_text(maker(2.0), face, finish, ground)
    assert placed is None
    assert "nothing of the face is free" in said[0].message
    assert "shorten it, make room on the face" in said[0].remedy


def test_a_larger_gap_leaves_smaller_rooms() -> None:
    face, finish = FACES["slow-ferry top"]
    sizes = []
    for gap in (0.5, 3.0):
        wider = replace(finish, gap=gap)
        sizes.append(max(room.width * room.height for room in Ground(face, wider).free()))
    assert sizes[0] > sizes[1] > 0
