"""Scales: marks over the true travel, their figures and words, and how they thin out."""

import math
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest
from helpers.jobs import lay
from helpers.runs import run_here
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.load import load_job
from facegraphic.job.model import Control, Finish, Hole, Scale
from facegraphic.layout.dial_marks import MARK_LONG, Ring
from facegraphic.layout.scales import Dial, bearings, dial
from facegraphic.stock.tables import knobs, parts

HOLE = Hole("a", 3.0, -4.0, 7.5)
TENTHS = tuple(float(i) for i in range(11))


@pytest.fixture(scope="module")
def finish(tmp_path_factory: pytest.TempPathFactory) -> Finish:
    job = '[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\n'
    return load_job(lay(tmp_path_factory.mktemp("scales"), job)).finish


def control(scale: Scale | None, part: str = "pot-24", positions: tuple[str, ...] = ()) -> Control:
    return Control("a", "face[0].control[0]", parts()[part], knobs()["round-16"], scale=scale, positions=positions)


def laid(finish: Finish, scale: Scale | None, part: str = "pot-24", positions: tuple[str, ...] = ()) -> Dial:
    return dial(HOLE, control(scale, part, positions), finish, lambda box: True)


def bearing_of(box: Box) -> float:
    x, y = box.centre
    return math.degrees(math.atan2(x - HOLE.x, y - HOLE.y))


def test_eleven_marks_over_300_degrees_stand_30_apart() -> None:
    # Scale marks for 300 degrees: 0 at -150, 10 at +150, one step 30 degrees, straight up 5 (arithmetic).
    turns = bearings(parts()["pot-24"], Scale(TENTHS))
    assert turns == pytest.approx([-150 + 30 * i for i in range(11)])


def test_travels_are_those_of_the_data_sheets() -> None:
    # Potentiometer travel 300 +- 5 degrees (20 mm type), 270 +- 5 degrees (16 mm type): makers' data sheets.
    assert abs(parts()["pot-24"].travel - 300) <= 5
    assert abs(parts()["pot-16"].travel - 270) <= 5


def test_each_line_stands_at_its_bearing(finish: Finish) -> None:
    marks = laid(finish, Scale(TENTHS)).marks
    found = [bearing_of(mark.path.bounds) for mark in marks]
    assert found == pytest.approx([-150 + 30 * i for i in range(11)], abs=0.5)


def test_listed_values_stand_at_their_share_of_the_way(finish: Finish) -> None:
    scale = Scale((0.0, 2.0, 5.0, 10.0))
    assert bearings(parts()["pot-24"], scale) == pytest.approx([-150, -90, 0, 150])
    assert [legend.text for legend in laid(finish, scale).legends] == ["0", "2", "5", "10"]


def test_rotary_positions_stand_at_the_parts_step_round_the_top(finish: Finish) -> None:
    shown = laid(finish, None, "rotary-switch", ("A", "B", "C", "D"))
    assert [bearing_of(mark.path.bounds) for mark in shown.marks] == pytest.approx([-45, -15, 15, 45], abs=0.5)
    assert [legend.text for legend in shown.legends] == ["A", "B", "C", "D"]


def test_words_move_outwards_until_clear_of_each_other(finish: Finish) -> None:
    shown = laid(finish, None, "rotary-switch", ("ROTOR", "CHORUS", "VIBRATO", "TREM", "PHASE"))
    areas = [region(legend.path) for legend in shown.legends]
    assert min(a.distance(b) for i, a in enumerate(areas) for b in areas[:i]) > 0.5


def test_words_that_cannot_be_parted_are_an_error(tmp_path: Path) -> None:
    words = "positions = [" + ", ".join(f'"EXTRAORDINARY {i}"' for i in range(9)) + "]"
    job = SCALE_JOB.format(scale="{}").replace("scale = {}", words).replace("pot-16", "rotary-switch")
    ran = run_here("make", lay(tmp_path, job))
    assert ran.status == 1
    assert 'the position "EXTRAORDINARY' in ran.err


@pytest.mark.parametrize("style", ["lines", "dots", "growing-dots", "wedge", "band"])
def test_marks_clear_the_knob_and_keep_to_their_ring(finish: Finish, style: str) -> None:
    knob = disc_region(HOLE.x, HOLE.y, 16.0)
    reach = disc_region(HOLE.x, HOLE.y, 2 * (8.0 + 0.9 + MARK_LONG) + 0.2)
    marks = laid(finish, Scale(TENTHS, style=style)).marks  # type: ignore[arg-type]
    assert len(marks) == (1 if style in ("wedge", "band") else 11)
    for mark in marks:
        area = region(mark.path)
        assert area.is_valid
        assert area.distance(knob) > 0.3
        assert reach.contains(area)


def test_a_wedge_grows_and_dots_grow(finish: Finish) -> None:
    dots = [region(mark.path).area for mark in laid(finish, Scale(TENTHS, style="growing-dots")).marks]
    assert all(b > a for a, b in pairwise(dots))
    wedge = region(laid(finish, Scale(TENTHS, style="wedge")).marks[0].path)
    left = wedge.intersection(disc_region(HOLE.x, HOLE.y, 60).intersection(box_left(HOLE)))
    assert left.area < 0.5 * wedge.area


