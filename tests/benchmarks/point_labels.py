"""Measure the layout solver on random point labels: python tests/benchmarks/point_labels.py [--quick].

The task, its source and the columns are described in README.md beside this file.
"""

import argparse
import heapq
import importlib.util
import random
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from facegraphic.layout.solver import Problem, Solution, solve

WIDTH, HEIGHT = 792.0, 612.0
LABEL_WIDTH, LABEL_HEIGHT = 30.0, 7.0
CORNERS = ((0.0, 0.0), (-LABEL_WIDTH, 0.0), (-LABEL_WIDTH, -LABEL_HEIGHT), (0.0, -LABEL_HEIGHT))
SIZES = (100, 250, 500, 750, 1000)
INSTANCES = 10
LIBRARY_SIZE = 500  # the largest map that the libraries are run on
TARGET_SECONDS = {100: 0.05, 250: 0.05, 500: 0.25, 750: 0.5, 1000: 15.0}
SHORT_SECONDS, SHORT_GAP = 1.0, 0.005  # within this time a map of the largest size is to be within this of the best
ROUNDING = 1e-6  # a library's boxes overlap from here on; they come back through screen coordinates

Point = tuple[float, float]
Library = Callable[[Sequence[Point]], "list[Point]"]


@dataclass(frozen=True)
class Run:
    """One solution of one map: how many labels stand, by the solver's cost and by two recounts, and the seconds."""

    solution: Solution
    placed: int
    recounts: tuple[int, int]
    build: float
    seconds: float

    @property
    def sound(self) -> bool:
        """Whether all counts agree."""
        return self.recounts == (self.placed, self.placed)


def points(size: int, number: int) -> list[Point]:
    """Return the points of a map; the same size and number always give the same."""
    dice = random.Random(1000 * size + number)
    return [(dice.uniform(0, WIDTH), dice.uniform(0, HEIGHT)) for _ in range(size)]


def corners(places: Sequence[Point]) -> list[Point]:
    """Return the lower left corners of all candidate labels, four for each point in turn."""
    return [(x + dx, y + dy) for x, y in places for dx, dy in CORNERS]


def label_problem(places: Sequence[Point]) -> Problem:
    """Return the choice problem of a map: as many labels as possible, none overlapping another."""
    boxes = corners(places)
    order = sorted(range(len(boxes)), key=boxes.__getitem__)
    conflicts = []
    for rank, one in enumerate(order):
        x, y = boxes[one]
        for other in order[rank + 1 :]:
            if boxes[other][0] - x >= LABEL_WIDTH:
                break
            if abs(boxes[other][1] - y) < LABEL_HEIGHT and one // 4 != other // 4:
                conflicts.append((min(one, other), max(one, other)))
    items = tuple(tuple(range(first, first + 4)) for first in range(0, len(boxes), 4))
    return Problem(items, (0.0,) * len(boxes), tuple(sorted(conflicts)), omission=1.0)


def count_on_graph(problem: Problem, chosen: Sequence[int | None]) -> int:
    """Count the labels that are chosen among their own candidates and in conflict with no other."""
    taken = {one for item, one in zip(problem.items, chosen, strict=True) if one is not None and one in item}
    hit = {one for pair in problem.conflicts if taken.issuperset(pair) for one in pair}
    return len(taken - hit)


def count_free(boxes: Sequence[Point], slack: float = 0.0) -> int:
    """Count the boxes of label size, given by their lower left corners, that overlap no other by more than `slack`."""
    if not boxes:
        return 0
    x, y = np.array(boxes).T
    wide = np.abs(x[:, None] - x[None, :]) < LABEL_WIDTH - slack
    high = np.abs(y[:, None] - y[None, :]) < LABEL_HEIGHT - slack
    return int(((wide & high).sum(axis=1) == 1).sum())


