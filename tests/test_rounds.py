"""Several jobs in a round: nothing is made twice, whatever is new is made, and workers change no byte."""

import errno
import json
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from helpers.runs import run_here, tree
from samples import FOLDER, JOBS

from facegraphic.cli import bench
from facegraphic.job.load import load_job
from facegraphic.job.model import Job
from facegraphic.output.made import RECORD, program

FAST = ("--only", "art,sheet,steps", "--format", "svg")
FERRY = ("slow-ferry.toml", "slow-ferry.csv", "ferry.svg")


@pytest.fixture
def ferry(tmp_path: Path) -> Path:
    for name in FERRY:
        shutil.copy(FOLDER / name, tmp_path / name)
    return tmp_path / "slow-ferry.toml"


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the jobs that are really made, as they are made."""
    names: list[str] = []

    def read(path: Path) -> Job:
        names.append(path.name)
        return load_job(path)

    monkeypatch.setattr(bench, "load_job", read)
    return names


def times(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}


def test_with_nothing_new_nothing_is_made_and_all_is_told_again(ferry: Path, made: list[str]) -> None:
    first = run_here("make", ferry, *FAST)
    before = times(ferry.with_name("slow-ferry-out"))
    second = run_here("make", ferry, *FAST)
    assert made == ["slow-ferry.toml"] and times(ferry.with_name("slow-ferry-out")) == before
    assert (second.status, second.out) == (0, first.out)
    assert second.err.startswith(first.err) and "nothing has changed" in second.err.removeprefix(first.err)
    assert run_here("make", ferry, *FAST, "--json").out == run_here("make", ferry, *FAST, "--json", "--fresh").out
    assert len(made) == 2


def edit(name: str, old: str, new: str) -> Callable[[Path], None]:
    def change(job: Path) -> None:
        path = job.parent / name
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    return change


def touch(job: Path) -> None:
    os.utime(job)


OUT = "slow-ferry-out/"
NEWS: dict[str, Callable[[Path], None]] = {
    "job": edit("slow-ferry.toml", "RATE", "PACE"),
    "comment": edit("slow-ferry.toml", "# Six", "# Six good"),
    "drill": edit("slow-ferry.csv", "7.5", "7.6"),
    "art": edit("ferry.svg", "<svg", "<!-- a ferry --><svg"),
    "output edited": edit(OUT + "top-art.svg", "<svg", "<svg "),
    "output gone": lambda job: (job.parent / OUT / "steps.md").unlink(),
    "record gone": lambda job: (job.parent / OUT / RECORD).unlink(),
    "record broken": edit(OUT + RECORD, '"made": {', '"made": [{'),
    "other program": edit(OUT + RECORD, '"program": "', '"program": "0'),
}


@pytest.mark.parametrize("name", NEWS)
def test_whatever_is_new_is_made(ferry: Path, made: list[str], name: str) -> None:
    run_here("make", ferry, *FAST)
    NEWS[name](ferry)
    assert run_here("make", ferry, *FAST).status == 0
    assert made == ["slow-ferry.toml"] * 2
    assert run_here("make", ferry, *FAST).status == 0
    assert len(made) == 2


def test_another_cairo_is_new(ferry: Path, made: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """It is a library of the system's, that no package tells of."""
    run_here("make", ferry, *FAST)
    monkeypatch.setattr("facegraphic.output.made.version", lambda: "cairo 99.0.0")
    program.cache_clear()
    try:
        run_here("make", ferry, *FAST)
        run_here("make", ferry, *FAST)
    finally:
        program.cache_clear()
    assert made == ["slow-ferry.toml"] * 2


def test_a_file_that_is_only_touched_is_not_new(ferry: Path, made: list[str]) -> None:
    run_here("make", ferry, *FAST)
    touch(ferry)
    run_here("make", ferry, *FAST)
    assert len(made) == 1


@pytest.mark.parametrize(
    "more", [("--mirror",), ("--dpi", "300"), ("--copies", "2"), ("--paper", "Letter"), ("--fresh",)]
)
def test_another_wish_is_new(ferry: Path, made: list[str], more: tuple[str, ...]) -> None:
    run_here("make", ferry, *FAST)
    run_here("make", ferry, *FAST, *more)
    assert len(made) == 2


def test_a_job_that_became_wrong_is_not_passed_over(ferry: Path) -> None:
    run_here("make", ferry, *FAST)
    edit("slow-ferry.toml", 'part = "footswitch"', 'part = "footswich"')(ferry)
    ran = run_here("make", ferry, *FAST)
    assert ran.status == 1 and "footswich" in ran.err


def test_gangs_are_kept_or_made_together(tmp_path: Path, made: list[str]) -> None:
    jobs = [FOLDER / f"{name}.toml" for name in JOBS[:2]]
    first = run_here("make", *jobs, "--out", tmp_path, *FAST)
    second = run_here("make", *jobs, "--out", tmp_path, *FAST)
    assert len(made) == 2 and second.out == first.out and second.status == 0
    (tmp_path / "report.json").unlink()
    run_here("make", *jobs, "--out", tmp_path, *FAST)
    assert len(made) == 4


@pytest.mark.parametrize("apart", [(), ("--apart",)])
def test_workers_change_no_byte_and_one_bad_job_stops_no_other(tmp_path: Path, apart: tuple[str, ...]) -> None:
    bad = tmp_path / "bad.toml"
    bad.write_text('title = "Bad"\n', encoding="utf-8")
    jobs = [bad, *(FOLDER / f"{name}.toml" for name in JOBS)]
    ran = {}
    for workers in (1, 2):
        out = tmp_path / str(workers) / "out"
        ran[workers] = run_here("make", *jobs, "--out", out, *FAST, "--fresh", "--workers", workers, *apart)
        shutil.rmtree(out / "bad", ignore_errors=True)
        for record in out.rglob(RECORD):
            record.unlink()
    one, two = (tree(tmp_path / str(workers)) for workers in (1, 2))
    assert one == two and any("report.json" in str(name) for name in one)
    assert ran[1].status == ran[2].status == 1 and ran[1].err == ran[2].err
    assert ran[1].out.replace("/1/", "/2/") == ran[2].out and len(ran[1].out.split()) == len(JOBS)


def test_a_gang_by_workers_is_the_same(tmp_path: Path) -> None:
    jobs = [FOLDER / f"{name}.toml" for name in JOBS]
    for workers in (1, 2):
        out = tmp_path / str(workers) / "out"
        assert run_here("make", *jobs, "--out", out, *FAST, "--fresh", "--workers", workers).status == 0
        for record in out.rglob(RECORD):
            record.unlink()
    one, two = (tree(tmp_path / str(workers)) for workers in (1, 2))
    assert one == two and "sheets" in json.loads((tmp_path / "1" / "out" / "report.json").read_text(encoding="utf-8"))


def test_where_there_can_be_no_workers_jobs_are_made_in_turn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def poor(*asked: object) -> None:
        raise FileNotFoundError(errno.ENOENT, "No such file or directory")

    jobs = [FOLDER / f"{name}.toml" for name in JOBS[:2]]
    alone = run_here("make", *jobs, "--out", tmp_path / "a", *FAST, "--apart")
    monkeypatch.setattr("facegraphic.cli.workers.ProcessPoolExecutor", poor)
    ran = run_here("make", *jobs, "--out", tmp_path / "b", *FAST, "--apart", "--workers", 2)
    assert ran.status == alone.status == 0
    assert "there can be no workers here" in ran.err and "one after another" in ran.err
    assert tree(tmp_path / "a") == tree(tmp_path / "b")
