"""Invented jobs of any size, for measuring how time grows: knobs on an even grid, no two jobs alike."""

from pathlib import Path

NAMES = (
    "TIDE", "REEF", "SPRAY", "DRIFT", "SWELL", "FOAM", "KELP", "SHOAL", "GALE", "MIST", "BUOY", "ROPE", "KEEL", "SAIL",
    "OAR", "MOLE",
)  # fmt: skip
PITCH = 30.0  # mm from knob to knob
HEAD = """\
title = "Harbour {number}"

[box]
size = [{width}, {height}, 35.0]
paint = "#22505c"

[finish]
process = "waterslide-white"
ink = "#f6f1e1"

[[face]]
side = "top"
hole = [{holes}]
"""
CONTROL = """
[[face.control]]
hole = "h{index}"
part = "pot-16"
knob = "round-16"
label = "{label}"
scale = {{ from = 0, to = 10, step = 1, style = "dots", numerals = false }}
"""
ART = '\n[[face.art]]\nfile = "waves.svg"\nfit = "cover"\nopacity = 0.6\n'
WAVES = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="74mm" height="74mm" viewBox="0 0 74 74">'
    '<defs><linearGradient id="sea" x2="0" y2="1"><stop offset="0" stop-color="#9fc2c0"/>'
    '<stop offset="1" stop-color="#1f4e5f"/></linearGradient></defs><rect width="74" height="74" fill="url(#sea)"/>{}'
    "</svg>"
)
WAVE = '<path d="M0 {0} q 9 -6 18.5 0 t 18.5 0 t 18.5 0 t 18.5 0" fill="none" stroke="#f6f1e1" stroke-width="0.7"/>'


def harbour(folder: Path, columns: int, rows: int, number: int = 0, art: bool = False) -> Path:
    """Write a job with so many knobs on its top; others for each number."""
    holes, controls = [], []
    for index in range(columns * rows):
        x = (index % columns - (columns - 1) / 2) * PITCH
        y = ((rows - 1) / 2 - index // columns) * PITCH + 4 + number % 7 / 10
        holes.append(f'{{ id = "h{index}", at = [{x}, {y:.1f}], d = 7.5 }}')
        name = NAMES[(index * (1 + 2 * (number % 5)) + number) % len(NAMES)]
        controls.append(CONTROL.format(index=index, label=f"{name} {1 + index // len(NAMES) + number % 9}"))
    size = {"width": columns * PITCH + 14, "height": rows * PITCH + 14}
    head = HEAD.format(number=number, holes=", ".join(holes), **size)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "waves.svg").write_text(WAVES.format("".join(WAVE.format(y) for y in range(6, 74, 8))), encoding="utf-8")
    path = folder / f"harbour-{number}.toml"
    path.write_text(head + "".join(controls) + (ART if art else ""), encoding="utf-8")
    return path
