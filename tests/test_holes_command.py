"""The command holes, and jobs that take their holes from any kind of file: one set of holes, four ways to write it."""

import csv
import io
import json
import random
from pathlib import Path
from typing import Any

import ezdxf
import pytest
from helpers.drills import Row, example, read, rows
from helpers.jobs import good, lay
from helpers.runs import Ran, run_apart, run_here
from hypothesis import given, settings
from hypothesis import strategies as st

from facegraphic.drill.measured import as_table
from facegraphic.drill.model import MOST_BYTES, LeftOut
from facegraphic.errors import UserError
from facegraphic.job.load import load_job

HOLES: list[Row] = [(10.0, 20.0, 7.5), (30.25, 20.0, 7.5), (30.25, 95.25, 12.2)]


def as_csv(holes: list[Row]) -> bytes:
    return "".join(["id,x,y,d\n", *(f"h{n},{x!r},{y!r},{d!r}\n" for n, (x, y, d) in enumerate(holes))]).encode()


def as_nc(holes: list[Row]) -> bytes:
    sizes = list(dict.fromkeys(d for _, _, d in holes))
    tools = "".join(f"T{number}C{d:.6f}\n" for number, d in enumerate(sizes, 1))
    hits = "".join(f"T{sizes.index(d) + 1}\nX{x:.6f}Y{y:.6f}\n" for x, y, d in holes)
    return f"M48\nMETRIC\n{tools}%\n{hits}M30\n".encode()


def as_dxf(holes: list[Row]) -> bytes:
    document = ezdxf.new("R2010", units=4)
    for x, y, d in holes:
        document.modelspace().add_circle((x, y), d / 2, dxfattribs={"layer": "DRILL"})
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def as_svg(holes: list[Row], size: tuple[float, float] = (60.0, 112.0)) -> bytes:
    """A page of its own; y counts down in it."""
    width, height = size
    circles = "".join(f'<circle cx="{x!r}" cy="{height - y!r}" r="{d / 2!r}"/>' for x, y, d in holes)
    head = f'width="{width}mm" height="{height}mm" viewBox="0 0 {width} {height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {head}>{circles}</svg>'.encode()


WRITERS = {"CSV": as_csv, "NC drill": as_nc, "DXF": as_dxf, "SVG": as_svg}


def printed(ran: Ran) -> list[Row]:
    assert ran.status == 0, ran.err
    table = list(csv.DictReader(io.StringIO(ran.out)))
    return [(float(row["x"]), float(row["y"]), float(row["d"])) for row in table]


@pytest.mark.parametrize("kind", WRITERS)
def test_the_table_is_the_same_whatever_the_file_and_its_name(kind: str, tmp_path: Path) -> None:
    for name in ("holes.xyz", "holes.csv", "holes.drl", "holes.dxf", "holes.svg"):
        (tmp_path / name).write_bytes(WRITERS[kind](HOLES))
        ran = run_here("holes", tmp_path / name)
        assert ran.out.startswith("id,x,y,d\n")
        assert printed(ran) == [pytest.approx(row, abs=1e-3) for row in HOLES]
        assert "3 holes; centres from 10, 20 to 30.25, 95.25 mm; 7.5 mm × 2, 12.2 mm × 1" in ran.err


PLACES = st.floats(-400, 400).map(lambda figure: round(figure, 5))


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.tuples(PLACES, PLACES, st.sampled_from([0.5, 3.2, 7.543, 40.0])), min_size=1, max_size=8),
    st.sampled_from(sorted(WRITERS)),
)
def test_what_is_printed_reads_back_to_a_micron(holes: list[Row], kind: str) -> None:
    reading = read(WRITERS[kind](holes))
    again = read(as_table(reading.holes))
    assert rows(again) == [pytest.approx(row, abs=1e-3) for row in holes]
    assert [hole.id for hole in again.holes] == [hole.id for hole in reading.holes]


def test_ids_that_a_table_would_not_hold_are_made_plain() -> None:
    ids = ['#1, "x"\n', "&lt;b&gt;", "a" * 200]
    body = "".join(f'<circle id="{id.replace(chr(34), "&quot;")}" cx="{n}" r="1"/>' for n, id in enumerate(ids))
    data = f'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm">{body}</svg>'
    found = [hole.id for hole in read(data).holes]
    assert found == ['1, "x"', "<b>", "a" * 60]
    assert [hole.id for hole in read(as_table(read(data).holes)).holes] == found


