"""A disk that is full, read-only or gone is told with the file and what to do; what stood there stands."""

import errno
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.disks import POWERLESS, Failing, fill, small_disk
from helpers.jobs import good, lay
from helpers.kills import NOTE, STATES, Tree, became, faults, tree
from helpers.runs import Ran, run_apart, run_here

from facegraphic.errors import UserError
from facegraphic.job.beside import put_new
from facegraphic.output.folder import write_all, write_together
from facegraphic.output.made import RECORD, record

FAST = ("--only", "art,sheet", "--format", "svg,pdf")
posix = pytest.mark.skipif(os.name != "posix", reason="no such limits on this system")


def outputs(*names: str) -> bytes:
    return json.dumps({"outputs": [{"file": name, "kind": "sheet"} for name in names]}).encode()


def recorded(files: Tree) -> Tree:
    return {**files, RECORD: record("", {}, files)}


OLD = recorded(
    {"sheet-1.svg": b"<old/>", "sheet-2.svg": b"<old/>", "report.json": outputs("sheet-1.svg", "sheet-2.svg")}
)
NEW = recorded(
    {"sheet-1.svg": b"<new/>", "sheet-3.svg": b"<new/>", "report.json": outputs("sheet-1.svg", "sheet-3.svg")}
)


def assert_told(ran: Ran, *says: str) -> None:
    assert ran.status == 1 and "Traceback" not in ran.err and "fault" not in ran.err
    for words in (*says, "cannot write: ", "choose another folder with --out, or make room"):
        assert words in ran.err
    assert re.search(r"; nothing (of \S+ )?was written\n", ran.err)


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    with small_disk(tmp_path / "disk", "300k") as place:
        yield place


@pytest.mark.parametrize("leave", [0, 4096, 20_000, 60_000])
def test_a_disk_that_is_really_full(tmp_path: Path, disk: Path, leave: int) -> None:
    job = lay(tmp_path / "job", STATES["a"])
    words = ("make", job, "--out", disk / "out", "--only", "art", "--format", "svg,png")
    assert run_here(*words).status == 0
    before = tree(disk)
    filler = fill(disk, leave)
    lay(tmp_path / "job", STATES["b"] + "# and a seam of text\n")
    full = run_here(*words, "--format", "svg,png,pdf", "--dpi", "600", "--only", "art,sheet")
    assert_told(full, "No space left on device", f"{disk / 'out'}{os.sep}")
    filler.unlink()
    assert tree(disk) == before
    assert run_here(*words).status == 0
    assert "back-art.svg" in tree(disk / "out")


@pytest.mark.parametrize("counts", [(), ("--pots", 1)])
def test_a_new_job_on_a_full_disk_is_whole_or_not_there(disk: Path, counts: tuple[object, ...]) -> None:
    filler = fill(disk, 0)
    full = run_here("new", disk / "box", *counts)
    assert full.status == 1 and "No space left on device" in full.err and "make room" in full.err
    assert tree(disk).keys() == {"filler"}
    filler.unlink()
    assert run_here("new", disk / "box", *counts).status == 0
    assert run_here("check", disk / "box.toml").status == 0 and tree(disk).keys() == {"box.toml"}


@pytest.mark.parametrize("links", [True, False])
def test_a_new_job_is_whole_or_not_there_whatever_step_fails(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, links: bool
) -> None:
    if not links:  # as on file systems without second names

        def none(*rest: object) -> None:
            raise PermissionError(errno.EPERM, "Operation not permitted")

        monkeypatch.setattr(Path, "hardlink_to", none)
    place, failed = tmp_path / "box.toml", []
    for at in range(1, 20):
        with pytest.MonkeyPatch.context() as patch:
            steps = Failing(patch, at)
            try:
                put_new(place, b"whole")
            except OSError:
                assert not place.exists(), at
        failed += steps.failed
        if place.exists():
            assert place.read_bytes() == b"whole" and place.stat().st_mode & 0o777 == 0o666 & ~mask()
            place.unlink()
        for left in tmp_path.iterdir():  # only where it could not be taken away
            assert steps.failed == ["unlink"] and became(left.name) == "box.toml", at
            left.unlink()
    moves = {"hardlink_to"} if links else {"hardlink_to", "replace"}
    assert set(failed) == {"write", "fsync", "chmod", "unlink"} | moves
    place.symlink_to(tmp_path / "nowhere")
    with pytest.raises(FileExistsError):
        put_new(place, b"whole")
    assert place.is_symlink() and not (tmp_path / "nowhere").exists()


def test_of_two_new_jobs_of_one_name_the_second_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place, fsync = tmp_path / "box.toml", os.fsync

    def meanwhile(handle: int) -> None:
        place.write_bytes(b"other")
        fsync(handle)

    monkeypatch.setattr(os, "fsync", meanwhile)
    with pytest.raises(FileExistsError):
        put_new(place, b"whole")
    assert tree(tmp_path) == {"box.toml": b"other"}


def mask() -> int:
    found = os.umask(0)
    os.umask(found)
    return found


def test_a_disk_that_is_read_only(tmp_path: Path, disk: Path) -> None:
    job = lay(tmp_path / "job", good())
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
    assert_told(run_here("make", job, "--out", disk, *FAST), "Read-only file system", str(disk))
    assert tree(disk) == {}


