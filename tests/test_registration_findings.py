"""Registration told and printed: each finding just there and just not, and openings read back from the files."""

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from eyes import pdf_picture, png_grey, svg_picture
from helpers.jobs import lay
from helpers.runs import run_here

from facegraphic.checks.registration import film_over_hole, hole_past_cover, registration_gap
from facegraphic.errors import Finding
from facegraphic.film.registration import fits
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare

HEAD = '[box]\nstock = "93x39x31"\n[finish]\nprocess = "{process}"\nholes = "{holes}"\n{finish}\n'
FACE = '[tolerance]\n{tolerance}\n[[face]]\nside = "top"\n'


def job(finish: str = "", tolerance: str = "", process: str = "adhesive-label", holes: str = "clear") -> str:
    return HEAD.format(process=process, holes=holes, finish=finish) + FACE.format(tolerance=tolerance)


def hole(part: str, d: float, x: float = 0, id: str = "a", more: str = "") -> tuple[str, str]:
    """A hole and its control, as TOML."""
    row = f'{{ id = "{id}", at = [{x}, 0], d = {d} }}'
    return row, f'[[face.control]]\nhole = "{id}"\npart = "{part}"\n{more}\n' if part else ""


def face(*holes: tuple[str, str]) -> str:
    return f"hole = [{', '.join(row for row, _ in holes)}]\n" + "".join(control for _, control in holes)


def told(folder: Path, text: str, code: str) -> list[Finding]:
    return [finding for finding in prepare(lay(folder, text)).findings if finding.code == code]


def severities(folder: Path, text: str, code: str) -> list[str]:
    return [finding.severity for finding in told(folder, text, code)]


# A mini toggle in the middle of the face, from the tables: hole 6.3, thread 6, washer 11 mm; drill 0.3, size ± 0.2,
# place 0.5 mm; nothing of the print in the middle. Sums by the handbook formula.
ART = math.sqrt(0.3**2 + 0.1**2 + 0.5**2)
SEAT = math.sqrt(ART**2 + 0.15**2)
WORST = 0.3 + 0.1 + 0.5 + 0.15
ROOM = (11 - 6.3) / 2


def toggle(clear: float, more: str = "", **words: str) -> str:
    return job(f"clear = {clear:.4f}", **words) + face(hole("toggle-mini", 6.3, more=more))


@pytest.mark.parametrize(
    ("clear", "said"),
    [
        (ROOM - SEAT + 0.01, ["warning"]),
        (ROOM - SEAT - 0.01, ["note"]),
        (ROOM - WORST + 0.01, ["note"]),
        (ROOM - WORST - 0.01, []),
    ],
)
def test_a_gap_is_told_from_its_limit_on(tmp_path: Path, clear: float, said: list[str]) -> None:
    assert severities(tmp_path, toggle(clear), "registration-gap") == said


def test_a_gap_says_how_much_and_what_helps(tmp_path: Path) -> None:
    (finding,) = told(tmp_path, toggle(ROOM), "registration-gap")
    assert f"{SEAT:.2f} mm (RSS; {WORST:.2f} mm in the worst case)" in finding.message
    assert 'clear = "auto"' in finding.remedy and 'holes = "mark"' in finding.remedy
    assert f"{math.ceil((11 + 2 * WORST) * 10) / 10:.1f} mm wide (its washer: 11.0)" in finding.remedy
    assert finding.at == (0, 0)


@pytest.mark.parametrize(("clear", "said"), [(ART - 0.01, ["note"]), (ART + 0.01, [])])
def test_film_over_a_hole_is_told_from_its_limit_on(tmp_path: Path, clear: float, said: list[str]) -> None:
    assert severities(tmp_path / "film", toggle(clear), "film-over-hole") == said
    # A service prints no film: nothing can hang over (common practice).
    assert severities(tmp_path / "ink", toggle(clear, process="service-print"), "film-over-hole") == []


def test_a_gap_under_a_knob_is_a_note(tmp_path: Path) -> None:
    """A knob stands above the nut and hides the panel from above, not from the side (common practice)."""
    for knob, said in (("round-19", "note"), ("none", "warning")):
        text = job("clear = 2.3") + face(hole("pot-16", 7.5, more=f'knob = "{knob}"'))
        (finding,) = told(tmp_path / knob, text, "registration-gap")
        assert (finding.severity, "under the knob" in finding.message) == (said, said == "note")


@pytest.mark.parametrize("holes", ["mark", "through"])
def test_holes_opened_after_laying_have_no_gap(tmp_path: Path, holes: str) -> None:
    found = prepare(lay(tmp_path, toggle(ROOM, holes=holes))).findings
    assert not {finding.code for finding in found} & {"registration-gap", "film-over-hole", "hole-past-cover"}


