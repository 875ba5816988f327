"""A single job's pictures are drawn in a process beside the rest; what comes of it is the same, whatever befalls it."""

import errno
import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from multiprocessing import active_children
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import run_here

from facegraphic.cli import round as rounds
from facegraphic.cli import workers
from facegraphic.cli.workers import one_beside
from facegraphic.errors import Problem, UserError
from facegraphic.pipeline.making import Files, make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare
from facegraphic.pipeline.previewing import Awaited, Begin, pictures

WISHES = Wishes(kinds=("preview", "art"), formats=("svg",), views=("three-quarter", "flat"))


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return lay(tmp_path_factory.mktemp("beside"), good())


@pytest.fixture(scope="module")
def prepared(job: Path) -> Prepared:
    return prepare(job, WISHES)


@pytest.fixture(scope="module")
def alone(prepared: Prepared) -> Files:
    return make(prepared, WISHES)


@pytest.fixture(autouse=True)
def nobody_left() -> Iterator[None]:
    yield
    for child in active_children():
        child.join(20)
    assert not active_children()


def test_files_are_those_of_one_process(prepared: Prepared, alone: Files) -> None:
    told: list[str] = []
    with one_beside() as begin:
        made = make(
            prepared, WISHES, lambda name, done, total: told.append(f"{name} {done}/{total}"), begin(prepared, WISHES)
        )
    assert made == alone and "preview-flat.png" in made
    assert told[-3:] == ["preview.png 1/4", "preview-flat.png 2/4", "preview.html 3/4"]


def test_the_command_has_pictures_drawn_beside(job: Path, alone: Files, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []

    def noted() -> AbstractContextManager[Begin]:
        begun.append(1)
        return one_beside()

    monkeypatch.setattr("facegraphic.cli.workers.one_beside", noted)
    asked = ("--only", "preview,art", "--format", "svg", "--view", "three-quarter,flat", "--quiet")
    monkeypatch.setattr(rounds, "is_program", lambda: True)
    for cores, out in ((2, job.parent / "two"), (1, job.parent / "one")):
        monkeypatch.setattr(rounds, "cores", lambda cores=cores: cores)
        ran = run_here("make", job, "--out", out, *asked)
        assert (ran.status, ran.err) == (0, "")
        written = {name: (out / name).read_bytes() for name in alone}
        assert {name for name in alone if written[name] != alone[name]} <= {"report.json"}
    assert len(begun) == 1


@pytest.mark.skipif(os.name != "posix", reason="no SIGKILL on this system")
@pytest.mark.parametrize("late", [False, True])
def test_where_that_process_is_killed_pictures_are_drawn_all_the_same(
    prepared: Prepared, alone: Files, late: bool
) -> None:
    def kill() -> None:
        (child,) = active_children()
        assert child.pid
        os.kill(child.pid, signal.SIGKILL)
        child.join(20)

    with one_beside() as begin:
        if not late:
            kill()

        def begun(prepared: Prepared, wishes: Wishes) -> Awaited:
            awaited = begin(prepared, wishes)
            if late:
                kill()
            return awaited

        assert make(prepared, WISHES, pictures=begun(prepared, WISHES)) == alone


@pytest.mark.parametrize("fails", ["pool", "start", "begin"])
def test_where_there_can_be_no_such_process_pictures_are_drawn_in_turn(
    prepared: Prepared, alone: Files, monkeypatch: pytest.MonkeyPatch, fails: str
) -> None:
    """No shared memory (EROFS), no process more (EAGAIN), or a pool that ends between."""
    real = workers.ProcessPoolExecutor

    class Poor(real):  # type: ignore[misc, valid-type]
        def __init__(self, *asked: object) -> None:
            if fails == "pool":
                raise OSError(errno.EROFS, "Read-only file system")
            super().__init__(*asked)

        def submit(self, work: Callable[..., object], *asked: object) -> object:
            if fails == "start" or len(asked) > 1:
                raise BlockingIOError(errno.EAGAIN, "Resource temporarily unavailable")
            return super().submit(work, *asked)

    monkeypatch.setattr(workers, "ProcessPoolExecutor", Poor)
    with one_beside() as begin:
        assert make(prepared, WISHES, pictures=begin(prepared, WISHES)) == alone


def test_pictures_of_many_pixels_are_not_held_twice(prepared: Prepared, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers, "_pixels", lambda prepared: workers.MOST_THERE + 1)
    with one_beside() as begin:
        assert begin(prepared, WISHES).func is pictures  # type: ignore[attr-defined]
        monkeypatch.setattr(workers, "_pixels", lambda prepared: workers.MOST_THERE)
        assert begin(prepared, WISHES).func is not pictures  # type: ignore[attr-defined]


def test_a_script_that_calls_the_command_has_none_beside(job: Path) -> None:
    """It would be run again there, as multiprocessing's documentation says of scripts without a guard."""
    script = job.with_name("calls.py")
    asked = ["make", str(job), "--out", str(job.with_name("called")), "--only", "preview", "--quiet"]
    script.write_text(f"print('begun')\nfrom facegraphic.cli.main import run\nrun({asked!r})\n", encoding="utf-8")
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stderr, done.stdout.count("begun")) == (0, "", 1)


def test_what_is_wrong_goes_between_processes_whole() -> None:
    problems = (Problem("a", "b", "c.toml", 3, "d"), Problem("e"))
    assert pickle.loads(pickle.dumps(UserError(problems))).problems == problems


def test_a_run_that_is_wrong_leaves_no_process(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(job.read_text(encoding="utf-8").replace("[box]", "[bix]"), encoding="utf-8")
    ran = run_here("make", path)
    assert ran.status == 1 and "[bix]" not in ran.out


@pytest.mark.parametrize("how", ["beside", "pool"])
def test_one_that_is_ended_amid_its_message_is_not_waited_for(how: str, tmp_path: Path) -> None:
    call = [sys.executable, "-m", "helpers.half_told", how, str(tmp_path / "begun")]
    ran = subprocess.run(call, cwd=Path(__file__).parent, capture_output=True, text=True, check=False, timeout=60)
    assert (ran.returncode, ran.stdout) == (0, "ended\n")
