"""Heavy drawings as hobbyists make them are taken, and drawn at 600 dpi in the time that is promised for a format.

Common practice: stippled and halftoned pictures of ten to twenty thousand dots, each a circle or all of them joined to
one path as editors save them; pictures traced to some thousand outlines of curves; hatchings of some thousand lines.
"""

import sys
from collections.abc import Callable
from math import sin
from pathlib import Path
from random import Random

import pytest
from helpers.jobs import ART_JOB, lay, svg
from helpers.runs import run_apart

from facegraphic.job.drawing_weight import crossings, outline
from facegraphic.job.drawings import ET, read_drawing
from facegraphic.output.drawings import work_of

WIDE = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 1000" width="50mm" height="50mm">'
LIMITED = "import resource; resource.setrlimit(resource.RLIMIT_CPU, (8, 8))"  # 5 s, more on slow machines, 1 to start


def _stipple(many: int) -> str:
    random = Random(2)
    return "".join(
        f'<circle cx="{x * 1000:.1f}" cy="{y * 1000:.1f}" r="{r * 3 + 1:.1f}"/>'
        for x, y, r in ((random.random(), random.random(), random.random()) for _ in range(many))
    )


def _joined_stipple(many: int) -> str:
    random = Random(2)
    at = ((random.random() * 1000, random.random() * 1000) for _ in range(many))
    return f'<path d="{"".join(f"M{x:.1f} {y:.1f}a2 2 0 1 0 4 0a2 2 0 1 0 -4 0z" for x, y in at)}"/>'


def _halftone(across: int) -> str:
    return "".join(
        f'<circle cx="{x * 8}" cy="{y * 8}" r="{3 * abs(sin(x * 0.05 + y * 0.03)):.2f}"/>'
        for x in range(across)
        for y in range(across)
    )


def _traced(many: int, curves: int) -> str:
    """Outlines of short curves that wander, all over the drawing."""
    random = Random(2)
    d = ""
    for _ in range(many):
        d += f"M{random.random() * 1000:.1f} {random.random() * 1000:.1f}"
        d += "".join("c" + " ".join(f"{random.uniform(-3, 3):.1f}" for _ in range(6)) for _ in range(curves)) + "z"
    return f'<path d="{d}"/>'


def _hatched(many: int, style: str) -> str:
    return "".join(f'<path d="M{i % 1000} 0L{(i * 7) % 1000} 1000" {style}/>' for i in range(many))


def _contours() -> str:
    """Lines of equal height, as on a map."""
    lines = (" ".join(f"{x * 5} {y * 3 + 30 * sin(x * 0.05 + y * 0.1):.1f}" for x in range(200)) for y in range(300))
    return "".join(f'<path fill="none" stroke="#000" d="M{line}"/>' for line in lines)


def _glowing(many: int) -> str:
    """Large lights over each other, and a few groups that fade."""
    stops = '<stop stop-color="#fff"/><stop offset="1" stop-color="#04f" stop-opacity="0.2"/>'
    lights = "".join(
        f'<circle cx="{i * 997 % 1000}" cy="{i * 613 % 1000}" r="400" fill="url(#g)"/>' for i in range(many)
    )
    return f'<radialGradient id="g">{stops}</radialGradient><g opacity="0.8">{lights}</g>'


HONEST: list[tuple[str, Callable[[], str]]] = [
    ("12,000 dots", lambda: _stipple(12_000)),
    ("15,000 dots in one path", lambda: _joined_stipple(15_000)),
    ("a halftone of 125 by 125 dots", lambda: _halftone(125)),
    ("2000 traced outlines", lambda: _traced(2000, 30)),
    ("a hatching of 4000 lines", lambda: _hatched(4000, 'stroke="#000" stroke-width="0.7"')),
    ("a hatching of 4000 round lines", lambda: _hatched(4000, 'stroke="#000" stroke-width="3" stroke-linecap="round"')),
    ("300 contour lines", _contours),
    ("thick contour lines", lambda: f'<g stroke-width="9">{_contours()}</g>'),
    ("40 large gradients", lambda: _glowing(40)),
]


@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is not on Windows")
@pytest.mark.parametrize(("name", "body"), HONEST, ids=[name for name, _ in HONEST])
def test_an_honest_drawing_is_taken_and_drawn_in_time(name: str, body: Callable[[], str], tmp_path: Path) -> None:
    lay(tmp_path, ART_JOB, {"waves.svg": svg(body(), WIDE)})
    ran = run_apart("make", "job.toml", "--only", "art", "--format", "png", cwd=tmp_path, before=LIMITED)
    assert ran.status == 0, f"{name}: {ran.status} {ran.err[-400:]}"


def _meet(path: str) -> int:
    return crossings(outline(ET.Element("path", d=path)).segments)


def test_a_move_crosses_nothing() -> None:
    apart = "".join(f"M{x} 0v9" for x in range(1000))
    random = Random(2)
    jumping = "".join(f"M{random.random() * 1000:.1f} {random.random() * 1000:.1f}h1" for _ in range(500))
    assert _meet(apart) < 1000
    assert _meet(jumping) < 1000
    assert _meet(jumping.replace("M", "L").replace("L", "M", 1)) > 20_000  # the same corners, lines between them


