"""Files are written whole, by one run at a time, whatever stops a run on its way."""

import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.jobs import HOLES, WAVES, good, lay
from helpers.runs import run_here, tree

from facegraphic.errors import UserError
from facegraphic.output.folder import write_all
from facegraphic.output.lock import held

NAMES = [f"file-{number}" for number in range(6)]
# A run that writes the same files over and over, every time all of them with the same text.
WRITER = """
import sys
from pathlib import Path
from facegraphic.output.folder import write_all
folder, mark, times = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
for time in range(times):
    write_all(folder, {f"file-{number}": (mark + str(time) + "\\n").encode() * 2_000 for number in range(6)})
    print("written", flush=True)
"""


def writer(folder: Path, mark: str, times: int) -> subprocess.Popen[bytes]:
    return subprocess.Popen([sys.executable, "-c", WRITER, str(folder), mark, str(times)], stdout=subprocess.PIPE)


def whole(path: Path) -> bool:
    """Whether a file has two thousand lines that are all alike."""
    lines = path.read_bytes().split(b"\n")
    return len(lines) == 2_001 and len(set(lines[:-1])) == 1


@pytest.fixture
def killed(tmp_path: Path) -> Iterator[subprocess.Popen[bytes]]:
    with writer(tmp_path, "killed", 10_000) as process:
        yield process
        process.kill()


def test_two_runs_on_one_folder_do_not_mix(tmp_path: Path) -> None:
    with writer(tmp_path, "one ", 8) as one, writer(tmp_path, "two ", 8) as other:
        assert [len(run.communicate()[0].splitlines()) for run in (one, other)] == [8, 8]
        assert [one.returncode, other.returncode] == [0, 0]
    assert len({(tmp_path / name).read_bytes() for name in NAMES}) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)


def test_killed_on_its_way_no_file_is_broken_and_nothing_stays_behind(
    tmp_path: Path, killed: subprocess.Popen[bytes]
) -> None:
    assert killed.stdout is not None
    for _ in range(3):
        assert killed.stdout.readline() == b"written\n"
    left: list[Path] = []
    until = time.monotonic() + 30
    while not left and time.monotonic() < until:  # killed while some of its files are still beside their places
        left = list(tmp_path.glob(".*.part"))
    killed.kill()
    killed.wait()
    assert left and all(whole(tmp_path / name) for name in NAMES)
    write_all(tmp_path, dict.fromkeys(NAMES, b"new"))
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(NAMES)
    assert {(tmp_path / name).read_bytes() for name in NAMES} == {b"new"}


def test_what_others_keep_beside_is_not_swept_away(tmp_path: Path) -> None:
    kept = [tmp_path / name for name in (".other.abcdefgh.part", ".a.part", "a.abcdefgh.part")]
    for path in kept:
        path.write_bytes(b"mine")
    (tmp_path / ".a.abcdefgh.part").write_bytes(b"left")
    write_all(tmp_path, {"a": b"new"})
    assert sorted(tmp_path.iterdir()) == sorted([*kept, tmp_path / "a"])


def test_a_run_waits_for_another_and_says_so_when_that_does_not_end(tmp_path: Path) -> None:
    with held([tmp_path]), pytest.raises(UserError) as told, held([tmp_path], patience=0.1):
        pass
    assert "another run" in told.value.problems[0].what and "wait" in told.value.problems[0].mend
    with held([tmp_path, tmp_path / "."], patience=0.1):  # free again, and named twice it is one folder
        pass


def test_the_lock_of_a_run_that_was_killed_holds_nobody(tmp_path: Path) -> None:
    text = (
        "import sys, time; from pathlib import Path; from facegraphic.output.lock import held\n"
        "with held([Path(sys.argv[1])]):\n    print('held', flush=True); time.sleep(60)"
    )
    with subprocess.Popen([sys.executable, "-c", text, str(tmp_path)], stdout=subprocess.PIPE) as holder:
        assert holder.stdout is not None and holder.stdout.readline() == b"held\n"
        with pytest.raises(UserError), held([tmp_path], patience=0.1):
            pass
        holder.kill()
    with held([tmp_path], patience=5):
        pass


FAST = ("--only", "art,sheet", "--format", "svg")


def linked(to: Path, name: str) -> str:
    to.with_name(name).symlink_to(to)
    return name


def named_twice(to: Path, name: str) -> str:
    os.link(to, to.with_name(name))
    return name


# How a job names the artwork that lies where an output is to be.
WAYS_TO_NAME = {
    "by name": lambda art: art.name,
    "by full path": str,
    "by a link": lambda art: linked(art, "link.svg"),
    "by a second name": lambda art: named_twice(art, "second.svg"),
    "by way of another folder": lambda art: f"../{art.parent.name}/{art.name}",
}


@pytest.mark.parametrize("way", WAYS_TO_NAME)
def test_no_output_takes_the_place_of_artwork(tmp_path: Path, way: str) -> None:
    art = tmp_path / "top-art.svg"
    art.write_bytes(WAVES)
    job = lay(tmp_path, good('"waves.svg"', f'"{WAYS_TO_NAME[way](art)}"'))
    before = tree(tmp_path)
    (tmp_path / "here").symlink_to(tmp_path)
    for out in (tmp_path, tmp_path / "here"):
        ran = run_here("make", job, "--out", out, *FAST)
        assert ran.status == 1 and f"{out / 'top-art.svg'}: this file was read" in ran.err and "--out" in ran.err
    (tmp_path / "here").unlink()
    assert tree(tmp_path) == before and not (tmp_path / ".made.json").exists()
    assert run_here("make", job, *FAST).status == 0


def test_no_output_takes_the_place_of_a_job_its_holes_or_its_font(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    for file in (job, job.with_name("holes.csv")):
        with pytest.raises(UserError) as told:
            write_all(tmp_path / "new", {"a": b"a", "b": b"b"}, inputs=[file, tmp_path / "new" / "." / "b"])
        assert [Path(problem.file).name for problem in told.value.problems] == ["b"]
    assert not (tmp_path / "new").exists()
    # A job may have any name, that of an output too.
    report = job.rename(tmp_path / "steps.md")
    shutil.copy(report, tmp_path / "report.json")
    for name in ("steps.md", "report.json"):
        ran = run_here("make", tmp_path / name, "--out", tmp_path, "--only", "art,steps", "--format", "svg")
        assert ran.status == 1 and f"{tmp_path / name}: this file was read" in ran.err
        assert (tmp_path / name).read_text(encoding="utf-8") == good()
    (tmp_path / "report.json").write_text(HOLES, encoding="utf-8")
    job = lay(tmp_path / "job", good('"holes.csv"', '"../report.json"'))
    ran = run_here("make", job, "--out", tmp_path, *FAST)
    assert ran.status == 1 and f"{tmp_path / 'report.json'}: this file was read" in ran.err
    assert (tmp_path / "report.json").read_text(encoding="utf-8") == HOLES


def test_of_jobs_that_share_sheets_no_output_takes_the_place_of_anothers_artwork(tmp_path: Path) -> None:
    one, two = (lay(tmp_path / name, good()).rename(tmp_path / name / f"{name}.toml") for name in ("one", "two"))
    art = tmp_path / "out" / "one" / "top-art.svg"
    art.parent.mkdir(parents=True)
    art.write_bytes(WAVES)
    two.write_text(good('"waves.svg"', '"../out/one/top-art.svg"'), encoding="utf-8")
    before = tree(tmp_path)
    ran = run_here("make", one, two, "--out", tmp_path / "out", *FAST)
    assert ran.status == 1 and f"{art}: this file was read" in ran.err
    assert tree(tmp_path) == before