def test_of_two_jobs_at_a_time_the_one_with_room_is_made(tmp_path: Path) -> None:
    jobs = [lay(tmp_path / name, good()).rename(tmp_path / name / f"{name}.toml") for name in ("one", "two", "three")]
    out = tmp_path / "out"
    with small_disk(out / "two", "300k") as disk:
        fill(disk, 8192)
        ran = run_here("make", *jobs, "--out", out, "--apart", "--workers", "2", *FAST)
        assert_told(ran, "No space left on device", f"{disk}{os.sep}")
        assert ran.out.split() == [str(out / "one"), str(out / "three")]
        assert tree(disk).keys() == {"filler"}
    assert tree(out / "one") and tree(out / "one").keys() == tree(out / "three").keys()


@posix
@pytest.mark.parametrize("workers", [1, 2])
def test_a_limit_on_the_size_of_files(tmp_path: Path, workers: int) -> None:
    """setrlimit(2): a write past the limit fails with EFBIG where its signal is ignored, as Python has it."""
    jobs = [lay(tmp_path / name, good()).rename(tmp_path / name / f"{name}.toml") for name in ("one", "two")]
    limit = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))"
    out = tmp_path / "out"
    ran = run_apart("make", *jobs, "--out", out, "--apart", "--workers", workers, *FAST, before=limit)
    assert_told(ran, "File too large", f"{out / 'one'}{os.sep}", f"{out / 'two'}{os.sep}")
    assert ran.out == "" and tree(out) == {}


@pytest.mark.skipif(sys.platform != "linux", reason="powers are given up as Linux has it")
def test_a_folder_that_may_not_be_written_to(tmp_path: Path) -> None:
    job = lay(tmp_path / "job", good())
    out = tmp_path / "out"
    out.mkdir(mode=0o555)
    ran = run_apart("make", job, "--out", out, *FAST, before=POWERLESS)
    assert_told(ran, "Permission denied", str(out))
    assert tree(out) == {}
    ran = run_apart("make", job, "--out", out / "deeper" / "still", *FAST, before=POWERLESS)
    assert_told(ran, "Permission denied", str(out))
    out.chmod(0o755)
    assert run_apart("make", job, "--out", out, *FAST, before=POWERLESS).status == 0


def test_a_folder_that_is_taken_away_while_its_files_are_made_comes_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from facegraphic.cli import bench

    job, make = lay(tmp_path / "job", good()), bench.make

    def taking(*rest: object) -> object:
        shutil.rmtree(tmp_path / "out", ignore_errors=True)
        return make(*rest)  # type: ignore[arg-type]

    assert run_here("make", job, "--out", tmp_path / "out", *FAST).status == 0
    before = tree(tmp_path / "out")
    monkeypatch.setattr(bench, "make", taking)
    assert run_here("make", job, "--out", tmp_path / "out", *FAST, "--fresh").status == 0
    assert tree(tmp_path / "out").keys() == before.keys()


@pytest.mark.parametrize("at", range(1, 5))
def test_a_folder_that_is_taken_away_while_they_are_written_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, at: int
) -> None:
    folder, synced, fsync = tmp_path / "out", [0], os.fsync
    write_all(folder, OLD)

    def taking(handle: int) -> None:
        synced[0] += 1
        if synced[0] == at:
            shutil.rmtree(folder)
        fsync(handle)

    monkeypatch.setattr(os, "fsync", taking)
    with pytest.raises(UserError) as told:
        write_all(folder, NEW)
    problem = told.value.problems[0]
    assert "cannot write: No such file" in problem.what and problem.file.startswith(str(folder)) and problem.mend
    assert not folder.exists()


def steps_of_writing(folder: Path) -> int:
    with pytest.MonkeyPatch.context() as patch:
        write_all(folder, OLD)
        counted = Failing(patch, at=0)
        write_all(folder, NEW)
    return counted.steps


def made_with(folder: Path, failing: int, on: bool) -> tuple[Tree, UserError | None, list[str]]:
    """The folder after one step, or all from there on, failed; what was told, and what failed."""
    shutil.rmtree(folder, ignore_errors=True)
    write_together({folder: OLD})
    with pytest.MonkeyPatch.context() as patch:
        steps = Failing(patch, failing, on)
        try:
            write_together({folder: NEW})
        except UserError as error:
            return tree(folder), error, steps.failed
    return tree(folder), None, steps.failed


def test_a_disk_that_is_full_for_any_one_step_leaves_all_old_or_all_new(tmp_path: Path) -> None:
    count = steps_of_writing(tmp_path / "a")
    assert count > 25
    ended = set()
    for at in range(1, count + 1):
        found, error, failed = made_with(tmp_path / "b", at, on=False)
        ended.add((failed[0], error is not None))
        if error:
            assert found == OLD, at
            problem = error.problems[0]
            assert problem.what == "cannot write: No space left on device" and problem.mend
            assert Path(problem.file).name in {*OLD, *NEW, NOTE}, at
        else:  # what could not be cleared away is of no harm, and goes with the next run
            assert {name: data for name, data in found.items() if not became(name) and name != NOTE} == NEW
            write_together({tmp_path / "b": NEW})
            assert tree(tmp_path / "b") == NEW
    told = {"write", "fsync", "chmod", "replace", "unlink"}
    assert ended == {(name, True) for name in told} | {("hardlink_to", False), ("unlink", False)}


def test_a_disk_that_is_gone_from_any_step_on_is_put_right_by_the_next_run(tmp_path: Path) -> None:
    for at in range(1, steps_of_writing(tmp_path / "a") + 1):
        found, error, failed = made_with(tmp_path / "b", at, on=True)
        assert faults(found, OLD, NEW) == [] and (error or failed[0] == "unlink" or failed[0] == "hardlink_to")
        write_together({tmp_path / "b": NEW})
        assert tree(tmp_path / "b") == NEW, at
