"""Five faces folded out: each at its true size, the right way round, hinged where the box has its edges."""

from pathlib import Path

import numpy as np
import pytest
from helpers.composites import MM, alike, flat_colour
from helpers.jobs import lay
from PIL import Image
from samples import FOLDER, JOBS

from facegraphic.output.png import render
from facegraphic.pipeline import Prepared, prepare
from facegraphic.pipeline.seeing import looks
from facegraphic.preview.finished import Eye
from facegraphic.preview.flat import flat, net
from facegraphic.stock.faces import SIDES

# A box 100 wide, 60 deep and 30 high before its user, walls upright; each face has a block of its own colour in the
# two corners that it shares with the top's edge, and a third in its lower left.
BOX = """\
[box]
size = [100, 60, 30]
orientation = "landscape"
corner = 3
edge = 1
[finish]
process = "service-print"
"""
DPI = 127  # five pixels to the mm


def colour_job(folder: Path) -> Prepared:
    """Blocks of 6 mm in the corners of every face: on walls, upper left, upper right and lower left."""

    def block(x: float, y: float, name: str) -> str:
        return f'[[face.art]]\nfile = "{name}.png"\nat = [{x}, {y}]\nsize = [6, 6]\nfit = "stretch"\n'

    blocks = {
        "top": [(-42, 22, "f00"), (42, 22, "0f0"), (42, -22, "00f"), (-42, -22, "ff0")],
        "back": [(-40, 8, "800"), (40, 8, "080"), (-40, -8, "008")],
        "front": [(-40, 8, "808"), (40, 8, "088"), (-40, -8, "880")],
        "left": [(-20, 8, "f80"), (20, 8, "08f"), (-20, -8, "8f0")],
        "right": [(-20, 8, "f08"), (20, 8, "80f"), (-20, -8, "0f8")],
    }
    text = BOX
    files: dict[str, str | bytes] = {}
    for side, corners in blocks.items():
        text += f'[[face]]\nside = "{side}"\n' + "".join(block(*corner) for corner in corners)
        for _, _, name in corners:
            path = folder / f"{name}.png"
            Image.new("RGB", (20, 20), f"#{name}").save(path)
            files[f"{name}.png"] = path.read_bytes()
    return prepare(lay(folder, text, files))


def test_corners_stand_where_the_box_has_them(tmp_path: Path) -> None:
    """Laid out by hand: round the top's middle (0, 0), x right, y up, the planes of walls end 30 mm past the top's.

    Standing before the box: the back wall is seen upside down with its left (seen from outside) at the right; the left
    wall's top edge is at the right of it, its left (seen from outside: the back) is up; the right wall's is down.
    """
    prepared = colour_job(tmp_path)
    picture = flat(Eye(prepared.job, render, DPI), looks(prepared, DPI))
    middle = net(prepared.job, DPI).centres["top"]

    def at(x: float, y: float) -> str:
        pixel = picture[int(middle[1] - y * 5), int(middle[0] + x * 5)]
        return "#" + "".join(f"{value:x}"[0] for value in pixel)

    # How far a wall's centre lies beyond the top's plane: the flat part begins 1 mm (the edge's radius) below it and
    # goes down to the lid's joint, which is at 0 here.
    hang = 1 + 29 / 2
    wall = {
        "back": (0, 30 + hang, lambda x, y: (-x, -y)),
        "front": (0, -30 - hang, lambda x, y: (x, y)),
        "left": (-50 - hang, 0, lambda x, y: (y, -x)),
        "right": (50 + hang, 0, lambda x, y: (-y, x)),
    }
    assert [at(-42, 22), at(42, 22), at(42, -22), at(-42, -22)] == ["#f00", "#0f0", "#00f", "#ff0"]
    wanted = {
        "back": [(-40, 8, "#800"), (40, 8, "#080"), (-40, -8, "#008")],
        "front": [(-40, 8, "#808"), (40, 8, "#088"), (-40, -8, "#880")],
        "left": [(-20, 8, "#f80"), (20, 8, "#08f"), (-20, -8, "#8f0")],
        "right": [(-20, 8, "#f08"), (20, 8, "#80f"), (-20, -8, "#0f8")],
    }
    for side, (x, y, turn) in wall.items():
        for u, v, colour in wanted[side]:
            dx, dy = turn(u, v)
            assert at(x + dx, y + dy) == colour, side


@pytest.mark.parametrize("job", JOBS)
def test_faces_have_their_true_size_and_pixels(job: str) -> None:
    prepared = prepare(FOLDER / f"{job}.toml")
    found, dpi = looks(prepared), 200
    lying = net(prepared.job, dpi)
    picture = flat(Eye(prepared.job, render, dpi), found)
    assert picture.shape == (lying.size[1], lying.size[0], 3)
    turns = {"top": 0, "front": 0, "right": 90, "back": 180, "left": 270}
    for side in SIDES:
        own = np.asarray(Image.fromarray(found[side].picture).rotate(turns[side], expand=True))
        high, wide = own.shape[:2]
        x, y = lying.centres[side]
        left, top = round(x - wide / 2), round(y - high / 2)
        part = picture[top : top + high, left : left + wide]
        assert alike(part, own) == 1.0
        if side != "top":
            assert max(high, wide) * MM / dpi == pytest.approx(max(found[side].extent.width, found[side].extent.height))
    ground = {tuple(picture[0, 0]), tuple(picture[-1, -1]), tuple(picture[0, -1])}
    assert len(ground) == 1
    assert tuple(flat_colour(prepared.job.paint)) not in ground
