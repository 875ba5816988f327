"""Sheets as they leave the program: paper, packing, started film, copies and gangs, read back by pdfium and OpenCV."""

import json
import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from eyes import crosses, pdf_pages_mm, pdf_picture
from helpers.jobs import good, lay
from helpers.runs import PRINTS, Ran, run_here, tree
from samples import FOLDER, JOBS, marks_on_sheet

from facegraphic.film.sheet import fits
from facegraphic.film.sheet_marks import CAPTION
from facegraphic.pipeline.preparing import prepare
from facegraphic.stock.tables import papers

DPI = 200
PX = DPI / 25.4


def sheet_job(folder: Path, lines: str = "", name: str = "job") -> Path:
    """The good job with some more lines under [sheet], on its own name."""
    path = lay(folder, good() + lines + "\n")
    return path.rename(folder / f"{name}.toml")


def report_of(folder: Path) -> dict[str, Any]:
    data: dict[str, Any] = json.loads((folder / "report.json").read_text("utf-8"))
    return data


def ink(pdf: bytes) -> np.ndarray[Any, np.dtype[np.bool_]]:
    """Where a PDF page is not bare, pixel by pixel at `DPI` (pdfium)."""
    [(width, height)] = pdf_pages_mm(pdf)
    return pdf_picture(pdf, (round(width * PX), round(height * PX))).min(axis=2) < 250


def make_sheets(job: Path, *words: object) -> Ran:
    return run_here("make", job, "--only", "sheet", "--format", "pdf", *words)


@pytest.mark.parametrize("job", JOBS)
@pytest.mark.parametrize("words", [(), ("--copies", "3"), ("--paper", "A5"), ("--paper", "Letter", "--copies", "5")])
def test_places_survive_packing_and_turning(job: str, words: tuple[str, ...], tmp_path: Path) -> None:
    """Every hole mark of every piece, in the PDF as pdfium draws it, stands where report and job say; no other does."""
    assert make_sheets(FOLDER / f"{job}.toml", "--out", tmp_path, *words).status == 0
    report = report_of(tmp_path)
    if not report["sheets"]:
        assert "sheet-overflow" in {finding["code"] for finding in report["findings"]}
        return
    for sheet in report["sheets"]:
        pdf = (tmp_path / f"{sheet['sheet']}.pdf").read_bytes()
        [(width, height)] = pdf_pages_mm(pdf)
        assert (width, height) == pytest.approx(papers()[sheet["paper"]].size, abs=0.01)
        picture = pdf_picture(pdf, (round(width * PX), round(height * PX)))
        found = crosses(picture.mean(axis=2), DPI)
        wanted = [place for piece in sheet["pieces"] for place in marks_on_sheet(piece, job, report["mirrored"])]
        assert len(found) == len(wanted)
        for x, y in wanted:
            assert min(math.dist((cross.x, cross.y), (x * PX, y * PX)) for cross in found) < 1.0


@pytest.mark.parametrize("job", JOBS)
def test_every_copy_is_on_a_sheet(job: str, tmp_path: Path) -> None:
    assert make_sheets(FOLDER / f"{job}.toml", "--out", tmp_path, "--copies", "7").status == 0
    report = report_of(tmp_path)
    printed = [piece["side"] for sheet in report["sheets"] for piece in sheet["pieces"] * sheet["prints"]]
    assert {side: printed.count(side) for side in printed} == {face["side"]: 7 for face in report["faces"]}
    assert [o["prints"] for o in report["outputs"]] == [sheet["prints"] for sheet in report["sheets"]]


def pieces_apart(report: dict[str, Any], bleed: float, gap: float) -> list[Any]:
    """The bled faces of each sheet as boxes round their reported centres, grown by half the gap."""
    sizes = {face["side"]: face["size"] for face in report["faces"]}
    sheets = []
    for sheet in report["sheets"]:
        boxes = []
        for piece in sheet["pieces"]:
            w, h = (side / 2 + bleed + gap / 2 for side in sizes[piece["side"]][:: -1 if piece["turned"] else 1])
            boxes.append(shapely.box(piece["x"] - w, piece["y"] - h, piece["x"] + w, piece["y"] + h))
        sheets.append(boxes)
    return sheets


@pytest.mark.parametrize("gap", [4, 5, 12])
def test_the_knife_has_its_gap(gap: float, tmp_path: Path) -> None:
    job = sheet_job(tmp_path, f"gap = {gap}\ncopies = 9")
    assert make_sheets(job).status == 0
    report = report_of(tmp_path / "job-out")
    sheets = pieces_apart(report, bleed=2.0, gap=gap - 1e-3)
    assert any(len(boxes) > 1 for boxes in sheets)
    for boxes in sheets:
        assert sum(box.area for box in boxes) == pytest.approx(float(shapely.union_all(boxes).area), abs=1e-6)


