"""Clip paths, uses and opacity beside resvg, which shares no code with CairoSVG; and what nothing shows."""

import io
import xml.etree.ElementTree as ET

import cairocffi
import numpy as np
import pytest
import resvg_py
from helpers.jobs import svg
from numpy.typing import NDArray
from PIL import Image

from facegraphic.errors import UserError
from facegraphic.job.drawings import read_drawing
from facegraphic.output.drawings import recording, svg_elements

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40" width="40" height="40">'
RECT = '<rect width="40" height="40" fill="#824"/>'
FRAME = "M5 5H35V35H5Z M15 15H25V25H15Z"
CUT = '<clipPath id="b">{}</clipPath><g clip-path="url(#b)">' + RECT + "</g>"
DRAWN = {
    "no rule": CUT.format(f'<path d="{FRAME}"/>'),
    "an attribute": CUT.format(f'<path d="{FRAME}" clip-rule="evenodd"/>'),
    "a style": CUT.format(f'<path d="{FRAME}" style="clip-rule:evenodd"/>'),
    "a class": "<style>.e{clip-rule:evenodd}</style>" + CUT.format(f'<path class="e" d="{FRAME}"/>'),
    "handed down": CUT.format(f'<path d="{FRAME}"/>').replace("<clipPath", '<clipPath clip-rule="evenodd"'),
    "a use": f'<defs><path id="p" d="{FRAME}" clip-rule="evenodd"/></defs>' + CUT.format('<use href="#p"/>'),
    "two shapes": CUT.format('<path d="M5 5H20V20H5z"/><path d="M10 10H35V35H10z"/>'),
    "curves": CUT.format('<path clip-rule="evenodd" d="M2 20Q20 -9 38 20T2 20M9 20Q20 5 30 20T9 20"/>'),
    "another after it": CUT.format(f'<path d="{FRAME}" clip-rule="evenodd"/>')
    + f'<clipPath id="z"><path d="{FRAME}"/></clipPath><g clip-path="url(#z)">{RECT}</g>',
    "one within another": '<clipPath id="a"><rect width="20" height="20"/></clipPath><g clip-path="url(#a)">'
    + CUT.format('<rect width="30" height="30"/>') + "</g>",
    "shapes that run opposite ways": CUT.format('<path d="M5 5H25V25H5z"/><path d="M15 15V35H35V15z"/>'),
    "curves that run opposite ways":
    CUT.format('<circle cx="15" cy="15" r="12"/><path d="M12 20C12 40 38 40 38 20Q25 5 12 20"/>'),
    "a mirrored shape":
    CUT.format('<circle cx="15" cy="15" r="12"/><circle cx="-25" cy="22" r="12" transform="scale(-1 1)"/>'),
    "with a hole, and another over it":
    CUT.format('<path d="M5 5H35V35H5z M12 12V28H28V12z"/><path d="M20 2V18H38V2z"/>'),
    "a part that is not displayed":
    CUT.format('<rect width="20" height="20"/><rect width="40" height="9" display="none"/>'),
    "a part that is hidden":
    CUT.format('<rect width="20" height="20"/><rect width="40" height="9" visibility="hidden"/>'),
    "a hidden part first":
    CUT.format('<rect width="40" height="9" style="display:none"/><rect width="20" height="20"/>'),
    "a use of a hidden part": '<defs><rect id="h" width="40" height="9"/></defs>'
    + CUT.format('<rect width="20" height="20"/><use href="#h" display="none"/>'),
    "not displayed itself":
    CUT.format('<rect width="20" height="20"/>').replace("<clipPath", '<clipPath display="none"'),
    "on a use that is moved":
    '<clipPath id="a"><circle cx="10" cy="10" r="8"/></clipPath><defs><rect id="r" width="20" '
    'height="20"/></defs><use href="#r" x="4" y="12" clip-path="url(#a)" transform="translate(3 2) scale(.8)"/>',
    "of a use that is moved": '<defs><rect id="r" width="20" height="20"/></defs>'
    + CUT.format('<use href="#r" x="5" y="12" transform="rotate(10)"/>'),
    "in shares of a rectangle": '<clipPath id="a" clipPathUnits="objectBoundingBox"><rect width=".5" height=".5"/>'
    '</clipPath><rect width="30" height="40" clip-path="url(#a)"/>',
}  # fmt: skip
CHILD = '<rect width="30" height="30" clip-path="url(#a)"/>'
SMALL = '<clipPath id="a"><rect width="20" height="20"/></clipPath>'
REFUSED = {
    "cut by another": SMALL + CUT.format("<circle r='30'/>").replace('id="b"', 'id="b" clip-path="url(#a)"'),
    "part of it is cut": SMALL + CUT.format(CHILD),
    "cut by itself": '<clipPath id="a"><path d="M0 0H9" clip-path="url(#a)"/></clipPath><g clip-path="url(#a)"/>',
    "several shapes by the even-odd rule": CUT.format(
        f'<path clip-rule="evenodd" d="{FRAME}"/><rect width="9" height="9"/>'),
    "in shares of": SMALL.replace('id="a"', 'id="a" clipPathUnits="objectBoundingBox"')
    + f'<g clip-path="url(#a)">{RECT}</g>',
}  # fmt: skip
USES = {
    "faint": '<use href="#r" opacity=".4"/>',
    "faint by its style": '<use href="#r" style="opacity:0.25"/>',
    "faint by its class": '<style>.f{opacity:.5}</style><use href="#r" class="f"/>',
    "faint in a faint group": '<g opacity=".5"><use href="#r" opacity=".4"/></g>',
    "faint, of a group":
    '<defs><g id="g"><rect width="20" height="20"/><rect x="9" y="9" width="20" height="20"/></g></defs>'
    '<use href="#g" opacity=".4"/>',
    "faint and cut": CUT.format('<circle r="25"/>').replace(RECT, '<use href="#r" x="3" opacity=".4"/>'),
    "not to be seen": RECT.replace('"40"', '"9"', 1) + '<use href="#r" opacity="0"/>',
    "not displayed": RECT.replace('"40"', '"9"', 1) + '<use href="#r" display="none"/>',
    "not displayed by its style": RECT.replace('"40"', '"9"', 1) + '<use href="#r" style="display:none"/>',
    "moved and turned": '<use href="#r" x="5" y="50%" transform="rotate(-20)" transform-origin="9 9"/>',
    "of a use": '<defs><use id="u" href="#r" x="4" opacity=".5"/></defs><use href="#u" y="5"/><use href="#u" y="20"/>',
}  # fmt: skip
COLOURS = {
    "eight figures": '<rect width="40" height="40" fill="#88224480"/>',
    "four figures": '<rect width="40" height="40" fill=" #8244 "/>',
    "a style": '<rect width="40" height="40" style="stroke:none;fill:#8822447f"/>',
    "a style with a comment": '<rect width="40" height="40" style="fill:/* dark */#8822447f"/>',
    "a sheet": '<style>.c{fill:#8248}</style><rect class="c" width="40" height="40"/>',
    "a stroke": '<path d="M0 20H40" stroke-width="20" stroke="#824c"/>',
    "handed on": '<g color="#82446688"><rect width="40" height="40" fill="currentColor"/></g>',
    "gradient": '<linearGradient id="g"><stop stop-color="#f00f"/><stop offset="1" stop-color="#f002"/>'
    '</linearGradient><rect width="40" height="40" fill="url(#g)"/>',
    "beside an id of figures": '<style>#abcd{fill:#abcd}</style><rect id="abcd" width="40" height="40"/>',
}  # fmt: skip
SHOWN = {
    "URL(#p)": '<pattern id="p" width="2" height="2"><path d="M0 0h1v1"/></pattern><path fill="URL(#p)" d="M0 0h9v9"/>',
    "a name as addresses are": '<pattern id="p q" width="2" height="2"><path d="M0 0h1v1"/></pattern>'
    '<path fill="url(#p%20q)" d="M0 0h9v9"/>',
    "a name in quotes": '<pattern id="p q" width="2" height="2"><path d="M0 0h1v1"/></pattern>'
    """<path fill="url('#p q')" d="M0 0h9v9"/>""",
    "text over its own word": '<text display="none" style="display:inline">x</text>',
    "text at last": '<g style="display:none;display:inline"><text>x</text></g>',
    "text by a sheet": '<style>.a{display:inline!important}</style><g class="a" display="none"><text>x</text></g>',
    "text, the word being a comment's": '<text style="display:inline;/*;display:none;*/">x</text>',
}  # fmt: skip
UNUSED = {
    "a filter": '<filter id="f"><feGaussianBlur stdDeviation="2"/></filter>',
    "a mask in defs": '<defs><mask id="m"><rect width="9" height="9"/></mask></defs>',
    "a pattern": '<defs><pattern id="p" width="2" height="2"><rect width="1" height="1"/></pattern></defs>',
    "text in defs": '<defs><g><text id="t">old</text></g></defs>',
    "a layer that is not displayed": '<g style="display:none"><text>guide</text><image href="x.png"/></g>',
    "text without any": '<text x="10" y="60"> <tspan/></text>',
}
USED = {
    "a filter": UNUSED["a filter"] + '<g filter="url(#f)"/>',
    "text": '<defs><g id="u"><text>x</text></g></defs><use href="#u"/>',
    "a pattern": UNUSED["a pattern"] + '<style>.a{fill:url("#p")}</style><rect class="a" width="9" height="9"/>',
    "it holds text": "<g><text>x</text></g>",
}


