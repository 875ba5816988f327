"""Part lists drawn by seed, for the suite and for the benchmark alike."""

import random

MOST = {"pots": 6, "footswitches": 3, "toggles": 3, "lamps": 3, "jacks": 4, "dc": 1, "rotaries": 1, "pushbuttons": 2}


def part_list(seed: int) -> dict[str, int]:
    """Numbers of parts by kind, what is 0 left out; every third list has two footswitches."""
    dice = random.Random(seed)
    counts = {kind: dice.randint(0, most) for kind, most in MOST.items()}
    if seed % 3 == 0:
        counts["footswitches"] = 2
    return {kind: count for kind, count in counts.items() if count} or {"pots": 1}