def window(side: float) -> str:
    """Tolerances with which the window of a lamp's holder (hole 6.3, thread 6, rim 8 mm) is open or closed by so much.

    Only placing strays: the window is 0.85 mm wide and wants place + √(place² + 0.15²).
    """
    room = (8 - 6.3) / 2 + side
    place = (room**2 - 0.15**2) / (2 * room)
    return job(tolerance=f"drill = 0\nsize = 0\nprint = 0\nplace = {place!r}") + face(hole("lamp-3-holder", 6.3))


def test_a_closed_window_is_told_and_one_just_open_is_not(tmp_path: Path) -> None:
    (finding,) = told(tmp_path / "closed", window(0.01), "film-over-hole")
    assert "past the cover, which is 0.02 mm too narrow" in finding.message
    assert "mm wide (its rim: 8.0)" in finding.remedy and "[tolerance]" in finding.remedy
    assert told(tmp_path / "open", window(-0.01), "film-over-hole") == []


PARTS = [("lamp-3-holder", 6.3), ("lamp-5-holder", 8.0), ("push-button", 7.0), ("socket-3.5", 6.2), ("lamp-5", 5.1)]


@pytest.mark.parametrize("clear", ['"auto"', "0.3"])
@pytest.mark.parametrize("process", ["adhesive-label", "service-print"])
@pytest.mark.parametrize(("part", "d"), PARTS)
def test_one_width_mends_all_that_is_told_of_a_hole(
    tmp_path: Path, part: str, d: float, process: str, clear: str
) -> None:
    """The width that is named, given to the part as its rim: no gap, no film that was not asked for, no bare hole."""
    prepared = prepare(lay(tmp_path, job(f"clear = {clear}", process=process) + face(hole(part, d))))
    found = [each for each in prepared.findings if each.code in ("registration-gap", "film-over-hole")]
    widths = {width for each in found for width in re.findall(r"rim ([\d.]+) mm wide", each.remedy)}
    assert len(widths) <= 1
    before, finish = prepared.layouts[0], prepared.job.finish
    wanted = float(next(iter(widths), 0)) or fits(before.face, finish)[0].enough(0.2, True)
    (control,) = before.face.controls
    assert control.part
    wider = replace(control, part=replace(control.part, bezel=wanted))
    after = replace(before, face=replace(before.face, controls=(wider,)))
    rules = [registration_gap, hole_past_cover, *([film_over_hole] if clear == '"auto"' else [])]
    assert [finding for rule in rules for finding in rule(after, finish)] == []


def test_a_nut_is_told_as_a_caliper_has_it(tmp_path: Path) -> None:
    """Nuts are measured across their corners and cover no more than √3/2 of that for certain (plain geometry)."""
    (film,) = told(tmp_path, job() + face(hole("socket-3.5", 6.2)), "film-over-hole")
    assert "(its nut: 8.0, 6.9 over its flats)" in film.remedy


def test_a_bare_lamp_is_told_once(tmp_path: Path) -> None:
    found = prepare(lay(tmp_path, job() + face(hole("lamp-5", 5.1)))).findings
    assert [finding.code for finding in found if finding.code != "small-to-read"] == ["film-over-hole"]


def test_where_no_opening_is_left_none_can_show(tmp_path: Path) -> None:
    """With strays wider than the cover the art runs over the hole, and is cut at it."""
    text = job(tolerance="place = 8") + face(hole("toggle-mini", 6.3))
    assert told(tmp_path, text, "registration-gap") == []
    assert severities(tmp_path, text, "film-over-hole") == ["note"]


def test_a_lamp_without_a_rim_is_told_as_that(tmp_path: Path) -> None:
    """A bare lamp's film is cut at its hole (common practice): and ink has no film."""
    bare = face(hole("lamp-5", 5.1))
    (film,) = told(tmp_path / "a", job() + bare, "film-over-hole")
    assert "past the cover, which is missing" in film.message
    (gap,) = told(tmp_path / "b", job("clear = 0.5") + bare, "registration-gap")
    assert gap.severity == "warning" and "round the uncovered edge of a" in gap.message
    assert told(tmp_path / "c", job("clear = 0.5", process="toner-transfer") + bare, "film-over-hole") == []


@pytest.mark.parametrize("many", [1, 3])
def test_many_holes_are_one_finding(tmp_path: Path, many: int) -> None:
    holes = [hole("socket-3.5", 6.2, x=x, id=f"s{x}") for x in (-25, 0, 25)[:many]]
    found = prepare(lay(tmp_path, job() + face(*holes))).findings
    codes = [finding.code for finding in found]
    assert codes.count("registration-gap") == codes.count("film-over-hole") == 1


