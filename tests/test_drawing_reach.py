"""How far arcs reach, beside svgelements, and what lies in an area, beside a count by the angles of its sides."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from svgelements import Path as SvgPath

from facegraphic.geometry.regions import filled
from facegraphic.job.drawing_weight import outline
from facegraphic.job.drawings import ET

FIGURE = st.floats(-30, 30).map(lambda figure: round(figure, 2))
RADIUS = st.floats(0.01, 200).map(lambda figure: round(figure, 2))


@settings(max_examples=300, deadline=None)
@given(RADIUS, RADIUS, st.integers(-90, 180), st.booleans(), st.booleans(), FIGURE, FIGURE)
def test_an_arc_lies_in_its_box(rx: float, ry: float, turn: int, large: bool, sweep: bool, x: float, y: float) -> None:
    """svgelements draws arcs by SVG 1.1, F.6, with radii that grow where they are too short (F.6.6)."""
    data = f"M1 2A{rx} {ry} {turn} {large:d} {sweep:d} {x} {y}"
    ((left, top, right, bottom),) = outline(ET.Element("path", d=data)).segments
    slack = 1e-6 * max(1.0, right - left, bottom - top)
    for point in SvgPath(data).npoint(np.linspace(0, 1, 60)) if (x, y) != (1, 2) else ():
        assert left - slack <= point[0] <= right + slack
        assert top - slack <= point[1] <= bottom + slack


@pytest.mark.parametrize("radii", ["1e-9 3", "1e20 3", "4 3e9"])
def test_arcs_of_unlike_radii_reach_far(radii: str) -> None:
    (box,) = outline(ET.Element("path", d=f"M1 1a{radii} 20 0 1 5 5")).segments
    assert math.hypot(box[2] - box[0], box[3] - box[1]) > 1e6


def runs_round(ring: list[tuple[float, float]], x: float, y: float) -> int:
    """How often a ring runs round a point, by the angles under which its sides are seen from there."""
    turned = 0.0
    for (x0, y0), (x1, y1) in zip(ring, [*ring[1:], ring[0]], strict=True):
        step = math.atan2(y1 - y, x1 - x) - math.atan2(y0 - y, x0 - x)
        turned += (step + math.pi) % (2 * math.pi) - math.pi
    return round(turned / (2 * math.pi))


RINGS = st.lists(st.lists(st.tuples(FIGURE, FIGURE), min_size=3, max_size=7, unique=True), min_size=1, max_size=3)


@settings(max_examples=150, deadline=None)
@given(RINGS, st.sampled_from(["nonzero", "evenodd"]))
def test_an_area_is_what_its_rings_run_round(rings: list[list[tuple[float, float]]], rule: str) -> None:
    area = filled(rings, rule)
    for x, y in np.random.default_rng(3).uniform(-31, 31, (60, 2)).tolist():
        sides = shapely.multilinestrings([shapely.LinearRing(ring) for ring in rings])
        if shapely.distance(sides, shapely.Point(x, y)) < 1e-6:
            continue
        turns = sum(runs_round(ring, x, y) for ring in rings)
        inside = turns % 2 == 1 if rule == "evenodd" else turns != 0
        assert shapely.contains_xy(area, x, y) == inside
