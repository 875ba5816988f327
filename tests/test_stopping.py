"""Runs that are stopped, and jobs that nobody foresaw: a line is told, the others go on, no process is left."""

import contextlib
import importlib
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from helpers.debian import debian_program
from helpers.runs import run_here
from samples import FOLDER

from facegraphic.cli import bench
from facegraphic.cli.listening import listening
from facegraphic.cli.main import facegraphic, run
from facegraphic.cli.workers import pool_of
from facegraphic.job.load import load_job
from facegraphic.job.model import Job
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare_job

JOBS = ("slow-ferry.toml", "two-piers.toml", "kelp-drier.toml")


@pytest.fixture
def jobs(tmp_path: Path) -> list[Path]:
    for path in FOLDER.iterdir():
        if path.is_file():
            shutil.copy(path, tmp_path)
    return [tmp_path / name for name in JOBS]


@pytest.mark.parametrize(
    ("error", "told"), [(ZeroDivisionError("by nought"), "has a fault: ZeroDivisionError"), (MemoryError(), "memory")]
)
def test_a_fault_of_one_job_stops_no_other(
    jobs: list[Path], monkeypatch: pytest.MonkeyPatch, error: Exception, told: str
) -> None:
    def read(path: Path) -> Job:
        if path.name == JOBS[0]:
            raise error
        return load_job(path)

    def prepare(path: Path, wishes: Wishes) -> Prepared:
        return prepare_job(read(path), wishes)

    monkeypatch.setattr(bench, "load_job", read)
    monkeypatch.setattr("facegraphic.cli.check.prepare", prepare)
    ran = run_here("make", *jobs, "--apart", "--only", "art", "--format", "svg", "--quiet")
    assert ran.status == 1 and told in ran.err and JOBS[0] in ran.err and "Traceback" not in ran.err
    assert ran.out.count("-out") == 2 and (jobs[2].parent / "kelp-drier-out" / "report.json").is_file()
    ran = run_here("check", *jobs)
    assert ran.status == 1 and told in ran.err and all(name in ran.out for name in JOBS[1:])


@pytest.mark.skipif(os.name != "posix", reason="no groups of processes on this system")
@pytest.mark.parametrize("whole", [True, False], ids=["terminal", "parent"])
def test_ctrl_c_with_workers_ends_all_without_a_stack(jobs: list[Path], whole: bool) -> None:
    more = [shutil.copy(jobs[0], jobs[0].with_name(f"ferry-{number}.toml")) for number in range(9)]  # that wait
    words = [sys.executable, "-m", "facegraphic", "make", *map(str, [*jobs, *more]), "--apart", "--workers", "2"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True, text=True)
    group = process.pid
    while process.poll() is None and _living(group) < 4:  # the run, what keeps count for it, and two workers
        time.sleep(0.05)
    assert process.poll() is None, "it ended before it could be stopped"
    (os.killpg if whole else os.kill)(group, signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 130
    assert "stopped" in err and "Traceback" not in err and "Exception" not in err, err
    until = time.monotonic() + 10
    while _living(group) and time.monotonic() < until:
        time.sleep(0.05)
    assert not _living(group)


def _living(group: int) -> int:
    """How many processes of a session are there, but for those that have ended and wait to be counted."""
    ps = debian_program("ps", "procps")
    listed = subprocess.run([ps, "-o", "stat=", "-s", str(group)], capture_output=True, text=True).stdout
    return sum(not state.startswith("Z") for state in listed.split())


@pytest.mark.parametrize("name", [".", "/", "", "a\udcff.toml"])
@pytest.mark.parametrize("command", ["make", "check"])
def test_what_names_no_file_is_a_mistake(command: str, name: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        run([command, name])
    err = capsys.readouterr().err
    assert ended.value.code == 2 and "name" in err and "fault" not in err


def test_lists_are_completed_name_by_name() -> None:
    env = {"_FACEGRAPHIC_COMPLETE": "bash_complete", "COMP_WORDS": "facegraphic make --only art,s", "COMP_CWORD": "3"}
    ran = CliRunner().invoke(facegraphic, [], prog_name="facegraphic", env=env)
    assert ran.output.split() == ["plain,art,sheet", "plain,art,steps"]


def end_once(thing: tuple[Path, int]) -> int:
    """Work that kills the process it is done in, the first time that number 2 comes."""
    folder, number = thing
    if number == 2:
        with contextlib.suppress(FileExistsError):
            (folder / "killed").mkdir()
            os.kill(os.getpid(), signal.SIGKILL)
    return 10 * number


def end_always(number: int) -> int:
    os.kill(os.getpid(), signal.SIGKILL)
    return number


@pytest.mark.skipif(os.name != "posix", reason="no SIGKILL on this system")
def test_a_killed_worker_costs_no_other_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told: list[str] = []
    with pool_of(2, lambda name, done, total: told.append(f"{name} {done}/{total}")) as run_all:
        assert list(run_all(end_once, [(tmp_path, number) for number in range(6)])) == [0, 10, 20, 30, 40, 50]
        assert list(run_all(end_once, [(tmp_path, 7)])) == [70]
    assert told == [f"job {number + 1} {number}/6" for number in range(6)] + ["job 1 0/1"]
    assert capsys.readouterr().err.count("a worker was ended from outside") == 1


@pytest.mark.skipif(os.name != "posix", reason="no SIGKILL on this system")
def test_workers_that_are_killed_over_and_over_end_the_run(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended, pool_of(2, lambda *_: None) as run_all:
        list(run_all(end_always, range(3)))
    assert ended.value.code == 1
    assert "some are not made" in capsys.readouterr().err


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="Ctrl-C does not wait on this system")
def test_ctrl_c_waits_until_a_module_is_loaded(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Libraries in C that are stopped while they are loaded print a stack, or lose it."""
    body = "import os, signal, time\nos.kill(os.getpid(), signal.SIGINT)\ntime.sleep(0.1)\nwhole = True\n"
    (tmp_path / "slowly_loaded.py").write_text(body)
    monkeypatch.syspath_prepend(tmp_path)
    before = signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGALRM)
    with pytest.raises(KeyboardInterrupt), listening() as heard:
        module = importlib.import_module("slowly_loaded")
        assert module.whole and heard
        time.sleep(5)
        raise AssertionError("it was not heard")
    with pytest.raises(KeyboardInterrupt), listening():
        os.kill(os.getpid(), signal.SIGINT)
        raise AssertionError("it was not heard at once")
    assert (signal.getsignal(signal.SIGINT), signal.getsignal(signal.SIGALRM)) == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no file that is always full on this system")
@pytest.mark.parametrize("command", [["stock"], ["--help"], ["--version"], ["fonts"]], ids=" ".join)
def test_what_cannot_be_told_for_want_of_room_is_no_fault_of_the_programs(command: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        call = [sys.executable, "-m", "facegraphic", *command]
        ran = subprocess.run(call, stdout=full, stderr=subprocess.PIPE, text=True, check=False, timeout=60)
    assert ran.returncode == 1
    assert ran.stderr.startswith("what was to be told could not all be written") and "make room" in ran.stderr
    assert "Exception" not in ran.stderr and "fault" not in ran.stderr