def box_left(hole: Hole) -> object:
    import shapely

    return shapely.box(hole.x - 40, hole.y - 40, hole.x, hole.y + 40)


def test_a_band_has_the_area_of_its_ring_sector() -> None:
    # Plane geometry: a sector of an annulus has half the angle times the difference of the squared radii.
    ring = Ring((0.0, 0.0), 10.0, 0.1, 0.1)
    band = region(ring.wedge(-135, 135, (0.7, 0.7)), flatness=0.0005)
    assert band.area == pytest.approx(math.radians(270) / 2 * (10.7**2 - 10**2), rel=1e-3)


@given(r0=st.floats(3, 30), grow=st.floats(0, 3), sweep=st.floats(20, 340))
def test_the_wedges_edge_follows_its_spiral(r0: float, grow: float, sweep: float) -> None:
    ring = Ring((0.0, 0.0), r0, 0.1, 0.1)
    points = []
    start = ring.at(r0, -sweep / 2)
    from facegraphic.geometry.path import Path as Outline

    for x, y in Outline((("M", *start), *ring.curve(-sweep / 2, sweep / 2, r0, r0 + grow), ("Z",))).rings()[0]:
        share = (math.degrees(math.atan2(x, y)) + sweep / 2) / sweep
        points.append(abs(math.hypot(x, y) - (r0 + grow * share)))
    assert max(points) < 0.01


def test_a_detent_gets_a_mark_of_its_own(finish: Finish) -> None:
    plain = laid(finish, Scale(TENTHS)).marks
    marked = laid(finish, Scale(TENTHS, detent=5.0)).marks
    assert len(marked) == len(plain) + 1
    assert bearing_of(marked[-1].path.bounds) == pytest.approx(0, abs=0.1)


def test_radial_figures_turn_with_their_marks(finish: Finish) -> None:
    legends = laid(finish, Scale(TENTHS, numerals="radial")).legends
    assert [legend.angle for legend in legends] == pytest.approx([150 - 30 * i for i in range(11)])


def test_figures_thin_out_before_they_touch(finish: Finish) -> None:
    shown = laid(finish, Scale(tuple(float(i) for i in range(101))))
    boxes = [legend.box for legend in shown.legends]
    assert 2 <= len(boxes) < 101
    assert shown.legends[0].text == "0"
    assert shown.legends[-1].text == "100"
    areas = [region(legend.path) for legend in shown.legends]
    assert min(a.distance(b) for a, b in pairwise(areas)) > 0.5


@pytest.mark.parametrize("gap", [0.1, 0.25, 0.6])
def test_marks_thin_out_to_what_the_process_holds_apart(finish: Finish, gap: float) -> None:
    film = replace(finish.film, gap=gap)
    shown = laid(replace(finish, film=film), Scale(tuple(float(i) for i in range(121))))
    areas = [region(mark.path) for mark in shown.marks]
    assert len(areas) >= 2
    assert min(a.distance(b) for a, b in pairwise(areas)) >= gap - 1e-6


def test_figures_without_room_are_left_out_and_said(finish: Finish) -> None:
    shown = dial(HOLE, control(Scale(TENTHS)), finish, lambda box: False)
    assert shown.thinned
    assert shown.legends == ()
    assert len(shown.marks) == 11


SCALE_JOB = """\
[box]
stock = "120x94x34"
[[face]]
side = "top"
hole = [{{ id = "a", at = [0, 0], d = 7.5 }}]
[[face.control]]
hole = "a"
part = "pot-16"
scale = {scale}
"""


@pytest.mark.parametrize(
    ("scale", "told"),
    [
        ("{ from = 0, to = 10, step = 3 }", "makes no scale"),
        ("{ from = 5, to = 5 }", "makes no scale"),
        ("{ values = [0, 2, 1] }", "must rise, or fall"),
        ("{ values = [1] }", "a list of 2 to"),
        ('{ words = ["ONE"] }', "at least two"),
        ("{ detent = 11 }", "not on the scale"),
        ('{ numerals = "sideways" }', '"radial"'),
        ('{ style = "wegde" }', 'did you mean "wedge"?'),
        ("{ from = nan }", "finite"),
    ],
)
def test_bad_scales_are_told(tmp_path: Path, scale: str, told: str) -> None:
    ran = run_here("make", lay(tmp_path, SCALE_JOB.format(scale=scale)))
    assert ran.status == 1
    assert told in ran.err
    assert "job.toml:9" in ran.err


