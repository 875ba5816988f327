"""Packing: against another library's best, against counting, and by plain geometry."""

import itertools
import math
import random

import pytest
import rectpack
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.film.packing import Layout, Rect, Size, Stack, pack, strip, without

A4 = Rect(0, 0, 194, 260)  # what is left of an A4 sheet beside edges and note
# Faces of die-cast boxes with bleed, ticks and caption (box sizes: stock table).
FACES = ((69, 123), (75, 132), (103, 130), (129, 199), (47, 104), (69, 42), (121, 42), (128, 44), (103, 44))


def gang(seed: int) -> list[Size]:
    """Faces of a few boxes in several copies, or anything that fits."""
    luck = random.Random(seed)
    count = luck.randint(3, 30)
    if seed % 2:
        kinds = [luck.choice(FACES) for _ in range(luck.randint(1, 6))]
        return [luck.choice(kinds) for _ in range(count)]
    return [(luck.randint(30, 130), luck.randint(30, 190)) for _ in range(count)]


def library_best(sizes: list[Size]) -> int:
    """The fewest bins of all of rectpack's algorithms, ways to choose a bin and orders."""
    shelves = [getattr(rectpack, name) for name in dir(rectpack) if name.startswith(("MaxRects", "Skyline", "Guill"))]
    orders = [getattr(rectpack, name) for name in dir(rectpack) if name.startswith("SORT_")]
    choices = [rectpack.PackingBin.BNF, rectpack.PackingBin.BFF, rectpack.PackingBin.BBF, rectpack.PackingBin.Global]
    fewest = len(sizes) + 1
    for choice, shelf in itertools.product(choices, shelves):
        for order in orders if choice != rectpack.PackingBin.Global else orders[:1]:
            words = {} if choice == rectpack.PackingBin.Global else {"sort_algo": order}
            packer = rectpack.newPacker(rectpack.PackingMode.Offline, choice, shelf, rotation=True, **words)
            for size in sizes:
                packer.add_rect(*size)
            packer.add_bin(A4.w, A4.h, count=len(sizes))
            packer.pack()
            if len(packer.rect_list()) == len(sizes):
                fewest = min(fewest, len(packer))
    return fewest


def check(layout: Layout | None, sizes: list[Size], free: list[shapely.Geometry], turn: bool = True) -> None:
    """Every piece once, in its size, inside what is free of its sheet, and over no other (shapely)."""
    assert layout is not None
    assert sorted(spot.number for sheet in layout for spot in sheet) == list(range(len(sizes)))
    for number, sheet in enumerate(layout):
        shapes = [shapely.box(r.x, r.y, r.x + r.w, r.y + r.h) for r in (spot.rect for spot in sheet)]
        for spot in sheet:
            w, h = sizes[spot.number]
            assert (spot.rect.w, spot.rect.h) == ((h, w) if spot.turned else (w, h))
            assert turn or not spot.turned
        room = free[min(number, len(free) - 1)].buffer(1e-6, join_style="mitre")
        assert all(room.contains(shape) for shape in shapes)
        assert sum(shape.area for shape in shapes) == pytest.approx(float(shapely.union_all(shapes).area), abs=1e-6)


@pytest.mark.parametrize("seed", range(30))
def test_never_more_sheets_than_the_best_of_a_library(seed: int) -> None:
    """rectpack 0.2, every algorithm it has; no sheet count can lie below the area's."""
    sizes = gang(seed)
    layout = pack(sizes, Stack((A4,)))
    check(layout, sizes, [shapely.box(0, 0, A4.w, A4.h)])
    assert layout is not None
    least = math.ceil(sum(w * h for w, h in sizes) / (A4.w * A4.h))
    assert least <= len(layout) <= library_best(sizes)


def test_the_checker_sees_overlap_and_what_sticks_out() -> None:
    sizes = [(100.0, 100.0), (90.0, 100.0)]
    room = [shapely.box(0, 0, 194, 260)]
    layout = pack(sizes, Stack((A4,)), turn=False)
    check(layout, sizes, room)
    assert layout is not None
    for wrong in (layout[0][0].rect._replace(x=50), layout[0][0].rect._replace(x=95)):
        moved = [[layout[0][1], layout[0][0]._replace(rect=wrong)]]
        with pytest.raises(AssertionError):
            check(moved, sizes, room)


