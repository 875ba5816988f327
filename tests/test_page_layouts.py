"""What the page does not work out again comes out the same as if it had."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.panels import random_panel
from hypothesis import given, settings
from hypothesis import strategies as st
from samples import FOLDER, JOBS

import facegraphic.page.layouts as remembered
from facegraphic.job.load import load_job, read_job
from facegraphic.job.model import Face, Finish
from facegraphic.layout.face import Arranged, arrange, lay_out
from facegraphic.page.layouts import KEPT, Layouts

EXAMPLES = [(face, job.finish) for job in (load_job(FOLDER / f"{name}.toml") for name in JOBS) for face in job.faces]


def panel(seed: int) -> tuple[Face, Finish]:
    job = read_job(random_panel(seed), Path("panel.toml"))
    return job.faces[0], job.finish


def nudged(face: Face, by: list[tuple[float, float]]) -> Face:
    moved = [replace(control, nudge=by[n % len(by)]) for n, control in enumerate(face.controls)]
    return replace(face, controls=tuple(moved))


nudges = st.lists(st.tuples(st.floats(-9, 9), st.floats(-9, 9)), min_size=1, max_size=5)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> list[Face]:
    """The faces that were placed anew."""
    seen: list[Face] = []

    def counting(face: Face, finish: Finish, earlier: Mapping[str, str] | None = None) -> Arranged:
        seen.append(face)
        return arrange(face, finish, earlier)

    monkeypatch.setattr(remembered, "arrange", counting)
    return seen


@settings(deadline=None, max_examples=20)
@given(st.sampled_from(EXAMPLES), nudges, nudges)
def test_nudged_examples(
    given: tuple[Face, Finish], first: list[tuple[float, float]], then: list[tuple[float, float]]
) -> None:
    face, finish = given
    layouts = Layouts()
    for by in (first, then, first):
        assert layouts.lay_out(nudged(face, by), finish) == lay_out(nudged(face, by), finish)


@pytest.mark.parametrize("seed", range(10))
def test_nudged_panels_with_frames_and_texts(seed: int) -> None:
    """Frames go by where labels stand, and texts find room round them, so both follow the nudges."""
    face, finish = panel(seed)
    job = read_job(
        random_panel(seed) + '[[face.text]]\ntext = "HERE"\nat = "auto"\n[[face.frame]]\nholes = ["h0"]\nlabel = "F"\n',
        Path("panel.toml"),
    )
    face = job.faces[0]
    layouts = Layouts()
    layouts.lay_out(face, finish)
    moved = nudged(face, [(2.0, 1.0), (-3.0, 0.5)])
    assert layouts.lay_out(moved, finish) == lay_out(moved, finish)


def test_only_nudges_are_spared(counted: list[Face]) -> None:
    face, finish = panel(3)
    layouts = Layouts()
    first = layouts.lay_out(face, finish)
    layouts.lay_out(nudged(face, [(1.0, 1.0)]), finish)
    assert len(counted) == 1
    other = replace(face, controls=(replace(face.controls[0], label="OTHER"), *face.controls[1:]))
    assert layouts.lay_out(other, finish) != first and len(counted) == 2
    assert layouts.lay_out(face, finish) == first and len(counted) == 2
    layouts.lay_out(face, replace(finish, gap=finish.gap + 0.1))
    assert len(counted) == 3
    layouts.lay_out(face, finish, {face.controls[0].hole: "above"})
    assert len(counted) == 4


def test_what_is_old_is_forgotten(counted: list[Face]) -> None:
    face, finish = panel(3)
    layouts = Layouts()
    for number in range(KEPT + 1):
        layouts.lay_out(face, replace(finish, ink=f"#0000{number:02x}"))
    layouts.lay_out(face, replace(finish, ink="#000001"))
    assert len(counted) == KEPT + 1
    layouts.lay_out(face, replace(finish, ink="#000000"))
    assert len(counted) == KEPT + 2


def test_nothing_that_is_remembered_grows() -> None:
    """A layout is built on a copy of what is remembered, which stays as it was."""
    face, finish = panel(5)
    layouts = Layouts()
    one = layouts.lay_out(face, finish)
    for _ in range(3):
        assert layouts.lay_out(face, finish) == one
