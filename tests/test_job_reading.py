"""What a job file may say, and what it comes to."""

import json
from pathlib import Path
from typing import Any

import pytest
from helpers.jobs import WAVES, good, lay, svg
from helpers.runs import run_here

from facegraphic.job.load import load_job
from facegraphic.job.model import Face, Job

# The job file of the design, complete: every key that it shows.
SLOW_FERRY = """\
title = "Slow Ferry"
[box]
stock = "112x60x31"
paint = "#22505c"

[finish]
process = "waterslide-white"
ink = "#141414"
font = "barlow-condensed-semibold"
bleed = 2.0
margin = 2.5
dpi = 600

[[face]]
side = "top"
drill = "slow-ferry.csv"
origin = "centre"

[[face.control]]
hole = "rate"
part = "pot-16"
knob = "round-19"
label = "RATE"
place = "auto"
scale = { from = 0, to = 10, step = 1 }

[[face.control]]
hole = "depth"
part = "pot-16"
label = "DEPTH"

[[face.control]]
hole = "wave"
part = "toggle-mini"
label = "WAVE"
positions = ["SINE", "RAMP"]

[[face.frame]]
holes = ["rate", "depth"]
label = "LFO"

[[face.text]]
text = "{title}"
at = "auto"
height = 7

[[face.art]]
file = "waves.svg"
fit = "cover"
opacity = 1.0

[[coat]]
paint = "#efe6d0"
[[coat]]
paint = "#a8321f"
where = "stripe.svg"

[sheet]
paper = "A4"
copies = 1
used = [[0, 0, 210, 80]]
"""
DRILLED = "id,x,y,d\nrate,-15,30,7.5\ndepth,15,30,7.5\nwave,0,-10,6.3\nfoot,0,-38,12.2\n"


def job_of(folder: Path, text: str, **files: str | bytes) -> Job:
    return load_job(lay(folder, text, {name.replace("_", "."): content for name, content in files.items()}))


def face_of(folder: Path, face: str, box: str = "size = [120, 60, 30]\ncorner = 0\nedge = 0\ndraft = 0") -> Face:
    """The first face of a job with a plain box: its top is 120 × 60 mm exactly."""
    return job_of(folder, f"[box]\n{box}\n[[face]]\n{face}").faces[0]


def spots(face: Face) -> dict[str, tuple[float, float, float]]:
    return {hole.id: (round(hole.x, 9), round(hole.y, 9), round(hole.d, 9)) for hole in face.holes}


def test_the_job_of_the_design_is_read_and_made(tmp_path: Path) -> None:
    job = lay(tmp_path, SLOW_FERRY, {"slow-ferry.csv": DRILLED, "stripe.svg": WAVES})
    ran = run_here("make", job, "--format", "svg", "--only", "art", "--json")
    assert ran.status == 0, ran.err
    [report] = json.loads(ran.out).values()
    assert report["title"] == "Slow Ferry"
    assert report["process"] == "waterslide-white"
    [face] = report["faces"]
    assert face["side"] == "top"
    assert face["size"] == pytest.approx([56.1, 108.0], abs=0.05)  # holes at y = ±38 only fit upright
    places = {hole["id"]: (hole["x"], hole["y"], hole["d"], hole["part"]) for hole in face["holes"]}
    assert places == {
        "rate": (-15, 30, 7.5, "pot-16"),
        "depth": (15, 30, 7.5, "pot-16"),
        "wave": (0, -10, 6.3, "toggle-mini"),
        "foot": (0, -38, 12.2, None),
    }
    assert {"RATE", "DEPTH", "WAVE", "SINE", "RAMP", "LFO", "Slow Ferry"} <= {one["text"] for one in face["legends"]}
    assert [one["code"] for one in report["findings"] if one["severity"] == "note"] == [
        "small-to-read",
        "ground-unlike-paint",  # the film has the box's own blue to its edge, and a cream coat is sprayed beneath
    ]


