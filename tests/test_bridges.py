"""Stencils in one piece: connected, bridges as wide as asked, near the least length, none where none is needed."""

import math
from pathlib import Path

import cv2
import fontpkg_black_ops_one
import numpy as np
import pytest
import shapely
from helpers.bridge_optimum import candidates, optimum
from helpers.outlines import ACCENTED, PLAIN, SIGNS, counters, font, framed, letter, nested
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from facegraphic.lettering.font import Font
from facegraphic.masks.bridges import Stencil, bridged, pieces_of, spanning_tree

WIDTH = 1.2
OUTSIDE_FONTS = ("dejavu", "liberation", "osifont")


def ring(outer: float, inner: float, at: tuple[float, float] = (0, 0)) -> BaseGeometry:
    return Point(at).buffer(outer, quad_segs=32).difference(Point(at).buffer(inner, quad_segs=32))


def faults(stencil: Stencil, material: BaseGeometry) -> list[str]:
    """What is wrong with a stencil, measured by shapely."""
    found = []
    if stencil.material.geom_type != "Polygon" or not stencil.material.is_valid:
        found.append(f"{len(shapely.get_parts(stencil.material))} pieces")
    if material.difference(stencil.material).area > 1e-6:
        found.append("material is lost")
    # Opening test: a disc of the width, but 1 % for its roundness, passes along every bridge from edge to edge.
    core = stencil.material.buffer(-stencil.width / 2 * 0.99, quad_segs=32).buffer(1e-9)
    pieces = pieces_of(material)
    wide = [piece.buffer(-stencil.width / 2) for piece in pieces]
    for bridge in stencil.bridges:
        if not core.covers(LineString([bridge.start, bridge.end])):
            found.append(f"the bridge at {bridge.start} is thinner than {stencil.width}")
        # ... and on into the pieces, where these are that wide near the bridge.
        within = [part for part in shapely.get_parts(core) if part.intersects(Point(bridge.start))]
        for end, piece in zip((bridge.start, bridge.end), bridge.joins, strict=True):
            near = wide[piece].intersection(Point(end).buffer(stencil.width * 0.6))
            if not near.is_empty and not any(part.intersects(near) for part in within):
                found.append(f"the bridge at {end} is thin where it meets piece {piece}")
        for end, piece in zip((bridge.start, bridge.end), bridge.joins, strict=True):
            if pieces[piece].boundary.distance(Point(end)) > 1e-6:
                found.append(f"the bridge ends at {end}, not on the edge of piece {piece}")
    for island in stencil.islands:
        if len(island.bridges) < (2 if island.large else 1):
            found.append(f"island {island.number} has {len(island.bridges)} bridges")
        if island.large and island.apart < 89:
            found.append(f"the bridges of island {island.number} are only {island.apart:.0f} degrees apart")
    return found


@pytest.mark.parametrize("name", OUTSIDE_FONTS)
def test_every_letter_is_one_piece(name: str) -> None:
    face = font(name)
    wrong, islands = {}, 0
    for character in PLAIN + SIGNS + ACCENTED:
        shape = letter(face, character)
        if shape.is_empty:
            continue
        material = framed(shape)
        stencil = bridged(material, WIDTH)
        islands += len(stencil.islands)
        assert len(stencil.islands) == counters(shape), character
        if found := faults(stencil, material):
            wrong[character] = found
    assert wrong == {}
    assert islands > 60


@pytest.mark.parametrize("seed", range(0, 100, 10))
def test_random_sheets_with_nested_islands_are_one_piece(seed: int) -> None:
    islands = 0
    for number in range(seed, seed + 10):
        material = nested(number)
        stencil = bridged(material, 0.8)
        assert faults(stencil, material) == [], number
        islands += len(stencil.islands)
    assert islands > 20


def test_opencv_sees_one_piece_with_wide_bridges() -> None:
    """OpenCV's opening by a disc of nine tenths of the width leaves every bridge's line, on pixels of 0.025 mm."""
    scale = 40
    across = np.arange(-14, 15)
    disc = (np.add.outer(across**2, across**2) <= 14.4**2).astype(np.uint8)
    for seed in range(5):
        stencil = bridged(nested(seed), 0.8)
        picture = np.zeros((41 * scale, 61 * scale), np.uint8)
        shape = stencil.material
        for outline, value in [(shape.exterior, 1), *((hole, 0) for hole in shape.interiors)]:
            points = (np.add(outline.coords, (30.5, 20.5)) * scale).round().astype(np.int32)
            cv2.fillPoly(picture, [points], value)
        assert cv2.connectedComponents(picture)[0] == 2  # the ground and one piece
        opened = cv2.morphologyEx(picture, cv2.MORPH_OPEN, disc)
        for bridge in stencil.bridges:
            for share in np.linspace(0, 1, 9):
                x = bridge.start[0] + share * (bridge.end[0] - bridge.start[0])
                y = bridge.start[1] + share * (bridge.end[1] - bridge.start[1])
                assert opened[round((y + 20.5) * scale), round((x + 30.5) * scale)] == 1


