"""How long a picture of the finished box takes: every example at 1600 × 1200, median and longest of some runs.

Run it alone on the machine: it measures the clock on the wall, and processor time beside it.
"""

import statistics
import sys
import time
from pathlib import Path

from facegraphic.pipeline.preparing import prepare
from facegraphic.preview.assemble import assemble
from facegraphic.preview.camera import camera_for
from facegraphic.preview.picture import box_picture

EXAMPLES = Path(__file__).parents[2] / "examples"
RUNS = 7
TARGET = 1.0  # s, median


def main() -> int:
    """Print a row an example; 1 when one misses the target."""
    late = 0
    print(f"{'example':12} {'triangles':>9} {'median s':>9} {'longest':>8} {'cpu s':>6}")
    for path in sorted(EXAMPLES.glob("*.toml")):
        prepared = prepare(path)
        model = assemble(prepared.job, prepared.layouts)
        camera = camera_for(model)
        wall, busy = [], []
        for _ in range(RUNS + 1):
            start, used = time.perf_counter(), time.process_time()
            box_picture(model, {}, camera)
            wall.append(time.perf_counter() - start)
            busy.append(time.process_time() - used)
        wall, busy = wall[1:], busy[1:]
        triangles = sum(len(mesh.triangles) for mesh in model.meshes)
        middle = statistics.median(wall)
        late += middle > TARGET
        print(f"{path.stem:12} {triangles:9} {middle:9.2f} {max(wall):8.2f} {statistics.median(busy):6.2f}")
    return int(late > 0)


if __name__ == "__main__":
    sys.exit(main())
