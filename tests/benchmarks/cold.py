"""How long ``facegraphic make`` takes on the example with six controls: everything from nothing, and with nothing new.

Run from the project's folder, with nothing beside it: ``python tests/benchmarks/cold.py``; see README.md beside this.
"""

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
JOB = ROOT / "examples" / "slow-ferry.toml"
BARE = [sys.executable, "-c", ""]
FACEGRAPHIC = [sys.executable, "-m", "facegraphic"]


@dataclass(frozen=True)
class Held:
    """A command, whether its folder is emptied before each run, and the most seconds by the median of the clock."""

    words: tuple[str, ...]
    empty: bool
    most: float


HELD = {
    "make, from nothing": Held(("make", str(JOB)), True, 2.5),
    "make, nothing new": Held(("make", str(JOB)), False, 0.3),
    "--help": Held(("--help",), False, 0.12),
}


def seconds(words: list[str]) -> float:
    """One process from its start to its end."""
    # Byte code is kept, as it is for everybody; its absence is another, slower program.
    settings = {name: value for name, value in os.environ.items() if name not in ("PYTHONDONTWRITEBYTECODE", "CI")}
    start = time.perf_counter()
    subprocess.run(words, env=settings, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True)
    return time.perf_counter() - start


def measured(held: Held, out: Path, runs: int) -> list[float]:
    where = ("--out", str(out)) if held.words[0] == "make" else ()
    words = [*FACEGRAPHIC, *held.words, *where]
    seconds(words)  # so that byte code is there, and what is to stay the same
    found = []
    for _ in range(runs):
        if held.empty:
            shutil.rmtree(out)
        found.append(seconds(words))
    return found


def main(runs: int) -> int:
    wrong = []
    print(f"{'':<20} {'median, s':>10} {'least, s':>10} {'held to':>10}")
    bare = [seconds(BARE) for _ in range(runs)]
    print(f"{'Python alone':<20} {statistics.median(bare):>10.3f} {min(bare):>10.3f}")
    with tempfile.TemporaryDirectory() as folder:
        for name, held in HELD.items():
            found = measured(held, Path(folder) / "out", runs)
            print(f"{name:<20} {statistics.median(found):>10.3f} {min(found):>10.3f} {held.most:>10.3f}", flush=True)
            if statistics.median(found) > held.most:
                wrong.append(f"{name}: {statistics.median(found):.2f} s, more than {held.most:g}")
    print(*wrong, sep="\n", end="\n" if wrong else "")
    return int(bool(wrong))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=5)
    sys.exit(main(parser.parse_args().runs))
