"""SVG drawings, written by svgwrite, cairo and by hand, and read by svgelements too: circles under any transform."""

import io
import math
from pathlib import Path

import cairocffi
import pytest
import svgelements
import svgwrite
from helpers.drills import Row, alike, read, rows, told
from helpers.jobs import svg
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.drill.model import MOST_ENTITIES

NAMES = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
MM = 'width="60mm" height="100mm" viewBox="0 0 60 100"'
PX_MM = 25.4 / 96  # CSS Values and Units; SVG 1.1 had 90 to the inch in places
LAYERS = 'xmlns:own="urn:example:drawing-program"'


def drawn(body: str, head: str = MM) -> bytes:
    return f"<svg {NAMES} {head}>\n{body}\n</svg>".encode()


def down(reading_rows: list[Row], height: float = 100) -> list[Row]:
    """Rows as SVG counts, y from the top."""
    return [(x, height - y, d) for x, y, d in reading_rows]


HEADS = {
    "mm by viewBox": (MM, 1.0),
    "mm, twice as large": ('width="120mm" height="200mm" viewBox="0 0 60 100"', 2.0),
    "inches": ('width="6in" height="10in" viewBox="0 0 60 100"', 2.54),
    "cm, one side left out": ('width="6cm" viewBox="0 0 60 100"', 1.0),
    "points": ('width="60pt" height="100pt" viewBox="0 0 60 100"', 25.4 / 72),
    "picas": ('width="5pc" height="100pt" viewBox="0 0 60 100"', 25.4 / 72),
    "quarter millimetres": ('width="60Q" height="100Q" viewBox="0 0 60 100"', 0.25),
    "px, at 96 to the inch": ('width="60" height="100"', PX_MM),
    "px said": ('width="60px" height="100px" viewBox="0 0 60 100"', PX_MM),
    "mm without a viewBox": ('width="60mm" height="100mm"', PX_MM),
}


@pytest.mark.parametrize("name", HEADS)
def test_user_units(name: str) -> None:
    head, scale = HEADS[name]
    reading = read(drawn('<circle cx="10" cy="20" r="3"/>', head))
    assert reading.kind == "SVG"
    height = 100.0 if name == "mm without a viewBox" else 100 * scale
    assert down(rows(reading), height) == [pytest.approx((10 * scale, 20 * scale, 6 * scale), abs=1e-9)]
    assert ("96 to the inch" in told(reading)) == name.startswith("px")


def test_units_in_attributes_are_css_px_whatever_the_view_box() -> None:
    # 1 mm = 3.779528 px (96 to the inch), not 3.543307 (90): the trap of old SVG documents.
    body = '<circle cx="10mm" cy="2cm" r="3mm"/>'
    assert down(rows(read(drawn(body, 'width="60mm" height="100mm"')))) == [pytest.approx((10, 20, 6), abs=1e-9)]
    big = rows(read(drawn(body)))
    assert big[0][2] == pytest.approx(6 * 3.779528, abs=1e-5)


def test_percentages_count_in_the_view_box() -> None:
    body = '<ellipse cx="50%" cy="10%" rx="10%" ry="6%"/>'
    assert down(rows(read(drawn(body)))) == [pytest.approx((30, 10, 12), abs=1e-9)]


def test_a_view_box_elsewhere_and_of_another_shape() -> None:
    head = 'width="60mm" height="100mm" viewBox="-30 -50 60 100"'
    assert rows(read(drawn('<circle r="3"/>', head))) == [pytest.approx((30, 50, 6))]
    # Fitted by its width and put in the middle, as preserveAspectRatio says when it says nothing.
    wide = 'width="60mm" height="100mm" viewBox="0 0 60 60"'
    assert rows(read(drawn('<circle cx="30" cy="30" r="3"/>', wide))) == [pytest.approx((30, 50, 6))]
    at_top = wide + ' preserveAspectRatio="xMinYMin meet"'
    assert rows(read(drawn('<circle cx="30" cy="30" r="3"/>', at_top))) == [pytest.approx((30, 70, 6))]


