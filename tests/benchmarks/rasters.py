"""PNG files of a full A4 sheet of the examples, beside general SVG renderers: time of whole processes, peak memory.

Run from the project's folder: ``python tests/benchmarks/rasters.py``; see README.md beside this. Fails where it is not
as fast and as frugal as it is held to be.
"""

import argparse
import importlib.util
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

EXAMPLES = Path(__file__).parents[2] / "examples"
PROCESSES = {"1-bit": "toner-transfer", "RGB": "waterslide-white"}
ALONE = 2400  # at this fineness only our own memory is asked for
OURS = "facegraphic"

# Each is a program of its own: what it is given, where to write, width and height in pixels, dpi.
PROGRAMS = {
    OURS: """
import pickle
from facegraphic.output.png import write_png
with open(sys.argv[1], "rb") as file, open(sys.argv[2], "wb") as out:
    write_png(pickle.load(file), dpi, out)
""",
    "CairoSVG": """
import cairosvg
cairosvg.svg2png(url=sys.argv[1], write_to=sys.argv[2], output_width=w, output_height=h, background_color="white")
""",
    "resvg-py": """
import resvg_py
drawn = resvg_py.svg_to_bytes(svg_path=sys.argv[1], dpi=dpi, background="#ffffff", skip_system_fonts=True)
with open(sys.argv[2], "wb") as out:
    out.write(bytes(drawn))
""",
    "skia-python": """
import skia
document = skia.SVGDOM.MakeFromStream(skia.FILEStream.Make(sys.argv[1]))
surface = skia.Surface(w, h)
with surface as canvas:
    canvas.clear(skia.ColorWHITE)
    document.setContainerSize(skia.Size(210 * 96 / 25.4, 297 * 96 / 25.4))
    canvas.scale(dpi / 96, dpi / 96)
    document.render(canvas)
surface.makeImageSnapshot().save(sys.argv[2], skia.kPNG)
""",
}
HEAD = "import sys\nw, h, dpi = map(int, sys.argv[3:])\n"
MODULES = {"CairoSVG": "cairosvg", "resvg-py": "resvg_py", "skia-python": "skia"}


@dataclass(frozen=True)
class Held:
    """What a kind of sheet is held to at one fineness: how many times faster than others, and the most MB."""

    cairosvg: float
    best: float
    peak: float


HELD = {"1-bit": Held(cairosvg=10, best=6, peak=110), "RGB": Held(cairosvg=4, best=0, peak=140)}
HELD_DPI = 1200
GROWTH = 1.3  # how much more memory 2400 dpi may take than 600


@dataclass(frozen=True)
class Run:
    """A process: seconds on the clock, seconds of processor, peak memory in MB."""

    wall: float
    cpu: float
    peak: float


def build(folder: Path, kind: str) -> None:
    """Write a sheet as scene and SVG: all faces of the examples, as one process has them, take seven eighths of an A4.

    Done in a process of its own, since one that has grown large starts others with its own size as their peak.
    Screened artwork is settled: nobody is to make dots, which the SVG carries ready-made too.
    """
    import pickle
    from dataclasses import replace

    from facegraphic.film.gang import lay_gangs
    from facegraphic.output.paint import shown
    from facegraphic.output.svg import svg_bytes
    from facegraphic.pipeline.preparing import Wishes, prepare
    from facegraphic.scene.scene import Group, Item, Plate, Screened

    def settled(item: Item) -> Item:
        if isinstance(item, Screened | Plate):
            item = shown(item)
        return replace(item, items=tuple(map(settled, item.items))) if isinstance(item, Group) else item

    laid = []
    for path in sorted(EXAMPLES.iterdir()):
        if path.is_file():
            (folder / path.name).write_bytes(path.read_bytes())
    for path in sorted(folder.glob("*.toml")):
        text = re.sub(r'process = "[^"]*"', f'process = "{PROCESSES[kind]}"', path.read_text(encoding="utf-8"))
        path.write_text(re.sub(r"^ink = .*\n", "", text, flags=re.MULTILINE), encoding="utf-8")
        ready = prepare(path, Wishes(ganged=True))
        laid.append((ready.job, ready.pieces))
    (gang,) = lay_gangs(laid)
    (page,) = gang.pages
    scene = replace(page.scene, items=tuple(map(settled, page.scene.items)))
    (folder / "sheet.pickle").write_bytes(pickle.dumps(scene))
    (folder / "sheet.svg").write_bytes(svg_bytes(scene))