def min_degree(problem: Problem) -> int:
    """Count the labels placed by always taking the candidate in conflict with the fewest that are left."""
    near: list[set[int]] = [set() for _ in problem.costs]
    for item in problem.items:
        for one in item:
            near[one].update(item)
            near[one].discard(one)
    for one, other in problem.conflicts:
        near[one].add(other)
        near[other].add(one)
    heap = [(len(around), one) for one, around in enumerate(near)]
    heapq.heapify(heap)
    left, placed = set(range(len(near))), 0
    while heap:
        degree, one = heapq.heappop(heap)
        if one not in left or degree != len(near[one]):
            continue
        placed += 1
        gone = near[one] | {one}
        left -= gone
        for other in sorted(gone):
            for far in near[other] & left:
                near[far].discard(other)
                heapq.heappush(heap, (len(near[far]), far))
    return placed


def measure(places: Sequence[Point], seconds: float) -> Run:
    """Solve one map and count again what was placed."""
    start = time.perf_counter()
    problem = label_problem(places)
    built = time.perf_counter()
    solution = solve(problem, seconds)
    done = time.perf_counter()
    boxes = corners(places)
    standing = [boxes[one] for one in solution.chosen if one is not None]
    recounts = (count_on_graph(problem, solution.chosen), count_free(standing))
    return Run(solution, round(len(places) - solution.cost), recounts, built - start, done - built)


def libraries() -> dict[str, Library | None]:
    """Return how to run each library; None for one that is not installed."""
    known: dict[str, Library] = {"adjustText": _adjust_text, "textalloc": _textalloc}
    drawing = importlib.util.find_spec("matplotlib") is not None
    return {name: run if drawing and importlib.util.find_spec(name) else None for name, run in known.items()}


