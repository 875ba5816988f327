"""A single job's pictures are drawn in a process beside the rest; what comes of it is the same, whatever befalls it."""

import os
import pickle
import signal
from collections.abc import Iterator
from contextlib import AbstractContextManager
from multiprocessing import active_children
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import run_here

from facegraphic.cli import round as rounds
from facegraphic.cli.workers import one_beside
from facegraphic.errors import Problem, UserError
from facegraphic.pipeline.making import Files, make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare
from facegraphic.pipeline.previewing import Awaited, Begin

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
        made = make(prepared, WISHES, lambda name, done, total: told.append(f"{name} {done}/{total}"), begin)
    assert made == alone and "preview-flat.png" in made
    assert told[-3:] == ["preview.png 1/4", "preview-flat.png 2/4", "preview.html 3/4"]


def test_the_command_has_pictures_drawn_beside(job: Path, alone: Files, monkeypatch: pytest.MonkeyPatch) -> None:
    begun = []

    def noted() -> AbstractContextManager[Begin]:
        begun.append(1)
        return one_beside()

    monkeypatch.setattr("facegraphic.cli.workers.one_beside", noted)
    asked = ("--only", "preview,art", "--format", "svg", "--view", "three-quarter,flat", "--quiet")
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

        assert make(prepared, WISHES, begin=begun) == alone


def test_what_is_wrong_goes_between_processes_whole() -> None:
    problems = (Problem("a", "b", "c.toml", 3, "d"), Problem("e"))
    assert pickle.loads(pickle.dumps(UserError(problems))).problems == problems


def test_a_run_that_is_wrong_leaves_no_process(job: Path, tmp_path: Path) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(job.read_text(encoding="utf-8").replace("[box]", "[bix]"), encoding="utf-8")
    ran = run_here("make", path)
    assert ran.status == 1 and "[bix]" not in ran.out
