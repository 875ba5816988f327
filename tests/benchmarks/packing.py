"""Packing beside another library: sheets of ours, of the best of all of rectpack's algorithms, and by area alone.

Run from the project's folder: ``python tests/benchmarks/packing.py [SEEDS]``. Each gang is made from its seed, as in
tests/test_packing.py; times are of one run each, side by side.
"""

import math
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from test_packing import A4, gang, library_best

from facegraphic.film.packing import Stack, pack


def main(seeds: int) -> None:
    print(f"{'seed':>4} {'pieces':>6} {'area':>5} {'ours':>5} {'rectpack':>8} {'ours, s':>8} {'rectpack, s':>11}")
    more = fewer = 0
    for seed in range(seeds):
        sizes = gang(seed)
        start = time.perf_counter()
        ours = len(pack(sizes, Stack((A4,))) or [])
        between = time.perf_counter()
        best = library_best(sizes)
        end = time.perf_counter()
        least = math.ceil(sum(w * h for w, h in sizes) / (A4.w * A4.h))
        times = f"{between - start:>8.2f} {end - between:>11.2f}"
        print(f"{seed:>4} {len(sizes):>6} {least:>5} {ours:>5} {best:>8} {times}")
        more, fewer = more + (ours > best), fewer + (ours < best)
    print(f"more sheets than rectpack's best: {more} of {seeds}; fewer: {fewer}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 30)
