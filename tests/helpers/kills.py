"""Runs of `make` killed by SIGKILL at any moment, and what must be true of their folders then and after the next run.

A `Scene` is one or two jobs in two states, "a" and "b": each has files that the other has not. What a run makes of each
is known from runs that nobody stopped.
"""

import io
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import pypdfium2
from helpers.jobs import good, lay
from helpers.runs import CALL, run_here
from lxml import html
from PIL import Image

from facegraphic.errors import UserError
from facegraphic.output.lock import held

ROOT = Path(__file__).parents[2]
PLANTED = Path(__file__).with_name("planted")
ALL = ("--only", "art,sheet,guide,preview,steps", "--dpi", "72")
PRINTS = ("--only", "art,sheet,steps", "--dpi", "72")
APART = ("--apart", "--workers", "2")
BACK = '[[face]]\nside = "back"\nhole = [{ id = "in", at = [-15, 0], d = 9.8 }]\n\n[sheet]'
STATES = {
    "a": good(),
    "b": good('label = "RATE"', 'label = "PACE"').replace("[sheet]", BACK),
}
NOTE, RECORD = ".begun.json", ".made.json"  # as README.md and DEVELOPERS.md have them

Tree = dict[str, bytes]


@dataclass(frozen=True)
class Plan:
    """How a run is killed: after some seconds, some seconds after it began to write, or at a step of its writing.

    `group` kills its workers with it; else they are left without it.
    """

    after: float | None = None
    writing: float | None = None
    step: int | None = None
    group: bool = True

    def __str__(self) -> str:
        times = (("after", self.after), ("writing", self.writing), ("step", self.step))
        return " ".join([f"{name} {at:.3f}".rstrip("0").rstrip(".") for name, at in times if at is not None])


@dataclass(frozen=True)
class Trial:
    """A run from a state (None: nothing there) to another, killed by a plan, and whether the job is put back then."""

    old: str | None
    new: str
    fresh: bool
    plan: Plan
    back: bool

    def __str__(self) -> str:
        fresh, back = " --fresh" if self.fresh else "", ", then put back" if self.back else ""
        return f"{self.old or 'nothing'} to {self.new}{fresh}, {self.plan}{back}"


@dataclass
class Scene:
    """Jobs in a folder, and what is known of making them: trees by state and --fresh, seconds, steps of writing."""

    folder: Path
    options: Sequence[str]
    jobs: int = 1
    known: dict[tuple[str, bool], Tree] = field(default_factory=dict)
    seconds: float = 0.0
    steps: tuple[str, ...] = ()

    @property
    def out(self) -> Path:
        return self.folder / "out"

    def lay(self, state: str) -> None:
        for number in range(self.jobs):
            lay(self.folder / "jobs" / f"job-{number}", STATES[state])
            place = self.folder / "jobs" / f"job-{number}" / "job.toml"
            place.rename(place.with_name(f"box-{number}.toml"))

    def words(self, fresh: bool = False) -> list[str]:
        jobs = [str(self.folder / "jobs" / f"job-{n}" / f"box-{n}.toml") for n in range(self.jobs)]
        return ["make", *jobs, "--out", str(self.out), *self.options, *(["--fresh"] if fresh else [])]

    def put(self, state: str | None) -> None:
        """Bring the folder to what a run that nobody stopped has left."""
        shutil.rmtree(self.out, ignore_errors=True)
        for name, data in (self.known[state, False] if state else {}).items():
            (self.out / name).parent.mkdir(parents=True, exist_ok=True)
            (self.out / name).write_bytes(data)

    def learn(self) -> "Scene":
        """Make both states, each from nothing, from the other and with --fresh: the same files must come of it."""
        for fresh in (False, True):
            for state in STATES:
                self.lay(state)
                shutil.rmtree(self.out, ignore_errors=True)
                self.known[state, fresh] = self.made(fresh)
        for old, new in (("a", "b"), ("b", "a")):
            self.put(old)
            self.lay(new)
            if self.made() != self.known[new, False]:
                raise AssertionError(f"{new} after {old} is not what it is from nothing")
        self.lay("b")
        self.put("a")
        noted = self.folder / "noted"
        start = time.monotonic()
        with self.start(KILL_NOTED=str(noted)) as run:
            run.communicate()
        self.seconds = time.monotonic() - start
        lines = [line.split() for line in noted.read_text(encoding="utf-8").splitlines()]
        first = max({who for who, _ in lines}, key=[who for who, _ in lines].count)
        self.steps = tuple(kind for who, kind in lines if who == first)
        return self

    def made(self, fresh: bool = False) -> Tree:
        ran = run_here(*self.words(fresh))
        if ran.status:
            raise AssertionError(ran.err)
        return tree(self.out)

    def start(self, fresh: bool = False, **plan: str) -> "subprocess.Popen[bytes]":
        """A run in a session of its own, with a plan for `planted/sitecustomize.py` if any is given."""
        path = [str(ROOT), *([str(PLANTED)] if plan else [])]
        # Where this run reads its own sources from, that one does too; the plan is none of the program's affair.
        surroundings = {**os.environ, "PYTHONPATH": os.pathsep.join(path)}
        if plan:
            surroundings |= {"KILL_UNDER": str(self.out), **plan}
        words = [sys.executable, "-c", CALL, *self.words(fresh)]
        quiet = subprocess.DEVNULL
        return subprocess.Popen(words, env=surroundings, stdout=quiet, stderr=quiet, start_new_session=True)