def test_without_a_size_it_asks() -> None:
    body = '<circle cx="10" cy="20" r="3"/>'
    for head in ('viewBox="0 0 60 100"', 'width="100%" height="100%" viewBox="0 0 60 100"', ""):
        refused = read(drawn(body, head))
        assert refused.holes == ()
        assert "does not say how large it is" in told(refused)
        assert "--units mm" in told(refused)
    assert down(rows(read(drawn(body, 'viewBox="0 0 60 100"'), "mm"))) == [(10, 20, 6)]
    assert down(rows(read(drawn(body, 'viewBox="0 0 60 100"'), "in")), 2540) == [pytest.approx((254, 508, 152.4))]


def test_units_asked_for_win_over_px_but_not_over_mm() -> None:
    body = '<circle cx="10" cy="20" r="3"/>'
    assert down(rows(read(drawn(body, 'width="60" height="100"'), "mm"))) == [(10, 20, 6)]
    reading = read(drawn(body), "in")
    assert down(rows(reading)) == [pytest.approx((10, 20, 6))]
    assert "the drawing itself says how large it is" in told(reading)


K = 4 / 3 * (math.sqrt(2) - 1) * 3
CIRCLES = {
    "circle": '<circle cx="10" cy="20" r="3"/>',
    "ellipse": '<ellipse cx="10" cy="20" rx="3" ry="3"/>',
    "ellipse with one radius": '<ellipse cx="10" cy="20" rx="3"/>',
    "translate": '<circle transform="translate(10 20)" r="3"/>',
    "translate in a style": '<circle style="transform:translate(10px, 20px)" r="3"/>',
    "rotate": '<circle transform="rotate(90 0 0)" cx="20" cy="-10" r="3"/>',
    "scale": '<circle transform="scale(2)" cx="5" cy="10" r="1.5"/>',
    "mirror": '<circle transform="scale(-1 1)" cx="-10" cy="20" r="3"/>',
    "matrix": '<circle transform="matrix(0 2 -2 0 10 20)" r="1.5"/>',
    "nested": '<g transform="translate(4,0)"><g transform="scale(2)"><circle cx="3" cy="10" r="1.5"/></g></g>',
    "stretched back": '<g transform="scale(2 1)"><ellipse cx="5" cy="20" rx="1.5" ry="3"/></g>',
    "skewed back": '<g transform="skewX(30)"><circle transform="skewX(-30)" cx="10" cy="20" r="3"/></g>',
    "two arcs": '<path d="M7 20a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"/>',
    "two arcs, not closed by z": '<path d="M7,20 A3,3 0 0 1 13,20 A3,3 0 0 1 7,20"/>',
    "four cubics": (
        f'<path d="M13 20C13 {20 + K} {10 + K} 23 10 23S7 {20 + K} 7 20 {10 - K} 17 10 17 13 {20 - K} 13 20Z"/>'
    ),
    "second part of a path": '<path d="M0 0H5V5Z M7 20a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"/>',
    "two half circles of their own": '<path d="M7 20A3 3 0 0 1 13 20"/><path d="M13 20A3 3 0 0 1 7 20"/>',
    "square rounded all the way": '<rect x="7" y="17" width="6" height="6" rx="3"/>',
    "use": '<defs><circle id="a" r="3"/></defs><use href="#a" x="10" y="20"/>',
    "use in old words": '<defs><circle id="a" r="3"/></defs><use xlink:href="#a" transform="translate(10 20)"/>',
    "symbol": (
        '<symbol id="a" viewBox="0 0 10 10"><circle cx="5" cy="5" r="5"/></symbol>'
        '<use href="#a" x="7" y="17" width="6" height="6"/>'
    ),
    "svg in svg": '<svg x="7" y="17" width="6" height="6" viewBox="0 0 2 2"><circle cx="50%" cy="1" r="1"/></svg>',
    "switch": '<switch><g><circle cx="10" cy="20" r="3"/></g><circle r="1"/></switch>',
    "link": '<a href="https://example.invalid/"><circle cx="10" cy="20" r="3"/></a>',
    "polygon of 72 sides": '<polygon points="{}"/>'.format(
        " ".join(f"{10 + 3 * math.cos(t * math.pi / 36)},{20 + 3 * math.sin(t * math.pi / 36)}" for t in range(72))
    ),
}


