"""The commands: their help, their results on stdout, their talk on stderr, and what they write."""

import json
import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from helpers.jobs import good, lay
from helpers.runs import run_apart, run_here, tree
from PIL import Image
from samples import FOLDER

from facegraphic.cli.main import COMMANDS
from facegraphic.cli.stock import COLUMNS
from facegraphic.lettering.library import DEFAULT_FONT, named_fonts

TABLES = ("boxes", "parts", "knobs", "films", "papers", "bits", "spacings", "masks", "tolerances", "limits")


@pytest.mark.parametrize("asked", ["--help", "-h"])
@pytest.mark.parametrize("command", ["", *COMMANDS])
def test_help_of_every_command_has_an_example(command: str, asked: str) -> None:
    ran = run_here(*[command] if command else [], asked)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.startswith(f"Usage: facegraphic {command}".rstrip())
    assert f"Example: facegraphic {command}".rstrip() in ran.out


def test_help_on_the_tables_names_them_all() -> None:
    told = run_here("stock", "--help").out
    assert all(re.search(rf"\b{name}\b", told) for name in COLUMNS)


def test_the_help_names_every_command() -> None:
    listed = run_here("--help").out.partition("Commands:")[2]
    assert re.findall(r"^  ([a-z]+) ", listed, re.MULTILINE)[: len(COMMANDS)] == list(COMMANDS)


USAGE = [
    ["mke"],
    ["make"],
    ["check"],
    ["new"],
    ["new", "a", "b"],
    ["make", "job.toml", "--dpi", "many"],
    ["make", "job.toml", "--dpi", "71"],
    ["make", "job.toml", "--dpi", "4801"],
    ["make", "job.toml", "--format", "gif"],
    ["make", "job.toml", "--format", ""],
    ["make", "job.toml", "--only", "lids"],
    ["make", "job.toml", "--paper", "A99"],
    ["make", "job.toml", "--nonsense"],
    ["stock", "shelves"],
    ["fonts", "extra"],
    ["ruler", "extra"],
    ["ruler", "--measured", "0", "100", "--save", "attic"],
    ["make", "job.toml", "--printer", "no such printer"],
]


@pytest.mark.parametrize("words", USAGE, ids=" ".join)
def test_a_wrong_command_line_ends_with_2_and_writes_nothing(
    words: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    lay(tmp_path, good())
    monkeypatch.chdir(tmp_path)
    before = tree(tmp_path)
    ran = run_here(*words)
    assert (ran.status, ran.out) == (2, "")
    assert "Usage: facegraphic" in ran.err
    assert "Error: " in ran.err
    assert tree(tmp_path) == before


def test_new_writes_a_job_that_makes_at_once(tmp_path: Path) -> None:
    told = run_apart("new", "two words", cwd=tmp_path)
    assert (told.status, told.out) == (0, "two words.toml\n")
    assert "facegraphic make 'two words.toml'" in told.err
    said = run_apart("check", "two words.toml", cwd=tmp_path).out
    assert re.findall(r"(?m)^two words\.toml: (\w+): .*\[(.*)\]$", said) == [("note", "small-to-read")]
    ran = run_apart("make", "two words.toml", cwd=tmp_path)
    assert (ran.status, ran.out, ran.err) == (0, "two words-out\n", said)
    report = json.loads((tmp_path / "two words-out" / "report.json").read_text(encoding="utf-8"))
    assert report["title"] == "Two Words"
    written = {output["file"] for output in report["outputs"]}
    pages = {f"{stem}.{kind}" for stem in ("top-art", "sheet-1") for kind in ("svg", "png", "pdf")}
    assert written == pages | {"drill-guide.pdf", "preview.png", "preview.html", "steps.md"}
    assert set(tree(tmp_path / "two words-out")) == written | {"report.json"}


@pytest.mark.parametrize("name", ["box", "box.toml", 'say "{hm}" \\', "ünder_scores", "x" * 60, "{}"])
def test_new_copes_with_any_name(name: str, tmp_path: Path) -> None:
    assert run_here("new", tmp_path / name).status == 0
    [job] = tmp_path.iterdir()
    assert job.name == (name if name.endswith(".toml") else f"{name}.toml")
    assert run_here("check", job).status == 0


def test_new_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "box.toml").write_text("mine")
    for name in ("box", "box.toml"):
        ran = run_here("new", tmp_path / name)
        assert (ran.status, ran.out) == (1, "")
        assert "the file is there already" in ran.err
    assert tree(tmp_path) == {"box.toml": b"mine"}


def test_new_in_a_folder_that_is_not_there(tmp_path: Path) -> None:
    ran = run_here("new", tmp_path / "nowhere" / "box")
    assert (ran.status, ran.out) == (1, "")
    assert "choose a folder that exists" in ran.err
    assert tree(tmp_path) == {}


def test_stock_has_the_tables_and_prints_all_of_them() -> None:
    assert tuple(COLUMNS) == TABLES
    every = run_here("stock")
    assert (every.status, every.err) == (0, "")
    assert re.findall(r"^[A-Z]+$", every.out, re.MULTILINE) == [table.upper() for table in TABLES]
    for table in TABLES:
        assert run_here("stock", table).out in every.out


