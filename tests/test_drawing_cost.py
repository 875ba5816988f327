"""A drawing is weighed by what is painted of it, whatever way that is written; and what is kept for later has bounds.

Units, percentages, viewports and the cascade are SVG 1.1's and CSS 2.1's; CairoSVG reads them.
"""

import math

import cairocffi
import numpy as np
import pytest
from helpers.jobs import svg
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from facegraphic.errors import UserError
from facegraphic.job.drawings import read_drawing
from facegraphic.job.drawn import MOST_WORK, Spot, Work
from facegraphic.output.cairo_paths import area_of, stretch, turned_round
from facegraphic.output.drawing_cost import Cost, counting
from facegraphic.output.drawings import recording, work_of
from facegraphic.output.recent import Recent
from facegraphic.stock.limits import step

WHOLE = Spot()
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 1000" width="1000" height="1000">'
GLOW = '<radialGradient id="g"><stop stop-color="#fff"/><stop offset="1" stop-color="#04f"/></radialGradient>'
FULL = '<rect width="1000" height="1000" fill="url(#g)"/>'
WAYS = {
    "as it is": FULL,
    "inches": '<rect width="20in" height="20in" fill="url(#g)"/>',
    "sizes of letters": '<rect font-size="1000px" width="1em" height="1em" fill="url(#g)"/>',
    "a wide stroke": '<path d="M0 400L1000 600" stroke="url(#g)" stroke-width="15in" fill="none"/>',
    "a share of an inner drawing": '<svg viewBox="0 0 9 9"><rect width="100%" height="100%" fill="url(#g)"/></svg>',
    "about a place": '<rect width="2000" height="2000" transform-origin="5 5" transform="scale(9)" fill="url(#g)"/>',
    "scaled": '<rect width="1" height="1" transform="scale(2000)" fill="url(#g)"/>',
    "scaled to fit": '<svg viewBox="0 0 10 1000"><rect x="-9999" width="19999" height="1000" fill="url(#g)"/></svg>',
    "an important fill": '<rect class="i" width="1000" height="1000" fill="none"/>',
    "the last rule": '<rect class="z y" width="1000" height="1000"/>',
    "both classes": '<rect class="z k" width="1000" height="1000"/>',
    "another medium": '<rect class="m" width="1000" height="1000" fill="url(#g)"/>',
    "a wider use": '<use href="#s" width="1000" height="1000"/>',
    "in a marker": '<path d="M500 500L501 501" marker-start="url(#m)" fill="none"/>',
}
STYLE = (
    "<style>.i{fill:url(#g) !important}.y{fill:none}.z{fill:url(#g)}.k.q{fill:none}@media print{.m{fill:none}}</style>"
)
DEFS = (
    f'<defs>{GLOW}<symbol id="s" viewBox="0 0 9 9" width="1" height="1"><rect width="9" height="9" fill="url(#g)"/>'
    '</symbol><marker id="m" markerUnits="userSpaceOnUse" markerWidth="3000" markerHeight="3000" overflow="visible">'
    '<g fill="url(#g)"><path d="M-1000-1000H1000V1000H-1000z"/></g></marker></defs>'
)


def work(body: str, head: str = HEAD, spot: Spot = WHOLE) -> Work:
    return work_of(read_drawing(svg(STYLE + DEFS + body, head)), spot)


def cost(body: str) -> int:
    return work(body).whole


@pytest.mark.parametrize("way", WAYS)
def test_paint_weighs_the_same_in_whatever_way_it_is_written(way: str) -> None:
    """A page of a gradient costs 6000 steps; each way paints a page of it, or twenty of them more than is taken."""
    once = cost(WAYS[way]) - cost("")
    assert 5500 < once < 7500, once
    many = work(WAYS[way] * 90)
    assert many.whole > MOST_WORK
    assert many.most == "painted area"