@pytest.mark.parametrize("name", CIRCLES)
def test_round_things_however_they_are_written(name: str) -> None:
    assert down(rows(read(drawn(CIRCLES[name])))) == [pytest.approx((10, 20, 6), abs=1e-3)]


def outside(data: bytes) -> list[Row]:
    """Round shapes as svgelements finds them: boxes of whole shapes after all transforms, in mm, y down."""
    found = []
    for shape in svgelements.SVG.parse(io.BytesIO(data), ppi=96.0).elements():
        if isinstance(shape, svgelements.Shape):
            for part in svgelements.Path(shape).as_subpaths():
                x0, y0, x1, y1 = svgelements.Path(part).bbox()
                if abs((x1 - x0) - (y1 - y0)) < 0.01:
                    found.append(((x0 + x1) / 2 * PX_MM, (y0 + y1) / 2 * PX_MM, (x1 - x0) * PX_MM))
    return found


SHAPES = [
    "circle",
    "ellipse",
    "translate",
    "rotate",
    "scale",
    "mirror",
    "matrix",
    "nested",
    "stretched back",
    "two arcs",
]


@pytest.mark.parametrize("name", SHAPES)
def test_svgelements_reads_the_same(name: str) -> None:
    data = drawn(CIRCLES[name])
    assert alike(down(rows(read(data))), outside(data), 1e-4, 1e-4)


OUTLINE = "a closed outline that is no circle, left out"
NO_CIRCLES = {
    "ellipse": ('<ellipse cx="9" cy="9" rx="3" ry="4"/>', "an ellipse, or a circle stretched to one, left out"),
    "stretched": ('<circle transform="scale(1 1.01)" r="9"/>', "stretched to one, left out"),
    "skewed": ('<circle transform="skewX(20)" r="9"/>', "stretched to one, left out"),
    "slot": ('<path d="M0 0H10A5 5 0 0 1 10 10H0A5 5 0 0 1 0 0Z"/>', "a slot (a closed path with two round ends)"),
    "slot as a rectangle": ('<rect width="16" height="6" rx="3"/>', "a slot (a rectangle with round ends), left out"),
    "half circle": ('<path d="M7 20A3 3 0 0 1 13 20"/>', "an arc that closes to no circle, left out"),
    "half circle, closed": ('<path d="M7 20A3 3 0 0 1 13 20Z"/>', OUTLINE),
    "circle with a flat side": ('<path d="M9 20A3 3 0 1 0 9 21Z"/>', OUTLINE),
    "square": ('<rect width="6" height="6"/>', OUTLINE),
    "square with round corners": ('<rect width="6" height="6" rx="1"/>', OUTLINE),
    "hexagon": ('<polygon points="3,0 1.5,2.6 -1.5,2.6 -3,0 -1.5,-2.6 1.5,-2.6"/>', OUTLINE),
    "no radius": ('<circle cx="3" cy="3"/>', ""),
    "clip path": ('<clipPath id="c"><circle r="3"/></clipPath><defs><circle r="1"/></defs>', ""),
    "hidden": ('<g style="display:none"><circle r="3"/></g>', "something hidden, left out"),
    "style sheet": ("<style>circle{r:3px}</style>", "a style sheet that moves, sizes or hides things"),
    "outside": ('<use href="other.svg#a"/>', "a use of something that is not in the file, left out"),
    "foreign": ('<x:circle xmlns:x="urn:x" r="3"/>', ""),
}


@pytest.mark.parametrize("name", NO_CIRCLES)
def test_what_is_no_circle_is_told(name: str) -> None:
    body, says = NO_CIRCLES[name]
    reading = read(drawn(body))
    assert rows(reading) == []
    assert says in told(reading)
    assert bool(says) == bool(told(reading))


def test_ids_are_the_elements_own_and_unique() -> None:
    body = '<circle id="rate" cx="9" cy="9" r="3"/>\n<circle cx="20" cy="9" r="3"/><path id="two" d="{} {}"/>'.format(
        "M7 20a3 3 0 1 0 6 0a3 3 0 1 0-6 0z", "M27 20a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"
    )
    holes = read(drawn(body)).holes
    assert [(hole.id, hole.line) for hole in holes] == [("rate", 2), ("2", 3), ("two", 3), ("two-2", 3)]


