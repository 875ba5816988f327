"""The long run: ``python -m tests.fuzz --cases 100000 [--only job] [--first 0]``.

Cases have numbers and come in lots, each a process of its own, so that a crash of the interpreter costs one lot; a run
goes on where it stopped with --first and the number printed. Failing inputs go to --out, made smaller.
"""

import argparse
import subprocess
import sys
import time
from pathlib import Path

LOT = 2000
FOUND = 3  # exit status of a lot that has found faults; whatever else ends one, a hang in C with 1, has killed it
PATIENCE = 1800.0  # s for a lot


def main() -> int:
    options = _options()
    from .targets import TARGETS

    for name in options.only or ():
        if name not in TARGETS:
            sys.exit(f"{name} is no harness; there are {', '.join(TARGETS)}")
    if options.lot:
        from . import limits
        from .lot import run_lot

        limits.HELD = True
        return FOUND * (run_lot(TARGETS[options.only[0]], options.first, options.cases, options.out) > 0)
    options.out.mkdir(parents=True, exist_ok=True)
    return int(sum(_long_run(name, options) for name in options.only or TARGETS) > 0)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--cases", type=int, default=100_000, help="of each harness")
    parser.add_argument("--only", action="append", help="one harness; may be given more than once")
    parser.add_argument("--first", type=int, default=0, help="number of the first case")
    parser.add_argument("--out", type=Path, default=Path("fuzz-found"), help="where failing inputs are written")
    parser.add_argument("--lot", action="store_true", help=argparse.SUPPRESS)
    return parser.parse_args()


def _long_run(name: str, options: argparse.Namespace) -> int:
    """One harness, lot by lot; how many lots failed."""
    start, failed = time.monotonic(), 0
    end = options.first + options.cases
    for first in range(options.first, end, LOT):
        cases = min(LOT, end - first)
        words = [sys.executable, "-m", "tests.fuzz", "--lot", "--only", name, "--first", str(first)]
        try:
            status = subprocess.run(
                [*words, "--cases", str(cases), "--out", str(options.out)], timeout=PATIENCE
            ).returncode
        except subprocess.TimeoutExpired:
            status = -1
        failed += status != 0
        last = options.out / f"{name}-last"
        if status not in (0, FOUND) and last.exists():
            kept = last.rename(options.out / f"{name}-died-{first}")
            print(f"{name}: the process died with {status}; its last input: {kept}", flush=True)
        done = first + cases - options.first
        rate = done / (time.monotonic() - start)
        print(f"{name}: {done} cases, {rate:.0f}/s, {failed} lots failed; next --first {first + cases}", flush=True)
    return failed


if __name__ == "__main__":
    sys.exit(main())