@pytest.mark.parametrize(
    ("used", "left"),
    [
        ("[[0, 0, 210, 80]]", True),
        ("[[0, 0, 100, 297]]", True),
        ("[[0, 150, 210, 147], [150, 0, 60, 60]]", True),
        ("[[90, 100, 20, 20]]", True),
        ("[[0, 0, 210, 297]]", False),
        ("[[0, 0, 210, 250]]", False),
        ("[[0, 70, 210, 12], [0, 140, 210, 12], [0, 210, 210, 30]]", False),
    ],
)
def test_what_is_used_of_a_sheet_stays_bare(used: str, left: bool, tmp_path: Path) -> None:
    """Not a pixel of the first sheet is printed where film is gone already (pdfium); if nothing fits it is told."""
    ran = make_sheets(sheet_job(tmp_path, f"used = {used}"))
    assert ran.status == 0
    assert ("[sheet-used-up]" in ran.err) is not left
    report = report_of(tmp_path / "job-out")
    assert report["sheets"][0]["started"] is left
    if left:
        page = ink((tmp_path / "job-out" / "sheet-1.pdf").read_bytes())
        for x, y, w, h in json.loads(used):
            assert not page[round(y * PX) : round((y + h) * PX), round(x * PX) : round((x + w) * PX)].any()


def test_a_sheet_can_be_used_up_step_by_step(tmp_path: Path) -> None:
    """What a report calls used is enough to go on with that sheet: two prints on one film never meet."""
    first = sheet_job(tmp_path / "a", "turn = true")
    assert make_sheets(first).status == 0
    after = report_of(first.with_name("job-out"))["sheets"][0]["used_after"]
    second = sheet_job(tmp_path / "b", f"used = {after}")
    assert make_sheets(second).status == 0
    assert report_of(second.with_name("job-out"))["sheets"][0]["started"] is True
    pages = [ink((path.with_name("job-out") / "sheet-1.pdf").read_bytes()) for path in (first, second)]
    assert pages[0].any() and pages[1].any()
    assert not (pages[0] & pages[1]).any()
    text = run_here("make", first, "--only", "sheet,steps", "--format", "pdf", "--json").out
    assert text
    steps = (first.with_name("job-out") / "steps.md").read_text("utf-8")
    assert f"`used = {after}`".replace(".0", "") in steps.replace(".0", "")


@pytest.mark.parametrize("edge", ["3", "12", "[20, 5, 5, 30]"])
def test_nothing_is_printed_where_the_printer_leaves_bare(edge: str, tmp_path: Path) -> None:
    job = sheet_job(tmp_path, f"edge = {edge}\ncopies = 4")
    assert make_sheets(job).status == 0
    value = json.loads(edge)
    left, upper, right, lower = value if isinstance(value, list) else [value] * 4
    for path in sorted((tmp_path / "job-out").glob("sheet-*.pdf")):
        page = ink(path.read_bytes())
        ys, xs = np.nonzero(page)
        assert xs.min() >= (left - 0.3) * PX and xs.max() <= (210 - right + 0.3) * PX
        assert ys.min() >= (upper - 0.3) * PX and ys.max() <= (297 - lower + 0.3) * PX


def test_faces_are_turned_only_where_they_may_be(tmp_path: Path) -> None:
    turned = [
        {piece["turned"] for sheet in report["sheets"] for piece in sheet["pieces"]}
        for may in ("true", "false")
        if make_sheets(sheet_job(tmp_path / may, f"turn = {may}\ncopies = 5")).status == 0
        for report in [report_of(tmp_path / may / "job-out")]
    ]
    assert turned == [{True, False}, {False}] or turned == [{True}, {False}]


def test_a_paper_that_is_too_small_names_one_that_would_do(tmp_path: Path) -> None:
    """The larger a face, the larger the paper that is named, and that one does hold it."""
    job = lay(tmp_path, good('paper = "A4"', 'paper = "A6"'))
    ran = run_here("check", job)
    assert "[sheet-overflow]" in ran.out
    named = ran.out.split('use paper = "')[1].split('"')[0]
    prepared = prepare(job)
    for name, paper in papers().items():
        held = all(fits(prepared.pieces, replace(prepared.job.sheet, paper=paper)))
        if name == named:
            assert held
        elif paper.size[0] * paper.size[1] < math.prod(papers()[named].size):
            assert not held