def test_json_tells_all_that_is_known(tmp_path: Path) -> None:
    (tmp_path / "a.drl").write_text(
        "M48\n;TYPE=PLATED\nMETRIC,TZ\nT1C2.0\n%\nT1\nX1000Y2000\nX5000Y0G85X9000Y0\nM30\n", encoding="utf-8"
    )
    record = json.loads(run_here("holes", tmp_path / "a.drl", "--json").out)
    assert record["kind"] == "NC drill"
    assert record["holes"] == [{"id": "T1-1", "x": 1.0, "y": 2.0, "d": 2.0, "line": 7, "layer": "plated", "tool": "T1"}]
    slot = {"from": [5.0, 0.0], "to": [9.0, 0.0], "width": 2.0, "routed": False, "line": 8, "tool": "T1"}
    assert record["slots"] == [slot]
    assert [note["line"] for note in record["notes"]] == [8]


def test_results_go_to_stdout_and_talk_to_stderr(tmp_path: Path) -> None:
    ran = run_apart("holes", example("amacro-ref/jj1.drl"))
    assert (ran.status, ran.out) == (0, "id,x,y,d\n")
    assert "jj1.drl:20: routed move 0.8 mm wide" in ran.err
    assert "0 holes, 6 slots or routed moves left out" in ran.err


def test_units_layers_and_origin(tmp_path: Path) -> None:
    thruhole = example("orcad/thruhole.tap")
    refused = run_here("holes", thruhole)
    assert (refused.status, refused.out) == (1, "")
    assert "does not say its units" in refused.err
    assert printed(run_here("holes", thruhole, "--units", "in"))[0] == (5.715, 5.842, 0.7112)
    (tmp_path / "a.dxf").write_bytes(as_dxf(HOLES))
    assert len(printed(run_here("holes", tmp_path / "a.dxf", "--layer", "drill"))) == 3
    wrong = run_here("holes", tmp_path / "a.dxf", "--layer", "OUTLINE")
    assert (wrong.status, wrong.out) == (1, "")
    assert 'a.dxf: no hole is on a layer "OUTLINE"' in wrong.err
    ran = run_here("holes", tmp_path / "a.dxf", "--origin", "middle-of-holes")
    assert "zero is the middle of all centres" in ran.err
    middle = printed(ran)
    assert middle[0][:2] == pytest.approx((-10.125, -37.625), abs=1e-4)


DRAWN = b'<svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm" viewBox="0 0 9 9">'
SLOTTED = DRAWN + b'<rect x="1" y="1" width="6" height="2" rx="1"/></svg>'
BAD: dict[str, tuple[bytes, str]] = {
    "binary": (bytes(range(256)) * 4, "this is a binary file, no text"),
    "picture": (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "the picture is damaged"),
    "archive": (b"PK\x03\x04abc", "zip archive or a spreadsheet's own format"),
    "PDF": (b"%PDF-1.7\n", "this is a PDF"),
    "DWG": (b"AC1027\0\0", "this is a DWG drawing"),
    "G-code": (b"G21\nG90\nT1\nM0\nG0 X-13.6 Y44.6\nG1 Z-1.8\nM2\n", "this is G-code for a mill"),
    "Gerber": (b"%FSLAX46Y46*%\n%MOMM*%\nX1Y1D03*\nM02*\n", "this is a Gerber file"),
    "bytes that are no UTF-8": (b"id,x,y,d\na,1,2,3\n\xff,1,2,3\n", "file.x:3: the table is not UTF-8 text"),
    "mark of UTF-16 and no more": (b"\xff\xfe\x00", "not the text that its first bytes promise"),
    "chance": (random.Random(7).randbytes(5000), "this is a binary file, no text"),
    "chance without NUL": (random.Random(7).randbytes(5000).replace(b"\0", b""), "this is a binary file, no text"),
    "high bytes": (bytes(range(160, 256)) * 9, "this is a binary file, no text"),
    "table without rows": (b"id,x,y,d\n", "file.x: the file holds no hole"),
    "head and no more": (b"M48\nMETRIC,TZ\nT1C0.8\n", "file.x: the file holds no hole"),
    "drawing of a slot only": (SLOTTED, "file.x: the file holds no hole"),
    "million rows": (b"x,y,d\n" + b"10.125,20.25,3.0001\n" * 1_000_000, "too many holes: more than 10000"),
    "million circles": (DRAWN + b'<circle cx="1" cy="2" r="3"/>' * 1_000_000 + b"</svg>", "too many holes: more than"),
    "million DXF circles": (
        b"0\nSECTION\n2\nENTITIES\n" + b"0\nCIRCLE\n8\n0\n10\n1\n20\n2\n40\n3\n" * 1_000_000 + b"0\nENDSEC\n0\nEOF\n",
        "too many holes: more than 10000",
    ),
    "far in a table": (b"id,x,y,d\na,1000000000,2,3\nb,1,1e9,3\n", "file.x:3: hole b lies 1e9 mm out"),
    "far in a drawing": (DRAWN + b'<circle cx="1e9" cy="2" r="3"/></svg>', "it lies 1e9 mm out"),
    "prose": (b"Dear sir,\nthe holes are at the places where they should be.\n", "is not known"),
    "nothing": (b"", "the table is empty"),
    "negative size": (b"id,x,y,d\na,1,2,-3\n", "file.x:2: hole a has no diameter"),
    "far away": (b"id,x,y,d\na,1,2,3e5\nb,1,99999999,3\n", "file.x:3: hole b lies 1e8 mm out"),
    "digits without end": (b"id,x,y,d\na," + b"9" * 5000 + b",2,3\n", "file.x:2: x = "),
}