PLAIN = FULL.replace("url(#g)", "#123")
STAR = "M" + "L".join(f"{x * 619 % 1000} {x * 337 % 1000}" for x in range(900))
CLIP = '<clipPath id="c">{}</clipPath><g clip-path="url(#c)">{}</g>'
DOTS = "".join(f"M{500 + i % 9} {500 + i // 9}h0" for i in range(60))
REPEATED = '<linearGradient id="l" x2=".01" spreadMethod="{}">' + '<stop/><stop offset="1"/>' * 30 + "</linearGradient>"
ROUND = '<path d="{}" fill="none" stroke="#000" stroke-width="600" stroke-linecap="{}"/>'
HEAVY = {
    "a clip of many points": (CLIP.format(f'<path d="M0 0{"L900 5 9 800" * 700}"/>', PLAIN * 700), "clip paths"),
    "clips in clips": (
        '<g clip-path="url(#r)">' * 20 + PLAIN * 400 + "</g>" * 20
        + '<clipPath id="r"><circle cx="500" cy="500" r="499"/></clipPath>', "clip paths"),
    "a clip that crosses itself": (CLIP.format(f'<path d="{STAR}"/>', PLAIN * 300), "clip paths"),
    "shapes of a clip that cross": (
        CLIP.format("".join(f'<path d="M0 {i}L999 {900 - i}v.1z"/>' for i in range(800)), PLAIN * 200), "clip paths"),
    "curves of a clip": (
        CLIP.format(f'<path d="M0 0{"c1 0 1 1 0 1" * 9000}"/>', '<path d="M0 5h1v1z"/>' * 200), "clip paths"),
    "stops": (
        f'<linearGradient id="l" x2="1" y2="1">{"<stop/>" * 8000}</linearGradient>'
        + '<rect width="1000" height="1000" fill="url(#l)"/>', "painted area"),
    "stops again and again": (REPEATED.format("reflect") + FULL.replace("#g", "#l") * 60, "painted area"),
    "curves": ('<path d="M0 0C900 900 0 900 999 0" stroke="#000" fill="none"/>' * 9000, "long lines"),
    "curves far outside": ('<path d="M0 0C9000000 0 0 9000000 999 0" stroke="#000" fill="none"/>' * 3000, "long lines"),
    "dashes": (
        '<path d="M0 0H999" stroke="#000" stroke-width="50" stroke-dasharray=".25" stroke-linecap="round"/>' * 40,
        "dashes"),
    "a colour": (PLAIN * 2000, "painted area"),
    "curves whose triangles are flat": ('<path fill="url(#g)" d="M0 0C9999 0 0 0 0 9999"/>' * 90, "painted area"),
    "caps": (ROUND.format("M500 500h0", "round").replace("600", "3000") * 2000, "painted area"),
    "tips": (
        '<path d="M-600 490L-500 500L-600 510" fill="none" stroke="url(#g)" stroke-width="900"'
        ' stroke-miterlimit="9999"/>' * 90, "painted area"),
    "short pieces of a wide stroke": (
        f'<path d="M0 500{"l.01 9l.01-9" * 4000}" fill="none" stroke="#000" stroke-width="600"/>',
        "strokes that overlap"),
    "round caps": (ROUND.format(DOTS, "round") * 700, "strokes that overlap"),
    "groups": ('<g opacity=".5"><circle r="1"/>' * 60 + "</g>" * 60, "groups with an opacity"),
    "groups in groups": ('<g opacity=".9">' * 20 + FULL * 30 + "</g>" * 20, "painted area"),
}  # fmt: skip


@pytest.mark.parametrize("name", HEAVY)
def test_what_costs_most_is_named(name: str) -> None:
    body, most = HEAVY[name]
    try:
        found = work(body)
    except UserError as error:
        assert f"most of it by its {most}" in str(error)
    else:
        assert found.whole > MOST_WORK
        assert found.most == most


def test_what_is_light_beside_it_is_taken() -> None:
    """Of the same kinds, what a person draws: each comes to a part of what is taken."""
    apart = "".join(f"M{i % 9 * 99} {i // 9 * 99}h0" for i in range(60))
    for body in (
        CLIP.format(f'<path d="{STAR}"/>', PLAIN * 9),
        REPEATED.format("pad") + FULL.replace("#g", "#l") * 60,
        ROUND.format(apart, "round").replace("600", "20") * 300,
        '<g opacity=".5"><circle r="1"/><circle cx="9" r="1"/></g>' * 260,
    ):
        assert work(body).whole < MOST_WORK


def test_what_is_not_seen_weighs_next_to_nothing() -> None:
    nothing = cost("")
    for body in ('<rect x="1000" width="1000" height="1000"/>', '<rect width="1000" height="1000" fill="none"/>'):
        assert cost(body) - nothing < 60
    clipped = f'<clipPath id="c"><path d="M0 0H100V100H0z"/></clipPath><g clip-path="url(#c)">{FULL}</g>'
    assert cost(clipped) - nothing < 500