def test_after_a_close_a_path_goes_on_from_where_it_began() -> None:
    beside = outline(ET.Element("path", d="m0 0h4v4zm10 0h4v4z"))
    assert beside.segments[2] == (0, 0, 4, 4)
    assert beside.segments[3:] == [(10, 0, 14, 0), (14, 0, 14, 4), (10, 0, 14, 4)]


def test_curves_reach_as_far_as_their_control_points() -> None:
    loops = "M0 0" + "".join(f"C90 {y} -90 {y} 0 {y}" for y in range(0, 2000, 2))
    tall = "M0 0" + "".join(f"C90 {y + 1900} 90 {y - 1900} 0 {y}" for y in range(0, 2000, 2))
    assert _meet(tall) > 10 * _meet(loops)


@pytest.mark.parametrize(
    ("body", "most", "mend"),
    [
        ("<g/>" * 15_000 + '<g id="r"/>' + '<use href="#r"/>' * 5000, "elements", "fewer shapes"),
        (f'<path d="{"".join(f"M{9 * i} 0v9z" for i in range(75_000))}"/>', "segments", "simplify its paths"),
        (f'<path d="M0 0{"L900 900 0 5" * 9000}"/>', "crossings", "break it apart"),
        (
            f'<marker id="m">{"<g/>" * 300}</marker><path marker-mid="url(#m)" d="M0 0{"L1 1" * 3000}"/>',
            "markers, clip paths, gradients and styles",
            "less repeated",
        ),
    ],
)
def test_a_drawing_that_is_too_much_is_told_by_what_weighs_most(body: str, most: str, mend: str) -> None:
    with pytest.raises(ValueError, match=f"most of it by its {most}; .*{mend}"):
        read_drawing(svg(body, WIDE))


def _work(body: str) -> int:
    return work_of(read_drawing(svg(body, WIDE))).whole


def test_area_counts_where_it_is_drawn_and_as_far_as_it_is_seen() -> None:
    full = '<rect width="1000" height="1000"/>'
    one = _work(full) - _work("<rect/>")
    assert one > 0
    for same in (
        '<rect width="9999" height="9999" x="-5000" y="-5000"/>',
        '<rect width="100%" height="100%"/>',
        '<rect width="10" height="10" transform="scale(100)"/>',
        '<rect width="1000" height="1000" style="fill:red"/>',
        '<path d="M0 0H1000V1000H0z"/>',
    ):
        assert _work(same) - _work("<rect/>") == pytest.approx(one, abs=25), same
    for none in ('<rect width="1000" height="1000" x="1000"/>', '<rect width="1000" height="1000" fill="none"/>'):
        assert _work(none) == pytest.approx(_work("<rect/>"), abs=12), none
    half = '<rect width="1000" height="1000" transform="translate(500 0)"/>'
    assert _work(half) - _work("<rect/>") == pytest.approx(one / 2, abs=25)


def test_the_wider_a_stroke_of_short_pieces_the_more_it_weighs() -> None:
    line = "".join(f"l1 {(1, -1)[i % 2]}" for i in range(900))
    works = [
        _work(f'<path fill="none" stroke="red" stroke-width="{width}" d="M0 500{line}"/>') for width in (1, 50, 400)
    ]
    assert works == sorted(works)
    assert works[2] > 2 * works[0]


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ('fit = "tile"\ntile = 5\n', "tiles of waves.svg come to"),
        ('[[face.art]]\nfile = "waves.svg"\n' * 23, "the job's drawings come to"),
    ],
)
def test_one_drawing_in_many_places_is_weighed_in_all_of_them(more: str, says: str, tmp_path: Path) -> None:
    drawing = {"waves.svg": svg(_stipple(6000), WIDE)}
    lay(tmp_path, ART_JOB, drawing)
    assert run_apart("check", "job.toml", cwd=tmp_path).status == 0
    lay(tmp_path, ART_JOB + more, drawing)
    ran = run_apart("check", "job.toml", cwd=tmp_path)
    assert ran.status == 1
    assert says in ran.err


def test_a_small_drawing_may_stand_in_thousands_of_tiles(tmp_path: Path) -> None:
    lay(tmp_path, ART_JOB + 'fit = "tile"\ntile = 3\n', {"waves.svg": svg(_stipple(20), WIDE)})
    ran = run_apart("make", "job.toml", "--only", "art", "--format", "png", cwd=tmp_path, before=LIMITED)
    assert ran.status == 0, ran.err


def test_colours_are_no_figures() -> None:
    random = Random(4)
    colours = ["#7e60aa", "#1e1000", "#9e99", *(f"#{random.randrange(1 << 24):06x}" for _ in range(1000))]
    shapes = "".join(f'<rect width="9" height="9" fill="{colour}" style="stroke:{colour}"/>' for colour in colours)
    assert read_drawing(svg(f"<style>.a{{fill:#3e77ff}}</style>{shapes}", WIDE)).work > 0
    for absurd in ('<rect width="7e60"/>', '<path d="M1e30 2#"/>', '<rect style="fill:#7e60aa;x:1e77"/>'):
        with pytest.raises(ValueError, match="absurd"):
            read_drawing(svg(absurd, WIDE))