def _map_axes():
    """Return axes of one pixel to the unit, whose texts are all of label size."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text
    from matplotlib.transforms import Bbox

    class Label(Text):
        def get_window_extent(self, renderer=None, dpi=None):
            x, y = self.get_transform().transform(self.get_unitless_position())
            x -= {"left": 0, "center": 0.5, "right": 1}[self.get_horizontalalignment()] * LABEL_WIDTH
            y -= {"top": 1, "center": 0.5}.get(self.get_verticalalignment(), 0) * LABEL_HEIGHT
            return Bbox.from_bounds(x, y, LABEL_WIDTH, LABEL_HEIGHT)

    class Map(Axes):
        def text(self, x, y, s, **kwargs):
            return self._add_text(Label(x, y, s, transform=self.transData, **kwargs))

    figure = Figure(figsize=(WIDTH / 100, HEIGHT / 100), dpi=100)
    axes = figure.add_axes(Map(figure, (0, 0, 1, 1)))
    axes.set(xlim=(0, WIDTH), ylim=(0, HEIGHT))
    return axes


def _adjust_text(places: Sequence[Point]) -> list[Point]:
    """Let adjustText, as it is set by default, place the labels; return their lower left corners."""
    from adjustText import adjust_text

    axes = _map_axes()
    texts = [axes.text(x, y, "label") for x, y in places]
    adjust_text(texts, ax=axes, ensure_inside_axes=False)
    return [tuple(text.get_window_extent().min) for text in texts]


def _textalloc(places: Sequence[Point]) -> list[Point]:
    """Let textalloc, as it is set by default, place the labels it finds room for; return their lower left corners."""
    import textalloc

    axes = _map_axes()
    x, y = zip(*places, strict=True)
    around = {"xlims": (-LABEL_WIDTH, WIDTH + LABEL_WIDTH), "ylims": (-LABEL_HEIGHT, HEIGHT + LABEL_HEIGHT)}
    texts = textalloc.allocate(axes, x, y, ["label"] * len(x), draw_all=False, draw_lines=False, **around)[2]
    return [tuple(text.get_window_extent().min) for text in texts if text is not None]


def library_cell(run: Library | None, maps: Sequence[Sequence[Point]]) -> str:
    """Return the percentage of labels a library leaves free, and its mean seconds on a map."""
    if run is None:
        return "not installed"
    if len(maps[0]) > LIBRARY_SIZE:
        return "not run"
    run(maps[0][:5])  # the first call also loads the library
    start = time.perf_counter()
    shares = [100 * count_free(run(places), ROUNDING) / len(places) for places in maps]
    return f"{statistics.mean(shares):.1f} % {(time.perf_counter() - start) / len(maps):.2f} s"


def milliseconds(seconds: Sequence[float]) -> str:
    """Return the median and the longest of some times."""
    return f"{1000 * statistics.median(seconds):.0f} / {1000 * max(seconds):.0f}"


def table(rows: Sequence[Sequence[str]]) -> str:
    """Set rows in columns, the first row above a rule."""
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    lines = ["  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows]
    return "\n".join([lines[0], "-" * len(lines[0]), *lines[1:]])


def misses(size: int, runs: Sequence[Run]) -> list[str]:
    """Say what falls short of its target at one size."""
    found = [f"n = {size}, map {number}: counts differ" for number, run in enumerate(runs) if not run.sound]
    for number, run in enumerate(runs):
        if not run.solution.proved:
            found.append(f"n = {size}, map {number}: not proved best, gap {run.solution.gap:.2%}")
        if run.seconds > TARGET_SECONDS[size]:
            found.append(f"n = {size}, map {number}: {run.seconds:.3f} s, target {TARGET_SECONDS[size]} s")
    return found


def short_misses(runs: Sequence[Run], best: Sequence[Run]) -> list[str]:
    """Say which maps, solved within the short time, are farther from the best than they may be."""
    found = []
    for number, (run, full) in enumerate(zip(runs, best, strict=True)):
        if not run.sound or run.placed < full.placed * (1 - SHORT_GAP):
            found.append(f"map {number} within {SHORT_SECONDS} s: {run.placed} placed, best {full.placed}")
    return found


def row(size: int, maps: Sequence[Sequence[Point]], runs: Sequence[Run]) -> list[str]:
    """Return the cells of one size."""
    greedy = statistics.mean(100 * min_degree(label_problem(places)) / size for places in maps)
    return [
        str(size),
        f"{statistics.mean(100 * run.placed / size for run in runs):.2f} %",
        f"{sum(run.solution.proved for run in runs)} of {len(runs)}",
        milliseconds([run.seconds for run in runs]),
        milliseconds([run.build for run in runs]),
        f"{greedy:.1f} %",
        *(library_cell(run, maps) for run in libraries().values()),
    ]


def main() -> int:
    """Print the tables and what misses its target; return how many targets were missed, at most 1."""
    parser = argparse.ArgumentParser(description="Measure the layout solver on random point labels.")
    parser.add_argument("--quick", action="store_true", help="two maps of each size instead of ten")
    count = 2 if parser.parse_args().quick else INSTANCES
    rows = [["n", "placed", "proved", "solve ms", "build ms", "min-degree", *libraries()]]
    missed: list[str] = []
    for size in SIZES:
        maps = [points(size, number) for number in range(count)]
        runs = [measure(places, 60.0) for places in maps]
        missed += misses(size, runs)
        rows.append(row(size, maps, runs))
    print(table(rows), end="\n\n")
    short = [measure(places, SHORT_SECONDS) for places in maps]
    missed += short_misses(short, runs)
    print(f"n = {SIZES[-1]}, stopped after {SHORT_SECONDS} s; map: placed of the best placed, bound, seconds")
    for number, (run, full) in enumerate(zip(short, runs, strict=True)):
        bound = SIZES[-1] - run.solution.bound
        print(f"{number:3}: {run.placed} of {full.placed}, at most {bound:.1f}, {run.seconds:.2f} s")
    print("\nMissed: " + ("; ".join(missed) or "nothing"))
    return min(1, len(missed))


if __name__ == "__main__":
    sys.exit(main())
