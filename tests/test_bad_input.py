"""Bad input: one clear message each, exit status 1, and no file written or changed."""

from pathlib import Path

import pytest
from helpers.faults import FAULTS, Fault
from helpers.jobs import good, lay
from helpers.runs import Ran, run_apart, run_here, tree

FAST = ("--only", "art", "--format", "svg")


def assert_refused(ran: Ran, writes: bool = True) -> None:
    """The manners of every refusal: exit 1, nothing on stdout, a count at the end, no traceback."""
    assert ran.status == 1
    assert ran.out == ""
    assert "Traceback" not in ran.err
    assert ran.err.endswith("; nothing was written\n" if writes else (" problem\n", " problems\n"))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_is_told_with_place_and_advice(fault: Fault, tmp_path: Path) -> None:
    job = lay(tmp_path, fault.job, fault.files)
    before = tree(tmp_path)
    ran = run_here("make", job, *FAST)
    assert_refused(ran)
    assert fault.place in ran.err
    for words in fault.says:
        assert words in ran.err
    assert tree(tmp_path) == before


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_leaves_an_earlier_output_as_it_was(fault: Fault, made: dict[str, bytes], tmp_path: Path) -> None:
    job = lay(tmp_path, fault.job, fault.files)
    out = tmp_path / "job-out"
    out.mkdir()
    for name, data in made.items():
        (out / name).write_bytes(data)
    before = tree(tmp_path)
    assert_refused(run_here("make", job, *FAST, "--quiet"))
    assert tree(tmp_path) == before


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What the good job gives, so that a bad one can be run over it."""
    job = lay(tmp_path_factory.mktemp("good"), good())
    ran = run_here("make", job, *FAST)
    assert ran.status == 0, ran.err
    files = tree(job.with_name("job-out"))
    assert sorted(files) == ["report.json", "top-art.svg"]
    return {name: data for name, data in files.items() if data is not None}


def test_check_refuses_what_make_refuses(tmp_path: Path) -> None:
    job = lay(tmp_path, good("dpi = 150", "dip = 150"))
    assert_refused(run_here("check", job), writes=False)


def test_what_only_prints_does_not_say_that_nothing_was_written(tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text("id,x,y,d\na,?,2,3\n")
    for command in ("check", "holes"):
        ran = run_here(command, tmp_path / "bad.csv")
        assert ran.status == 1
        assert ran.out == ""
        assert "written" not in ran.err


@pytest.mark.parametrize("command", ["make", "check"])
def test_a_missing_job_is_named(command: str, tmp_path: Path) -> None:
    missing = tmp_path / "no-such.toml"
    ran = run_here(command, missing)
    assert_refused(ran, writes=command == "make")
    assert f"{missing}: there is no such file" in ran.err
    assert "check the name" in ran.err
    assert tree(tmp_path) == {}


def test_a_job_named_without_its_ending_is_told_the_file_that_lies_there(tmp_path: Path) -> None:
    (tmp_path / "my-box.toml").write_text("[box]\n")
    ran = run_here("check", tmp_path / "my-box")
    assert ran.status == 1
    assert f'did you mean "{tmp_path / "my-box.toml"}"?' in ran.err
    assert "did you mean" not in run_here("check", tmp_path / "my-bos").err


def test_a_folder_is_no_job(tmp_path: Path) -> None:
    ran = run_here("make", tmp_path)
    assert_refused(ran)
    assert "this is a folder, not a file" in ran.err


def test_a_job_of_many_megabytes_is_not_read(tmp_path: Path) -> None:
    ran = run_here("make", lay(tmp_path, good() + "# padding\n" * 200_000))
    assert_refused(ran)
    assert "more than 1000000 are not read" in ran.err


def test_all_problems_of_a_job_are_told_at_once(tmp_path: Path) -> None:
    text = good("dpi = 150", "dip = 150").replace('"round-16"', '"rond-16"').replace("opacity = 0.5", "opacity = nan")
    ran = run_here("make", lay(tmp_path, text, {"holes.csv": "id,x,y,d\nrate,-12,320,7.5\nfoot,zero,-36,12.2\n"}))
    assert_refused(ran)
    heads = [line for line in ran.err.splitlines() if not line.startswith(" ")]
    starts = [
        "job.toml:12: finish.dip: this key",
        "job.toml:21: face[0].control[0].knob: ",
        "job.toml:31: face[0].art[0].opacity: nan",
        "holes.csv:2: hole rate stands outside",
        'holes.csv:3: x = "zero" is not a length',
    ]
    assert [head[: len(start)] for head, start in zip(heads, starts, strict=False)] == starts
    assert heads[-1] == "5 problems; nothing was written"


def test_one_bad_job_does_not_keep_a_good_one_from_being_made(tmp_path: Path) -> None:
    bad = lay(tmp_path / "bad", good("dpi = 150", "dip = 150"))
    fine = lay(tmp_path / "fine", good())
    ran = run_here("make", bad, fine, *FAST)
    assert ran.status == 1
    assert "finish.dip" in ran.err
    assert ran.out == f"{fine.with_name('job-out')}\n"
    assert not bad.with_name("job-out").exists()
    assert sorted(tree(fine.with_name("job-out"))) == ["report.json", "top-art.svg"]


@pytest.mark.parametrize("name", ["unknown key", "no closing quote", "decimal commas and points", "GIF"])
def test_refusals_hold_in_a_process_of_its_own(name: str, tmp_path: Path) -> None:
    fault = next(fault for fault in FAULTS if fault.name == name)
    job = lay(tmp_path, fault.job, fault.files)
    before = tree(tmp_path)
    ran = run_apart("make", "job.toml", cwd=job.parent)
    assert_refused(ran)
    assert fault.place in ran.err
    assert tree(tmp_path) == before


def test_a_collision_that_a_check_calls_an_error_stops_make(tmp_path: Path) -> None:
    job = lay(tmp_path, good("at = [0, 5]", "at = [-12, 32]"))
    ran = run_here("make", job, *FAST)
    assert_refused(ran)
    assert 'the text "Bell Buoy" meets hole rate' in ran.err
    assert not job.with_name("job-out").exists()


def test_a_png_too_large_to_draw_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    job = lay(tmp_path, good('stock = "112x60x31"', "size = [500, 500, 50]").replace("dpi = 150", "dpi = 4800"))
    ran = run_here("make", job, "--only", "art", "--quiet")
    assert_refused(ran)
    assert "pixels, at 4800 to the inch, is too large to draw" in ran.err
    assert "lower dpi" in ran.err
    assert not job.with_name("job-out").exists()


def test_tables_of_a_face_beside_it_and_colours_nearly_named_are_told_what_is_meant(tmp_path: Path) -> None:
    text = good().replace("[[face.control]]", "[[control]]", 1).replace("#141414", "dark blue", 1)
    ran = run_here("check", lay(tmp_path, text))
    assert ran.status == 1
    assert "control: this belongs to a face\n    write [[face.control]], below" in ran.err
    assert 'by its CSS name; did you mean "darkblue"?' in ran.err
    assert run_here("check", lay(tmp_path, good("#141414", "sooty"))).err.count("?") == 0