def shown_by_us(data: bytes) -> NDArray[np.float64]:
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_ARGB32, 40, 40)
    context = cairocffi.Context(surface)
    context.set_source_surface(recording(read_drawing(data))[0])
    context.paint()
    return np.frombuffer(surface.get_data(), np.uint8).reshape(40, 40, 4)[..., 3] / 255


def shown_by_resvg(data: bytes) -> NDArray[np.float64]:
    picture = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=data.decode()))))
    return np.asarray(picture.convert("RGBA"))[..., 3] / 255


@pytest.mark.parametrize("name", DRAWN)
def test_a_clip_cuts_as_resvg_has_it(name: str) -> None:
    drawn_as_by_resvg(DRAWN[name])


@pytest.mark.parametrize("name", USES)
def test_a_use_shows_as_resvg_has_it(name: str) -> None:
    drawn_as_by_resvg(
        '<defs><rect id="r" width="20" height="20" fill="#824" stroke="#123" stroke-width="4"/></defs>' + USES[name]
    )


@pytest.mark.parametrize("name", COLOURS)
def test_colours_that_say_how_opaque_they_are_show_as_resvg_has_them(name: str) -> None:
    drawn_as_by_resvg(COLOURS[name])


@pytest.mark.parametrize("name", SHOWN)
def test_what_is_shown_after_all_is_not_left_out(name: str) -> None:
    with pytest.raises(ValueError, match=r"text|pattern"):
        read_drawing(svg(SHOWN[name], HEAD))