def test_layers() -> None:
    body = (
        f'<g {LAYERS} own:groupmode="layer" own:label="DRILL"><g id="g1"><circle r="3" cx="9"/></g></g>'
        f'<g {LAYERS} own:groupmode="layer" own:label="OLD" style="display:none"><circle r="2"/></g>'
        '<g id="knobs"><circle r="9"/></g><circle r="1"/>'
    )
    reading = read(drawn(body))
    assert reading.layers == {"DRILL": 1, "knobs": 1, "": 1}
    assert [hole.d for hole in read(drawn(body), layers=("drill",)).holes] == [pytest.approx(6)]
    assert [hole.d for hole in read(drawn(body), layers=("OLD",)).holes] == [pytest.approx(4)]
    assert 'no hole is on a layer "outline"' in told(read(drawn(body), layers=("outline",)))


def test_what_svgwrite_writes_reads_back(tmp_path: Path) -> None:
    drawing = svgwrite.Drawing(size=("60mm", "100mm"), viewBox="0 0 60 100")
    group = drawing.g(transform="rotate(30) translate(5 5)")
    group.add(drawing.circle((10, 20), 3))
    drawing.add(group)
    drawing.add(drawing.ellipse((30, 50), (4, 4)))
    turn = math.radians(30)
    x, y = 15 * math.cos(turn) - 25 * math.sin(turn), 15 * math.sin(turn) + 25 * math.cos(turn)
    wanted = [(x, y, 6.0), (30.0, 50.0, 8.0)]
    assert down(rows(read(drawing.tostring()))) == [pytest.approx(row, abs=1e-6) for row in wanted]


def test_what_cairo_writes_reads_back() -> None:
    out = io.BytesIO()
    points = 72 / 25.4
    surface = cairocffi.SVGSurface(out, 60 * points, 100 * points)
    context = cairocffi.Context(surface)
    for x, y, r in ((10, 20, 3), (30, 70, 6.1)):
        context.arc(x * points, y * points, r * points, 0, 2 * math.pi)
        context.close_path()
        context.fill()
    surface.finish()
    assert down(rows(read(out.getvalue()))) == [pytest.approx(row, abs=5e-3) for row in ((10, 20, 6), (30, 70, 12.2))]


FAULTY = {
    "NaN": ('<circle cx="nan" cy="0" r="3"/>', '"nan" is no length'),
    "beyond a float": ('<circle cx="1e400" cy="0" r="3"/>', ""),
    "far away": ('<circle cx="1e30" cy="0" r="3"/>', "a circle that cannot be read: it lies 1e30 mm out"),
    "digits without end": (f'<circle cx="{"9" * 5000}" cy="0" r="3"/>', "is no length"),
    "negative": ('<circle cx="1" cy="0" r="-3"/>', "its radius is below 0"),
    "path": ('<path d="M0 0A1 1 z"/>', "is no path"),
    "path of letters": ('<path d="M0 0 W 5"/>', "is no path"),
    "transform": ('<circle transform="twist(3)" r="3"/>', 'the transform "twist(3)" cannot be read'),
    "transform of NaN": ('<circle transform="scale(nan)" r="3"/>', ""),
    "transform about a point": ('<circle transform-origin="5 5" transform="rotate(9)" r="3"/>', "transform-origin"),
    "points": ('<polygon points="1,x 2,3"/>', "a polygon that cannot be read"),
    "nested without a size": ('<svg width="0" height="5"><circle r="3"/></svg>', "has no size"),
    "nested view box": ('<svg viewBox="0 0 x 5"><circle r="3"/></svg>', "viewBox is not four sound numbers"),
    "use of itself": ('<g id="a"><use href="#a"/></g>', "or in themselves"),
    "deep": ("<g>" * 5000 + "</g>" * 5000, "deep, or in themselves"),
}


@pytest.mark.parametrize("name", FAULTY)
def test_what_cannot_be_read_is_refused_with_its_line(name: str) -> None:
    body, says = FAULTY[name]
    reading = read(drawn(body))
    assert reading.problems
    assert says in told(reading)
    assert reading.problems[0].line == 2
    assert reading.problems[0].mend


