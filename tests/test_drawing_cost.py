"""A drawing is weighed by what is painted of it, whatever way that is written; and what is kept for later has bounds.

Units, percentages, viewports and the cascade are SVG 1.1's and CSS 2.1's; CairoSVG reads them.
"""

import pytest
from helpers.jobs import svg

from facegraphic.errors import UserError
from facegraphic.job.drawings import read_drawing
from facegraphic.output.drawings import cost_of
from facegraphic.output.recent import Recent

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


def cost(body: str, head: str = HEAD) -> int:
    return cost_of(read_drawing(svg(STYLE + DEFS + body, head)))


@pytest.mark.parametrize("way", WAYS)
def test_paint_weighs_the_same_in_whatever_way_it_is_written(way: str) -> None:
    """A page of a gradient costs 6000 steps; each way paints a page of it, or twenty of them more than is taken."""
    once = cost(WAYS[way]) - cost("")
    assert 5500 < once < 7500, once
    with pytest.raises(UserError, match=r"more than can be drawn: .*painted area"):
        cost(WAYS[way] * 90)


@pytest.mark.parametrize(
    ("body", "most"),
    [
        (f'<clipPath id="c"><path d="M0 0{"L900 5 9 800" * 700}"/></clipPath>'
         f'<g clip-path="url(#c)">{FULL.replace("url(#g)", "#123") * 700}</g>', "clip paths"),
        ('<g clip-path="url(#r)">' * 20 + FULL.replace("url(#g)", "#123") * 400 + "</g>" * 20
         + '<clipPath id="r"><circle cx="500" cy="500" r="499"/></clipPath>', "clip paths"),
        (f'<linearGradient id="l" x2="1" y2="1">{"<stop/>" * 8000}</linearGradient>'
         + '<rect width="1000" height="1000" fill="url(#l)"/>', "painted area"),
        ('<path d="M0 0C900 900 0 900 999 0" stroke="#000" fill="none"/>' * 9000, "long lines"),
        ('<path d="M0 0H999" stroke="#000" stroke-width="50" stroke-dasharray=".25" stroke-linecap="round"/>' * 40,
         "dashes"),
        (FULL.replace("url(#g)", "#123") * 2000, "painted area"),
    ],
)  # fmt: skip
def test_what_costs_most_is_named(body: str, most: str) -> None:
    with pytest.raises(UserError, match=f"most of it by its {most}"):
        cost(body)


def test_what_is_not_seen_weighs_next_to_nothing() -> None:
    nothing = cost("")
    for body in ('<rect x="1000" width="1000" height="1000"/>', '<rect width="1000" height="1000" fill="none"/>'):
        assert cost(body) - nothing < 60
    clipped = f'<clipPath id="c"><path d="M0 0H100V100H0z"/></clipPath><g clip-path="url(#c)">{FULL}</g>'
    assert cost(clipped) - nothing < 500


def test_of_a_long_drawing_what_may_cover_a_face_is_weighed() -> None:
    """A sliver of a drawing that is 5600 times as long as high is a whole face where it covers one."""
    long = HEAD.replace("0 0 1000 1000", "0 0 5600 1").replace('width="1000" height="1000"', 'width="5600" height="1"')
    assert cost('<rect width="2" height="1" fill="url(#g)"/>', long) > 5000


def test_what_was_used_last_is_kept_as_far_as_it_goes() -> None:
    recent: Recent[str] = Recent(10)
    made = []

    def get(key: str, size: int) -> str:
        return recent.get(key, size, lambda: made.append(key) or key.upper())  # type: ignore[func-returns-value]

    for key, size in [("a", 4), ("b", 4), ("a", 4), ("c", 4), ("a", 4), ("b", 4), ("big", 99)]:
        assert get(key, size) == key.upper()
    assert made == ["a", "b", "c", "b", "big"]
    assert get("big", 99) == "BIG" and get("a", 4) == "A" and made[-1] == "a"
