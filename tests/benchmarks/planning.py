"""Plan boxes for seeded part lists and check every job: python tests/benchmarks/planning.py [--lists N] [--first N].

The lists and the figures are described in README.md beside this file.
"""

import argparse
import statistics
import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from helpers.part_lists import part_list

from facegraphic.errors import UserError
from facegraphic.job.load import read_job
from facegraphic.pipeline.planning import misread, plan_job
from facegraphic.pipeline.preparing import prepare_job
from facegraphic.planning.model import Wish

TARGET_SECONDS = 10.0  # of processor time, for the slowest list


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lists", type=int, default=200)
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    seconds, boxes, faults = [], Counter[str](), []
    for seed in range(asked.first, asked.first + asked.lists):
        counts = part_list(seed)
        start = time.process_time()
        try:
            planned = plan_job(Path("box.toml"), Wish(counts))
        except UserError as error:
            boxes["none"] += 1
            outcome, found = str(error), []
        else:
            outcome = planned.plan.box.name
            boxes[outcome] += 1
            prepared = prepare_job(read_job(planned.text, Path("box.toml")))
            found = [str(finding) for finding in prepared.findings if finding.severity != "note"]
            found += [said for layout in prepared.layouts for said in misread(layout)]
        seconds.append(time.process_time() - start)
        faults += [f"{seed}: {said}" for said in found]
        print(f"{seed:4} {seconds[-1]:6.1f} s  {counts}: {outcome} {found or ''}", flush=True)
    print(f"{len(seconds)} lists: {statistics.median(seconds):.1f} s median, {max(seconds):.1f} s longest")
    print(", ".join(f"{name}: {count}" for name, count in sorted(boxes.items())))
    print(f"worse than a note: {len(faults)}", *faults, sep="\n    ")
    return 1 if faults or max(seconds) > TARGET_SECONDS else 0


if __name__ == "__main__":
    sys.exit(main())
