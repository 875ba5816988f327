"""For each finding a job that has it and one that just hasn't."""

from pathlib import Path

import pytest
from helpers.jobs import lay, svg
from helpers.runs import run_here

from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.scene.scene import Fill, walk

HEAD = '[box]\nstock = "93x39x31"\n[finish]\nprocess = "{process}"\n{finish}\n[[face]]\nside = "top"\n'


def job(body: str, process: str = "adhesive-label", finish: str = "") -> str:
    return HEAD.format(process=process, finish=finish) + body


def hole(d: str, part: str, more: str = "") -> str:
    return f'hole = [{{ id = "a", at = [0, 0], d = {d} }}]\n[[face.control]]\nhole = "a"\npart = "{part}"\n{more}\n'


def text(at: str) -> str:
    return f'[[face.text]]\ntext = "HULL"\nheight = 3\nat = {at}\n'


def art(file: str, at: str = "[0, 0]") -> str:
    return f'[[face.art]]\nfile = "{file}"\nsize = [8, 8]\nat = {at}\n'


KNOB = 'knob = "{}"\n[[face.frame]]\nholes = ["a"]\n'
LARGE, MIDDLE = hole("7.5", "pot-16", KNOB.format("round-32")), hole("7.5", "pot-16", KNOB.format("round-25"))
GREY, BLACK = svg('<rect width="30" height="30" fill="#777"/>'), svg('<rect width="30" height="30"/>')
CASES = [
    # code, severity, a job that has it, one that just hasn't
    ("hole-too-small", "warning", job(hole("0.5", "footswitch")), job(hole("12.0", "footswitch"))),
    ("hole-too-large", "warning", job(hole("11.0", "toggle-mini")), job(hole("10.9", "toggle-mini"))),
    ("legend-over-edge", "error", job(text("[100, 0]")), job(text("[0, 0]"))),
    ("legend-over-edge", "error", job(text("[40, 0]")), job(text("[38, 0]"))),
    ("frame-collides", "error", job(LARGE), job(MIDDLE)),
    ("frame-over-margin", "warning", job(MIDDLE, finish="margin = 3"), job(MIDDLE, finish="margin = 2.5")),
    ("art-off-face", "error", job(art("black.svg", "[500, 0]")), job(art("black.svg", "[45, 0]"))),
    ("mirror-overridden", "warning", job("", finish="mirror = true"), job("", finish="mirror = false")),
    ("art-screened", "note", job(art("grey.svg"), "toner-transfer"), job(art("black.svg"), "toner-transfer")),
]  # fmt: skip


def found(folder: Path, text: str) -> dict[str, str]:
    prepared = prepare(lay(folder, text, {"grey.svg": GREY, "black.svg": BLACK}))
    return {finding.code: finding.severity for finding in prepared.findings}


@pytest.mark.parametrize(("code", "severity", "bad", "good"), CASES)
def test_the_fault_is_found_and_its_absence_too(tmp_path: Path, code: str, severity: str, bad: str, good: str) -> None:
    assert found(tmp_path / "bad", bad).get(code) == severity
    assert code not in found(tmp_path / "good", good)


@pytest.mark.parametrize("side", ["top", "back"])
def test_a_margin_that_leaves_nothing_is_told(tmp_path: Path, side: str) -> None:
    ran = run_here("make", lay(tmp_path, job("", finish="margin = 25").replace('"top"', f'"{side}"')))
    assert ran.status == 1
    assert "leaves nothing of the" in ran.err
    assert "job.toml:7" in ran.err


def test_a_gap_of_nothing_is_told(tmp_path: Path) -> None:
    ran = run_here("make", lay(tmp_path, job("", finish="gap = 0")))
    assert ran.status == 1
    assert "between 0.1 and" in ran.err


@pytest.mark.parametrize("place", ["around", "under"])
def test_a_label_longer_than_its_circle_is_told(tmp_path: Path, place: str) -> None:
    more = f'knob = "round-13"\nplace = "{place}"\nlabel = "{"LONGEST OF ALL " * 9}"'
    ran = run_here("make", lay(tmp_path, job(hole("7.5", "pot-16", more))))
    assert f'has no room with place = "{place}"' in ran.err
    assert "legend-elsewhere" in ran.err


def test_a_title_wider_than_its_frame_widens_it(tmp_path: Path) -> None:
    body = 'hole = [{ id = "a", at = [0, 0], d = 3.1 }]\n[[face.frame]]\nholes = ["a"]\nlabel = "HARBOUR"\n'
    assert found(tmp_path, job(body)) == {"small-to-read": "note"}


def test_only_a_sheet_that_cannot_be_made_is_no_success(tmp_path: Path) -> None:
    path = lay(tmp_path, job("").replace('stock = "93x39x31"', "size = [482, 88, 40]"))
    assert run_here("make", path, "--only", "sheet").status == 1
    assert not (tmp_path / "job-out").exists()
    assert run_here("make", path).status == 0


