"""Coat stacks made by chance, always the same ones, on a face with holes and lettering."""

import random
from collections.abc import Iterator

HEAD = """\
[box]
stock = "112x60x31"
orientation = "portrait"
paint = "#202020"

[[face]]
side = "top"
hole = [{ id = "rate", at = [-12, 32], d = 7.5 }, { id = "foot", at = [0, -36], d = 12.2 }]
[[face.control]]
hole = "rate"
part = "pot-16"
label = "RATE"
scale = { from = 0, to = 10, step = 1 }
[[face.frame]]
holes = ["rate"]
label = "TIDE"
"""


def stack(seed: int) -> str:
    """A whole job with two to five coats."""
    chance = random.Random(seed)
    return HEAD + "".join(_coat(chance, number) for number in range(chance.randint(2, 5)))


def _coat(chance: random.Random, number: int) -> str:
    kind = chance.choice(["paint"] * 6 + ["primer", "clear"])
    lines = ["[[coat]]", f'kind = "{kind}"', f"trap = {chance.choice([0, 0.2, 0.3, 0.8])}"]
    if kind != "clear":
        lines.append(f'paint = "#{chance.randrange(64, 255):02x}{number * 40 + 10:02x}{chance.randrange(255):02x}"')
    lines.append(f'mask = "{chance.choice(["adhesive", "paper", "stencil"])}"')
    way = chance.randrange(6)
    if way == 0:
        lines.append(f'where = "{chance.choice(["legends", "frames", "everything"])}"')
    if way == 1:
        lines.append(f'keep = "{chance.choice(["legends", "frames"])}"')
    if way >= 2:
        for _ in range(chance.randint(1, 3)):
            lines += _shape(chance)
    return "\n".join(lines) + "\n"


def _shape(chance: random.Random) -> Iterator[str]:
    x, y, angle = chance.uniform(-25, 25), chance.uniform(-50, 50), chance.uniform(-180, 180)
    yield "[[coat.shape]]"
    kind = chance.choice(["band", "rectangle", "circle", "polygon"])
    yield f'shape = "{kind}"'
    if kind == "band":
        yield f"at = [{x:.3f}, {y:.3f}]\nangle = {angle:.3f}\nwidth = {chance.uniform(2, 25):.3f}"
    elif kind == "rectangle":
        size = f"size = [{chance.uniform(4, 50):.3f}, {chance.uniform(4, 60):.3f}]"
        yield f"at = [{x:.3f}, {y:.3f}]\nangle = {angle:.3f}\n{size}\nradius = {chance.choice([0, 2, 5])}"
    elif kind == "circle":
        yield f"at = [{x:.3f}, {y:.3f}]\nd = {chance.uniform(4, 50):.3f}"
    else:
        points = [[round(x + chance.uniform(-25, 25), 3), round(y + chance.uniform(-25, 25), 3)] for _ in range(5)]
        yield f"points = {points}"
