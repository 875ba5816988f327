"""Kill `make` at random moments and look at what it leaves: python tests/benchmarks/kills.py [--times 200] [--seed 1].

What is killed when, and what is looked at, is told in README.md beside this.
"""

import argparse
import random
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers.kills import SCENES, killed, scenes, trials


def main() -> int:
    """Print a line for each kill, and how many went wrong; 1 if any did."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--times", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scenes", default=",".join(SCENES), help="some of the scenes, parted by commas")
    asked = parser.parse_args()
    names = asked.scenes.split(",")
    counts = Counter(names[number % len(names)] for number in range(asked.times))
    bad = done = 0
    with tempfile.TemporaryDirectory() as folder:
        for name, scene in scenes(Path(folder), counts):
            print(f"{name}: {scene.seconds:.1f} s, {len(scene.steps)} steps of writing", flush=True)
            for trial in trials(scene, counts[name], random.Random(f"{asked.seed} {name}")):
                start = time.monotonic()
                wrong = killed(scene, trial)
                done, bad = done + 1, bad + bool(wrong)
                seconds = time.monotonic() - start
                print(f"{done:4} {name}: {trial}, {seconds:.1f} s {wrong or ''}", flush=True)
    print(f"{done} killed, {bad} of them left something wrong")
    return int(bad > 0)


if __name__ == "__main__":
    sys.exit(main())
