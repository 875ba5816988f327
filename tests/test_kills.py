"""Killed by SIGKILL at any moment, a run leaves whole files, and the next one makes everything right.

The benchmarks have the long run of it: tests/benchmarks/kills.py.
"""

import json
import os
import pickle
import random
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from helpers.kills import NOTE, PLANTED, RECORD, ROOT, Scene, Tree, faults, killed, tree, trials, unreadable

from facegraphic.output.folder import write_together

pytestmark = pytest.mark.skipif(os.name != "posix", reason="no SIGKILL on this system")

WRITE = """
import pickle, sys
from facegraphic.output.folder import write_together
write_together(pickle.loads(sys.stdin.buffer.read()))
"""


@pytest.fixture(scope="module")
def scene(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Scene]:
    yield Scene(tmp_path_factory.mktemp("kills"), ("--only", "art,sheet", "--format", "svg")).learn()


@pytest.mark.parametrize("number", range(6))
def test_killed_at_some_moment(scene: Scene, number: int) -> None:
    trial = list(trials(scene, 6, random.Random(7)))[number]
    assert killed(scene, trial) == [], str(trial)


def written(out: Path, files: Tree, **plan: str) -> int:
    """Write files into a folder and one below it, as the jobs of a gang have theirs, in a process with a plan."""
    surroundings = {**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{PLANTED}", "KILL_UNDER": str(out), **plan}
    together = {out: files, out / "below": files}
    words = [sys.executable, "-c", WRITE]
    return subprocess.run(words, env=surroundings, input=pickle.dumps(together), timeout=60).returncode


def test_killed_at_every_move(scene: Scene, tmp_path: Path) -> None:
    old, new = (scene.known[state, False] for state in "ba")
    twice = [{**one, **{f"below/{name}": data for name, data in one.items()}} for one in (old, new)]
    out = tmp_path / "out"
    write_together({out: old, out / "below": old})
    assert written(out, new, KILL_NOTED=str(tmp_path / "noted")) == 0 and tree(out) == twice[1]
    steps = [line.split()[1] for line in (tmp_path / "noted").read_text(encoding="utf-8").splitlines()]
    moves = [number for number, kind in enumerate(steps, 1) if kind in ("os.rename", "os.remove")]
    assert len(moves) > 4 * len(new)
    ended = set()
    for number, step in enumerate(moves):
        write_together({out: old, out / "below": old})
        ended.add(written(out, new, KILL_AT=str(step)))
        assert faults(tree(out), *twice) == [], step
        back = number % 2
        files = (new, old)[back]
        write_together({out: files, out / "below": files})
        assert tree(out) == twice[not back], step
    assert ended == {-9}


def test_the_way_that_runs_are_judged_sees_planted_faults() -> None:
    report = json.dumps({"outputs": []}).encode()
    old = {"report.json": report, "a.json": b"[1]", "gone.json": b"[1]", RECORD: b"{}"}
    new = {"report.json": report, "a.json": b"[2]", "new.json": b"[2]", RECORD: b"{ }"}
    judge = partial(faults, old=old, new=new)
    noted = {NOTE: b"{}"}
    assert judge(old) == judge(new) == judge({**old, **noted}) == judge({**old, **noted, "a.json": b"[2]"}) == []
    assert judge({**old, **noted, ".a.json.abcdefgh.part": b"["}) == judge({**noted, **new, "gone.json": b"[1]"}) == []
    assert judge({**old, "..begun.json.abcdefgh.part": b""}) == []
    for wrong in (
        {**old, "a.json": b"[2]"},  # of two runs, and no note
        {**new, "gone.json": b"[1]"},
        {**old, RECORD: b"{ }"},
        {**old, ".a.json.abcdefgh.part": b"[2]"},
        {**old, **noted, "a.json": b"["},  # torn
        {**old, **noted, "other.json": b"[1]"},
        {**new, **noted, "new.json": b"[1]"},
        {name: data for name, data in {**old, **noted}.items() if name != "a.json"},
    ):
        assert judge(wrong) != []


def test_readers_of_others_see_torn_files(tmp_path: Path) -> None:
    files = Scene(tmp_path, ("--only", "art", "--dpi", "72"))
    files.lay("b")
    made = {Path(name).suffix: (name, data) for name, data in files.made().items()}
    made[".html"] = ("a.html", b"<!DOCTYPE html><html><body><p>" + 100 * b"whole " + b"</p></body></html>")
    assert made.keys() == {".json", ".png", ".pdf", ".svg", ".html"}
    for name, data in made.values():
        assert not unreadable(name, data)
        assert unreadable(name, data[: len(data) // 3]), name