@pytest.mark.parametrize("name", BAD)
def test_bad_files_are_refused_in_a_sentence(name: str, tmp_path: Path) -> None:
    data, says = BAD[name]
    (tmp_path / "file.x").write_bytes(data)
    ran = run_here("holes", tmp_path / "file.x")
    assert (ran.status, ran.out) == (1, "")
    assert says in ran.err
    assert "Traceback" not in ran.err
    assert ran.err.count("\n    ") >= 1  # advice stands under each problem
    assert max(map(len, ran.err.splitlines())) < 400


def test_files_too_large_missing_or_folders_are_refused(tmp_path: Path) -> None:
    with (tmp_path / "large.csv").open("wb") as file:
        file.truncate(MOST_BYTES + 1)
    assert f"more than {MOST_BYTES} are not read" in run_here("holes", tmp_path / "large.csv").err
    assert "there is no such file" in run_here("holes", tmp_path / "no.csv").err
    assert "this is a folder" in run_here("holes", tmp_path).err


def test_a_table_of_utf_16_reads(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_bytes("id\tx\ty\td\na\t1,5\t2\t3\n".encode("utf-16"))
    assert printed(run_here("holes", tmp_path / "a.txt")) == [(1.5, 2.0, 3.0)]


# ---- in a job: the top face of this box is smaller than the box, so places are compared by what they differ by.


def face(tmp_path: Path, data: bytes, keys: str = "") -> Any:
    job = good('drill = "holes.csv"', f'drill = "holes.any"\n{keys}').replace('hole = "rate"', "at = [0, 0]")
    start, end = job.index("[[face.control]]"), job.index("[[face.text]]")
    return load_job(lay(tmp_path, job[:start] + job[end:], {"holes.any": data})).faces[0]


def places(holes: Any) -> list[Row]:
    return [(round(hole.x, 3), round(hole.y, 3), round(hole.d, 3)) for hole in holes]


SMALL: list[Row] = [(-15.0, 30.0, 7.5), (15.0, 30.0, 7.5), (0.0, -40.0, 12.2)]


@pytest.mark.parametrize("kind", ["CSV", "NC drill", "DXF"])
def test_a_job_takes_any_kind_round_its_centre(kind: str, tmp_path: Path) -> None:
    assert places(face(tmp_path, WRITERS[kind](SMALL)).holes) == SMALL


def test_a_drawing_lies_on_the_face_by_its_page(tmp_path: Path) -> None:
    plain = face(tmp_path, as_csv(SMALL))
    width, height = plain.outline.size
    on_page = [(x + width / 2, y + height / 2, d) for x, y, d in SMALL]
    data = as_svg(on_page, (width, height))
    for keys in ("", 'origin = "centre"', 'origin = "lower-left"', 'origin = "upper-left"'):
        assert places(face(tmp_path, data, keys).holes) == [pytest.approx(row, abs=2e-3) for row in SMALL], keys
    # A page larger than the face: its middle on the face's, or its corner on the face's corner.
    large = as_svg([(x + 100, y + 100, d) for x, y, d in SMALL], (200, 200))
    assert places(face(tmp_path, large).holes) == [pytest.approx(row, abs=2e-3) for row in SMALL]
    cornered = as_svg([(x, y + 200 - height, d) for x, y, d in on_page], (200, 200))
    found = places(face(tmp_path, cornered, 'origin = "upper-left"').holes)
    assert found == [pytest.approx(row, abs=2e-3) for row in SMALL]


def test_what_the_command_prints_of_a_drawing_stands_where_the_drawing_does(tmp_path: Path) -> None:
    plain = face(tmp_path, as_csv(SMALL))
    width, height = plain.outline.size
    data = as_svg([(x + width / 2, y + height / 2, d) for x, y, d in SMALL], (width, height))
    table = as_table(read(data).holes).encode()
    assert places(face(tmp_path, table, 'origin = "lower-left"').holes) == [
        pytest.approx(row, abs=2e-3) for row in places(face(tmp_path, data, 'origin = "lower-left"').holes)
    ]


@pytest.mark.parametrize("kind", WRITERS)
def test_the_middle_of_the_holes_may_be_the_face_centre(kind: str, tmp_path: Path) -> None:
    moved = [(x + 71.5, y + 93.25, d) for x, y, d in SMALL]
    found = places(face(tmp_path, WRITERS[kind](moved), 'origin = "middle-of-holes"').holes)
    # Their box is -15..15 by -40..30, so its middle is at 0, -5.
    assert found == [pytest.approx((x, y + 5, d), abs=2e-3) for x, y, d in SMALL]


def test_the_face_centre_may_be_told(tmp_path: Path) -> None:
    moved = [(x + 71.5, y + 93.25, d) for x, y, d in SMALL]
    assert places(face(tmp_path, as_nc(moved), "origin = [71.5, 93.25]").holes) == SMALL
    down = [(x + 71.5, 93.25 - y, d) for x, y, d in SMALL]
    assert places(face(tmp_path, as_csv(down), 'origin = [71.5, 93.25]\ny = "down"').holes) == SMALL


def test_units_and_layers_in_a_job(tmp_path: Path) -> None:
    bare = b"T1C0.25\nX0.5Y0.5\nX-.5Y1.0\n%\nM30\n"
    job = lay(tmp_path, good(), {"holes.csv": bare})
    refused = run_here("check", job)
    assert refused.status == 1
    assert "holes.csv: the drill file does not say its units" in refused.err
    found = face(tmp_path, bare, 'units = "in"')
    assert places(found.holes) == [(12.7, 12.7, 6.35), (-12.7, 25.4, 6.35)]
    assert len(face(tmp_path, as_dxf(SMALL), 'layer = "DRILL"').holes) == 3
    assert len(face(tmp_path, as_dxf(SMALL), 'layer = ["DRILL"]').holes) == 3
    job = lay(tmp_path, good('drill = "holes.csv"', 'drill = "a.dxf"\nlayer = "D"'), {"a.dxf": as_dxf(SMALL)})
    assert 'a.dxf: no hole is on a layer "D"' in run_here("check", job).err


FAULTS = {
    "origin unknown": ('origin = "center"', 'face[0].origin: "center" cannot stand here', 'did you mean "centre"?'),
    "origin of three": ("origin = [1, 2, 3]", "face[0].origin: [1, 2, 3] cannot stand here", "[x, y]"),
    "origin of NaN": ("origin = [nan, 2]", "face[0].origin: [nan, 2] cannot stand here", "finite"),
    "layer of a number": ("layer = 3", "face[0].layer: 3 cannot stand here", "a layer is a text"),
}


@pytest.mark.parametrize("name", FAULTS)
def test_wrong_keys_are_told(name: str, tmp_path: Path) -> None:
    key, *says = FAULTS[name]
    ran = run_here("check", lay(tmp_path, good('drill = "holes.csv"', f'drill = "holes.csv"\n{key}')))
    assert ran.status == 1
    for words in says:
        assert words in ran.err


def test_slots_become_a_warning_and_what_was_trusted_a_note(tmp_path: Path) -> None:
    program = "M48\nMETRIC\nT1C7.5\nT2C12.2\n%\nT1\nX-12000Y32000\nX0Y0G85X5000Y0\nT2\nX0Y-36000\nM30\n"
    text = good().replace('hole = "rate"', 'hole = "T1-1"')
    ran = run_here("check", lay(tmp_path, text, {"holes.csv": program}))
    assert ran.status == 0, ran.err
    assert "warning: top: holes.csv:8: slot 7.5 mm wide from 0, 0 to 5, 0 mm is left out [drill-file]" in ran.out
    assert "note: top: holes.csv:7: the file does not say how its figures are written" in ran.out
    assert run_here("make", tmp_path / "job.toml", "--dpi", "72").status == 0


def test_help_names_what_is_read() -> None:
    ran = run_here("holes", "--help")
    for words in ("CSV", "Excellon", "DXF", "SVG", "--units", "--layer", "--origin", "--json"):
        assert words in ran.out
    assert "holes" in run_here("--help").out


def test_routed_moves_alone_are_something(tmp_path: Path) -> None:
    (tmp_path / "a.drl").write_text("M48\nMETRIC,TZ\nT1C0.8\n%\nT1\nX1.0Y2.0G85X3.0Y2.0\nM30\n")
    ran = run_here("holes", tmp_path / "a.drl")
    assert ran.status == 0
    assert "1 slots or routed moves left out" in ran.err


def test_a_face_carries_on_that_its_program_may_be_cut_short(tmp_path: Path) -> None:
    data = b"M48\nMETRIC,TZ\nT1C7.5\n%\nT1\nX0.0Y0.0\n"
    for end, told in ((b"", True), (b"M30\n", False)):
        found = [note for note in face(tmp_path, data + end).told if isinstance(note, LeftOut)]
        assert ["may be cut short" in note.what for note in found] == [True] * told


def test_a_drawing_without_page_or_size_has_none(tmp_path: Path) -> None:
    (tmp_path / "a.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"><circle cx="3" cy="1" r="2"/></svg>')
    ran = run_here("holes", tmp_path / "a.svg", "--units", "mm")
    assert printed(ran) == [pytest.approx((3, -1, 4))]
    assert "no page: zero is its own, y up" in ran.err
    assert "0 × 0" not in ran.err


def test_a_wrong_layer_is_answered_in_the_files_own_spelling(tmp_path: Path) -> None:
    (tmp_path / "a.dxf").write_bytes(as_dxf(HOLES))
    names = set(read((tmp_path / "a.dxf").read_bytes()).layers)
    assert names and all(name != name.lower() for name in names)
    err = run_here("holes", tmp_path / "a.dxf", "--layer", "NOPE").err
    assert all(name in err for name in names)


@pytest.mark.parametrize("kind", WRITERS)
def test_positions_count_from_the_middle_of_the_holes_when_that_is_the_face_centre(kind: str, tmp_path: Path) -> None:
    data = WRITERS[kind]([(x + 71.5, y + 93.25, d) for x, y, d in SMALL])
    for down, at in ((False, "[-14, 36]"), (True, "[-14, -36]")):  # the hole at -15, 30 lies at -15, 35 now
        keys = 'origin = "middle-of-holes"' + '\ny = "down"' * down
        if down and kind != "SVG":
            continue  # a file whose figures count down is another face
        job = controlled(tmp_path, data, keys, at)
        control = load_job(job).faces[0].controls[0]
        hole = next(hole for hole in load_job(job).faces[0].holes if hole.id == control.hole)
        assert (hole.x, hole.y) == pytest.approx((-15, 35), abs=2e-3)


@pytest.mark.parametrize("kind", WRITERS)
@pytest.mark.parametrize("origin", ['"middle-of-holes"', "[71.5, 88.25]"])
def test_a_position_without_a_hole_is_told_in_the_users_figures(kind: str, origin: str, tmp_path: Path) -> None:
    data = WRITERS[kind]([(x + 71.5, y + 93.25, d) for x, y, d in SMALL])
    at, near = ("-9, 29", "-15, 35") if "middle" in origin else ("62.5, 117.25", "56.5, 123.25")
    with pytest.raises(UserError) as caught:
        load_job(controlled(tmp_path, data, f"origin = {origin}", f"[{at}]"))
    told = str(caught.value)
    assert f"no hole lies within 5 mm of {at}" in told
    assert f"is 8.5 mm away, at {near}: " in told
    assert read(data).holes[0].id in told


def controlled(tmp_path: Path, data: bytes, keys: str, at: str) -> Path:
    """A job with one control, by its place, and nothing else placed."""
    job = good('drill = "holes.csv"', f'drill = "holes.any"\n{keys}')
    start, end = job.index("[[face.control]]"), job.index("[[face.text]]")
    control = f'[[face.control]]\nat = {at}\nlabel = "A"\n\n'
    return lay(tmp_path, job[:start] + control + job[end:], {"holes.any": data})