def test_price_is_shared_out_by_film(tmp_path: Path) -> None:
    """Arithmetic: what the pieces cost adds up to the price of the film that is used up, part of a sheet's."""
    assert make_sheets(sheet_job(tmp_path, "price = 2.5\ncopies = 3")).status == 0
    sheets = report_of(tmp_path / "job-out")["sheets"]
    for sheet in sheets:
        share = sheet["film_cm2"] * 100 / (210 * 297)
        assert sum(piece["cost"] for piece in sheet["pieces"]) == pytest.approx(2.5 * share, abs=1e-3)
    x, y, width, height = sheets[-1]["used_after"][0]
    assert (x, y, width) == (0, 0, 210)
    assert sheets[-1]["film_cm2"] * 100 >= width * height
    assert make_sheets(sheet_job(tmp_path / "free")).status == 0
    assert report_of(tmp_path / "free" / "job-out")["sheets"][0]["pieces"][0]["cost"] is None


def test_a_pieces_film_is_its_bled_size_with_gap_and_caption(tmp_path: Path) -> None:
    assert make_sheets(sheet_job(tmp_path, "gap = 6")).status == 0
    report = report_of(tmp_path / "job-out")
    width, height = report["faces"][0]["size"]
    [piece] = report["sheets"][0]["pieces"]
    assert piece["film_cm2"] == pytest.approx((width + 4 + 6) * (height + 4 + 6 + CAPTION) / 100, abs=0.01)


def test_jobs_of_one_film_share_sheets(tmp_path: Path) -> None:
    jobs = [sheet_job(tmp_path, name=name) for name in ("one", "two")]
    ran = run_here("make", *jobs, "--copies", "2", *PRINTS, "--format", "pdf")
    assert ran.status == 0
    assert [Path(line).name for line in ran.out.split()] == ["one-out", "two-out", "gang-out"]
    gang = report_of(tmp_path / "gang-out")
    assert gang["jobs"] == ["one.toml", "two.toml"]
    [sheet] = gang["sheets"]
    assert sorted(piece["job"] for piece in sheet["pieces"]) == ["one.toml"] * 2 + ["two.toml"] * 2
    assert set(tree(tmp_path / "gang-out")) == {"report.json", "sheet-1.pdf"}
    own = {"report.json", "drill-guide.pdf", "steps.md", "top-art.pdf"}
    assert set(tree(tmp_path / "one-out")) == own
    assert "`gang-out/sheet-1.pdf`" in (tmp_path / "two-out" / "steps.md").read_text("utf-8")


def test_another_film_gets_sheets_of_its_own(tmp_path: Path) -> None:
    clear = sheet_job(tmp_path, name="clear")
    toner = lay(tmp_path, good('"waterslide-clear"', '"toner-transfer"'))
    assert run_here("make", clear, toner, "--only", "sheet", "--format", "svg", "--out", tmp_path / "out").status == 0
    sheets = report_of(tmp_path / "out")["sheets"]
    assert [(sheet["sheet"], sheet["process"]) for sheet in sheets] == [
        ("sheet-1", "waterslide-clear"),
        ("sheet-2", "toner-transfer"),
    ]


def test_apart_gives_every_job_its_own_sheets(tmp_path: Path) -> None:
    jobs = [sheet_job(tmp_path, name=name) for name in ("one", "two")]
    assert run_here("make", *jobs, "--apart", "--only", "sheet", "--format", "pdf").status == 0
    assert "sheet-1.pdf" in tree(tmp_path / "one-out") and "sheet-1.pdf" in tree(tmp_path / "two-out")
    assert not (tmp_path / "gang-out").exists()


def test_a_gang_with_a_wrong_job_prints_no_sheet(tmp_path: Path) -> None:
    """Its place on the film would stay empty; the other jobs' art is made all the same."""
    right, wrong = sheet_job(tmp_path, name="right"), tmp_path / "wrong.toml"
    wrong.write_text("title = 1")
    ran = run_here("make", right, wrong, *PRINTS, "--format", "svg")
    assert ran.status == 1
    assert "no sheets are made" in ran.err and "wrong.toml" in ran.err
    assert "top-art.svg" in tree(tmp_path / "right-out")
    assert not (tmp_path / "gang-out").exists()