def test_a_job_is_read_into_what_it_says(tmp_path: Path) -> None:
    job = job_of(tmp_path, good())
    finish, face = job.finish, job.faces[0]
    assert (job.title, job.box.name, job.paint, job.sheet.paper.name) == ("Bell Buoy", "112x60x31", "#22505c", "A4")
    assert (job.across, job.deep) == (60.5, 112.4)
    assert (finish.film.name, finish.ink, finish.bleed, finish.dpi) == ("waterslide-clear", "#141414", 2.0, 150)
    [control] = face.controls
    assert (control.hole, control.label, control.place) == ("rate", "RATE", "auto")
    assert control.part is not None
    assert control.knob is not None
    assert (control.part.name, control.knob.name) == ("pot-16", "round-16")
    assert control.scale is not None
    assert control.scale.figures == tuple(range(11))
    assert [text.text for text in face.texts] == ["Bell Buoy"]
    assert [(art.name, art.fit, art.opacity) for art in face.arts] == [("waves.svg", "cover", 0.5)]


def test_every_key_but_the_box_and_a_face_has_a_default(tmp_path: Path) -> None:
    job = job_of(tmp_path, '[box]\nstock = "112x60x31"\n[[face]]\nside = "top"\n')
    finish = job.finish
    assert (job.title, job.sheet.paper.name, finish.dpi, finish.margin) == ("", "A4", 600, 2.5)
    assert (finish.film.name, finish.ink, finish.mirrored) == ("waterslide-clear", "#000000", False)
    assert finish.bleed == finish.film.bleed
    assert (job.faces[0].holes, job.faces[0].controls, job.coats) == ((), (), ())


# One hole 10 mm from the left edge and 5 mm from the upper edge of a top of 120 × 60 mm: at -50, 25 from its centre.
ORIGINS = {
    "centre": ("", "[-50, 25]"),
    "centre, said": ('origin = "centre"\ny = "up"', "[-50, 25]"),
    "centre, down": ('y = "down"', "[-50, -25]"),
    "lower left": ('origin = "lower-left"', "[10, 55]"),
    "lower left, down": ('origin = "lower-left"\ny = "down"', "[10, -55]"),
    "upper left": ('origin = "upper-left"', "[10, 5]"),
    "upper left, up": ('origin = "upper-left"\ny = "up"', "[10, -5]"),
    "inches": ('units = "in"', "[-1.968503937007874, 0.984251968503937]"),
    "units in the figures": ('units = "in"', '["-50 mm", "2.5 cm"]'),
}


@pytest.mark.parametrize("name", ORIGINS)
def test_one_place_written_from_every_origin_is_one_place(name: str, tmp_path: Path) -> None:
    head, at = ORIGINS[name]
    face = face_of(tmp_path, f'side = "top"\n{head}\nhole = [{{ id = "a", at = {at}, d = "7 mm" }}]\n')
    assert spots(face) == {"a": (-50.0, 25.0, 7.0)}


@pytest.mark.parametrize("name", ORIGINS)
def test_texts_and_art_count_from_the_same_origin(name: str, tmp_path: Path) -> None:
    head, at = ORIGINS[name]
    if 'units = "in"' in head:
        at = "[-50, 25]"  # units are of the hole figures only; other lengths are mm
    stands = f'[[face.text]]\ntext = "A"\nat = {at}\n[[face.art]]\nfile = "waves.svg"\nsize = [4, 4]\nat = {at}\n'
    face = face_of(tmp_path, f'side = "top"\n{head}\n{stands}')
    assert face.texts[0].at == pytest.approx((-50, 25))
    assert face.arts[0].region is not None
    assert face.arts[0].region.centre == pytest.approx((-50, 25))


@pytest.mark.parametrize(
    ("head", "at"),
    [('origin = "upper-left"', "[10, -5]"), ('origin = "lower-left"\ny = "down"', "[10, 5]"),
     ('origin = "lower-left"', "[10, -5]"), ('origin = "upper-left"\ny = "up"', "[10, 5]")],
)  # fmt: skip
def test_a_sign_that_leaves_the_face_is_not_mended_in_silence(head: str, at: str, tmp_path: Path) -> None:
    hole = f'hole = [{{ id = "a", at = {at}, d = 7 }}]'
    box = "[box]\nsize = [120, 60, 30]\norientation = 'landscape'\n"
    ran = run_here("check", lay(tmp_path, f'{box}[[face]]\nside = "top"\n{head}\n{hole}\n'))
    assert ran.status == 1
    assert "hole a stands outside the face" in ran.err