def drawn_as_by_resvg(body: str) -> None:
    data = svg(body, HEAD)
    ours, theirs = shown_by_us(data), shown_by_resvg(data)
    assert theirs.sum() > 50
    assert np.abs(ours - theirs).mean() < 0.01
    written = b"".join(map(ET.tostring, svg_elements(read_drawing(data), "x")[0]))
    head = HEAD.replace("<svg", '<svg xmlns:xlink="http://www.w3.org/1999/xlink"').encode()
    again = shown_by_resvg(head + written + b"</svg>")
    assert np.abs(again - theirs).mean() < 0.01


@pytest.mark.parametrize("name", REFUSED)
def test_a_clip_that_would_come_out_wrong_is_refused(name: str) -> None:
    says = name if name.startswith(("in shares", "several")) else "cut by another"
    for draw in (recording, lambda drawing: svg_elements(drawing, "x")):
        with pytest.raises(UserError, match=says):
            draw(read_drawing(svg(REFUSED[name], HEAD)))


@pytest.mark.parametrize("name", UNUSED)
def test_what_nothing_shows_is_left_out(name: str) -> None:
    drawing = read_drawing(svg(UNUSED[name] + RECT, HEAD))
    assert b"rect" in drawing.svg
    assert not any(word in drawing.svg for word in (b"<filter", b"<mask", b"<pattern", b"<text", b"<image"))


@pytest.mark.parametrize("name", USED)
def test_what_is_shown_is_still_refused(name: str) -> None:
    with pytest.raises(ValueError, match=name):
        read_drawing(svg(USED[name] + RECT, HEAD))