def test_sheets_that_differ_are_told(tmp_path: Path) -> None:
    jobs = [sheet_job(tmp_path, name="one"), sheet_job(tmp_path, "gap = 8", name="two")]
    ran = run_here("make", *jobs, "--only", "sheet", "--format", "svg")
    assert "two.toml shares sheets with one.toml, whose [sheet] holds: gap differ" in ran.err
    same = [sheet_job(tmp_path, "copies = 2", name="one"), sheet_job(tmp_path, "copies = 3", name="two")]
    assert "sheets-differ" not in run_here("make", *same, "--only", "sheet", "--format", "svg").err


def test_five_hundred_copies_are_few_files(tmp_path: Path) -> None:
    assert make_sheets(sheet_job(tmp_path), "--copies", "500").status == 0
    report = report_of(tmp_path / "job-out")
    assert sum(len(sheet["pieces"]) * sheet["prints"] for sheet in report["sheets"]) == 500
    assert len(report["sheets"]) <= 3
    make_steps = ("--copies", "500", "--only", "steps", "--out", tmp_path / "steps")
    assert run_here("make", FOLDER / "slow-ferry.toml", *make_steps).status == 0
    assert " times)" in (tmp_path / "steps" / "steps.md").read_text("utf-8")


@pytest.mark.parametrize("copies", ["-1", "0", "1001", "many"])
def test_copies_out_of_reason_are_refused(copies: str, tmp_path: Path) -> None:
    assert make_sheets(sheet_job(tmp_path), "--copies", copies).status == 2
    assert not (tmp_path / "job-out").exists()


def test_more_faces_than_anyone_prints_are_refused(tmp_path: Path) -> None:
    jobs = [sheet_job(tmp_path, name=f"job{number}") for number in range(6)]
    ran = run_here("make", *jobs, "--copies", "1000", "--only", "sheet", "--format", "svg")
    assert ran.status == 1
    assert "6000 faces at once are more than 5000" in ran.err
    assert not (tmp_path / "gang-out").exists()


def large(folder: Path) -> Path:
    """A job whose face needs more than A5."""
    text = good('stock = "112x60x31"', "size = [180, 120, 40]").replace('paper = "A4"', 'paper = "A5"')
    folder.mkdir(parents=True, exist_ok=True)
    return lay(folder, text).rename(folder / "large.toml")


def small(folder: Path) -> Path:
    path = lay(folder, good('paper = "A4"', 'paper = "A5"'))
    return path.rename(folder / "small.toml")


def test_a_face_that_is_on_no_sheet_of_a_gang_is_named(tmp_path: Path) -> None:
    """The others are printed; where nothing but sheets is asked for, it is an error and nothing is written."""
    jobs = [small(tmp_path), large(tmp_path)]
    ran = run_here("make", *jobs, "--format", "pdf", "--dpi", "72", *PRINTS)
    assert ran.status == 0
    assert "the top face of large.toml is on no sheet" in ran.err
    assert [piece["job"] for sheet in report_of(tmp_path / "gang-out")["sheets"] for piece in sheet["pieces"]] == [
        "small.toml"
    ]
    again = run_here("make", *jobs, "--only", "sheet", "--format", "pdf", "--out", tmp_path / "new")
    assert again.status == 1
    assert "on no sheet" in again.err
    assert not (tmp_path / "new").exists()


def test_a_gang_is_judged_by_the_sheets_that_it_shares(tmp_path: Path) -> None:
    """A4 comes first, so the job that asks for A5 is on A4 too: no overflow, and its steps say so."""
    jobs = [sheet_job(tmp_path, name="first"), large(tmp_path)]
    ran = run_here("make", *jobs, "--format", "pdf", *PRINTS)
    assert ran.status == 0
    assert "sheet-overflow" not in ran.err
    steps = (tmp_path / "large-out" / "steps.md").read_text("utf-8")
    assert " of A4" in steps and "A5" not in steps
    assert "**Shared:** these sheets carry faces of Bell Buoy too" in steps


def test_nothing_of_a_gang_is_written_if_one_folder_cannot_be(tmp_path: Path) -> None:
    jobs = [sheet_job(tmp_path, name="one"), sheet_job(tmp_path, name="two")]
    (tmp_path / "gang-out").write_text("in the way")
    before = tree(tmp_path)
    ran = run_here("make", *jobs, "--format", "svg", *PRINTS)
    assert ran.status == 1
    assert "gang-out" in ran.err and "nothing was written" in ran.err
    after = {name: data for name, data in tree(tmp_path).items() if data is not None}
    assert after == {name: data for name, data in before.items() if data is not None}