HEADS_REFUSED = ['width="0" height="5"', 'width="1e9" height="5"', 'width="5mm" height="5mm" viewBox="0 0 0 5"']


@pytest.mark.parametrize("head", HEADS_REFUSED)
def test_sizes_that_cannot_be(head: str) -> None:
    assert read(drawn('<circle r="1"/>', head)).problems


LAUGHS = "<!DOCTYPE svg [<!ENTITY a 'ha'><!ENTITY b '&a;&a;&a;'>]>"
HOSTILE = [
    ("entities", svg("&b;", before=LAUGHS), "declares XML entities"),
    ("system", svg("&c;", before='<!DOCTYPE svg [<!ENTITY c SYSTEM "/etc/passwd">]>'), "declares XML entities"),
    ("parameter", svg("", before='<!DOCTYPE svg [<!ENTITY % c SYSTEM "c.txt"> %c;]>'), "declares XML entities"),
    ("not whole", drawn("<g>"), "not well-formed"),
    ("another root", b"<html><svg></svg></html>", "the outermost element is not svg"),
    ("bytes", drawn("") + b"\xff\xfe", "not well-formed"),
]


@pytest.mark.parametrize(("data", "says"), [(data, says) for _, data, says in HOSTILE], ids=[h[0] for h in HOSTILE])
def test_hostile_drawings_are_refused(data: bytes, says: str) -> None:
    assert says in told(read(data))
    assert read(data).holes == ()


def test_uses_that_unfold_without_end_are_refused() -> None:
    levels = "".join(f'<g id="u{i}">{f"""<use href="#u{i - 1}"/>""" * 10}</g>' for i in range(1, 9))
    assert f"unfolds to more than {MOST_ENTITIES}" in told(read(drawn(f'<g id="u0"/>{levels}')))


FIGURES = st.floats(-900, 900).map(lambda figure: round(figure, 5))
SIZES = st.floats(0.3, 90).map(lambda figure: round(figure, 5))


@given(
    st.lists(st.tuples(FIGURES, FIGURES, SIZES), min_size=1, max_size=5),
    st.sampled_from(["circle", "path", "ellipse"]),
    st.tuples(FIGURES, FIGURES, st.floats(-360, 360), st.floats(0.25, 4), st.booleans()),
)
def test_circles_under_a_transform_read_back_to_a_micron(
    circles: list[Row], shape: str, place: tuple[float, float, float, float, bool]
) -> None:
    dx, dy, turn, scale, mirrored = place
    body = ""
    for x, y, d in circles:
        r = d / 2
        left, right = x - r, x + r
        body += {
            "circle": f'<circle cx="{x}" cy="{y}" r="{r!r}"/>',
            "ellipse": f'<ellipse cx="{x}" cy="{y}" rx="{r!r}" ry="{r!r}"/>',
            "path": f'<path d="M{left!r} {y}A{r!r} {r!r} 0 0 0 {right!r} {y} {r!r} {r!r} 0 0 0 {left!r} {y}z"/>',
        }[shape]
    across = -scale if mirrored else scale
    data = drawn(f'<g transform="translate({dx} {dy}) rotate({turn!r}) scale({across!r} {scale!r})">{body}</g>')
    angle = math.radians(turn)

    def moved(x: float, y: float) -> tuple[float, float]:
        x, y = x * across, y * scale
        return dx + x * math.cos(angle) - y * math.sin(angle), dy + x * math.sin(angle) + y * math.cos(angle)

    wanted = [(*moved(x, y), d * scale) for x, y, d in circles]
    assert down(rows(read(data))) == [pytest.approx(row, abs=1e-3) for row in wanted]


BITS = st.text(st.sampled_from("<>/=\"' svgcircleMLAz019.-%#&;()\n"), max_size=60)


@given(BITS, BITS)
def test_any_text_gives_holes_or_problems_and_never_fails(attribute: str, body: str) -> None:
    for data in (drawn(body), drawn(f'<path d="{attribute}"/>'), drawn(f'<circle r="1" transform="{attribute}"/>')):
        reading = read(data)
        assert all(problem.what and problem.mend and problem.file for problem in reading.problems)
