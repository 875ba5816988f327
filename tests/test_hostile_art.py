"""Artwork made to do harm: never fetched, never read from disk, never unfolded; refused at once, in little memory."""

import sys
from pathlib import Path

import pytest
from helpers.jobs import blank_png, good, lay, svg
from helpers.runs import run_apart, run_here, tree

LAUGHS = (
    "<!DOCTYPE svg [<!ENTITY a0 'ha'>" + "".join(f"<!ENTITY a{i} '{f'&a{i - 1};' * 10}'>" for i in range(1, 10)) + "]>"
)
SYSTEM = '<!DOCTYPE svg [<!ENTITY canary SYSTEM "canary.txt">]>'
PARAMETER = '<!DOCTYPE svg [<!ENTITY % canary SYSTEM "canary.txt"> %canary;]>'
USES = "".join(f'<g id="u{i}">{f"""<use href="#u{i - 1}"/>""" * 10}</g>' for i in range(1, 9))
USE_BOMB = svg(f'<g id="u0"><rect width="1" height="1"/></g>{USES}')
USE_CHAIN = svg("".join(f'<g id="c{i}"><use href="#c{i + 1}"/></g>' for i in range(150)) + '<path id="c150"/>')
USE_CHAIN_UP = svg('<path id="c0"/>' + "".join(f'<g id="c{i}"><use href="#c{i - 1}"/></g>' for i in range(1, 150)))

HOSTILE = [
    ("file reference", svg('<use href="canary.txt#a"/>'), "something outside"),
    ("file address", svg('<use xlink:href="file:///canary.txt#a"/>'), "something outside"),
    ("net reference", svg('<use xlink:href="http://canary.invalid/a.svg#a"/>'), "something outside"),
    ("linked picture", svg('<image href="canary.txt" width="9" height="9"/>'), "embedded picture"),
    ("linked gradient", svg('<linearGradient id="g" href="canary.txt#g"/>'), "something outside"),
    ("css import", svg('<style>@import url("canary.txt");</style>'), "imports or hides a reference"),
    ("css import in a comment", svg("<style>/* @import 'canary.txt'; */</style>"), "imports or hides a reference"),
    ("css import between strings", svg("<style>a{b:'/*'} @import 'canary.txt'; a{b:'*/'}</style>"), "imports or hides"),
    ("css import escaped", svg(r"<style>@\69mport 'canary.txt';</style>"), "imports or hides a reference"),
    ("css url escaped", svg(r'<rect style="fill:\75rl(canary.txt)"/>'), "imports or hides a reference"),
    ("css url", svg("<style>rect{fill:url(canary.txt#a)}</style>"), 'something outside ("canary.txt#a")'),
    ("css url in capitals", svg("<rect style=\"fill:URL( 'canary.txt#a' )\"/>"), "something outside"),
    ("css url with a comment", svg('<rect style="fill:u/**/rl(canary.txt)"/>'), "something outside"),
    ("url in an attribute", svg('<rect fill="url(http://canary.invalid/#a)"/>'), "something outside"),
    ("clip path outside", svg('<rect clip-path="url(canary.txt#a)"/>'), "something outside"),
    ("script", svg("<script>open('canary.txt')</script>"), "a script (line 1); take it out"),
    ("script by event", svg('<rect onload="open(1)"/>'), "a script (onload)"),
    ("script in a link", svg('<a href="javascript:open(1)"><rect/></a>'), "cannot be printed from here"),
    ("foreign content", svg('<foreignObject><p xmlns="http://www.w3.org/1999/xhtml"/></foreignObject>'), "foreign"),
    ("text needing a font", svg("<text>BELL</text>"), "text (line 1); turn it into paths"),
    ("animation", svg('<rect><set attributeName="x" to="3"/></rect>'), "animation"),
    ("filter", svg('<rect filter="url(#f)"/>'), "a filter"),
    (
        "a marker of its line's colour",
        svg(
            '<marker id="m"><path d="M0 0h3v3" fill="context-stroke"/></marker><path d="M0 0h9" marker-end="url(#m)"/>'
        ),
        "the colour of its line",
    ),
    (
        "a stroke that keeps its width",
        svg('<path d="M0 0h9" style="vector-effect: non-scaling-stroke"/>'),
        "vector-effect",
    ),
    ("dashes of a path's own length", svg('<path d="M0 0h9" pathLength="9" stroke-dasharray="1"/>'), "a pathLength"),
    ("internal entities", svg("&a9;", before=LAUGHS), "entities"),
    ("system entity", svg("&canary;", before=SYSTEM), "entities"),
    ("parameter entity", svg("", before=PARAMETER), "entities"),
    ("use of itself", svg('<g id="a"><use href="#a"/></g>'), "contains itself"),
    ("uses that unfold without end", USE_BOMB, "unfold to more than 25000"),
    ("uses that go deep", USE_CHAIN, "more than 100 levels"),
    ("uses that go deep, from below", USE_CHAIN_UP, "more than 100 levels"),
    ("deep nesting", svg("<g>" * 50_000 + "</g>" * 50_000), "100 levels"),
    ("very many elements", svg("<g/>" * 100_001), "more than 25000 elements"),
]