@pytest.mark.parametrize(
    ("part", "lines", "told"),
    [
        ("encoder-12", "scale = { from = 0, to = 10 }", "no ends to stand between"),
        ("encoder-12", f"positions = {['A'] * 25}", "has 24 positions"),
        ("rotary-switch", f"positions = {['A'] * 13}", "has 12 positions"),
        ("rotary-switch", f"scale = {{ words = {['A'] * 13} }}", "has 12 positions"),
        ("rotary-switch", 'positions = ["A", "B"]\nscale = { from = 0, to = 10 }', "both positions and a scale"),
        ("pot-16", 'scale = { words = ["A", "B"], values = [0, 1] }', "both words and values"),
        ("pot-16", "scale = { values = [0, 1], to = 5 }", "both values and from"),
    ],
)
def test_contradictions_and_too_many_positions_are_told(tmp_path: Path, part: str, lines: str, told: str) -> None:
    job = SCALE_JOB.format(scale="{}").replace("scale = {}", lines).replace("pot-16", part)
    ran = run_here("make", lay(tmp_path, job))
    assert ran.status == 1
    assert told in ran.err


def test_twelve_positions_round_a_rotary_switch() -> None:
    # 360/12 degrees a step (arithmetic): eleven steps are the part's 330 degrees of travel.
    assert parts()["rotary-switch"].detents == 12
    assert parts()["pot-16"].detents == 0


@pytest.mark.parametrize("style", ["lines", "dots", "growing-dots", "wedge", "band"])
def test_the_mark_at_a_detent_stands_clear_of_the_others(finish: Finish, style: str) -> None:
    *others, mark = (region(m.path) for m in laid(finish, Scale(TENTHS, style=style, detent=10.0)).marks)  # type: ignore[arg-type]
    assert min(other.distance(mark) for other in others) >= max(0.25, finish.film.gap) - 1e-6


@pytest.mark.parametrize("texts", [("0", "10"), ("−5", "5"), ("LO", "HIGH"), ("Lag", "Ace")])
def test_figures_that_face_each_other_share_a_baseline(finish: Finish, texts: tuple[str, str]) -> None:
    scale = (
        Scale((0.0, 1.0), words=texts)
        if texts[0].isalpha()
        else Scale((float(texts[0].replace("−", "-")), float(texts[1])))
    )
    first, last = (legend.block.body for legend in laid(finish, scale).legends)
    assert first.y0 == pytest.approx(last.y0, abs=1e-9)


@pytest.mark.parametrize("scale", ["{ from = 10, to = 0 }", "{ values = [10, 5, 0] }"])
def test_a_scale_may_fall(tmp_path: Path, scale: str) -> None:
    face = load_job(lay(tmp_path, SCALE_JOB.format(scale=scale))).faces[0]
    found = face.controls[0].scale
    assert found is not None
    assert (found.figures[0], found.figures[-1]) == (10, 0)
    assert found.shares == pytest.approx([i / (len(found.figures) - 1) for i in range(len(found.figures))])


def test_one_position_has_one_mark_straight_up(finish: Finish) -> None:
    shown = laid(finish, None, "rotary-switch", ("A",))
    assert [bearing_of(mark.path.bounds) for mark in shown.marks] == pytest.approx([0], abs=0.1)


def test_figures_on_a_rotary_switch_stand_at_its_step(finish: Finish) -> None:
    shown = laid(finish, Scale((1.0, 2.0, 3.0, 4.0, 5.0)), "rotary-switch")
    step = parts()["rotary-switch"].step
    assert [bearing_of(mark.path.bounds) for mark in shown.marks] == pytest.approx(
        [step * (i - 2) for i in range(5)], abs=0.5
    )


def test_uneven_figures_lose_only_those_that_crowd(finish: Finish) -> None:
    values = (*(float(i) for i in range(10)), 9.5, 9.6, 9.7, 10.0)
    texts = [legend.text for legend in laid(finish, Scale(values)).legends]
    assert texts[0] == "0"
    assert texts[-1] == "10"
    assert len(texts) >= 9


@pytest.mark.parametrize("last", [47, 97])
def test_a_prime_count_of_steps_keeps_more_than_its_ends(finish: Finish, last: int) -> None:
    texts = [legend.text for legend in laid(finish, Scale(tuple(float(i) for i in range(last + 1)))).legends]
    assert (texts[0], texts[-1]) == ("0", str(last))
    assert len(texts) > 4
    steps = {int(b) - int(a) for a, b in pairwise(texts[:-1])}
    assert len(steps) == 1


def test_words_keep_a_gap_and_stand_near_their_marks(finish: Finish) -> None:
    words = ("D", "warm", "HELL", "mid", "Z", "REVERSE", "HALL")
    shown = laid(finish, None, "rotary-switch", words)
    boxes = [legend.box for legend in shown.legends]
    cap = shown.legends[0].block.cap
    for i, a in enumerate(boxes):
        for b in boxes[:i]:
            assert max(a.x0 - b.x1, b.x0 - a.x1, a.y0 - b.y1, b.y0 - a.y1) >= 0.5 * cap
    for legend, mark in zip(shown.legends, shown.marks, strict=True):
        assert region(legend.path).distance(region(mark.path)) < 3.0


def test_words_all_round_do_not_meet_where_the_ring_closes(finish: Finish) -> None:
    shown = laid(finish, None, "rotary-switch", tuple(f"MODE {i}" for i in range(12)))
    areas = [region(legend.path) for legend in shown.legends]
    assert min(a.distance(b) for i, a in enumerate(areas) for b in areas[:i]) > 0.5
