"""``steps.md``: every process has its steps with cautions for what it can do to you, in the job's own figures."""

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import run_here
from samples import FOLDER, JOBS, job_data, job_holes, sides

from facegraphic.film.steps import LABEL_RULE, StepFacts, steps_text
from facegraphic.job.load import load_job
from facegraphic.job.model import Printer
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.stock.tables import courses, films, hazards, steps

PROCESSES = tuple(films())
# What each process works with: sprays and solvents, heat, etchant, blades, dust (common practice).
HAZARDS = {
    "waterslide-clear": {"spray", "solvent", "blade", "dust", "drill"},
    "waterslide-white": {"spray", "solvent", "blade", "dust", "drill"},
    "waterslide-reversed": {"spray", "solvent", "blade", "dust", "drill"},
    "toner-transfer": {"spray", "solvent", "blade", "dust", "drill", "heat"},
    "toner-resist": {"spray", "solvent", "blade", "dust", "drill", "heat", "etchant"},
    "adhesive-label": {"spray", "solvent", "blade", "dust", "drill", "heat"},
    "service-print": {"spray", "solvent", "blade", "dust", "drill"},
}
# Words that a caution cannot do without.
WORDS = {
    "spray": ("outdoors", "respirator", "flame"),
    "solvent": ("window", "gloves", "respirator", "flame"),
    "heat": ("gloves", "burns", "unplug"),
    "etchant": ("goggles", "gloves", "hydrogen", "never water into etchant", "never pour it down a drain"),
    "blade": ("fingers",),
    "dust": ("mask", "goggles"),
    "drill": ("goggles", "clamp"),
}
# What a step that says this exposes one to, whatever the table of hazards says.
EXPOSES = {
    r"\bspray": "spray",
    r"\b(alcohol|acetone)\b": "solvent",
    r"\b(iron with|the iron\b|laminator)": "heat",
    r"\betchant\b": "etchant",
    r"\b(blade|cut along|cut from tick|trim)\b": "blade",
    r"\b(sand the|sand off|file gently)\b": "dust",
    r"\bdrill small\b": "drill",
}


def text_for(folder: Path, process: str, *words: str) -> str:
    job = lay(folder, good('"waterslide-clear"', f'"{process}"'))
    ran = run_here("make", job, "--only", "sheet,steps", "--format", "pdf", *words)
    assert ran.status == 0, ran.err
    return (folder / "job-out" / "steps.md").read_text("utf-8")


def cautions(text: str) -> set[str]:
    """The hazards that stand before the steps, by their titles."""
    titles = {hazard.title: hazard.name for hazard in hazards().values()}
    before = text.split("## Before you begin")[1].split("## You need")[0]
    return {titles[title] for title in re.findall(r"^- \*\*(.+?)\.\*\*", before, re.MULTILINE)}


def test_every_process_has_its_course() -> None:
    assert set(courses()) == set(PROCESSES) == set(HAZARDS)
    used = {name for course in courses().values() for name in course.order}
    assert used == set(steps())  # no step that no process takes
    assert {name for step in steps().values() for name in step.hazards} == set(hazards()) == set(WORDS)


@pytest.mark.parametrize("process", PROCESSES)
def test_cautions_fit_what_the_process_does(tmp_path: Path, process: str) -> None:
    text = text_for(tmp_path, process)
    assert cautions(text) == HAZARDS[process]
    assert text.count(LABEL_RULE) == 2
    assert text.index(LABEL_RULE) < text.index("## Steps")
    for hazard in HAZARDS[process]:
        for word in WORDS[hazard]:
            assert word in hazards()[hazard].text.lower()
        assert hazards()[hazard].text in text


@pytest.mark.parametrize("name", steps())
def test_a_step_names_the_hazards_of_what_it_tells_to_do(name: str) -> None:
    step = steps()[name]
    said = f"{step.text} {step.check}".lower()
    for pattern, hazard in EXPOSES.items():
        if re.search(pattern, said) and not (hazard == "solvent" and "only if" in said):
            assert hazard in step.hazards, (name, hazard)


@pytest.mark.parametrize("process", PROCESSES)
def test_every_step_has_an_order_a_time_and_a_check(tmp_path: Path, process: str) -> None:
    text = text_for(tmp_path, process)
    parts = re.split(r"^### ", text, flags=re.MULTILINE)[1:]
    assert [int(part.split(".")[0]) for part in parts] == list(range(1, len(parts) + 1))
    assert [part.splitlines()[0].partition(". ")[2] for part in parts] == [
        steps()[name].title for name in courses()[process].order
    ]
    for part in parts:
        assert re.search(r"^- \*\*Check:\*\* .{20,}", part, re.MULTILINE)
        assert re.search(r"^- \*\*Time:\*\* .*\d.* (min|h|days)", part, re.MULTILINE)
    assert not re.search(r"[{}]|\bNone\b|  ", text)  # every fact is filled in


