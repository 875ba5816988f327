"""How true holes are measured in rendered scans and photos: python tests/benchmarks/scans.py [count] [kind ...].

Ends with status 1 if a kind misses what is demanded of it (AIMS in helpers/studies.py).
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from helpers.studies import AIMS, KINDS, Errors, errors, hough_errors, measured, picture, rms

from facegraphic.errors import UserError

BOXES = [(93.0, 38.5), (112.4, 60.5), (118.0, 92.0)]


def study(kind: str, count: int) -> bool:
    """Print a kind's figures; whether it meets its aims."""
    found: list[Errors] = []
    hough: list[Errors] = []
    refused = 0
    for seed in range(count):
        shot = picture(kind, seed, BOXES[seed % len(BOXES)])
        hough.append(hough_errors(shot))
        try:
            one = errors(shot.holes, measured(shot))
        except UserError as error:
            refused += 1
            print(f"  {kind} {seed}: {error}", flush=True)
            continue
        found.append(one)
        if one.missed or one.false or max(one.place, default=0) > 0.1 or max(one.across, default=0) > 0.08:
            print(
                f"  {kind} {seed}: {one.missed} missed, {one.false} invented, worst {max(one.place, default=0):.3f},"
                f" {max(one.across, default=0):.3f}",
                flush=True,
            )
    print(f"{kind}: {count} pictures, {refused} refused")
    place, across = told("measured", found)
    told("Hough circles", hough)
    shares = np.concatenate([e.shares for e in found])
    print(f"  within twice the stated uncertainty: {np.mean(shares <= 2):.1%}", flush=True)
    sound = not refused and not any(e.missed or e.false for e in found)
    return sound and rms(place) <= AIMS[kind][0] and float(across.max()) <= AIMS[kind][1]


def told(name: str, found: list[Errors]) -> tuple[np.ndarray, np.ndarray]:
    place = np.concatenate([e.place for e in found])
    across = np.concatenate([e.across for e in found])
    print(
        f"  {name}: {len(place)} holes, place RMS {rms(place):.4f} worst {place.max(initial=0):.4f} mm, across RMS"
        f" {rms(across):.4f} worst {across.max(initial=0):.4f} mm, missed {sum(e.missed for e in found)},"
        f" invented {sum(e.false for e in found)}",
        flush=True,
    )
    return place, across


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    missed = [kind for kind in sys.argv[2:] or KINDS if not study(kind, count)]
    if missed:
        sys.exit(f"missed what is demanded: {', '.join(missed)}")
