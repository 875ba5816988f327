"""Text on an arc: on its circle, by true arc length, letters upright outwards and clear of each other."""

import math
from itertools import pairwise
from pathlib import Path

import pytest
from helpers.jobs import lay
from helpers.runs import run_here
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.geometry.regions import region
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, arc_frames, set_arc, set_block
from facegraphic.pipeline.preparing import prepare

FONT = load_named("tagstrip-regular")
MICRON = 0.001
WORDS = st.sampled_from(["RATE", "LEVEL", "AVATAR", "Depth", "TO", "MIX & MATCH", "0 TO 10"])
SIDES = st.booleans()
HEAD = """[box]
stock = "120x94x34"
[[face]]
side = "top"
hole = [{ id = "rate", at = [0, 0], d = 7.5 }]
[[face.control]]
"""


def places(text: str, style: Style, radius: float, bearing: float, under: bool) -> list[tuple[float, float]]:
    """Each glyph's distance from the centre and its bearing in radians, unwrapped along the text."""
    found: list[tuple[float, float]] = []
    for frame in arc_frames(text, style, radius, bearing, under):
        x, y = frame[4], frame[5]
        turn = math.atan2(x, y)
        if found:
            turn += math.tau * round((found[-1][1] - turn) / math.tau)
        found.append((math.hypot(x, y), turn))
    return found


@given(text=WORDS, cap=st.floats(1.5, 6), radius=st.floats(8, 60), bearing=st.floats(-180, 180), under=SIDES)
def test_every_glyph_stands_on_the_circle(text: str, cap: float, radius: float, bearing: float, under: bool) -> None:
    baseline = radius + cap if under else radius
    for distance, _ in places(text, Style(FONT, cap), radius, bearing, under):
        assert abs(distance - baseline) < MICRON


@given(text=WORDS, cap=st.floats(1.5, 6), radius=st.floats(10, 60), bearing=st.floats(-180, 180), under=SIDES)
def test_advances_along_the_arc_are_the_straight_ones(
    text: str, cap: float, radius: float, bearing: float, under: bool
) -> None:
    """Straight distances are HarfBuzz's own advances, kerning included."""
    style = Style(FONT, cap)
    turns = [turn for _, turn in places(text, style, radius, bearing, under)]
    way = -1 if under else 1
    kerns = [FONT.scale(cap)[0] * glyph.advance for glyph in FONT.shape(text)]
    straight = [sum(kerns[:i]) + kerns[i] / 2 for i in range(len(kerns))]
    for (a, b), (c, d) in zip(pairwise(turns), pairwise(straight), strict=True):
        assert abs(way * (b - a) * radius - (d - c)) < MICRON


@given(bearing=st.floats(-170, 170), under=SIDES)
def test_the_text_is_centred_on_its_bearing(bearing: float, under: bool) -> None:
    turns = [turn for _, turn in places("OXO", Style(FONT, 3), 20, bearing, under)]
    assert math.degrees((turns[0] + turns[-1]) / 2) == pytest.approx(bearing, abs=0.1)


def test_over_reads_clockwise_and_under_anticlockwise() -> None:
    over = [turn for _, turn in places("RATE", Style(FONT, 3), 15, 0, False)]
    under = [turn for _, turn in places("RATE", Style(FONT, 3), 15, 180, True)]
    assert over == sorted(over)
    assert under == sorted(under, reverse=True)


@pytest.mark.parametrize(("bearing", "under"), [(0.0, False), (180.0, True)])
def test_letters_are_upright_at_the_middle(bearing: float, under: bool) -> None:
    frame = arc_frames("I", Style(FONT, 3), 15, bearing, under)[0]
    assert tuple(frame[:4]) == pytest.approx((1, 0, 0, 1), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    text=st.sampled_from(["HHHH", "RATE", "AVATAR", "MIX", "UNDER", "VOLUME"]),
    cap=st.floats(1.5, 4),
    radius=st.floats(7, 40),
    under=SIDES,
)
def test_inner_corners_never_collide(text: str, cap: float, radius: float, under: bool) -> None:
    """Neighbours keep at least half of the distance they have on a straight line."""
    style = Style(FONT, cap)
    straight, bent = closest(text, style, None), closest(text, style, (radius, under))
    assert bent > 0.5 * straight


def closest(text: str, style: Style, arc: tuple[float, bool] | None) -> float:
    """The least distance between neighbouring letters, set straight or on an arc (radius, under)."""
    letters = []
    for i, letter in enumerate(text):
        if arc is None:
            x = sum(FONT.scale(style.cap)[0] * glyph.advance for glyph in FONT.shape(text)[:i])
            block = set_block(letter, style)
            bearing_left = FONT.outline(FONT.shape(letter)[0].index).bounds.x0 * FONT.scale(style.cap)[0]
            letters.append(region(block.path.moved(x + bearing_left - block.ink.x0, 0)))
        else:
            radius, under = arc
            frame = arc_frames(text, style, radius, 180.0 if under else 0.0, under)[i]
            outline = FONT.outline(FONT.shape(letter)[0].index).transformed(FONT.scale(style.cap))
            half = FONT.shape(text)[i].advance * FONT.scale(style.cap)[0] / 2
            letters.append(region(outline.transformed(frame.translate(-half, 0))))
    return float(min(a.distance(b) for a, b in pairwise(letters)))


def test_the_arcs_outline_is_what_its_frames_say() -> None:
    style = Style(FONT, 3)
    whole = set_arc("I", style, 15.0)
    assert whole.path.bounds.y0 == pytest.approx(15.0, abs=0.01)
    assert whole.path.bounds.y1 == pytest.approx(18.0, abs=0.01)
    below = set_arc("I", style, 15.0, 180.0, under=True)
    assert below.path.bounds.y1 == pytest.approx(-15.0, abs=0.01)


@pytest.mark.parametrize(("place", "bearing"), [("around", 40), ("under", 150), ("around", -75)])
def test_a_job_may_centre_its_arc_anywhere(tmp_path: Path, place: str, bearing: float) -> None:
    control = f'hole = "rate"\npart = "pot-16"\nlabel = "MIX"\nplace = "{place}"\nbearing = {bearing}\n'
    layout = prepare(lay(tmp_path, HEAD + control)).layouts[0]
    box = next(legend for legend in layout.legends if legend.text == "MIX").box
    hole = layout.face.hole("rate")
    x, y = box.centre
    found = math.degrees(math.atan2(x - hole.x, y - hole.y))
    assert (found - bearing + 180) % 360 - 180 == pytest.approx(0, abs=3)


def test_a_bearing_without_an_arc_is_told(tmp_path: Path) -> None:
    ran = run_here("check", lay(tmp_path, HEAD + 'hole = "rate"\nlabel = "MIX"\nplace = "below"\nbearing = 40\n'))
    assert ran.status == 1
    assert 'it is for place = "around" or "under"' in ran.err
