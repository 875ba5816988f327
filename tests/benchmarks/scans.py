"""How true holes are measured in rendered scans and photos: python tests/benchmarks/scans.py [count] [kind ...]."""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from helpers.studies import Errors, errors, measured, picture

from facegraphic.errors import UserError

BOXES = [(93.0, 38.5), (112.4, 60.5), (118.0, 92.0)]


def study(kind: str, count: int) -> None:
    found: list[Errors] = []
    refused = 0
    for seed in range(count):
        shot = picture(kind, seed, BOXES[seed % len(BOXES)])
        try:
            one = errors(shot.holes, measured(shot))
        except UserError as error:
            refused += 1
            print(f"  {kind} {seed}: {error}", flush=True)
            continue
        found.append(one)
        if one.missed or one.false or max(one.place, default=0) > 0.1 or max(one.across, default=0) > 0.08:
            print(
                f"  {kind} {seed}: {one.missed} missed, {one.false} false, worst {max(one.place, default=0):.3f},"
                f" {max(one.across, default=0):.3f}",
                flush=True,
            )
    place = np.concatenate([e.place for e in found])
    across = np.concatenate([e.across for e in found])
    shares = np.concatenate([e.shares for e in found])
    print(f"{kind}: {len(found)} pictures, {len(place)} holes, {refused} refused")
    print(f"  place: median {np.median(place):.4f}, 95 % {np.percentile(place, 95):.4f}, worst {place.max():.4f} mm")
    print(
        f"  across: median {np.median(across):.4f}, 95 % {np.percentile(across, 95):.4f}, worst {across.max():.4f} mm"
    )
    print(f"  within twice the stated uncertainty: {np.mean(shares <= 2):.1%}")
    print(f"  missed {sum(e.missed for e in found)}, false {sum(e.false for e in found)}", flush=True)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for kind in sys.argv[2:] or ("clean", "dirty", "photo"):
        study(kind, count)
