"""Where the title of a planned box stands: never as if it were a word of a label's, and mostly on the axis."""

from pathlib import Path

import numpy as np
import pytest

from facegraphic.job.load import read_job
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout, Legend
from facegraphic.pipeline.planning import plan_job
from facegraphic.planning import walls
from facegraphic.planning.model import Wish, space

# NUREG-0700 Rev 3, 11.4.1.5-7: words at least a character's width apart; 0.6 of its height is the least of that.
CHARACTER = 0.6
LISTS = {
    "four knobs": {"pots": 4, "footswitches": 1, "toggles": 1, "lamps": 1, "jacks": 2, "dc": 1},
    "six knobs": {"pots": 6, "footswitches": 1, "lamps": 1},
    "two knobs": {"pots": 2, "footswitches": 1, "lamps": 1, "jacks": 2, "dc": 1},
    "knobs alone": {"pots": 5, "jacks": 2},
    "two feet": {"pots": 4, "footswitches": 2, "lamps": 2, "toggles": 2, "jacks": 2, "dc": 1},
    "feet alone": {"footswitches": 2, "lamps": 2, "jacks": 3},
}
ON_AXIS = ["four knobs", "two knobs", "two feet", "feet alone"]


def title_of(layout: FaceLayout) -> tuple[Legend, list[Legend]]:
    (title,) = (legend for legend in layout.legends if legend.role == "text")
    return title, [legend for legend in layout.legends if legend is not title]


def top_of(name: str) -> FaceLayout:
    planned = plan_job(Path("tide.toml"), Wish(LISTS[name]))
    assert planned.titled
    job = read_job(planned.text, Path("tide.toml"))
    (top,) = (face for face in job.faces if face.side == "top")
    return lay_out(top, job.finish)


def wedged(title: Legend, others: list[Legend]) -> list[str]:
    """What stands on the title's line with less than a character's width between."""
    found = []
    for other in others:
        on_line = other.box.y0 < title.box.y1 and title.box.y0 < other.box.y1
        between = max(other.box.x0 - title.box.x1, title.box.x0 - other.box.x1)
        if on_line and between < CHARACTER * other.block.cap:
            found.append(other.name)
    return found


@pytest.mark.parametrize("name", LISTS)
def test_a_title_is_no_word_of_a_label(name: str) -> None:
    title, others = title_of(top_of(name))
    assert wedged(title, others) == []
    right = max(others, key=lambda other: other.box.x1)
    beside = title.moved(right.box.x0 - title.box.x1 - 0.8, right.box.centre[1] - title.box.centre[1])
    assert wedged(beside, others), "one that keeps the common gap alone would be seen"


@pytest.mark.parametrize("name", ON_AXIS)
def test_a_title_stands_on_the_axis_where_the_face_is_high_enough(name: str) -> None:
    title, _ = title_of(top_of(name))
    assert title.box.centre[0] == pytest.approx(0, abs=1e-6)


def test_blocks_that_clash_are_those_that_meet() -> None:
    """The table of all rows by all others against `meets`, asked row by row."""
    rng, gap = np.random.default_rng(5), space("inside")
    for rows, blocks, others, other_blocks in ((40, 3, 30, 2), (5, 0, 3, 2), (0, 2, 4, 1), (1, 1, 1, 1)):
        low = rng.integers(0, 30, (rows, blocks, 3)).astype(float)
        some = np.concatenate([low, low + rng.integers(1, 8, low.shape)], axis=-1)
        low = rng.integers(0, 30, (others, other_blocks, 3)).astype(float)
        more = np.concatenate([low, low + rng.integers(1, 8, low.shape)], axis=-1)
        asked = [[bool(walls.meets(one, other, gap).any()) for other in more] for one in some]
        found = walls._clash(some, more, gap)
        assert found.shape == (rows, others)
        assert found.tolist() == asked
        if rows == 40:
            assert found.any()
            assert not found.all()