@pytest.mark.parametrize("process", PROCESSES)
def test_the_order_is_one_that_works(process: str) -> None:
    order = courses()[process].order
    assert order[0] == "proof"
    assert order[-1] == "assemble"
    for first, second in (
        ("drill", "prepare-paint"),
        ("prepare-paint", "slide"),
        ("seal-print", "slide"),
        ("seal-print", "slide-reversed"),
        ("slide", "open-holes"),
        ("open-holes", "clear-coat"),
        ("prepare-surface", "iron"),
        ("iron", "soak-off"),
        ("mask", "etch"),
        ("etch", "stop-etch"),
        ("laminate", "cut-label"),
        ("prepare-label", "stick"),
        ("order", "receive"),
    ):
        if first in order and second in order:
            assert order.index(first) < order.index(second)


@pytest.mark.parametrize("table", [steps, hazards, courses])
def test_every_row_says_where_it_comes_from(table: object) -> None:
    assert callable(table)
    for row in table().values():
        assert len(row.source) > 3


@pytest.mark.parametrize("name", steps())
def test_times_run_from_least_to_most(name: str) -> None:
    step = steps()[name]
    for least, most in (step.work, step.wait):
        assert 0 <= least <= most
    assert step.work[1] > 0


@pytest.mark.parametrize("job", JOBS)
def test_the_examples_steps_name_their_own_files_faces_and_holes(job: str) -> None:
    wishes = Wishes(formats=("pdf",))
    files = make(prepare(FOLDER / f"{job}.toml", wishes), wishes)
    text = files["steps.md"].decode("utf-8")
    report = json.loads(files["report.json"])
    assert job_data(job)["finish"]["process"] in text.splitlines()[0]
    named = set(re.findall(r"`([a-z0-9-]+\.pdf)`", text))
    sheets = {name for name in files if name.startswith("sheet")}
    assert named == sheets | {name for name in files if name.startswith("mask-sheet")} | {"drill-guide.pdf"}
    assert f"{len(sheets)} sheet" in text
    for side in sides(job):
        width, height = next(face["size"] for face in report["faces"] if face["side"] == side)
        assert f"- **Face {side}:** {width:.1f} × {height:.1f} mm" in text
        for size in {hole.d for hole in job_holes(job, side)}:
            ids = [hole.id for hole in job_holes(job, side) if hole.d == size]
            assert f"{len(ids)} × {size:g} mm ({', '.join(ids)})" in text
    assert ("mirrored already" in text) is report["mirrored"]
    assert report["outputs"][-1] == {
        "file": "steps.md",
        "kind": "steps",
        "side": None,
        "mirrored": report["mirrored"],
        "dpi": None,
    }


@pytest.mark.parametrize("process", PROCESSES)
def test_which_side_goes_down_is_said(tmp_path: Path, process: str) -> None:
    text = text_for(tmp_path, process)
    if process != "service-print":
        assert films()[process].down in text
    against = text_for(tmp_path, process, "--no-mirror" if films()[process].mirrored else "--mirror")
    assert ("mirrored already" in text) is films()[process].mirrored
    assert ("mirrored already" in against) is not films()[process].mirrored
    if process != "service-print":
        assert films()[process].down not in against
        assert "not the usual for this process" in against


def test_nobody_is_told_to_drill_by_a_mirrored_print(tmp_path: Path) -> None:
    assert "job.toml --no-mirror --out template`" in text_for(tmp_path, "toner-transfer")
    assert "--no-mirror" not in text_for(tmp_path, "waterslide-clear")


@pytest.mark.parametrize(
    ("holes", "said", "unsaid"),
    [
        ("mark", "Each of the 2 crosses stands in the middle of its hole", "opening"),
        ("clear", "Every opening in the art stands evenly round its hole", "cross"),
        ("through", "line up by the edges", "cross"),
    ],
)
def test_only_marks_that_are_printed_are_spoken_of(tmp_path: Path, holes: str, said: str, unsaid: str) -> None:
    job = lay(tmp_path, good("dpi = 150", f'dpi = 150\nholes = "{holes}"'))
    assert run_here("make", job, "--only", "steps").status == 0
    text = (tmp_path / "job-out" / "steps.md").read_text("utf-8")
    assert said in text
    assert not re.search(rf"\b{unsaid}", text)