def killed(scene: Scene, trial: Trial) -> list[str]:
    """Kill a run by its plan; what is wrong with the folder after it, and after the next run."""
    scene.put(trial.old)
    scene.lay(trial.new)
    _kill(scene, trial)
    wrong = [] if _alone(scene.out) else ["something goes on writing, or holds the folder"]
    old = scene.known[trial.old, False] if trial.old else {}
    wrong += faults(tree(scene.out), old, scene.known[trial.new, trial.fresh])
    state = trial.old if trial.back and trial.old else trial.new
    scene.lay(state)
    ran = run_here(*scene.words())
    if ran.status:
        return [*wrong, f"the next run says: {ran.err}"]
    after, wanted = tree(scene.out), scene.known[state, False]
    return [*wrong, *(f"after the next run {name} is wrong" for name in sorted(differing(after, wanted)))]


def _kill(scene: Scene, trial: Trial) -> None:
    plan = trial.plan
    how = {"KILL_AT": str(plan.step), "KILL_HOW": "group" if plan.group else "itself"} if plan.step else {}
    run = scene.start(trial.fresh, **how)
    try:
        if plan.after is not None:
            _wait(run, plan.after)
        elif plan.writing is not None:
            while run.poll() is None and not any(scene.out.rglob(".*.part")):
                time.sleep(0.0002)
            _wait(run, plan.writing)
        else:
            run.wait(120)
        if plan.group:
            _signal_group(run.pid)
        run.kill()
        run.wait(10)
        until = time.monotonic() + 20  # workers that lost their run are to end of themselves
        while _living(run.pid) and time.monotonic() < until:
            time.sleep(0.01)
        if left := _living(run.pid):
            raise AssertionError(f"{len(left)} workers outlive their run")
    finally:
        _signal_group(run.pid)


def _wait(run: "subprocess.Popen[bytes]", seconds: float) -> None:
    try:
        run.wait(seconds)
    except subprocess.TimeoutExpired:
        return


def _signal_group(group: int) -> None:
    try:
        os.killpg(group, signal.SIGKILL)
    except ProcessLookupError:
        return


def _living(group: int) -> list[str]:
    """Processes of a group that still run, as /proc has them (proc(5): state and group follow the name)."""
    found = []
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            state, _, theirs = path.read_text(encoding="utf-8").rpartition(")")[2].split()[:3]
        except OSError:
            continue  # it has ended meanwhile
        if theirs == str(group) and state not in "ZX":
            found.append(path.parent.name)
    return found


def _alone(out: Path) -> bool:
    folders = [path for path in (out, *out.rglob("*")) if path.is_dir()] if out.is_dir() else []
    try:
        with held(folders, patience=0.0):
            return True
    except UserError:
        return False


def tree(out: Path) -> Tree:
    return {str(path.relative_to(out)): path.read_bytes() for path in sorted(out.rglob("*")) if path.is_file()}