def test_a_gang_for_a_printer_comes_out_true(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two jobs, turned and mirrored, in the PDF as pdfium draws it: scaled as printed, every mark where it is said."""
    monkeypatch.setenv("FACEGRAPHIC_CONFIG", str(tmp_path / "settings"))
    assert run_here("ruler", "--measured", "99.2", "100.4", "--save", "attic").status == 0
    names = ("kelp-drier", "slow-ferry")
    jobs = [FOLDER / f"{name}.toml" for name in names]
    words = ("--mirror", "--printer", "attic", "--copies", "2", "--only", "sheet", "--format", "pdf")
    assert run_here("make", *jobs, *words, "--out", tmp_path / "out").status == 0
    report = report_of(tmp_path / "out")
    for sheet in report["sheets"]:
        assert (sheet["printer"], sheet["mirrored"]) == ("attic", True)
        pdf = (tmp_path / "out" / f"{sheet['sheet']}.pdf").read_bytes()
        [(width, height)] = pdf_pages_mm(pdf)
        picture = pdf_picture(pdf, (round(width * PX), round(height * PX)))
        found = [
            (width / 2 + (c.x / PX - width / 2) * 0.992, height / 2 + (c.y / PX - height / 2) * 1.004)
            for c in crosses(picture.mean(axis=2), DPI)
        ]
        wanted = [
            place for piece in sheet["pieces"] for place in marks_on_sheet(piece, piece["job"].split(".")[0], True)
        ]
        assert len(found) == len(wanted) > 0
        for place in wanted:
            assert min(math.dist(place, other) for other in found) < 0.08  # half a pixel of this picture is 0.064 mm


def test_no_sheet_too_many_stays_from_an_earlier_run(tmp_path: Path) -> None:
    job = sheet_job(tmp_path)
    (tmp_path / "job-out").mkdir()
    (tmp_path / "job-out" / "sheet-9.pdf").write_bytes(b"somebody else's")
    assert make_sheets(job, "--copies", "7").status == 0
    assert "sheet-2.pdf" in tree(tmp_path / "job-out")
    assert make_sheets(job).status == 0
    assert set(tree(tmp_path / "job-out")) == {"report.json", "sheet-1.pdf", "sheet-9.pdf"}


@pytest.mark.parametrize("job", JOBS)
def test_no_id_is_twice_on_a_sheet(job: str, tmp_path: Path) -> None:
    """An id is unique in its document (XML 1.0, validity constraint ID)."""
    words = ("--copies", "3", "--only", "sheet,art", "--format", "svg", "--out", tmp_path)
    assert run_here("make", FOLDER / f"{job}.toml", *words).status == 0
    for path in sorted(tmp_path.glob("*.svg")):
        ids = re.findall(r' id="([^"]*)"', path.read_text("utf-8"))
        assert ids and len(ids) == len(set(ids))


@pytest.mark.parametrize("size", ["[184, 102, 40]", "[187, 180, 40]"])
def test_no_sheet_is_spent_on_a_bar(size: str, tmp_path: Path) -> None:
    """Two wide faces that fill an A4 to 1 mm share it, and one that fills it is not refused: the bar gives way."""
    body = f'[box]\nsize = {size}\n[[face]]\nside = "top"\nhole = [{{ id = "a", at = [0, 0], d = 8 }}]\n'
    job = tmp_path / "wide.toml"
    job.write_text(f"{body}[sheet]\ncopies = {2 if '102' in size else 1}\n")
    ran = make_sheets(job)
    assert ran.status == 0, ran.err
    [sheet] = report_of(tmp_path / "wide-out")["sheets"]
    assert sheet["prints"] == 1


def test_a_started_sheet_is_told_in_the_steps(tmp_path: Path) -> None:
    job = sheet_job(tmp_path, "used = [[0, 0, 210, 96]]")
    assert run_here("make", job, "--only", "sheet,steps", "--format", "pdf").status == 0
    steps = (tmp_path / "job-out" / "steps.md").read_text("utf-8")
    assert "**Started sheet:** `sheet-1.pdf` goes onto the started sheet" in steps
    assert "the started sheet of A4, and one to spare" in steps
    assert "Load the started sheet of film (A4)" in steps


def test_steps_of_faces_alone_ask_for_no_sheet(tmp_path: Path) -> None:
    job = sheet_job(tmp_path)
    assert run_here("make", job, "--only", "art,steps", "--format", "pdf").status == 0
    steps = (tmp_path / "job-out" / "steps.md").read_text("utf-8")
    assert "1 piece, as large as its page" in steps and "bars" not in steps