def test_sheets_are_named_unless_only_faces_are_made(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    for only, kinds, named in (
        ("steps", "pdf", "`sheet-1.pdf`"),
        ("steps,sheet", "png,svg", "`sheet-1.svg`"),
        ("art,steps", "png", "`top-art.png`"),
    ):
        assert run_here("make", job, "--only", only, "--format", kinds).status == 0
        text = (tmp_path / "job-out" / "steps.md").read_text("utf-8")
        assert f"- **Print:** {named}." in text
        assert ("bars must measure" in text) is ("sheet" in named)


def test_a_correction_is_told(tmp_path: Path) -> None:
    job = load_job(lay(tmp_path, good()))
    files = StepFacts((), ("top-art.pdf",))
    text = steps_text(replace(job, printer=Printer("attic", 99.2, 100.4)), files)
    assert "Corrected for printer attic: × 1.0081 across, × 0.996 up. Print on no other printer." in text
    assert "Corrected" not in steps_text(job, files)


def test_no_file_scaled_for_ones_own_printer_is_sent_out(tmp_path: Path) -> None:
    job = load_job(lay(tmp_path, good('"waterslide-clear"', '"service-print"')))
    files = StepFacts((), ("top-art.pdf",))
    text = steps_text(replace(job, printer=Printer("attic", 99.2, 100.4)), files)
    assert "scaled for the printer attic: make them anew without --printer. Send `top-art.pdf`" in text
    assert "make them anew" not in steps_text(job, files)


def test_a_users_text_stays_text(tmp_path: Path) -> None:
    job = replace(load_job(lay(tmp_path, good())), title="*B* _B_\n[x](y) <b> # `a`")
    head = steps_text(job, StepFacts((), ("top-art.pdf",))).splitlines()[0]
    assert head == r"# \*B\* \_B\_ \[x\](y) \<b\> \# \`a\` · waterslide-clear"


@pytest.mark.parametrize("process", PROCESSES)
def test_the_same_bytes_each_run(tmp_path: Path, process: str) -> None:
    assert text_for(tmp_path / "a", process) == text_for(tmp_path / "b", process)
    assert text_for(tmp_path / "a", process) != text_for(
        tmp_path / "c", process, "--no-mirror" if films()[process].mirrored else "--mirror"
    )


def needs(folder: Path, process: str, paint: str, finish: str, words: str = "HULL") -> str:
    """The line of what is needed that names the paint."""
    head = f'[box]\nstock = "93x39x31"\npaint = "{paint}"\n[finish]\nprocess = "{process}"\n{finish}\n'
    job = lay(folder, f'{head}[[face]]\nside = "top"\n[[face.text]]\ntext = "{words}"\nat = [0, 0]\nheight = 4\n')
    prepared = prepare(job)
    text = steps_text(prepared.job, StepFacts((), ()))
    line = next(line for line in text.splitlines() if line.startswith("- primer"))
    codes = {finding.code for finding in prepared.findings}
    if process != "waterslide-white":
        faint = bool(codes & {"ink-vanishes", "contrast-low"})
        assert ("light enough" in line, "would stand out by" in line) == (not faint, faint)
    else:
        assert ("will not match" in line) == ("ground-unlike-paint" in codes or "ground = " in finish)
    return line


@pytest.mark.parametrize("process", ["waterslide-clear", "waterslide-reversed"])
def test_the_paint_is_called_light_enough_only_if_it_is(tmp_path: Path, process: str) -> None:
    """Where checks find that the ink vanishes or is too weak, the steps say so too (WCAG 2.2: 3 : 1)."""
    assert "#e8e2d0" in needs(tmp_path / "a", process, "#e8e2d0", 'ink = "#101010"')
    assert "#f6f1e1 would stand out by 1.0 : 1" in needs(tmp_path / "b", process, "#173f4a", 'ink = "#f6f1e1"')
    needs(tmp_path / "c", process, "#595959", 'ink = "#000000"')  # 2.998 : 1
    needs(tmp_path / "d", process, "#5a5a5a", 'ink = "#000000"')  # 3.04 : 1
    needs(tmp_path / "e", process, "#e8e2d0", 'ink = "#101010"\nground = "#303030"')


def test_the_paint_matches_the_printed_ground_only_if_it_does(tmp_path: Path) -> None:
    assert "matches the printed ground" in needs(tmp_path / "a", "waterslide-white", "#173f4a", "")
    other = needs(tmp_path / "b", "waterslide-white", "#e8e2d0", 'ground = "#173f4a"')
    assert "#e8e2d0; the ground is printed in #173f4a" in other
    assert "the film is white" in needs(tmp_path / "c", "waterslide-white", "#173f4a", 'ground = "none"')