def test_inch_figures_in_a_table(tmp_path: Path) -> None:
    # Fractions of an inch: a chart of fractional drills that cites the drill standard.
    lay(tmp_path, "", {"inches.csv": "id,x,y,d\na,-1 1/2,0.5,3/8\n"})
    face = face_of(tmp_path, 'side = "top"\nunits = "in"\ndrill = "inches.csv"\n')
    assert spots(face) == {"a": (-38.1, 12.7, 9.525)}


def test_holes_of_a_table_and_of_the_job_stand_together(tmp_path: Path) -> None:
    face = face_of(
        tmp_path,
        'side = "top"\ndrill = "holes.csv"\nhole = [{ id = 7, at = [20, 0], d = 5 }]\n',
        "size = [80, 120, 30]",
    )
    assert list(spots(face)) == ["rate", "foot", "7"]


NEAR = """\
side = "top"
hole = [{{ id = "a", at = [0, 0], d = 7 }}, {{ id = "b", at = [8, 0], d = 7 }}]
[[face.control]]
at = [{x}, 0]
"""


@pytest.mark.parametrize(("x", "hole"), [(0, "a"), (3.9, "a"), (4.1, "b"), (-4.99, "a"), (12.99, "b")])
def test_a_control_by_its_place_takes_the_nearest_hole(x: float, hole: str, tmp_path: Path) -> None:
    assert [control.hole for control in face_of(tmp_path, NEAR.format(x=x)).controls] == [hole]


@pytest.mark.parametrize("x", [-5.01, 13.01, 50])
def test_a_control_out_of_reach_of_every_hole_is_refused(x: float, tmp_path: Path) -> None:
    box = "[box]\nsize = [120, 60, 30]\n[[face]]\n"
    ran = run_here("check", lay(tmp_path, box + NEAR.format(x=x)))
    assert ran.status == 1
    assert "no hole lies within 5 mm" in ran.err


def test_fields_stand_for_what_the_job_says(tmp_path: Path) -> None:
    head = 'title = "Bell Buoy"\nmaker = "Skerry Works"\nrevision = "C"\n'
    head += '[box]\nstock = "93x39x31"\n[[face]]\nside = "top"\n'
    text = '[[face.text]]\ntext = "{title}, {maker}, {revision}, {box}, { process }, {side}, {{as is}}"\n'
    job = job_of(tmp_path, head + text)
    assert job.faces[0].texts[0].text == "Bell Buoy, Skerry Works, C, 93x39x31, waterslide-clear, top, {as is}"


@pytest.mark.parametrize(
    ("asked", "lies"),
    [('orientation = "portrait"', (60.0, 120.0)), ('orientation = "landscape"', (120.0, 60.0)),
     ('orientation = "auto"', (120.0, 60.0)), ("", (120.0, 60.0))],
)  # fmt: skip
def test_a_box_lies_as_asked(asked: str, lies: tuple[float, float], tmp_path: Path) -> None:
    job = job_of(tmp_path, f'[box]\nsize = [120, 60, 30]\n{asked}\n[[face]]\nside = "top"\n')
    assert (job.across, job.deep) == lies


def test_a_box_turns_until_its_holes_fit(tmp_path: Path) -> None:
    job = job_of(
        tmp_path, '[box]\nsize = [120, 60, 30]\n[[face]]\nside = "top"\nhole = [{ id = "a", at = [0, 50], d = 9 }]\n'
    )
    assert (job.across, job.deep) == (60.0, 120.0)