boxes = st.tuples(st.integers(10, 190), st.integers(10, 190))


@settings(deadline=None, max_examples=60)
@given(
    st.lists(boxes, max_size=12),
    st.lists(st.tuples(st.integers(0, 180), st.integers(0, 250), st.integers(5, 190), st.integers(5, 200)), max_size=4),
    st.booleans(),
)
def test_started_sheets_are_kept_clear(sizes: list[Size], used: list[tuple[int, int, int, int]], turn: bool) -> None:
    free = [A4]
    for region in used:
        free = without(free, Rect(*region))
    taken = shapely.union_all([shapely.box(x, y, x + w, y + h) for x, y, w, h in used])
    whole = shapely.box(0, 0, A4.w, A4.h)
    layout = pack(sizes, Stack((A4,), tuple(free)), turn)
    check(layout, sizes, [whole.difference(taken), whole], turn)


@given(st.lists(st.tuples(*[st.integers(0, 60)] * 2, *[st.integers(1, 60)] * 2), max_size=5))
def test_free_rectangles_cover_just_what_is_free(taken: list[tuple[int, int, int, int]]) -> None:
    """Together they are the sheet without what is taken (shapely), and none lies in another."""
    free = [Rect(0, 0, 100, 80)]
    for region in taken:
        free = without(free, Rect(*region))
    left = shapely.box(0, 0, 100, 80).difference(
        shapely.union_all([shapely.box(x, y, x + w, y + h) for x, y, w, h in taken])
    )
    covered = shapely.union_all([shapely.box(r.x, r.y, r.x + r.w, r.y + r.h) for r in free])
    assert float(covered.symmetric_difference(left).area) == pytest.approx(0, abs=1e-9)
    assert not any(one.holds(other) for one, other in itertools.permutations(free, 2))


def test_alike_pieces_fill_alike_sheets() -> None:
    """Arithmetic: of 95 x 125 mm, 2 x 2 fit on 194 x 260, no turning gives more (area for 4.2); 12 make 3 sheets."""
    sizes = [(95.0, 125.0)] * 12
    layout = pack(sizes, Stack((A4,)))
    assert layout is not None
    assert [len(sheet) for sheet in layout] == [4, 4, 4]
    assert len({tuple((spot.rect, spot.turned) for spot in sheet) for sheet in layout}) == 1


def test_the_strip_is_as_short_as_can_be() -> None:
    """By hand: three of 60 x 120 stand side by side in 120 mm; turned, three in a stack would take 180."""
    [sheet] = pack([(60.0, 120.0)] * 3, Stack((A4,))) or [[]]
    assert strip(sheet) == 120
    [sheet] = pack([(60.0, 190.0)], Stack((A4,))) or [[]]  # alone it lies across
    assert (strip(sheet), sheet[0].turned) == (60, True)
    [sheet] = pack([(60.0, 190.0)], Stack((A4,)), turn=False) or [[]]
    assert (strip(sheet), sheet[0].turned) == (190, False)


def test_a_piece_that_fits_nowhere_is_told() -> None:
    assert pack([(10.0, 10.0), (195.0, 195.0)], Stack((A4,))) is None
    assert pack([(250.0, 100.0)], Stack((A4,)), turn=False) is None
    assert pack([(250.0, 100.0)], Stack((A4,)), turn=True) is not None
    assert pack([], Stack((A4,))) is not None


def test_five_hundred_copies_are_packed() -> None:
    sizes = [FACES[0]] * 500 + [FACES[5]] * 500
    layout = pack(sizes, Stack((A4,)))
    check(layout, sizes, [shapely.box(0, 0, A4.w, A4.h)])
    assert layout is not None
    least = math.ceil(sum(w * h for w, h in sizes) / (A4.w * A4.h))
    assert least <= len(layout) <= 1.25 * least
    assert len({tuple((spot.rect, spot.turned) for spot in sheet) for sheet in layout}) <= 6
