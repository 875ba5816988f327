"""The rest of the planted faults, and that none is left out: for each a job that has it and one that just hasn't.

Those of colour, fineness, registration, section lines and gangs stand with their rules' own tests.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
import test_coats
import test_colour_findings
import test_findings
from helpers.jobs import lay
from helpers.runs import run_here

from facegraphic.pipeline.preparing import prepare

PACKAGE = Path(__file__).parents[1] / "facegraphic"
BOX = '[box]\nstock = "93x39x31"\norientation = "landscape"\n'
HEAD = BOX + '[finish]\nprocess = "adhesive-label"\n{finish}\n{sheet}\n[[face]]\nside = "top"\n'


def job(body: str, finish: str = "", sheet: str = "") -> str:
    return HEAD.format(finish=finish, sheet=f"[sheet]\n{sheet}") + body


def pots(apart: float, more: str = "") -> str:
    """Two pots with 13 mm knobs, their middles so far apart."""
    rows = ", ".join(f'{{ id = "{n}", at = [{x}, 0], d = 7.5 }}' for n, x in (("a", -apart / 2), ("b", apart / 2)))
    control = '[[face.control]]\nhole = "{}"\npart = "pot-16"\nknob = "round-13"\n' + more
    return f"hole = [{rows}]\n" + control.format("a") + control.format("b")


def hole(y: float) -> str:
    return f'hole = [{{ id = "a", at = [0, {y}], d = 6 }}]\n'


def text(words: str, at: str, height: float = 3) -> str:
    return f'[[face.text]]\ntext = "{words}"\nheight = {height}\nat = {at}\n'


def label(words: str, more: str = "", y: float = 0) -> str:
    place = f'hole = [{{ id = "a", at = [0, {y}], d = 7.5 }}]\n[[face.control]]\nhole = "a"\npart = "pot-16"\n'
    return f'{place}label = "{words}"\n{more}\n'


def line(length: float, words: str, width: float = 0.4) -> str:
    return f'[[face.line]]\nfrom = [{-length / 2}, 0]\nto = [{length / 2}, 0]\nwidth = {width}\nlabel = "{words}"\n'


SCALE = 'knob = "round-13"\nscale = { from = 0, to = 10, step = 1 }'
# The flat of a 93 x 39 mm box is 34.1 mm high (draft, edge and corner of the stock table), lettering 2.5 mm inside it.
CASES = [
    # code, severity, a job that has it, one that just hasn't
    ("hole-over-edge", "warning", job(hole(14.1)), job(hole(14.0))),
    ("parts-collide", "warning", job(pots(12.9)), job(pots(13.1))),
    ("legend-collides", "error", job(label("I", "nudge = [0, 9]")), job(label("I"))),
    ("legend-misplaced", "error", job(text("I", "[0, 0]") + text("I", "[0, 2.9]")),
     job(text("I", "[0, 0]") + text("I", "[0, 4.5]"))),
    ("legend-misplaced", "warning", job(text("I", "[0, 0]") + text("I", "[0, 3.7]")),
     job(text("I", "[0, 0]") + text("I", "[0, 4.5]"))),
    ("legend-elsewhere", "warning", job(label("RATE", 'place = "below"', y=-9)),
     job(label("RATE", 'place = "below"', y=-1))),
    ("legend-fitted", "note", job(label("A LABEL THAT IS MUCH TOO LONG FOR ITS BOX BY FAR AND MORE")),
     job(label("A LABEL"))),
    ("legend-no-room", "error", job(label("LONGEST OF ALL " * 9)), job(label("LONGEST OF ALL"))),
    ("legend-no-room", "error", job(text("HULL", '"auto"', 32)), job(text("HULL", '"auto"', 25))),
    ("text-too-small", "warning", job(text("HULL", "[0, 0]", 1.19)), job(text("HULL", "[0, 0]", 1.2))),
    ("line-label-too-long", "error", job(line(12, "TIDE")), job(line(14, "TIDE"))),
    ("line-too-thin", "warning", job(line(30, "", 0.09)), job(line(30, "", 0.1))),
    ("scale-thinned", "warning", job(label("", SCALE, 3)), job(label("", SCALE, 2))),
    ("scale-over-margin", "warning", job(label("", SCALE, 7)), job(label("", SCALE, 6))),
    ("scale-no-room", "error", job(label("", SCALE, 9)), job(label("", SCALE, 8))),
    ("sheet-overflow", "warning", job(hole(0), sheet="size = [115, 90]"), job(hole(0), sheet="size = [116, 90]")),
    ("sheet-overflow", "warning", job(hole(0), sheet="size = [118, 74]"), job(hole(0), sheet="size = [118, 75]")),
    ("sheet-used-up", "warning", job(hole(0), sheet="used = [[0, 0, 210, 230]]"),
     job(hole(0), sheet="used = [[0, 0, 210, 229]]")),
]  # fmt: skip
# Where the others are planted, both ways round, that have no row in a table of cases.
ELSEWHERE = {
    "registration-gap": "test_registration_findings.py",
    "film-over-hole": "test_registration_findings.py",
    "hole-past-cover": "test_registration_findings.py",
    "legend-near-cover": "test_registration_findings.py",
    "legend-in-opening": "test_registration_findings.py",
    "outlines-rough": "test_hostile_fonts.py",
    "font-damaged": "test_damaged_fonts.py",
    "edited": "test_earlier_runs.py",
    "line-collides": "test_section_lines.py",
    "line-over-margin": "test_section_lines.py",
    "hole-not-found": "test_measured.py",
    "hole-other-size": "test_measured.py",
    "hole-off-plan": "test_measured.py",
    "hole-not-planned": "test_measured.py",
    "scan-shifted": "test_measured.py",
    "scan-scaled": "test_measured.py",
    "scan-turned": "test_measured.py",
    "scan-ambiguous": "test_measured.py",
    "parts-meet-inside": "test_inside.py",
    "part-meets-box": "test_inside.py",
    "part-meets-board": "test_inside.py",
    "board-meets-box": "test_inside.py",
    "sheets-differ": "test_sheets.py",
    "drill-file": "test_holes_command.py",
    "lost-in-border": "test_resist.py",
    "white-beside-strokes": "test_plates.py",
    "mask-lettering": "test_coats.py",
    "job": "test_page_bench.py",
    "layout-not-proved": "test_planted_faults.py",
}


@pytest.mark.parametrize(("code", "severity", "bad", "good"), CASES)
def test_the_fault_is_found_and_its_absence_too(tmp_path: Path, code: str, severity: str, bad: str, good: str) -> None:
    told = [finding for finding in prepare(lay(tmp_path / "bad", bad)).findings if finding.code == code]
    assert told and {finding.severity for finding in told} == {severity}
    assert all(finding.message and finding.remedy for finding in told)
    assert code not in {finding.code for finding in prepare(lay(tmp_path / "good", good)).findings}


def codes_in_the_source() -> Iterator[str]:
    """The code of every finding that the program can make: first or `code` argument, f-strings by their roles."""
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            called = node.func if isinstance(node, ast.Call) else None
            if (
                not isinstance(node, ast.Call)
                or not isinstance(called, ast.Name)
                or called.id not in ("Finding", "say")
            ):
                continue
            if not node.args and any(word.arg is None for word in node.keywords):
                continue  # a finding read back from what another process has found
            first = next((word.value for word in node.keywords if word.arg == "code"), None) or node.args[0]
            if isinstance(first, ast.Constant):
                yield str(first.value)
            elif isinstance(first, ast.JoinedStr):
                end = "".join(str(part.value) for part in first.values if isinstance(part, ast.Constant))
                yield from (f"frame{end}", f"line{end}")
            else:
                assert isinstance(first, ast.Name), ast.dump(first)


def test_every_finding_is_planted_somewhere() -> None:
    tables = (CASES, test_findings.CASES, test_colour_findings.CASES, test_coats.CASES)
    planted = {row[0] for table in tables for row in table}
    codes = set(codes_in_the_source())
    assert len(codes) > 30
    assert codes - planted - set(ELSEWHERE) == set()
    for code, name in ELSEWHERE.items():
        assert code in (Path(__file__).parent / name).read_text("utf-8")


def test_a_layout_cut_short_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without time to search nothing is proved; with it the examples are."""
    example = Path(__file__).parents[1] / "examples" / "slow-ferry.toml"
    assert "layout-not-proved" not in {finding.code for finding in prepare(example).findings}
    monkeypatch.setattr("facegraphic.layout.choose.SECONDS", 0.0)
    assert "layout-not-proved" in {finding.code for finding in prepare(example).findings}


def test_a_character_that_a_font_has_not_is_told(tmp_path: Path) -> None:
    """A Bengali letter (U+0995) is not in the built-in lettering, an accented one of Latin Extended-A is (Unicode)."""
    ran = run_here("check", lay(tmp_path / "bad", job(text("ক", "[0, 0]"))))
    assert ran.status == 1
    assert "no glyph for" in ran.err and "U+0995" in ran.err and "choose another font" in ran.err
    assert run_here("check", lay(tmp_path / "good", job(text("Ő", "[0, 0]")))).status == 0