def run(name: str, source: Path, out: Path, dpi: int) -> Run:
    size = [str(round(side * dpi / 25.4)) for side in (210, 297)]
    words = [sys.executable, "-c", HEAD + PROGRAMS[name], str(source), str(out), *size, str(dpi)]
    start = time.perf_counter()
    process = subprocess.Popen(words)
    _, status, used = os.wait4(process.pid, 0)
    wall = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise SystemExit(f"{name} ended with {process.returncode}")
    return Run(wall, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def middle(runs: list[Run], of: Callable[[Run], float]) -> float:
    return statistics.median(map(of, runs))


def row(kind: str, dpi: int, name: str, runs: list[Run], first: list[Run]) -> str:
    wall, cpu = (middle(runs, of) for of in (lambda r: r.wall, lambda r: r.cpu))
    times, work = wall / middle(first, lambda r: r.wall), cpu / middle(first, lambda r: r.cpu)
    return (
        f"{kind:<6} {dpi:>5} {name:<12} {wall:>8.2f} {times:>7.1f} {cpu:>8.2f} {work:>7.1f} "
        f"{min(r.wall for r in runs):>8.2f} {peak(runs):>8.0f}"
    )


def faults(kind: str, found: dict[int, dict[str, list[Run]]]) -> list[str]:
    """What is not as it is held to be, as far as it was measured, by the median of the clock."""
    wrong = []
    held, runs = HELD[kind], found.get(HELD_DPI, {})
    times = {name: middle(mine, lambda r: r.wall) / middle(runs[OURS], lambda r: r.wall) for name, mine in runs.items()}
    peers = {name: value for name, value in times.items() if name != OURS}
    if times.get("CairoSVG", held.cairosvg) < held.cairosvg:
        wrong.append(f"{times['CairoSVG']:.1f} times as fast as CairoSVG, not {held.cairosvg:g}")
    if peers and min(peers.values()) < held.best:
        wrong.append(f"{min(peers.values()):.1f} times as fast as the fastest other, not {held.best:g}")
    if runs and peak(runs[OURS]) > held.peak:
        wrong.append(f"{peak(runs[OURS]):.0f} MB, more than {held.peak:g}")
    if {600, ALONE} <= found.keys() and peak(found[ALONE][OURS]) > GROWTH * peak(found[600][OURS]):
        wrong.append(f"{peak(found[ALONE][OURS]):.0f} MB at {ALONE} dpi, {peak(found[600][OURS]):.0f} at 600")
    return [f"{kind}: {fault}" for fault in wrong]


def peak(runs: list[Run]) -> float:
    return max(run.peak for run in runs)


def main(runs: int, dpis: list[int], kinds: list[str]) -> int:
    peers = [name for name, module in MODULES.items() if importlib.util.find_spec(module)]
    for name in MODULES.keys() - set(peers):
        print(f"{name} is not installed, and left out")
    heads = f"{'wall, s':>8} {'times':>7} {'cpu, s':>8} {'times':>7} {'least, s':>8} {'MB':>8}"
    print(f"{'kind':<6} {'dpi':>5} {'':<12} {heads}")
    wrong = []
    for kind in kinds:
        all_found: dict[int, dict[str, list[Run]]] = {}
        with tempfile.TemporaryDirectory() as folder:
            place = Path(folder)
            subprocess.run([sys.executable, __file__, "--build", folder, kind], check=True)
            for dpi in dpis:
                names = [OURS, *(peers if dpi < ALONE else [])]
                found = all_found[dpi] = {name: list[Run]() for name in names}
                for _ in range(runs):  # in turn, so that all have the same neighbours
                    for name in names:
                        source = place / ("sheet.pickle" if name == OURS else "sheet.svg")
                        found[name].append(run(name, source, place / "sheet.png", dpi))
                for name in names:
                    print(row(kind, dpi, name, found[name], found[OURS]), flush=True)
        wrong += faults(kind, all_found)
    print(*wrong, sep="\n", end="\n" if wrong else "")
    return int(bool(wrong))


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=5)
    parser.add_argument("--dpi", default="600,1200,2400")
    parser.add_argument("--kinds", default=",".join(PROCESSES))
    parser.add_argument("--build", nargs=2, metavar=("FOLDER", "KIND"), help="only write a sheet: used by itself")
    asked = parser.parse_args()
    if asked.build:
        build(Path(asked.build[0]), asked.build[1])
        raise SystemExit
    sys.exit(main(asked.runs, [int(dpi) for dpi in asked.dpi.split(",")], asked.kinds.split(",")))