def test_of_a_drawing_what_is_seen_counts_and_as_large_as_it_is_there() -> None:
    whole = work(FULL)
    assert work(FULL, spot=Spot(faces=3.0)).area == pytest.approx(3 * whole.area, abs=3)
    assert work(FULL, spot=Spot((0.25, 0, 0.75, 1), 2.0)).area == pytest.approx(whole.area, abs=3)
    left = '<rect width="250" height="1000" fill="url(#g)"/>'
    assert work(left, spot=Spot((0.25, 0, 1, 1))).area == 0
    assert work(left, spot=Spot((0.2, 0, 1, 1))).area == pytest.approx(whole.area / 20, abs=3)
    assert work(FULL, spot=Spot(faces=9.0)).own == whole.own


def test_groups_weigh_by_what_they_hold() -> None:
    dot = '<circle cx="500" cy="500" r="5"/>'
    small, large = (work(f'<g opacity=".5">{body}{dot}</g>').area for body in (dot, PLAIN))
    assert large - work(PLAIN).area > 500
    assert small < 20
    corners = '<circle cx="9" cy="9" r="5"/><circle cx="990" cy="990" r="5"/>'
    assert work(f'<g opacity=".5">{corners}</g>').area > 450
    nested = work('<g opacity=".5">' * 3 + dot + "</g>" * 3).own - work(dot).own
    assert nested > 5 * (work(f'<g opacity=".5">{dot}</g>').own - work(dot).own) > 0


def test_clips_are_forgotten_where_they_end() -> None:
    clip = CLIP.format('<circle cx="500" cy="500" r="400"/>', "{}")
    assert work(clip.format(PLAIN)).area > 0.64 * work(PLAIN).area + 40
    assert work(clip.format("<g/>") + PLAIN).area == work(PLAIN).area
    for group in ("<g>{}</g>", '<g opacity=".9">{}</g>'):
        one, many = (work(clip.format(group.format(PLAIN * count))).area for count in (1, 9))
        assert many - one > 8 * (0.64 * work(PLAIN).area + 40)


def test_clips_in_clips_cross_each_other() -> None:
    combs = [
        "".join(f"M{x} 0V900H{x + 1}V0z" for x in range(0, 900, 9)),
        "".join(f"M0 {y}H900V{y + 1}H0z" for y in range(0, 900, 9)),
    ]
    defs = "".join(f'<clipPath id="{id}"><path d="{comb}"/></clipPath>' for id, comb in zip("xy", combs, strict=True))
    nested, apart = (
        work(f'{defs}<g clip-path="url(#x)">{between}<g clip-path="url(#y)">{PLAIN * 2}</g></g>').own
        for between in ("", PLAIN * 2 + "</g><g>")
    )
    assert nested > apart + 500


def test_lines_and_repeated_gradients_weigh_more() -> None:
    long, short = (work(f'<path d="M0 9H{end}" stroke="#000"/>' * 100).own for end in (999, 9))
    assert long > short + 700
    two = '<linearGradient id="l" spreadMethod="{}"><stop/><stop offset="1"/></linearGradient>'
    pad, reflect = (work(two.format(spread) + FULL.replace("#g", "#l")).area for spread in ("pad", "reflect"))
    assert reflect > pad * 1.6


def test_figures_that_are_none_weigh_all() -> None:
    with pytest.raises(UserError, match="dashes"):
        Cost("x").add("dashes", math.nan)
    context = cairocffi.Context(cairocffi.RecordingSurface(cairocffi.CONTENT_COLOR_ALPHA, None))
    for box in ((math.nan, 0, 1, 1), (-math.inf, 0, 1, math.nan)):
        assert Cost("x", 3, 4)._seen(context, box) == (0, 0, 3, 4)


SIDE = st.floats(-9, 9).map(lambda figure: round(figure, 3))


@given(SIDE, SIDE, SIDE, SIDE)
def test_lengths_and_areas_grow_as_the_matrix_has_it(a: float, b: float, c: float, d: float) -> None:
    """Beside numpy's singular values and determinant."""
    matrix = np.array([[a, c], [b, d]])
    assume(abs(np.linalg.det(matrix)) > 1e-3)
    context = cairocffi.Context(cairocffi.RecordingSurface(cairocffi.CONTENT_COLOR_ALPHA, None))
    context.set_matrix(cairocffi.Matrix(a, b, c, d, 5, 6))
    longest, times = stretch(context)
    assert longest == pytest.approx(np.linalg.svd(matrix, compute_uv=False)[0], rel=1e-6)
    assert times == pytest.approx(abs(np.linalg.det(matrix)), rel=1e-6)


