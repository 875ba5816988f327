"""After every coat a face looks as if painted pixel by pixel through the masks that were written."""

import random
from pathlib import Path

import numpy as np
import pytest
import shapely
from helpers.coats import stack
from helpers.composites import DPI, MM, alike, flat_colour, seen_and_made, sprayed
from helpers.jobs import lay
from samples import FOLDER

from facegraphic.masks.colour_map import after
from facegraphic.masks.cut import as_cut, body_paint
from facegraphic.masks.regions import face_region
from facegraphic.pipeline.preparing import Prepared, prepare
from facegraphic.pipeline.seeing import coat_look, coat_looks, face_look
from facegraphic.preview.model import FaceLook
from facegraphic.stock.faces import SIDES

ENOUGH = 0.99


def clear_of_edges(prepared: Prepared, side: str, look: FaceLook) -> np.ndarray:
    """Pixels inside the face's outline and clear of its holes, by their middles."""
    layout = next(layout for layout in prepared.layouts if layout.face.side == side)
    high, wide = look.picture.shape[:2]
    x = (np.arange(wide) + 0.5 - wide / 2) * MM / DPI
    y = (high / 2 - np.arange(high) - 0.5) * MM / DPI
    area = face_region(layout).buffer(-0.1)
    for hole in layout.face.holes:
        area = area.difference(shapely.Point(hole.x, hole.y).buffer(hole.d / 2 + 0.1))
    return shapely.contains_xy(area, x[None, :], y[:, None])


@pytest.mark.parametrize("side", ["top", "back"])
def test_the_example_after_every_coat(side: str) -> None:
    path = FOLDER / "drift-line.toml"
    prepared, work = seen_and_made(path, DPI)
    layout = next(layout for layout in prepared.layouts if layout.face.side == side)
    before = None
    for number in range(len(prepared.job.coats) + 1):
        look = coat_look(prepared.job, layout, number, DPI, prepared.masks)
        wanted = sprayed(work, side, number, (look.picture.shape[1], look.picture.shape[0]))
        counted = clear_of_edges(prepared, side, look)
        assert counted.mean() > 0.75
        assert alike(look.picture, wanted, counted) >= ENOUGH
        assert look.film is None
        if number in (1, 2) or (number in (3, 4) and side == "top"):
            assert before is not None
            assert alike(before, wanted, counted) < ENOUGH  # the coat before would be refused
        before = look.picture


@pytest.mark.parametrize("seed", range(6))
def test_stacks_made_by_chance(tmp_path: Path, seed: int) -> None:
    """Bands, circles, polygons, legends kept and sprayed, stencils with their bridges, primers and clear coats."""
    path = lay(tmp_path, stack(seed))
    prepared, work = seen_and_made(path, DPI)
    for number in range(len(prepared.job.coats) + 1):
        look = coat_look(prepared.job, prepared.layouts[0], number, DPI, prepared.masks)
        wanted = sprayed(work, "top", number, (look.picture.shape[1], look.picture.shape[0]))
        assert alike(look.picture, wanted, clear_of_edges(prepared, "top", look)) >= ENOUGH


@pytest.mark.parametrize("seed", range(6))
def test_coats_look_as_the_map_of_colours_says(tmp_path: Path, seed: int) -> None:
    """At places well within one colour of `colour_map.after` that colour is seen."""
    prepared = prepare(lay(tmp_path, stack(100 + seed)))
    layout, chance = prepared.layouts[0], random.Random(seed)
    coats, face = as_cut(prepared.layouts[0], prepared.job, prepared.masks), face_region(prepared.layouts[0])
    holes = shapely.union_all([shapely.Point(h.x, h.y).buffer(h.d / 2) for h in layout.face.holes])
    for number in range(len(prepared.job.coats) + 1):
        look = coat_look(prepared.job, layout, number, DPI, prepared.masks)
        high, wide = look.picture.shape[:2]
        seen = 0
        for colour in after(face, coats, prepared.job.paint, number):
            inner = colour.area.buffer(-0.3).difference(holes.buffer(0.3))
            for _ in range(20):
                x, y = chance.uniform(-wide / 2, wide / 2) * MM / DPI, chance.uniform(-high / 2, high / 2) * MM / DPI
                if inner.contains(shapely.Point(x, y)):
                    seen += 1
                    pixel = look.picture[int(high / 2 - y * DPI / MM), int(wide / 2 + x * DPI / MM)]
                    assert (pixel == flat_colour(colour.paint)).all()
        assert seen > 3


def test_masks_are_worked_out_where_they_are_not_handed_in() -> None:
    prepared = prepare(FOLDER / "drift-line.toml")
    for number in range(len(prepared.job.coats) + 1):
        one = coat_look(prepared.job, prepared.layouts[0], number)
        assert np.array_equal(
            one.picture, coat_look(prepared.job, prepared.layouts[0], number, DPI, prepared.masks).picture
        )
    one, two = (face_look(prepared.job, prepared.layouts[0], DPI, masks) for masks in (None, prepared.masks))
    assert np.array_equal(one.picture, two.picture)


def test_all_five_sides_and_the_edges_take_the_coats_that_go_over_everything() -> None:
    prepared = prepare(FOLDER / "drift-line.toml")
    wanted = ["#c9ccca", "#8d9093", "#ece3cc", "#ece3cc", "#ece3cc", "#ece3cc"]
    for number, colour in enumerate(wanted):
        assert body_paint(prepared.job, number) == colour
        found = coat_looks(prepared, number)
        assert set(found) == set(SIDES)
        assert (found["left"].picture == flat_colour(colour)).all()


def test_a_coat_on_one_face_alone_leaves_the_others(tmp_path: Path) -> None:
    coat = '[[coat]]\npaint = "#a03020"\nside = "{}"\n'
    text = '[box]\nsize = [60, 40, 30]\npaint = "#202020"\n[[face]]\nside = "top"\n[[face]]\nside = "front"\n'
    prepared = prepare(lay(tmp_path, text + coat.format("front")))
    found = coat_looks(prepared, 1)
    top, front = (found[side].picture[60, 60] for side in ("top", "front"))
    assert (top == flat_colour("#202020")).all()
    assert (front == flat_colour("#a03020")).all()
    assert (found["back"].picture == flat_colour("#202020")).all()