@pytest.mark.parametrize(
    ("side", "size"),
    [("top", (118, 58)), ("back", (110, 26)), ("front", (110, 26)), ("left", (50, 26)), ("right", (50, 26))],
)
def test_each_side_is_the_flat_that_radii_and_lid_leave(side: str, size: tuple[float, float], tmp_path: Path) -> None:
    """120 × 60 × 30 mm, walls upright: edge 1 off where it rounds, corner 5 off each upright edge, lid 3 off below."""
    box = "size = [120, 60, 30]\ncorner = 5\nedge = 1\nlid = 3\ndraft = 0"
    assert face_of(tmp_path, f'side = "{side}"\n', box).outline.size == pytest.approx(size)


def test_all_sides_of_one_box_are_made(tmp_path: Path) -> None:
    sides = ("top", "back", "front", "left", "right")
    faces = "".join(f'[[face]]\nside = "{side}"\n[[face.text]]\ntext = "{{side}}"\nat = [0, 0]\n' for side in sides)
    job = lay(tmp_path, f'[box]\nstock = "112x60x31"\n{faces}')
    assert run_here("make", job, "--format", "svg", "--only", "art").status == 0
    report = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    assert [face["side"] for face in report["faces"]] == list(sides)
    assert [face["legends"][0]["text"] for face in report["faces"]] == list(sides)


ACCEPTED: list[tuple[str, str, Any]] = [
    ('ink = "navy"', "ink", "#000080"),  # CSS colour names
    ('ink = "#abc"', "ink", "#aabbcc"),
    ("mirror = true", "mirrored", True),
    ('process = "waterslide-reversed"', "mirrored", True),
    ('process = "waterslide-reversed"\nmirror = false', "mirrored", False),
    ('bleed = "1/8 in"', "bleed", 3.175),
    ('ground = "none"', "ground", None),
    ('process = "waterslide-white"', "ground", "#22505c"),
    ('height = "12 pt"', "cap", pytest.approx(12 * 25.4 / 72)),  # CSS Values and Units: 72 pt to the inch
    ("halo = 0.4", "halo", 0.4),
    ('holes = "through"', "holes", "through"),
    ('cut = "ticks"', "cut", "ticks"),
]


@pytest.mark.parametrize(("line", "name", "value"), ACCEPTED, ids=[line for line, _, _ in ACCEPTED])
def test_the_finish_is_as_it_is_written(line: str, name: str, value: Any, tmp_path: Path) -> None:
    text = f'[box]\nstock = "112x60x31"\npaint = "#22505c"\n[finish]\n{line}\n[[face]]\nside = "top"\n'
    assert getattr(job_of(tmp_path, text).finish, name) == value


def test_lists_of_figures_and_words_make_scales(tmp_path: Path) -> None:
    head = 'side = "top"\nhole = [{ id = "a", at = [0, 0], d = 7 }, { id = "b", at = [30, 0], d = 7 }]\n'
    figures = (
        '[[face.control]]\nhole = "a"\npart = "pot-16"\nscale = { values = [-5, 0, 5], detent = 0, style = "dots" }\n'
    )
    words = '[[face.control]]\nhole = "b"\npart = "pot-16"\nscale = { words = ["LOW", "MID", "HIGH"] }\n'
    first, second = face_of(tmp_path, head + figures + words).controls
    assert first.scale is not None
    assert second.scale is not None
    assert (first.scale.figures, first.scale.detent, first.scale.style) == ((-5, 0, 5), 0, "dots")
    assert (second.scale.texts, second.scale.shares) == (("LOW", "MID", "HIGH"), (0, 0.5, 1))


def test_windows_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path) -> None:
    plain = job_of(tmp_path / "a", good())
    windows = load_job(lay(tmp_path / "b", b"\xef\xbb\xbf" + good().replace("\n", "\r\n").encode()))
    assert windows == plain


def test_art_of_its_own_size_stands_where_it_is_put(tmp_path: Path) -> None:
    lay(tmp_path, "", {"dot.svg": svg("", '<svg xmlns="http://www.w3.org/2000/svg" width="8mm" height="4mm">')})
    face = face_of(tmp_path, 'side = "top"\n[[face.art]]\nfile = "dot.svg"\nat = [10, 5]\n')
    region = face.arts[0].region
    assert region is not None
    assert (region.x0, region.y0, region.x1, region.y1) == pytest.approx((6, 3, 14, 7))