def differing(one: Tree, other: Tree) -> set[str]:
    return {name for name in one.keys() | other.keys() if one.get(name) != other.get(name)}


def faults(found: Tree, old: Tree, new: Tree) -> list[str]:
    """What is wrong with a folder after a run that was to bring it from its old files to new ones was killed.

    Every file is the old or the new one, and opens. Only a folder with a note may have parts, or files of both kinds.
    """
    wrong = [f"{name} is neither the old nor the new one" for name in mixed_up(found, old, new)]
    wrong += [f"{name} does not open: {why}" for name, data in found.items() if (why := unreadable(name, data))]
    for folder in {str(Path(name).parent) for name in (*found, *old, *new)}:
        mine, before, after = (
            {n: d for n, d in one.items() if str(Path(n).parent) == folder} for one in (found, old, new)
        )
        noted = any(NOTE in (Path(name).name, became(name)) for name in mine)
        if not noted and mine != before and mine != after:
            wrong.append(f"{folder} is of two runs, or has parts, and no note says so")
    return wrong


def in_folder(files: Tree, folder: str) -> Tree:
    return {name: data for name, data in files.items() if str(Path(name).parent) == folder}


def mixed_up(found: Tree, old: Tree, new: Tree) -> Iterator[str]:
    for name in sorted(found.keys() | (old.keys() & new.keys())):
        inner = became(name) or Path(name).name == NOTE
        if not inner and (name not in found or found[name] not in (old.get(name), new.get(name))):
            yield name


def became(name: str) -> str:
    """What a part is to become; "" for any other file."""
    plain = Path(name).name
    return plain[1:].rsplit(".", 2)[0] if plain.startswith(".") and plain.endswith(".part") else ""


def unreadable(name: str, data: bytes) -> str:
    """Why a file cannot be opened by the readers of others; "" if it can, or is no file of a known kind."""
    return "" if became(name) else _unreadable(Path(name).suffix, data)


@cache
def _unreadable(ending: str, data: bytes) -> str:
    try:
        if ending == ".png":
            with Image.open(io.BytesIO(data)) as picture:
                picture.load()
        elif ending == ".pdf":
            document = pypdfium2.PdfDocument(data)
            for page in document:
                page.render(scale=0.2)
            document.close()
        elif ending == ".svg":
            ElementTree.fromstring(data)
        elif ending == ".json":
            json.loads(data)
        elif ending == ".html" and not data.rstrip().endswith(b"</html>"):
            return "its end is missing"
        elif ending == ".html":
            html.document_fromstring(data)
    except Exception as error:  # whatever a reader of others raises
        return repr(error)
    return ""


def trials(scene: Scene, count: int, luck: random.Random) -> Iterator[Trial]:
    """Seeded trials: half of them at a step of the writing or soon after it began, half at any time of the run."""
    for number in range(count):
        old, new = luck.choice([(None, "b"), ("a", "b"), ("b", "a"), ("a", "b"), ("b", "a"), ("a", "a")])
        fresh = old == new or luck.random() < 0.2  # the same again is passed over without it
        group = luck.random() < 0.6
        kind = ("after", "step", "after", "writing" if number % 8 == 3 else "step")[number % 4]
        if kind == "after":
            plan = Plan(after=luck.uniform(0.0, 1.1 * scene.seconds), group=group)
        elif kind == "writing":
            plan = Plan(writing=luck.uniform(0.0, 0.1), group=group)
        else:
            plan = Plan(step=luck.randint(1, len(scene.steps)), group=group)
        yield Trial(old, new, fresh, plan, back=luck.random() < 0.3)


def scenes(folder: Path, wanted: Iterable[str]) -> Iterator[tuple[str, Scene]]:
    for name in wanted:
        options, jobs = SCENES[name]
        yield name, Scene(folder / name, options, jobs).learn()


SCENES: Mapping[str, tuple[Sequence[str], int]] = {
    "everything": (ALL, 1),
    "prints": (PRINTS, 1),
    "gang": (PRINTS, 2),
    "workers": ((*PRINTS, *APART), 2),
    "gang by workers": ((*PRINTS, "--workers", "2"), 2),
}