@pytest.mark.parametrize("table", TABLES)
def test_each_row_of_stock_says_where_it_comes_from(table: str) -> None:
    head, *lines = run_here("stock", table).out.splitlines()
    assert head.split()[0] == "name"
    assert head.endswith("source")
    assert len(lines) >= 3
    for line in lines:
        assert re.fullmatch(r"\S.*", line[: head.index("source")])
        assert re.fullmatch(r"[A-Za-z].{3,}", line[head.index("source") :])


def test_fonts_prints_every_name_and_marks_the_default() -> None:
    ran = run_here("fonts")
    assert ran.status == 0
    names = [line.removesuffix("  (default)") for line in ran.out.splitlines()]
    assert names == list(named_fonts())
    assert f"{DEFAULT_FONT}  (default)" in ran.out.splitlines()
    assert ran.out.count("(default)") == 1
    assert len(ran.out.splitlines()) > 5


@pytest.mark.parametrize("font", sorted(named_fonts()))
def test_every_font_named_can_be_used(font: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good("dpi = 150", f'font = "{font}"'))
    assert run_here("make", job, "--only", "art", "--format", "svg").status == 0


def test_make_prints_the_folder_and_talks_on_stderr(tmp_path: Path) -> None:
    lay(tmp_path, good('paper = "A4"', "size = [60, 60]"))
    ran = run_apart("make", "job.toml", "--format", "svg", cwd=tmp_path)
    assert (ran.status, ran.out) == (0, "job-out\n")
    assert "job.toml: warning: " in ran.err
    assert "\r" not in ran.err  # no progress in a pipe
    quiet = run_apart("make", "job.toml", "--format", "svg", "--quiet", cwd=tmp_path)
    assert (quiet.status, quiet.out, quiet.err) == (0, "job-out\n", "")


def test_make_as_json_prints_nothing_but_the_reports(tmp_path: Path) -> None:
    lay(tmp_path, good('paper = "A4"', "size = [60, 60]"))
    ran = run_apart("make", "job.toml", "--format", "svg", "--json", cwd=tmp_path)
    assert ran.status == 0
    assert "warning" in ran.err
    written = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    assert json.loads(ran.out) == {"job.toml": written}


def test_check_prints_findings_worst_first_and_writes_nothing(tmp_path: Path) -> None:
    job = lay(tmp_path, good("at = [0, 5]", "at = [-12, 32]").replace('paper = "A4"', "size = [60, 60]"))
    before = tree(tmp_path)
    ran = run_here("check", job)
    assert (ran.status, ran.err) == (1, "")
    severities = re.findall(r": (error|warning|note): ", ran.out)
    assert severities == sorted(severities, key=["error", "warning", "note"].index)
    assert set(severities) == {"error", "warning", "note"}
    told = run_here("check", job, "--json")
    assert (told.status, told.err) == (1, "")
    findings = json.loads(told.out)[str(job)]
    assert [finding["severity"] for finding in findings] == severities
    for finding in findings:
        assert set(finding) == {"code", "severity", "side", "at", "message", "remedy"}
        assert finding["message"]
        assert finding["remedy"]
    assert tree(tmp_path) == before


def test_check_of_a_sound_job_says_so(tmp_path: Path) -> None:
    bare = good()[: good().index("[[face.control]]")]
    job = lay(tmp_path, bare)
    ran = run_here("check", job)
    assert (ran.status, ran.out, ran.err) == (0, f"{job}: nothing to mend\n", "")
    assert json.loads(run_here("check", job, "--json").out) == {str(job): []}


