"""How time grows with work: python tests/benchmarks/work.py [--plot FILE]; or --workers [--jobs N].

What each ladder measures, and what came of it, is told in README.md beside this.
"""

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers.harbours import harbour

ROOT = Path(__file__).resolve().parents[2]
LEAST_OF = 3
LINEAR = 1.15  # what counts as near-linear: the exponent of time over work, from the first rung to the last
SPEED_UP = 1.7  # of two workers over one
GRIDS = {4: (2, 2), 8: (4, 2), 16: (4, 4), 32: (8, 4), 64: (8, 8)}

Run = Callable[[], object]


@dataclass(frozen=True)
class Ladder:
    """Rungs of growing work: how much each is, and what makes it ready in a folder, with jobs from some number on."""

    told: str
    rungs: Sequence[int]
    work: Callable[[int], float]
    ready: Callable[[int, Path, int], Run]


def _make(*words: object) -> Run:
    from helpers.runs import run_here

    def run() -> object:
        ran = run_here("make", *words, "--fresh", "--quiet")
        if ran.status:
            raise SystemExit(ran.err)
        return ran

    return run


def _fine(dpi: int, folder: Path, first: int = 0) -> Run:
    job = harbour(folder, 2, 2, first, art=True)
    return _make(job, "--only", "art", "--format", "png", "--dpi", dpi)


def _large(knobs: int, folder: Path, first: int = 0) -> Run:
    return _make(harbour(folder, *GRIDS[knobs], first, art=True), "--only", "art", "--format", "svg,png,pdf")


def _checked(knobs: int, folder: Path, first: int = 0) -> Run:
    from facegraphic.pipeline.preparing import prepare

    job = harbour(folder, *GRIDS[knobs], first)
    return lambda: prepare(job)


def _laid_out(knobs: int, folder: Path, first: int = 0) -> Run:
    from facegraphic.job.load import load_job
    from facegraphic.layout.face import lay_out

    job = load_job(harbour(folder, *GRIDS[knobs], first))
    return lambda: lay_out(job.faces[0], job.finish)


def _jobs(*words: str) -> Callable[[int, Path, int], Run]:
    def ready(count: int, folder: Path, first: int = 0) -> Run:
        jobs = [harbour(folder, 2, 2, first + number) for number in range(count)]
        return _make(*jobs, "--only", "art,sheet,steps", "--out", folder / "out", *words)

    return ready


LADDERS = {
    "dpi": Ladder("pixels", (300, 600, 1200, 2400), lambda dpi: dpi * dpi, _fine),
    "area": Ladder("area", (4, 8, 16, 32), float, _large),
    "check": Ladder("knobs", tuple(GRIDS), float, _checked),
    "layout": Ladder("knobs", tuple(GRIDS), float, _laid_out),
    "jobs": Ladder("jobs", (1, 2, 4, 8, 16), float, _jobs("--apart")),
    "gang": Ladder("jobs", (1, 2, 4, 8, 16), float, _jobs()),
}


def one(name: str, rung: int) -> None:
    """Run one rung here, after another job that loads what it needs; print processor and clock."""
    with tempfile.TemporaryDirectory() as folder:
        LADDERS[name].ready(LADDERS[name].rungs[0], Path(folder) / "before", 50)()
        run = LADDERS[name].ready(rung, Path(folder) / "job", 0)
        start, used = time.perf_counter(), time.process_time()
        run()
        print(json.dumps([time.process_time() - used, time.perf_counter() - start]))


def measured(name: str, rung: int) -> tuple[float, float]:
    """The least processor time and the least on the clock of some runs, each in a process of its own."""
    words = [sys.executable, __file__, "--one", name, str(rung)]
    runs = [json.loads(subprocess.run(words, check=True, capture_output=True).stdout) for _ in range(LEAST_OF)]
    return min(run[0] for run in runs), min(run[1] for run in runs)


def exponent(before: float, after: float, work: float) -> float:
    """By what power of the work the time grows; 1 is linear."""
    return math.log2(after / before) / math.log2(work)