@pytest.mark.parametrize("cut", ["line", "ticks"])
def test_one_bit_scenes_hold_black_and_white_only(tmp_path: Path, cut: str) -> None:
    from facegraphic.film.face import face_art

    prepared = prepare(lay(tmp_path, job(hole("7.5", "pot-16"), "toner-resist", f'cut = "{cut}"\nink = "#f00"')))
    drawn = face_art(prepared.layouts[0], prepared.job.finish)
    assert {item.ink for item, _ in walk((drawn,)) if isinstance(item, Fill)} == {"#000000", "#ffffff"}


def test_ids_are_given_once(tmp_path: Path) -> None:
    import re

    rows = ", ".join(f'{{ id = "{id}", at = [{x}, 0], d = 7.5 }}' for id, x in (("ä", -28), ("ö", 0), ("a", 28)))
    body = f"hole = [{rows}]\n"
    for id in "äöa":
        body += f'[[face.control]]\nhole = "{id}"\npart = "pot-16"\nknob = "round-13"\nscale = {{ numerals = false }}\n'
    wishes = Wishes(("svg",))
    svg_text = make(prepare(lay(tmp_path, job(body)), wishes), wishes)["top-art.svg"].decode("utf-8")
    ids = re.findall(r' id="([^"]*)"', svg_text)
    assert len(ids) == len(set(ids))
    assert {"top-scale-a", "top-scale-o", "top-scale-a-2"} <= set(ids)


@pytest.mark.parametrize(
    "body",
    [
        '<path d="M0 0 L9 9" stroke="hsl(120, 50%, 40%)"/>',
        '<path d="M0 0 L9 9" style="fill: var(--x)"/>',
        '<path d="M0 0 L9 9" paint-order="stroke"/>',
        '<path d="M0 0 L9 9" style="paint-order: stroke fill"/>',
    ],
)
def test_drawings_that_would_come_out_wrong_are_refused(tmp_path: Path, body: str) -> None:
    ran = run_here("make", lay(tmp_path, job(art("odd.svg")), {"odd.svg": svg(body)}))
    assert ran.status == 1
    assert "odd.svg" in ran.err


def test_a_fault_of_the_program_is_told_in_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise RuntimeError("planted")

    monkeypatch.setattr("facegraphic.pipeline.preparing.lay_out", broken)
    ran = run_here("make", lay(tmp_path, job("")))
    assert ran.status == 1
    assert "RuntimeError: planted" in ran.err
    assert "Traceback" not in ran.err


def test_a_fault_is_told_once_and_says_whose_word_it_is(tmp_path: Path) -> None:
    words = 'positions = ["DUNKEL", "warm", "HELL"]'
    holes = ", ".join(f'{{ id = "r{i}", at = [{x}, 0], d = 9.5 }}' for i, x in enumerate((-12, 12)))
    body = f"hole = [{holes}]\n"
    body += "".join(f'[[face.control]]\nhole = "r{i}"\npart = "rotary-switch"\n{words}\n' for i in range(2))
    said = [f for f in prepare(lay(tmp_path, job(body))).findings if "DUNKEL" in f.message and "HELL" in f.message]
    assert [finding.code for finding in said] == ["legend-no-room"]
    assert '"DUNKEL" of r1' in said[0].message
    assert '"HELL" of r0' in said[0].message


def test_symbols_are_called_by_name_in_messages(tmp_path: Path) -> None:
    findings = prepare(lay(tmp_path, job('[[face.text]]\ntext = "{sine} X"\nat = [100, 0]\n'))).findings
    assert any('"{sine} X"' in finding.message for finding in findings)


@pytest.mark.parametrize("first", [True, False])
def test_a_text_that_may_stand_anywhere_gives_way(tmp_path: Path, first: bool) -> None:
    free = '[[face.text]]\ntext = "LONG TITLE"\nat = "auto"\nheight = 4\n'
    fixed = '[[face.text]]\ntext = "FIXED LINE"\nat = [0, 0]\nheight = 4\n'
    prepared = prepare(lay(tmp_path, job(free + fixed if first else fixed + free)))
    assert not [f for f in prepared.findings if f.severity == "error"]


def test_a_blank_label_is_no_label(tmp_path: Path) -> None:
    prepared = prepare(lay(tmp_path, job(hole("7.5", "pot-16", 'label = "   "'))))
    assert not prepared.findings
    assert not prepared.layouts[0].legends


def test_a_row_set_smaller_names_the_label_that_needs_it(tmp_path: Path) -> None:
    holes = ", ".join(f'{{ id = "h{i}", at = [{x}, 0], d = 7.5 }}' for i, x in enumerate((-27, 27)))
    body = f"hole = [{holes}]\n"
    for i, label in enumerate(("MIX", "REGENERATION RATE")):
        body += f'[[face.control]]\nhole = "h{i}"\npart = "pot-16"\nlabel = "{label}"\nplace = "below"\n'
    said = [f.message for f in prepare(lay(tmp_path, job(body))).findings if f.code == "legend-fitted"]
    assert len(said) == 1
    assert '"REGENERATION RATE" of h1 had no room as asked' in said[0]
    assert "1 more of its kind is set small to be like it" in said[0]