# CairoSVG raises errors of many kinds for these when it draws; each must reach the user as a message.
MALFORMED = [
    ("selector", "<style>a:::b{fill:red}</style>"),
    ("arc", '<path d="M0 0 A 1 1"/>'),
    ("colour", '<rect width="9" height="9" fill="rgb(a, b, c)"/>'),
    ("opacity", '<g opacity="x"><rect width="9" height="9"/></g>'),
]

WATCH = """
import os, sys
def watch(event, arguments):
    if event.startswith("socket.") or (event == "open" and "canary" in str(arguments[0])):
        os.write(2, f"REACHED {event} {arguments}\\n".encode())
sys.addaudithook(watch)
"""


@pytest.mark.parametrize(("name", "data", "says"), HOSTILE, ids=[name for name, _, _ in HOSTILE])
def test_a_hostile_drawing_is_refused(name: str, data: bytes, says: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good(), {"waves.svg": data})
    before = tree(tmp_path)
    ran = run_here("make", job)
    assert (ran.status, ran.out) == (1, "")
    assert 'job.toml:30: face[0].art[0].file: "waves.svg" cannot be used as artwork' in ran.err
    assert says in ran.err
    assert tree(tmp_path) == before


@pytest.mark.parametrize(("name", "body"), MALFORMED, ids=[name for name, _ in MALFORMED])
@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_a_malformed_drawing_is_told_of_in_every_format(name: str, body: str, kind: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good(), {"waves.svg": svg(body)})
    ran = run_here("make", job, "--only", "art", "--format", kind)
    assert (ran.status, ran.out) == (1, "")
    assert "waves.svg: the artwork cannot be drawn: a value in it is malformed" in ran.err
    assert "save it as plain SVG" in ran.err
    assert not job.with_name("job-out").exists()


def test_no_hostile_drawing_reaches_a_file_or_the_net(tmp_path: Path) -> None:
    (tmp_path / "canary.txt").write_text("<svg/>")
    jobs = []
    for number, (_, data, _) in enumerate(HOSTILE):
        text = good('"waves.svg"', f'"hostile-{number}.svg"')
        (tmp_path / f"hostile-{number}.svg").write_bytes(data)
        (tmp_path / f"job-{number}.toml").write_text(text)
        jobs.append(f"job-{number}.toml")
    lay(tmp_path, good())
    ran = run_apart("make", *jobs, "job.toml", cwd=tmp_path, before=WATCH)
    assert ran.status == 1
    assert all(f"; nothing of {job} was written" in ran.err for job in jobs)
    assert ran.out == "job-out\n"
    assert "REACHED" not in ran.err


def test_the_watch_sees_a_file_that_is_read(tmp_path: Path) -> None:
    lay(tmp_path, good('"waves.svg"', '"canary.svg"'), {"canary.svg": svg("")})
    ran = run_apart("make", "job.toml", "--format", "svg", cwd=tmp_path, before=WATCH)
    assert ran.status == 0
    assert "REACHED open" in ran.err


def test_harmless_drawings_of_the_same_kinds_are_taken(tmp_path: Path) -> None:
    doctype = '<!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" "http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
    body = (
        '<style>/* plain */ .a{fill:url(#g)}</style><title>buoy</title><metadata><x xmlns="urn:x"/></metadata>'
        '<linearGradient id="g"><stop offset="0" stop-color="#fff"/></linearGradient>'
        '<g id="a"><path d="M0 0H9V9Z"/></g>'
        '<use xlink:href="#a" x="9"/><rect class="a" width="9" height="9" filter="none"/>'
    )
    lay(tmp_path, good(), {"waves.svg": svg(body, before=doctype)})
    ran = run_apart("make", "job.toml", "--only", "art", cwd=tmp_path, before=WATCH)
    assert ran.status == 0, ran.err
    assert "REACHED" not in ran.err


USAGE = """
import atexit, os, resource
def tell():
    used = resource.getrusage(resource.RUSAGE_SELF)
    os.write(2, f"USED {used.ru_maxrss} {used.ru_utime + used.ru_stime:.3f}\\n".encode())
atexit.register(tell)
"""


def _used(folder: Path, picture: bytes) -> tuple[float, float]:
    """Most memory in MB and seconds of processor that refusing a picture took."""
    lay(folder, good('"waves.svg"', '"waves.png"'), {"waves.png": picture})
    ran = run_apart("make", "job.toml", cwd=folder, before=USAGE)
    assert ran.status == 1
    assert '"waves.png" cannot be used as artwork' in ran.err
    assert not (folder / "job-out").exists()
    memory, seconds = ran.err.rpartition("USED ")[2].split()
    return float(memory) / (2**20 if sys.platform == "darwin" else 2**10), float(seconds)


@pytest.mark.skipif(sys.platform == "win32", reason="the resource module is not on Windows")
def test_a_whole_png_of_60000_pixels_square_is_refused_from_its_header(tmp_path: Path) -> None:
    bomb = blank_png(60_000)
    assert len(bomb) < 4_000_000
    memory, seconds = _used(tmp_path / "bomb", bomb)
    small_memory, small_seconds = _used(tmp_path / "small", b"no picture")
    assert memory - small_memory < 20  # its pixels would take 429 MB at one bit, 13.4 GB as RGBA
    assert seconds - small_seconds < 0.5