def past(d: float) -> float:
    """By how much a 3.5 mm socket's hole shows by RSS: nut 8 mm over the corners, thread 6, size ± 0.2 mm."""
    return d / 2 - 4 * math.cos(math.pi / 6) + math.hypot(0.2, (d - 6) / 2)


@pytest.mark.parametrize("holes", ["mark", "clear"])
def test_a_hole_past_its_cover_is_told_from_its_limit_on(tmp_path: Path, holes: str) -> None:
    limit = min(np.arange(6.0, 6.9, 0.0001), key=lambda d: abs(past(float(d))))
    for number, (d, said) in enumerate(((limit + 0.01, ["warning"]), (limit - 0.01, ["note"]), (6.2, []))):
        text = job(holes=holes) + face(hole("socket-3.5", round(float(d), 4)))
        assert severities(tmp_path / str(number), text, "hole-past-cover") == said


def lettering(place: float, x: float = 9.0) -> str:
    """A 10 mm hole without a part beside a letter; no gap asked for that would say so first."""
    text = f'[[face.text]]\ntext = "I"\nheight = 3\nat = [{x}, 0]\n'
    tolerance = f"drill = 0\nsize = 0\nprint = 0\nplace = {place!r}"
    return job("gap = 0.1", tolerance=tolerance, holes="mark") + face(hole("", 10)) + text


def test_lettering_near_a_cover_is_told_from_its_limit_on(tmp_path: Path) -> None:
    legend = prepare(lay(tmp_path / "a", lettering(0))).layouts[0].legends[0]
    apart = legend.box.x0 - 5  # the letter's stem is upright, so its edge is nearest in the middle
    assert apart > 1
    assert severities(tmp_path / "b", lettering(apart + 0.01), "legend-near-cover") == ["warning"]
    assert severities(tmp_path / "c", lettering(apart - 0.01), "legend-near-cover") == []


def test_lettering_round_all_knobs_is_one_finding(tmp_path: Path) -> None:
    holes = [hole("pot-16", 7.5, x=x, id=f"p{x}", more='knob = "round-13"\nlabel = "RATE"') for x in (-25, 0, 25)]
    (finding,) = told(tmp_path / "a", job(tolerance="place = 2", holes="mark") + face(*holes), "legend-near-cover")
    assert "RATE" in finding.message and "RSS" in finding.message
    assert told(tmp_path / "b", job(holes="mark") + face(*holes), "legend-near-cover") == []


def test_lettering_in_an_opening_is_told_from_its_limit_on(tmp_path: Path) -> None:
    text = '[[face.text]]\ntext = "I"\nheight = 3\nat = [9, 0]\n'
    legend = prepare(lay(tmp_path / "a", job() + face(hole("", 10)) + text)).layouts[0].legends[0]
    apart = legend.box.x0 - 5
    for name, clear, said in (("b", apart + 0.01, ["error"]), ("c", apart - 0.01, [])):
        wide = job(f"clear = {clear!r}") + face(hole("", 10)) + text
        assert severities(tmp_path / name, wide, "legend-in-opening") == said


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("place = 1", "plaec = 1", 'did you mean "place"?'),
        ("place = 1", "place = -0.1", "between 0 and 10 mm"),
        ("place = 1", 'place = "much"', "write a number and a unit"),
        ('clear = "auto"', 'clear = "wide"', '"auto"'),
        ('clear = "auto"', "clear = 21", "between -20 and 20 mm"),
        ('clear = "auto"', "clear = true", "a length is a number"),
    ],
)
def test_wrong_tolerances_are_refused(tmp_path: Path, old: str, new: str, says: str) -> None:
    text = job('clear = "auto"', "place = 1")
    assert old in text
    ran = run_here("check", lay(tmp_path, text.replace(old, new)))
    assert ran.status == 1
    assert says in ran.err and "job.toml:" in ran.err


DPI = 600
PANEL = (
    hole("pot-16", 7.5, x=-30, id="pot"),
    hole("lamp-3-holder", 6.3, x=-8, id="lamp"),
    hole("socket-3.5", 6.2, x=10, id="jack"),
    hole("", 5.0, x=25, id="empty"),
    hole("toggle-mini", 6.3, x=37, id="own", more="clear = 1.5"),
)


def made(folder: Path, mirrored: bool = False, finish: str = "") -> tuple[dict[str, bytes], dict[str, Any]]:
    """The files of a black face with five openings and nothing else, and their report."""
    text = job(f'ground = "#000000"\ncut = "none"\n{finish}') + face(*PANEL)
    wishes = Wishes(kinds=("art",), dpi=DPI, mirrored=mirrored)
    files = make(prepare(lay(folder, text), wishes), wishes)
    return files, json.loads(files["report.json"])