def test_what_nothing_weighs_is_not_drawn() -> None:
    context = counting(cairocffi.Context, Cost("x"))(cairocffi.RecordingSurface(cairocffi.CONTENT_COLOR_ALPHA, None))
    for ask in (lambda: context.mask(context.get_source()), lambda: context.show_text("x"), context.stroke_preserve):
        with pytest.raises(ValueError, match="nothing weighs"):
            ask()


POINT = st.tuples(st.integers(-150, 250), st.integers(-150, 250))
PIECE = st.one_of(st.tuples(POINT), st.tuples(POINT, POINT, POINT))


@settings(max_examples=150, deadline=None)
@given(
    st.lists(PIECE, min_size=1, max_size=5),
    st.sampled_from(["fill", "butt", "round", "square"]),
    st.sampled_from(["miter", "round", "bevel"]),
    st.floats(0.5, 90),
    st.sampled_from(["", "rotate(30)", "scale(3 .2)", "matrix(1 .9 -.4 1 9 -30)"]),
    st.booleans(),
)
def test_no_more_is_painted_than_is_weighed(
    pieces: list[tuple[tuple[int, int], ...]], how: str, join: str, wide: float, turned: str, closed: bool
) -> None:
    """Pixels as cairo paints them, beside the area that a path is weighed by."""
    data = "M20 30" + "".join(("L", "C")[len(piece) > 1] + " ".join(f"{x} {y}" for x, y in piece) for piece in pieces)
    style = "" if how == "fill" else f'fill="none" stroke="#000" stroke-width="{wide}" stroke-linecap="{how}"'
    style += f' stroke-linejoin="{join}" stroke-miterlimit="9" transform="{turned}"'
    head = HEAD.replace("1000", "100")
    drawing = read_drawing(svg(f'<path d="{data}{"z" * closed}" {style}/>', head))
    recorded, width, height = recording(drawing)
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_A8, round(width), round(height))
    context = cairocffi.Context(surface)
    context.set_source_surface(recorded)
    context.paint()
    painted = np.frombuffer(surface.get_data(), np.uint8).sum() / 255
    share = work_of(drawing).area / step("area-plain")
    assert share >= painted / (round(width) * round(height)) - 0.01


def test_what_was_used_last_is_kept_as_far_as_it_goes() -> None:
    recent: Recent[str] = Recent(10)
    made = []

    def get(key: str, size: int) -> str:
        return recent.get(key, size, lambda: made.append(key) or key.upper())  # type: ignore[func-returns-value]

    for key, size in [("a", 4), ("b", 4), ("a", 4), ("c", 4), ("a", 4), ("b", 4), ("big", 99)]:
        assert get(key, size) == key.upper()
    assert made == ["a", "b", "c", "b", "big"]
    assert get("big", 99) == "BIG" and get("a", 4) == "A" and made[-1] == "a"


steps = st.lists(
    st.one_of(
        st.tuples(st.sampled_from("MLT"), st.lists(st.integers(-50, 50), min_size=2, max_size=2)),
        st.tuples(st.just("C"), st.lists(st.integers(-50, 50), min_size=6, max_size=6)),
        st.just(("Z", [])),
    ),
    max_size=12,
)


@given(steps)
def test_areas_are_those_of_their_chords_and_turn_with_the_path(path: list[tuple[str, list[int]]]) -> None:
    """Chords are cairo's own; of polygons the area is the shoelace formula's."""
    context = cairocffi.Context(cairocffi.RecordingSurface(cairocffi.CONTENT_COLOR_ALPHA, None))
    context.set_tolerance(0.001)
    context.move_to(3, 4)
    for kind, points in path:
        {"M": context.move_to, "L": context.line_to, "T": context.line_to, "C": context.curve_to,
         "Z": context.close_path}[kind](*points)  # fmt: skip
    rings: list[list[tuple[float, float]]] = []
    for op, points in context.copy_path_flat():
        if op == 0:
            rings.append([])
        if points:
            rings[-1].append((points[0], points[1]))
    pairs = [pair for ring in rings for pair in zip(ring, ring[1:] + ring[:1], strict=True)]
    chords = sum((x * v - u * y) / 2 for (x, y), (u, v) in pairs)
    own = context.copy_path()
    assert area_of(own) == pytest.approx(chords, abs=2)
    turned = turned_round(own)
    assert area_of(turned) == pytest.approx(-area_of(own), abs=0.1)
    context.new_path()
    context.append_path(turned)
    assert area_of(context.copy_path()) == pytest.approx(-area_of(own), abs=0.1)