def test_a_stencil_font_needs_no_bridge() -> None:
    """Debian's fonts-allerta: the stencil cut has no closed counter in A-Z a-z 0-9 @#&% (fontTools and shapely)."""
    face = font("allerta_stencil")
    for character in PLAIN + SIGNS.replace("#", ""):  # which this font lacks
        stencil = bridged(framed(letter(face, character)), WIDTH)
        assert (stencil.bridges, stencil.islands) == ((), ()), character


def test_another_stencil_font_needs_no_bridge() -> None:
    """The package fontpkg-black-ops-one (OFL): 0 islands in the same set."""
    (file, *_) = sorted((Path(fontpkg_black_ops_one.__file__).parent / "files").glob("*.ttf"))
    face = Font("black-ops-one", file.read_bytes())
    for character in PLAIN + SIGNS:
        assert bridged(framed(letter(face, character)), WIDTH).bridges == (), character


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("allerta_medium", "A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 02 41 61 82 91 @1 &2 %2"),
        ("dejavu", "A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 01 41 61 82 91 @1 #1 &1 %2"),
        ("osifont", "A1 B2 D1 O1 P1 Q1 R1 a1 b1 d1 e1 g1 o1 p1 q1 01 61 82 91 @1 #1 &2 %2"),
    ],
)
def test_islands_are_the_counters_that_a_font_has(name: str, wanted: str) -> None:
    """Counted with fontTools and shapely beforehand."""
    face = font(name)
    shapes = {c: letter(face, c) for c in PLAIN + SIGNS}
    found = [(c, len(bridged(framed(shape), WIDTH).islands)) for c, shape in shapes.items() if not shape.is_empty]
    assert " ".join(f"{c}{n}" for c, n in found if n) == wanted


SMALL = {
    "a round island": shapely.box(-20, -20, 20, 20).difference(ring(9, 6)),
    "an island off the middle": shapely.box(-20, -20, 20, 20) - Point(0, 0).buffer(9) | Point(2, 1).buffer(5),
    "a ring in a ring": shapely.box(-20, -20, 20, 20).difference(ring(15, 12).union(ring(8, 6))),
    "three small ones in one opening": shapely.box(-12, -12, 12, 12) - shapely.box(-9, -6, 9, 6)
    | unary_union([Point(x, y).buffer(1.5) for x, y in ((-5, 0), (0, 1.5), (5.5, -1))]),
    "two halves": shapely.box(-15, -15, 15, 15).difference(ring(10, 7).union(shapely.box(-1, -8, 1, 8))),
    "a square in a round": shapely.box(-15, -15, 15, 15) - Point(0, 0).buffer(11) | shapely.box(-5, -5, 5, 5),
    "a long bar": shapely.box(-35, -10, 35, 10) - shapely.box(-30, -4, 30, 4) | shapely.box(-28, -2, 28, 2),
}


@pytest.mark.parametrize("name", SMALL)
def test_length_is_within_a_tenth_of_the_optimum(name: str) -> None:
    material = SMALL[name]
    stencil = bridged(material, WIDTH)
    assert faults(stencil, material) == []
    assert stencil.bridge_length < 1.1 * optimum(material, 5 * WIDTH) + 1e-6


@pytest.mark.parametrize("character", "A%@g4")
def test_letters_are_within_a_tenth_of_the_optimum(character: str) -> None:
    material = framed(letter(font("dejavu"), character))
    assert bridged(material, WIDTH).bridge_length < 1.1 * optimum(material, 5 * WIDTH, 0.5)