def discs(grey: "np.ndarray[Any, Any]") -> list[tuple[float, float, float]]:
    """Middle and diameter in mm from the face's middle of every white disc within the black face, by OpenCV."""
    count, _, stats, _ = cv2.connectedComponentsWithStats((grey > 64).astype(np.uint8))
    rows, columns = grey.shape
    scale, found = 25.4 / DPI, []
    for label in range(1, count):
        x, y, w, h, _ = (int(value) for value in stats[label])
        if x == 0 or y == 0 or x + w == columns or y + h == rows:
            continue  # the paper round the face
        light = grey[y - 2 : y + h + 2, x - 2 : x + w + 2] / 255.0
        down, across = np.mgrid[y - 2 : y + h + 2, x - 2 : x + w + 2] + 0.5
        area = light.sum()
        assert abs(w - h) <= 1  # it is as wide as high
        middle = ((across * light).sum() / area, (down * light).sum() / area)
        place = ((middle[0] - columns / 2) * scale, (rows / 2 - middle[1]) * scale)
        found.append((*place, 2 * math.sqrt(area / math.pi) * scale))
    return sorted(found)


def wanted(report: dict[str, Any], way: int = 1) -> list[tuple[float, float, float]]:
    return sorted((way * row["x"], row["y"], row["d"] + 2 * row["clear"]) for row in report["faces"][0]["holes"])


def agree(found: list[tuple[float, float, float]], right: list[tuple[float, float, float]]) -> bool:
    """Within half a pixel in place, and a fiftieth of a millimetre in diameter."""
    half = 25.4 / DPI / 2
    return len(found) == len(right) and all(
        math.dist(a[:2], b[:2]) < half and abs(a[2] - b[2]) < 0.02 for a, b in zip(found, right, strict=True)
    )


@pytest.mark.parametrize("mirrored", [False, True])
def test_openings_are_printed_as_chosen(tmp_path: Path, mirrored: bool) -> None:
    """PNG by OpenCV, PDF by pdfium, SVG by resvg: each opening has its diameter and stands at its hole."""
    files, report = made(tmp_path, mirrored)
    right = wanted(report, -1 if mirrored else 1)
    png = png_grey(files["top-art.png"])
    size = (png.shape[1], png.shape[0])
    for picture in (png, pdf_picture(files["top-art.pdf"], size), svg_picture(files["top-art.svg"], size, DPI)):
        grey = picture if picture.ndim == 2 else cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
        assert agree(discs(grey), right), (discs(grey), right)
    assert not agree(discs(png[:, ::-1]), right)
    wrong = made(tmp_path / "wider", mirrored, "clear = 0.53")[0]
    assert not agree(discs(png_grey(wrong["top-art.png"])), right)


def test_the_report_gives_openings_and_tolerances(tmp_path: Path) -> None:
    """Reckoned anew from the table's figures by the handbook formulas, for the pot 30 mm from the middle."""
    report = made(tmp_path)[1]
    assert report["tolerance"] == {"drill": 0.3, "size": 0.2, "print": 0.5, "place": 0.5}
    rows = {row["id"]: row for row in report["faces"][0]["holes"]}
    strays = [0.3, 0.1, 0.5 * 30 / 100, 0.5]
    assert rows["pot"]["hides"] == 12.5
    assert rows["pot"]["tolerance"]["art"] == {
        "rss": pytest.approx(math.hypot(*strays), abs=1e-4),
        "worst": pytest.approx(sum(strays), abs=1e-4),
    }
    assert rows["pot"]["tolerance"]["cover"]["worst"] == pytest.approx(sum(strays) + 0.25, abs=1e-4)
    low = 3.75 + math.hypot(*strays)
    high = 6.25 - math.hypot(*strays, 0.25)
    assert low < 3.75 + rows["pot"]["clear"] < high
    assert rows["own"]["clear"] == 1.5
    assert rows["empty"]["hides"] is None
    plain = json.loads(
        make(prepare(lay(tmp_path / "mark", job(holes="mark") + face(*PANEL))), Wishes(kinds=()))["report.json"]
    )
    assert {row["clear"] for row in plain["faces"][0]["holes"]} == {None}


def test_the_steps_say_how_far_openings_reach(tmp_path: Path) -> None:
    text = job("clear = 0.7") + face(hole("toggle-mini", 6.3), hole("", 5, x=20, id="b", more=""))
    wishes = Wishes(("svg",))
    steps = make(prepare(lay(tmp_path, text), wishes), wishes)["steps.md"].decode("utf-8")
    assert "Past the hole's edge it reaches 0.7 mm (a, b)." in steps
    inner = job("clear = -0.4") + face(hole("toggle-mini", 6.3))
    steps = make(prepare(lay(tmp_path / "in", inner), wishes), wishes)["steps.md"].decode("utf-8")
    assert "It stays within the hole's edge by 0.4 mm (a); the rest is cut away." in steps
