"""Random panels: seeded jobs with 2 to 14 controls of mixed kinds on the stock boxes, drilled in rows or anywhere."""

import math
import random

from facegraphic.stock.faces import face_outline
from facegraphic.stock.tables import boxes, knobs, parts

WORDS = (
    "RATE", "DEPTH", "MIX", "TONE", "GAIN", "DRIVE", "LEVEL", "VOLUME", "BIAS", "SPEED", "SHAPE", "TIME", "REPEATS",
    "FILTER", "RESONANCE", "ATTACK", "DECAY", "WIDTH", "BLEND", "CRUNCH", "SUSTAIN", "FEEDBACK", "TREBLE", "MIDDLE",
    "BASS", "PRESENCE", "OCTAVE", "UP", "SUB",
)  # fmt: skip
STOCK = ("112x60x31", "120x94x34", "122x66x40", "93x39x31")  # fixed, so that a seed keeps its panel
KINDS = (
    # part, hole, knobs that go with it, how often
    ("pot-16", 7.5, ("round-13", "round-16", "round-19"), 8),
    ("pot-9", 7.0, ("round-13", "none"), 3),
    ("toggle-mini", 6.5, ("none",), 3),
    ("footswitch", 12.5, ("none",), 2),
    ("lamp-5-holder", 8.0, ("none",), 2),
    ("rotary-switch", 9.8, ("round-16",), 1),
)


def random_panel(seed: int) -> str:
    """A job file. Covers never overlap; labels may or may not find room."""
    dice = random.Random(seed)
    stock = dice.choice(STOCK)
    wanted = dice.randint(2, 14)
    text = f'title = "Panel {seed}"\n[box]\nstock = "{stock}"\norientation = "landscape"\n'
    text += '[finish]\nprocess = "adhesive-label"\n[[face]]\nside = "top"\n'
    box = boxes()[stock]
    outline = face_outline(box, "top", box.size[0], box.size[1])
    width, height = outline.size
    controls = list(_scattered(dice, wanted, (width, height)))
    holes = ", ".join(f'{{ id = "h{i}", at = [{x}, {y}], d = {d} }}' for i, (_, _, x, y, d) in enumerate(controls))
    text += f"hole = [{holes}]\n"
    words = dice.sample(WORDS, len(controls))
    for i, (part, knob, *_) in enumerate(controls):
        text += f'[[face.control]]\nhole = "h{i}"\npart = "{part}"\nknob = "{knob}"\nlabel = "{words[i]}"\n'
        if part.startswith("pot") and dice.random() < 0.4:
            style, numerals = dice.choice(("lines", "dots")), dice.choice(("true", "false"))
            text += f'scale = {{ style = "{style}", numerals = {numerals} }}\n'
        if part == "toggle-mini" and dice.random() < 0.6:
            text += 'positions = ["ON", "OFF"]\n'
        if part == "rotary-switch":
            text += 'positions = ["A", "B", "C", "D"]\n'
    return text


def _scattered(
    dice: random.Random, wanted: int, size: tuple[float, float]
) -> list[tuple[str, str, float, float, float]]:
    """Part, knob, position and hole of as many controls as find a place; half of the panels are drilled in rows."""
    in_rows = dice.random() < 0.5
    found: list[tuple[str, str, float, float, float]] = []
    taken: list[tuple[float, float, float]] = []
    weights = [often for *_, often in KINDS]
    for _ in range(60 * wanted):
        if len(found) == wanted:
            break
        part, hole, choice, _often = dice.choices(KINDS, weights)[0]
        knob = dice.choice(choice)
        radius = (
            max(parts()[part].seat, knobs()[knob].diameter if knob != "none" else 0) / 2 + 3 + parts()[part].swing / 2
        )
        x = round(dice.uniform(-size[0] / 2 + radius, size[0] / 2 - radius), 1)
        y = round(dice.uniform(-size[1] / 2 + radius, size[1] / 2 - radius), 1)
        if in_rows:
            x, y = round(x / 8) * 8.0, round(y / 14) * 14.0
        if abs(x) + radius > size[0] / 2 or abs(y) + radius > size[1] / 2:
            continue
        if all(math.dist((x, y), (a, b)) > radius + r + 3 for a, b, r in taken):
            found.append((part, knob, x, y, hole))
            taken.append((x, y, radius))
    return found