def test_the_optimum_is_known_where_it_is_plain() -> None:
    """Plane geometry: two bridges over a ring of 3 mm, one over a gap of 1 mm, and a wasteful plan is not the least."""
    assert optimum(SMALL["a round island"], 6) == pytest.approx(6, abs=0.02)
    gap = shapely.box(-9, -9, 9, 9) - shapely.box(-4, -4, 4, 4) | shapely.box(-3, -2, 2, 2)
    assert optimum(gap, 6) == pytest.approx(1, abs=1e-6)
    assert max(one.length for one in candidates(gap, pieces_of(gap), 0.25)) > 1.9


def test_the_tree_is_the_least_of_all() -> None:
    """Brute force over all sets of three links between four pieces."""
    from itertools import combinations

    material = SMALL["three small ones in one opening"]
    pieces = pieces_of(material)
    distance = {pair: pieces[pair[0]].distance(pieces[pair[1]]) for pair in combinations(range(4), 2)}

    def spans(links: tuple[tuple[int, int], ...]) -> bool:
        reached = {0}
        for _ in range(4):
            reached |= {end for link in links if reached & set(link) for end in link}
        return len(reached) == 4

    least = min(sum(distance[link] for link in links) for links in combinations(distance, 3) if spans(links))
    assert sum(distance[link] for link in spanning_tree(pieces)) == pytest.approx(least)


def test_bridges_stand_opposite_and_upright() -> None:
    (first, second) = bridged(SMALL["a round island"], WIDTH).bridges
    assert max(abs(bridge.start[0]) for bridge in (first, second)) < 0.3  # the facets of the discs move them a little
    assert bridged(SMALL["a round island"], WIDTH).islands[0].apart == pytest.approx(180, abs=1)


def test_bridges_keep_off_corners_and_cross_edges_squarely() -> None:
    frame = shapely.box(-20, -20, 20, 20) - shapely.box(-9, -7, 9, 7) | shapely.box(-6, -4, 6, 4)
    for bridge in bridged(frame, WIDTH).bridges:
        along = (bridge.end[0] - bridge.start[0], bridge.end[1] - bridge.start[1])
        assert min(abs(along[0]), abs(along[1])) < 1e-9
        assert min(math.dist(bridge.start, corner) for corner in ((6, 4), (-6, 4), (6, -4), (-6, -4))) > 1.5 * WIDTH


def test_islands_that_touch_in_a_point_are_joined_by_the_full_width() -> None:
    frame = shapely.box(-20, -20, 20, 20) - shapely.box(-9, -9, 9, 9)
    material = unary_union([frame, shapely.box(-6, -3, 0, 0), shapely.box(0, 0, 6, 3)])
    stencil = bridged(material, WIDTH)
    assert len(stencil.islands) == 2
    assert faults(stencil, material) == []
    core = stencil.material.buffer(-WIDTH / 2 * 0.99)
    assert len([part for part in shapely.get_parts(core) if part.area > 0.01]) == 1


def test_an_island_thinner_than_a_bridge_is_held() -> None:
    material = shapely.box(-20, -20, 20, 20).difference(ring(10, 8)).difference(ring(7.8, 5))
    stencil = bridged(material, WIDTH)
    assert len(stencil.islands) == 2
    assert faults(stencil, material) == []


def test_a_band_over_the_whole_face_leaves_no_loose_half() -> None:
    material = shapely.box(-20, -10, 20, 10) - shapely.box(-20, -1, 20, 2)
    stencil = bridged(material, WIDTH)
    assert len(stencil.islands) == 1
    assert stencil.material.geom_type == "Polygon"
    assert len(stencil.bridges) == 2


def test_a_planted_fault_is_seen() -> None:
    material = SMALL["a round island"]
    stencil = bridged(material, WIDTH)
    bridge = stencil.bridges[0]
    nick = Point(bridge.start[0] + 0.5, (bridge.start[1] + bridge.end[1]) / 2).buffer(0.2)
    nicked = Stencil(stencil.material.difference(nick), stencil.bridges, stencil.islands, WIDTH)
    assert faults(nicked, material) != []
    assert faults(Stencil(material, (), stencil.islands, WIDTH), material) != []


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.4, 1.5), st.floats(-9, 9), st.floats(-9, 9))
def test_the_choice_moves_with_the_sheet(seed: int, width: float, dx: float, dy: float) -> None:
    material = nested(seed)
    here, there = bridged(material, width), bridged(translate(material, dx, dy), width)
    assert faults(here, material) == []
    assert len(here.bridges) == len(there.bridges)
    assert here.bridge_length == pytest.approx(there.bridge_length, rel=0.05)


def test_no_width_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        bridged(shapely.box(0, 0, 1, 1), 0)