def climbed(name: str) -> tuple[list[tuple[float, float]], float]:
    """Measure a ladder and print a row a rung; its work and processor times, and the exponent over all of it."""
    ladder = LADDERS[name]
    found: list[tuple[float, float]] = []
    for rung in ladder.rungs:
        cpu, wall = measured(name, rung)
        work = ladder.work(rung) / ladder.work(ladder.rungs[0])
        power = f"{exponent(found[-1][1], cpu, work / found[-1][0]):9.2f}" if found else ""
        print(f"{name:<8} {rung:>5} {work:>6.0f} {cpu:>8.3f} {wall:>8.3f} {power}", flush=True)
        found.append((work, cpu))
    return found, exponent(found[0][1], found[-1][1], found[-1][0])


def growth(names: Sequence[str], plot: Path | None) -> int:
    print(f"{'ladder':<8} {'rung':>5} {'work':>6} {'cpu, s':>8} {'wall, s':>8} {'exponent':>9}")
    climbs = {name: climbed(name) for name in names}
    if plot:
        from helpers.plots import growth_plot

        growth_plot({f"{name} ({LADDERS[name].told})": points for name, (points, _) in climbs.items()}, plot)
    steep = {name: power for name, (_, power) in climbs.items() if power > LINEAR}
    print(*(f"{name}: time grows with the power {power:.2f} of the work" for name, power in steep.items()), sep="\n")
    return int(bool(steep))


def crowd(jobs: int, turns: int, words: Sequence[str]) -> int:
    """Time the command on many jobs with one worker and with two, in turn."""
    runs: dict[int, list[Crowd]] = {1: [], 2: []}
    print(f"{'workers':>7} {'wall, s':>8} {'cpu, s':>8} {'busiest, s':>10}")
    with tempfile.TemporaryDirectory() as folder:
        paths = [harbour(Path(folder), 2, 1 + number % 2, number) for number in range(jobs)]
        for _ in range(turns):
            for workers, found in runs.items():
                run = timed([*map(str, paths), *words, "--workers", str(workers), "--out", f"{folder}/out"])
                found.append(run)
                print(f"{workers:>7} {run.wall:>8.2f} {run.cpu:>8.2f} {run.busiest:>10.2f}", flush=True)
    one, two = runs[1], runs[2]
    speed = min(run.wall for run in one) / min(run.wall for run in two)
    could = min(run.cpu for run in one) / min(run.busiest for run in two)
    print(f"{jobs} jobs: two workers are {speed:.2f} times as fast as one; by processor time {could:.2f} times")
    return int(speed < SPEED_UP)


@dataclass(frozen=True)
class Crowd:
    """Seconds of a run: on the clock, of processor in all its processes, and in the one of them that was busiest.

    A machine that has other work too slows the clock down, but never the busiest process: what all of it would have
    taken by itself is at least that.
    """

    wall: float
    cpu: float
    busiest: float


def timed(words: Sequence[str]) -> Crowd:
    surroundings = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "facegraphic", "make", "--apart", "--fresh", "--quiet", *words]
    start, busy = time.perf_counter(), dict[int, float]()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, env=surroundings, start_new_session=True) as run:
        while run.poll() is None:
            busy |= of_group(run.pid)
            time.sleep(0.05)
        wall = time.perf_counter() - start
    if run.returncode:
        raise SystemExit("a run went wrong")
    return Crowd(wall, sum(busy.values()), max(busy.values()))


def of_group(group: int) -> dict[int, float]:
    """Processor time of each process of a group up to now, as /proc has it (proc(5): fields 5, 14 and 15)."""
    tick, found = os.sysconf("SC_CLK_TCK"), {}
    for path in Path("/proc").glob("[0-9]*/stat"):
        try:
            facts = path.read_text(encoding="utf-8").rpartition(")")[2].split()
        except OSError:
            continue  # it has ended meanwhile
        if facts[2] == str(group):
            found[int(path.parent.name)] = (int(facts[11]) + int(facts[12])) / tick
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--ladders", nargs="+", choices=LADDERS, default=list(LADDERS))
    parser.add_argument("--plot", type=Path, help="also write a picture of it, by matplotlib")
    parser.add_argument("--workers", action="store_true", help="measure two workers against one instead")
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--turns", type=int, default=1)
    parser.add_argument("--only", default="art", help="what is made then")
    parser.add_argument("--one", nargs=2, metavar=("LADDER", "RUNG"), help="used by itself")
    asked = parser.parse_args()
    if asked.one:
        one(asked.one[0], int(asked.one[1]))
        return 0
    if asked.workers:
        return crowd(asked.jobs, asked.turns, ["--only", asked.only])
    return growth(asked.ladders, asked.plot)


if __name__ == "__main__":
    sys.exit(main())