@pytest.mark.parametrize(
    ("words", "files"),
    [
        (["--only", "art"], {"top-art.svg", "top-art.png", "top-art.pdf"}),
        (["--only", "sheet"], {"sheet-1.svg", "sheet-1.png", "sheet-1.pdf"}),
        (
            ["--format", "pdf"],
            {"top-art.pdf", "sheet-1.pdf", "drill-guide.pdf", "preview.png", "preview.html", "steps.md"},
        ),
        (["--only", "steps"], {"steps.md"}),
        (["--only", "guide", "--format", "svg"], {"drill-guide.pdf"}),
        (["--format", "svg"], {"top-art.svg", "sheet-1.svg", "preview.png", "preview.html", "steps.md"}),
        (["--only", "steps,art", "--format", "svg"], {"top-art.svg", "steps.md"}),
        (["--format", " png , svg", "--only", "art"], {"top-art.svg", "top-art.png"}),
    ],
)
def test_only_what_is_asked_for_is_written(words: list[str], files: set[str], tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    assert run_here("make", job, *words).status == 0
    assert set(tree(tmp_path / "job-out")) == files | {"report.json"}
    report = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    assert {output["file"] for output in report["outputs"]} == files


def test_dpi_is_honoured_and_reported(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    assert run_here("make", job, "--dpi", "300", "--only", "art", "--format", "png,svg").status == 0
    report = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    by_file = {output["file"]: output for output in report["outputs"]}
    png = by_file["top-art.png"]
    assert png["dpi"] == 300
    assert by_file["top-art.svg"]["dpi"] is None
    assert png["size_px"] == [round(length * 300 / 25.4) for length in png["size_mm"]]
    with Image.open(tmp_path / "job-out" / "top-art.png") as image:
        assert list(image.size) == png["size_px"]
        assert image.info["dpi"] == pytest.approx((300, 300), abs=0.02)  # pHYs holds whole pixels to the metre


@pytest.mark.parametrize(
    ("process", "words", "mirrored"),
    [
        ("waterslide-clear", [], False),
        ("waterslide-clear", ["--mirror"], True),
        ("toner-transfer", [], True),
        ("toner-transfer", ["--no-mirror"], False),
    ],
)
def test_mirroring_is_honoured_and_reported(process: str, words: list[str], mirrored: bool, tmp_path: Path) -> None:
    job = lay(tmp_path, good('"waterslide-clear"', f'"{process}"'))
    assert run_here("make", job, "--format", "pdf", *words).status == 0
    report = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    by_kind = {output["kind"]: output["mirrored"] for output in report["outputs"]}
    # One drills what one sees: the guide is never mirrored.
    assert by_kind == {"art": mirrored, "sheet": mirrored, "guide": False, "preview": False, "steps": mirrored}
    assert report["mirrored"] is mirrored


def test_a_mirrored_picture_is_the_picture_mirrored(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    for name, words in (("plain", ["--no-mirror"]), ("turned", ["--mirror"])):
        run_here("make", job, "--only", "art", "--format", "png", "--out", tmp_path / name, *words)
    plain, turned = (
        np.asarray(Image.open(tmp_path / name / "top-art.png").convert("RGB")).astype(int)
        for name in ("plain", "turned")
    )
    assert not np.array_equal(plain, turned)
    # Soft edges may fall a little otherwise on the pixels of the other way round; whole pixels may not.
    differing = np.abs(plain[:, ::-1] - turned).max(axis=2) > 24
    assert differing.mean() < 0.001


def test_paper_is_honoured(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    assert run_here("make", job, "--paper", "Letter", "--only", "sheet", "--format", "pdf").status == 0
    report = json.loads((tmp_path / "job-out" / "report.json").read_text(encoding="utf-8"))
    assert report["outputs"][0]["size_mm"] == [215.9, 279.4]  # 8.5 x 11 in (CSS Paged Media 3)


def test_out_makes_its_folders_and_keeps_other_files(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    out = tmp_path / "print" / "today"
    out.mkdir(parents=True)
    (out / "notes.txt").write_text("mine")
    ran = run_here("make", job, "--out", out, "--only", "art", "--format", "svg")
    assert ran.out == f"{out}\n"
    assert set(tree(out)) == {"notes.txt", "report.json", "top-art.svg"}
    assert (out / "notes.txt").read_text() == "mine"
    assert not (tmp_path / "job-out").exists()


def test_two_jobs_get_a_folder_each(tmp_path: Path) -> None:
    first = lay(tmp_path, good())
    second = tmp_path / "other.toml"
    second.write_text(good("Bell Buoy", "Other Buoy"))
    ran = run_here("make", first, second, "--out", tmp_path / "out", "--only", "art", "--format", "svg", "--json")
    titles = {Path(name).name: report["title"] for name, report in json.loads(ran.out).items()}
    assert titles == {"job.toml": "Bell Buoy", "other.toml": "Other Buoy"}
    assert set(tree(tmp_path / "out")) == {
        f"{stem}{file}" for stem in ("job", "other") for file in ("", "/report.json", "/top-art.svg")
    }


def test_a_reader_that_goes_away_is_no_traceback(tmp_path: Path) -> None:
    before = "import os, sys\nread, write = os.pipe(); os.close(read); os.dup2(write, 1)"
    ran = run_apart("stock", cwd=tmp_path, before=before)
    assert ran.status == 1
    assert "Traceback" not in ran.err


def test_what_the_examples_script_says_to_open_is_there(tmp_path: Path) -> None:
    """Its own command, as PDF, in a copy of the folder; every PDF that it names must then be there."""
    script = (FOLDER / "run.sh").read_text("utf-8")
    shutil.copytree(FOLDER, tmp_path / "examples", ignore=shutil.ignore_patterns("*-out", "pictures"))
    words = re.search(r'facegraphic" make (.+)', script)
    jobs = re.search(r"for job in ([\w -]+);", script)
    assert words and jobs
    asked = [tmp_path / "examples" / word if word.endswith(".toml") else word for word in words[1].split()]
    assert run_here("make", *asked, "--format", "pdf", "--only", "art,sheet,masks", "--quiet").status == 0
    named = re.findall(r"examples/[\w$/-]+\.pdf", script)
    assert len(named) > 1
    for name in named:
        for job in jobs[1].split() if "$job" in name else [""]:
            assert (tmp_path / name.replace("$job", job)).is_file(), name
