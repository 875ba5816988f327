"""How long random panels take to lay out, and whether each is proved: ``python tests/benchmarks/panels.py``.

The sixty panels of tests/helpers/panels.py, and one plate of 482.6 x 133 mm with 200 controls.
"""

import random
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from helpers.jobs import lay
from helpers.panels import WORDS, random_panel

from facegraphic.job.load import load_job
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout

TARGET_PANEL, TARGET_PLATE = 1.0, 10.0  # seconds


def timed(text: str) -> tuple[float, FaceLayout]:
    with tempfile.TemporaryDirectory() as folder:
        job = load_job(lay(Path(folder), text))
    start = time.perf_counter()
    layout = lay_out(job.faces[0], job.finish)
    return time.perf_counter() - start, layout


def plate() -> str:
    """A job with 200 small pots, closer than their labels would like."""
    dice = random.Random(1)
    size = "size = [482.6, 133, 40]\nedge = 0\ncorner = 0\ndraft = 0\n"
    text = f'[box]\n{size}[finish]\nprocess = "adhesive-label"\n[[face]]\nside = "top"\nhole = ['
    for i in range(200):
        x, y = -228 + 24 * (i % 20) + dice.uniform(-1, 1), 57 - 12.6 * (i // 20) + dice.uniform(-0.5, 0.5)
        text += f'{{ id = "h{i}", at = [{x:.1f}, {y:.1f}], d = 7.0 }}, '
    text += "]\n"
    for i in range(200):
        text += f'[[face.control]]\nhole = "h{i}"\npart = "pot-9"\nknob = "none"\nlabel = "{dice.choice(WORDS)}"\n'
    return text


def main() -> int:
    missed = 0
    took = []
    for seed in range(60):
        seconds, layout = timed(random_panel(seed))
        proved = layout.proof is not None and layout.proof.proved
        missed += not proved or seconds > TARGET_PANEL
        took.append(seconds)
    took.sort()
    print(f"60 random panels: median {took[30] * 1000:.0f} ms, longest {took[-1] * 1000:.0f} ms, missed {missed}")
    seconds, layout = timed(plate())
    assert layout.proof is not None
    state = "proved best" if layout.proof.proved else f"gap {layout.proof.gap:.2%}"
    print(f"plate with 200 controls: {seconds:.1f} s, {state}, {len(layout.legends)} of 200 labels")
    return int(missed > 0 or seconds > TARGET_PLATE)


if __name__ == "__main__":
    sys.exit(main())
