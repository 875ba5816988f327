"""Section lines: ruled where they are told to, their titles along them, and told of when they meet something."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import shapely
from helpers.jobs import lay
from helpers.runs import run_here
from shapely.geometry.base import BaseGeometry

from facegraphic.errors import UserError
from facegraphic.geometry.path import Point
from facegraphic.geometry.regions import region
from facegraphic.job.controls import Setting, read_line
from facegraphic.job.load import load_job
from facegraphic.job.model import Line
from facegraphic.job.reader import Notes, Table
from facegraphic.layout.frames import TITLE_ROOM
from facegraphic.layout.lines import STUB, reading_angle, section_line
from facegraphic.layout.model import FaceLayout, Legend, Mark
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare

HEAD = '[box]\nstock = "112x60x31"\norientation = "portrait"\n[finish]\nprocess = "{}"\n[[face]]\nside = "top"\n'
HOLE = 'hole = [{ id = "a", at = [0, 0], d = 7.5 }]\n[[face.control]]\nhole = "a"\npart = "pot-16"\n'


def job(body: str, process: str = "adhesive-label") -> str:
    return HEAD.format(process) + body


def line(start: str, end: str, more: str = "") -> str:
    return f"[[face.line]]\nfrom = {start}\nto = {end}\n{more}\n"


def laid(folder: Path, body: str, process: str = "adhesive-label") -> Prepared:
    return prepare(lay(folder, job(body, process)))


def read(folder: Path, body: str, process: str = "adhesive-label") -> tuple[Line, ...]:
    return load_job(lay(folder, job(body, process))).faces[0].lines


def said(prepared: Prepared) -> dict[str, str]:
    return {f.code: f.severity for f in prepared.findings if f.code != "small-to-read"}


def ruled(layout: FaceLayout) -> list[BaseGeometry]:
    return [region(mark.path, mark.rule) for mark in layout.marks if mark.role == "line"]


def parts(folder: Path, body: str) -> tuple[Mark, Legend | None, list[str]]:
    """One line of a job on its own."""
    read_job = load_job(lay(folder, job(body)))
    face = read_job.faces[0]
    mark, title, findings = section_line(face.lines[0], face, read_job.finish)
    return mark, title, [f"{f.code}: {f.message}; {f.remedy}" for f in findings]


# Reading


def test_a_line_is_read_with_its_defaults(tmp_path: Path) -> None:
    assert read(tmp_path, line("[-20, 5]", "[20, 5]")) == (Line((-20, 5), (20, 5), 0.3),)


def test_a_line_is_never_thinner_by_default_than_the_process_holds(tmp_path: Path) -> None:
    finish = load_job(lay(tmp_path, job(""))).finish
    coarse = replace(finish, film=replace(finish.film, line=0.45))
    table = Table(Notes("job.toml", {}), (), {"from": [0, 0], "to": [9, 0]})
    assert read_line(table, Setting(coarse, {}, lambda point: point)) == Line((0, 0), (9, 0), 0.45)


def test_a_line_is_read_with_all_it_may_have(tmp_path: Path) -> None:
    more = 'label = " NORTH "\nwidth = 0.8\nheight = "3 mm"'
    found = read(tmp_path, line('["-1 in", 0]', "[20, 5]", more))
    assert found == (Line((-25.4, 0), (20, 5), 0.8, "NORTH", 3.0),)


def test_ends_are_counted_from_the_faces_origin(tmp_path: Path) -> None:
    face = load_job(lay(tmp_path, job('origin = "upper-left"\n' + line("[5, 10]", "[25, 10]")))).faces[0]
    width, height = face.outline.size
    assert face.lines[0].start == pytest.approx((5 - width / 2, height / 2 - 10))
    assert face.lines[0].end == pytest.approx((25 - width / 2, height / 2 - 10))


BAD = [
    (line("[1, 2]", "[1, 2]"), ["job.toml:10", "from [1, 2] to [1, 2] is only 0 mm long", "at least 1 mm apart"]),
    (line("[1, 2]", "[1.5, 2]"), ["only 0.5 mm long"]),
    ("[[face.line]]\nto = [1, 2]\n", ['"from" is missing', "add from ="]),
    ("[[face.line]]\nfrom = [1, 2]\n", ['"to" is missing', "add to ="]),
    (line("[1, 2, 3]", "[1, 2]"), ["face[0].line[0].from", "a list of 2 lengths"]),
    (line('["x", 2]', "[1, 2]"), ["face[0].line[0].from"]),
    (line("[nan, 2]", "[1, 2]"), ["face[0].line[0].from"]),
    (line("[0, 0]", "[9, 0]", "width = 0"), ["face[0].line[0].width", "between 0.05 and 20"]),
    (line("[0, 0]", "[9, 0]", 'label = "{nothing}"'), ["face[0].line[0].label", "no field or symbol"]),
    (line("[0, 0]", "[9, 0]", "label = 3"), ["face[0].line[0].label", "a text in quotes"]),
    (line("[0, 0]", "[9, 0]", 'lable = "X"'), ["lable", 'did you mean "label"?']),
    ("line = 3\n", ["3 is not a list of tables", "write [[face.line]]"]),
    ("line = [3]\n", ["face[0].line[0]", "is not a table"]),
]


@pytest.mark.parametrize(("body", "words"), BAD)
def test_bad_input_is_told_with_its_place(tmp_path: Path, body: str, words: list[str]) -> None:
    with pytest.raises(UserError) as stopped:
        load_job(lay(tmp_path, job(body)))
    text = str(stopped.value)
    assert all(word in text for word in words), text


def test_every_fault_of_a_line_is_told_at_once(tmp_path: Path) -> None:
    ran = run_here("make", lay(tmp_path, job(line("[1]", "[2]", "width = -1\ntint = 4"))))
    assert ran.status == 1
    assert all(f"face[0].line[0].{key}" in ran.err for key in ("from", "to", "width", "tint"))
    assert not (tmp_path / "job-out").exists()


# Layout


@pytest.mark.parametrize(
    ("start", "end"), [((-20, 5), (20, 5)), ((0, -30), (0, 30)), ((-10, -20), (15, 30)), ((20, 5), (-20, 5))]
)
def test_a_line_runs_between_its_ends(tmp_path: Path, start: Point, end: Point) -> None:
    mark, title, findings = parts(tmp_path, line(str(list(start)), str(list(end)), "width = 0.5"))
    wanted = shapely.LineString([start, end]).buffer(0.25, cap_style="flat")
    assert title is None
    assert findings == []
    assert region(mark.path).symmetric_difference(wanted).area < 1e-6


DIRECTIONS: list[tuple[Point, float]] = [
    ((40, 0), 0), ((-40, 0), 0), ((0, 40), 90), ((0, -40), 90), ((30, 30), 45), ((-30, -30), 45), ((30, -30), -45),
    ((-30, 30), -45), ((1, 40), 88.567904), ((1, -40), -88.567904), ((1e-12, -40), 90), ((-40, 1e-12), 0),
]  # fmt: skip


@pytest.mark.parametrize(("way", "angle"), DIRECTIONS)
def test_a_title_reads_along_its_line(way: Point, angle: float) -> None:
    assert reading_angle(*way) == pytest.approx(angle, abs=1e-6)


@pytest.mark.parametrize(
    ("start", "end", "angle"), [((-20, 5), (24, 5), 0), ((3, 30), (3, -20), 90), ((-15, -15), (15, 15), 45)]
)
def test_a_title_breaks_its_line_in_the_middle(tmp_path: Path, start: Point, end: Point, angle: float) -> None:
    mark, title, findings = parts(tmp_path, line(str(list(start)), str(list(end)), 'label = "NORTH"'))
    assert title
    assert findings == []
    assert (title.role, title.angle, title.text) == ("frame", angle, "NORTH")
    middle = shapely.Point((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    letters, drawn = region(title.path), region(mark.path, mark.rule)
    assert shapely.distance(letters.envelope.centroid, middle) < 0.1
    assert len(shapely.get_parts(drawn)) == 2
    # Both ends are there, and as much bare line on either side of the title.
    for point in (start, end):
        assert shapely.distance(drawn, shapely.Point(point)) < 1e-6
    assert [shapely.distance(part, letters) for part in shapely.get_parts(drawn)] == pytest.approx(
        [TITLE_ROOM, TITLE_ROOM], abs=0.3
    )
    halves = [part.area for part in shapely.get_parts(drawn)]
    assert halves[0] == pytest.approx(halves[1])


def test_a_title_longer_than_its_line_is_told_with_the_length_it_needs(tmp_path: Path) -> None:
    label = 'label = "A LONG NORTH WIND"'
    mark, title, findings = parts(tmp_path / "short", line("[-10, 5]", "[10, 5]", label))
    assert title is None
    assert len(shapely.get_parts(region(mark.path))) == 1
    assert len(findings) == 1
    advice = re.search(r"line-label-too-long: .*of its line of 20.0 mm; make the line ([\d.]+) mm long", findings[0])
    assert advice
    need = float(advice[1])
    for number, (long, fits) in enumerate([(need, True), (need - 0.2, False)]):
        ends = (f"[{-long / 2}, 5]", f"[{long / 2}, 5]")
        mark, title, findings = parts(tmp_path / str(number), line(*ends, label))
        assert (title is not None) == fits == (not findings)
        if fits:
            shortest = min(part.area / 0.3 for part in shapely.get_parts(region(mark.path)))
            assert STUB - 1e-6 <= shortest < STUB + 0.1


@pytest.mark.parametrize(("process", "least"), [("toner-transfer", 0.2), ("adhesive-label", 0.1)])
def test_a_line_too_thin_for_the_process_is_told(tmp_path: Path, process: str, least: float) -> None:
    fields = load_job(lay(tmp_path / "film", job("", process))).finish.film
    thin = laid(tmp_path / "thin", line("[-20, 5]", "[20, 5]", f"width = {fields.line - 0.02}"), process)
    held = laid(tmp_path / "held", line("[-20, 5]", "[20, 5]", f"width = {fields.line}"), process)
    assert fields.line == least
    assert said(thin).get("line-too-thin") == "warning"
    assert "line-too-thin" not in said(held)


# On a face, through the whole program


def test_a_line_and_its_title_are_printed_under_names_of_their_own(tmp_path: Path) -> None:
    body = HOLE + '[[face.frame]]\nholes = ["a"]\n'
    body += line("[-20, 25]", "[20, 25]", 'label = "NORTH"') + line("[-20, -25]", "[20, -25]")
    wishes = Wishes(("svg",))
    files = make(laid(tmp_path, body), wishes)
    svg = files["top-art.svg"].decode("utf-8")
    ids = re.findall(r' id="([^"]*)"', svg)
    assert {"top-line-1", "top-line-2", "top-frame-1", "top-frame-north"} <= set(ids)
    assert len(ids) == len(set(ids))
    assert '"NORTH"' in files["report.json"].decode("utf-8")


TEXT = '[[face.text]]\ntext = "HULL"\nat = [0, 30]\n'
SCALE = HOLE + 'knob = "round-13"\nscale = { numerals = NUMERALS }\n'
NUDGED = HOLE + 'label = "RATE"\nplace = "below"\nnudge = [0, -10]\n'
SWITCH = 'hole = [{ id = "a", at = [0, 0], d = 6.3 }]\n[[face.control]]\nhole = "a"\npart = "toggle-mini"\n'
SWITCH += 'positions = ["SLOW", "FAST"]\n'
MEETING = [
    # what is said, a line that meets something, one that just doesn't
    ("line-collides", "error", "hole a", HOLE, ("[-20, 0]", "[20, 0]"), ("[-20, 10]", "[20, 10]")),
    ("line-collides", "error", '"RATE" of a', NUDGED, ("[-20, -22]", "[20, -22]"), ("[-20, -26]", "[20, -26]")),
    ("line-collides", "error", "the edge of the face", "", ("[-20, 5]", "[200, 5]"), ("[-20, 5]", "[20, 5]")),
    ("line-collides", "error", "the edge of the face", "", ("[-200, 5]", "[-190, 5]"), ("[-20, 5]", "[-10, 5]")),
    ("line-over-margin", "warning", "the margin", "", ("[-20, 5]", "[26, 5]"), ("[-20, 5]", "[25, 5]")),
]  # fmt: skip
STANDING = [
    ('the text "HULL" meets a section line', TEXT, ("[-20, 30]", "[20, 30]"), ("[-20, 20]", "[20, 20]")),
    (
        "the scale of a meets a section line",
        SCALE.replace("NUMERALS", "false"),
        ("[-20, 8]", "[20, 8]"),
        ("[-20, 14]", "[20, 14]"),
    ),
    ('"SLOW" of a meets a section line', SWITCH, ("[-9, 10.5]", "[9, 10.5]"), ("[-9, 20]", "[9, 20]")),
]


@pytest.mark.parametrize(("code", "severity", "what", "body", "bad", "good"), MEETING)
def test_what_a_line_meets_is_told(
    tmp_path: Path, code: str, severity: str, what: str, body: str, bad: Any, good: Any
) -> None:
    prepared = laid(tmp_path / "bad", body + line(*bad))
    found = [finding for finding in prepared.findings if finding.code == code]
    assert [finding.severity for finding in found] == [severity]
    assert what in found[0].message
    assert "from, to" in found[0].remedy
    assert found[0].at == pytest.approx(ruled(prepared.layouts[0])[0].centroid.coords[0], abs=1e-6)
    fine = said(laid(tmp_path / "good", body + line(*good)))
    assert not [code for code in fine if code.startswith("line-")]


@pytest.mark.parametrize(("what", "body", "bad", "good"), STANDING)
def test_what_stands_on_a_line_is_told_once(tmp_path: Path, what: str, body: str, bad: Any, good: Any) -> None:
    errors = [f for f in laid(tmp_path / "bad", body + line(*bad)).findings if f.severity == "error"]
    assert [finding.message for finding in errors] == [what]
    assert said(laid(tmp_path / "good", body + line(*good))) == {}


def test_a_scale_drops_figures_for_a_line_and_says_so(tmp_path: Path) -> None:
    body = SCALE.replace("NUMERALS", "true") + line("[-3, 12]", "[3, 12]")
    prepared = laid(tmp_path, body)
    assert said(prepared) == {"scale-thinned": "warning"}
    mark = ruled(prepared.layouts[0])[0]
    assert min(region(legend.path).distance(mark) for legend in prepared.layouts[0].legends) >= 0.8


def test_it_is_told_which_of_two_lines_meets_something(tmp_path: Path) -> None:
    body = HOLE + line("[-20, 40]", "[20, 40]") + line("[-20, 2]", "[10, 2]")
    messages = [f.message for f in laid(tmp_path, body).findings if f.code == "line-collides"]
    assert messages == ["the section line round -5.0, 2.0 mm meets hole a"]


def test_a_line_that_meets_something_stops_the_work(tmp_path: Path) -> None:
    ran = run_here("make", lay(tmp_path, job(HOLE + line("[-20, 0]", "[20, 0]"))))
    assert ran.status == 1
    assert "the section line round 0.0, 0.0 mm meets hole a" in ran.err


def test_lines_may_cross_and_join_frames(tmp_path: Path) -> None:
    body = HOLE + '[[face.frame]]\nholes = ["a"]\n'
    body += line("[-20, 30]", "[20, 30]") + line("[0, 20]", "[0, 40]") + line("[0, 20]", "[0, 10.5]")
    assert not [f for f in laid(tmp_path, body).findings if f.severity == "error"]


def test_labels_and_texts_keep_clear_of_lines(tmp_path: Path) -> None:
    # The label would stand below; a line there sends it to another side. The title has more room on one side of it.
    body = HOLE + 'label = "RATE"\n'
    lines = line("[-12, -12]", "[12, -12]") + line("[-24, 30]", "[24, 30]")
    free = '[[face.text]]\ntext = "BELL BUOY"\nat = "auto"\nheight = 4\n'
    plain, ruled_off = laid(tmp_path / "plain", body + free), laid(tmp_path / "ruled", body + lines + free)
    for prepared, count in ((plain, 0), (ruled_off, 2)):
        layout = prepared.layouts[0]
        drawn = ruled(layout)
        assert len(drawn) == count
        assert {legend.text for legend in layout.legends} == {"RATE", "BELL BUOY"}
        gap = prepared.job.finish.gap
        assert all(region(legend.path).distance(mark) >= gap - 1e-6 for legend in layout.legends for mark in drawn)
    places = [
        next(legend.place for legend in p.layouts[0].legends if legend.text == "RATE") for p in (plain, ruled_off)
    ]
    assert places[0] == "below"
    assert places[1] != "below"
    assert said(ruled_off) == {}
