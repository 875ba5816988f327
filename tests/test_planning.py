"""Boxes laid out for numbers of parts: the job that is written, by the checks and by rules worked out here afresh."""

import json
import math
import re
import tomllib
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.part_lists import part_list
from helpers.runs import run_here, tree
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import ImageColor

from facegraphic.checks import inside
from facegraphic.errors import UserError
from facegraphic.job.load import read_job
from facegraphic.pipeline.planning import misread, plan_job
from facegraphic.pipeline.preparing import prepare_job
from facegraphic.planning.choose import choose, variants
from facegraphic.planning.model import Plan, Wish, items_of
from facegraphic.planning.words import job_text
from facegraphic.stock.tables import boxes, kinds, parts, spacings

WISHES = [
    {"pots": 4, "footswitches": 1, "toggles": 1, "lamps": 1, "jacks": 2, "dc": 1},
    {"pots": 1, "footswitches": 1, "lamps": 1},
    {"pots": 3, "footswitches": 2, "lamps": 2, "jacks": 3, "dc": 1},
    {"pots": 2, "rotaries": 1, "pushbuttons": 2, "jacks": 2},
]
STEMS = {
    "pot": "pots", "foot": "footswitches", "toggle": "toggles", "lamp": "lamps", "socket": "jacks", "dc": "dc",
    "rotary": "rotaries", "button": "pushbuttons",
}  # fmt: skip
wishes = st.fixed_dictionaries(
    {
        "pots": st.integers(0, 6),
        "footswitches": st.integers(0, 3),
        "toggles": st.integers(0, 3),
        "lamps": st.integers(0, 3),
        "jacks": st.integers(0, 4),
        "dc": st.integers(0, 1),
    }
).filter(lambda wish: any(wish.values()))


def words(wish: dict[str, int]) -> list[object]:
    return [word for kind, count in wish.items() for word in (f"--{kind}", count)]


def counted(job: dict[str, Any]) -> dict[str, int]:
    """How many controls of each kind a job has."""
    found: dict[str, int] = {}
    for face in job["face"]:
        for control in face["control"]:
            kind = STEMS[control["hole"].partition("-")[0]]
            found[kind] = found.get(kind, 0) + 1
    return found


def places(job: dict[str, Any], side: str) -> dict[str, tuple[float, float]]:
    return {hole["id"]: tuple(hole["at"]) for face in job["face"] if face["side"] == side for hole in face["hole"]}


def laid_well(job: dict[str, Any]) -> None:
    """Symmetrical by kind, feet near and 60 mm apart, lamps over feet, knobs 5 mm apart (common practice)."""
    top = places(job, "top")
    by_kind: dict[str, list[tuple[float, float]]] = {}
    for id, at in top.items():
        by_kind.setdefault(id.partition("-")[0], []).append(at)
    for spots in by_kind.values():
        assert {(-x, y) for x, y in spots} == set(spots)
    feet = by_kind.get("foot", [])
    assert all(math.dist(a, b) >= 60 for a, b in combinations(feet, 2))
    for id, (_, y) in top.items():
        assert id.startswith("foot") or all(y > foot[1] for foot in feet)
    for x, _ in by_kind.get("lamp", [])[: len(feet)] if len(by_kind.get("lamp", [])) == len(feet) else []:
        assert x in {foot[0] for foot in feet}
    knobs = {c["hole"]: c.get("knob", "") for face in job["face"] if face["side"] == "top" for c in face["control"]}
    across = {id: float(knob.rpartition("-")[2]) for id, knob in knobs.items() if knob}
    for one, other in combinations(across, 2):
        assert math.dist(top[one], top[other]) >= (across[one] + across[other]) / 2 + 5 - 1e-9


def text_of(plan: Plan) -> str:
    return job_text(plan, "a test", "Test", "waterslide-clear", 0.0)


@pytest.mark.parametrize("wish", WISHES, ids=str)
def test_new_writes_a_job_that_check_has_nothing_against(wish: dict[str, int], tmp_path: Path) -> None:
    ran = run_here("new", tmp_path / "box", *words(wish))
    assert ran.status == 0, ran.err
    job = tomllib.loads((tmp_path / "box.toml").read_text(encoding="utf-8"))
    assert counted(job) == wish
    laid_well(job)
    findings = json.loads(run_here("check", tmp_path / "box.toml", "--json").out)
    assert {finding["severity"] for found in findings.values() for finding in found} <= {"note"}
    assert job["box"]["stock"] in ran.err
    made = run_here("make", tmp_path / "box.toml", "--only", "art", "--format", "png", "--dpi", "72", "--quiet")
    assert made.status == 0
    assert (tmp_path / "box-out" / "top-art.png").stat().st_size > 1000
    smaller = [box.name for box in boxes().values() if box.volume < boxes()[job["box"]["stock"]].volume]
    assert all(f"{name}: " in ran.err for name in smaller)


@given(wishes)
@settings(max_examples=6, deadline=None)
def test_any_wish_is_laid_out_by_the_rules_or_refused(wish: dict[str, int]) -> None:
    try:
        plan = choose(Wish(wish), lambda plan: "")
    except UserError as error:
        assert "not even the largest, 188x120x37" in str(error)
        return
    text = text_of(plan)
    job = tomllib.loads(text)
    assert counted(job) == {kind: count for kind, count in wish.items() if count}
    laid_well(job)
    read = read_job(text, Path("box.toml"))
    assert list(inside.parts_meet_inside(read)) == []
    assert list(inside.part_meets_box(read)) == []
    for face in read.faces:
        for hole in face.holes:
            assert abs(hole.y) + hole.d / 2 + 2 <= face.outline.height / 2 + 1e-9
            assert abs(hole.x) + hole.d / 2 + 2 <= max(face.outline.bottom, face.outline.top) / 2


@given(
    st.fixed_dictionaries({"pots": st.integers(0, 6), "footswitches": st.integers(0, 2), "jacks": st.integers(0, 3)}),
    st.sampled_from(["pots", "jacks", "footswitches"]),
)
@settings(max_examples=8, deadline=None)
def test_one_part_more_never_takes_a_smaller_box(wish: dict[str, int], more: str) -> None:
    """For rows of one kind: an odd part out may cost a mixed row its symmetry, and with it a row of its own."""

    def volume(counts: dict[str, int]) -> float:
        try:
            return choose(Wish(counts), lambda plan: "").box.volume
        except UserError:
            return math.inf

    assert volume({**wish, more: wish[more] + 1}) >= volume(wish)


USUAL = {"93x39x31", "112x60x31", "122x66x40", "120x94x34"}  # the four usual die-cast boxes (common practice)


def test_two_feet_alone() -> None:
    """Two footswitches side by side lead to the widest of the four usual boxes (common practice)."""
    assert set(boxes()) > USUAL
    widest = max(USUAL, key=lambda name: min(boxes()[name].size[:2]))
    plan = choose(Wish({"footswitches": 2}), lambda plan: "")
    assert plan.box.name == widest == "120x94x34"
    assert plan.across > plan.deep
    assert [name for name, _ in plan.refused] == ["93x39x31", "112x60x31", "122x66x40"]
    assert all("want the widest of the four usual boxes" in why and "common practice" in why for _, why in plan.refused)


@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_two_feet_never_get_less_than_the_widest_usual_box(seed: int) -> None:
    """Whatever else is asked for, and a smaller box is refused even when it is named (common practice)."""
    counts = part_list(seed)
    assert counts["footswitches"] == 2
    with pytest.raises(UserError, match="want the widest of the four usual boxes"):
        choose(Wish(counts, box="122x66x40"), lambda plan: "")
    try:
        plan = choose(Wish(counts), lambda plan: "")
    except UserError as error:
        assert "not even the largest" in str(error)
        return
    narrow = min(boxes()["120x94x34"].size[:2])
    assert plan.box.name == "120x94x34" or min(plan.box.size[:2]) > narrow
    by_rule = {name for name, why in plan.refused if "want the widest of the four usual boxes" in why}
    assert by_rule == USUAL - {"120x94x34"}


def test_three_feet_by_hand() -> None:
    """Two washers of 18 mm, 120 mm apart, 2.5 mm from the edges: 143 mm; the next smaller face has 139."""
    plan = choose(Wish({"footswitches": 3}), lambda plan: "")
    assert plan.box.name == "188x120x37"
    assert [name for name, _ in plan.refused] == ["93x39x31", "112x60x31", "122x66x40", "120x94x34", "145x121x39"]
    assert all("need 143 mm" in why for name, why in plan.refused if name in ("120x94x34", "145x121x39"))


@pytest.mark.parametrize("seed", range(8))
def test_seeded_lists_pass_the_checks(seed: int) -> None:
    """The job of each list has nothing worse than a note: the first 20 of the 200 of benchmarks/planning.py."""
    counts = part_list(seed)
    try:
        planned = plan_job(Path("box.toml"), Wish(counts))
    except UserError as error:
        assert "not even the largest, 188x120x37" in str(error)
        return
    job = tomllib.loads(planned.text)
    assert counted(job) == counts
    laid_well(job)
    prepared = prepare_job(read_job(planned.text, Path("box.toml")))
    assert [str(finding) for finding in prepared.findings if finding.severity != "note"] == []
    names = [control["label"] for face in job["face"] for control in face["control"] if "label" in control]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("feet", [2, 3])
def test_labels_of_feet_are_theirs(feet: int) -> None:
    """Full size, and their middle nearer to their footswitch's than to that of any other part."""
    planned = plan_job(Path("box.toml"), Wish({"pots": 2, "footswitches": feet, "lamps": feet, "jacks": 2, "dc": 1}))
    job = read_job(planned.text, Path("box.toml"))
    top = next(layout for layout in prepare_job(job).layouts if layout.face.side == "top")
    labels = [legend for legend in top.legends if (legend.hole or "").startswith("foot")]
    assert [legend.text for legend in labels] == ["A", "B", "C"][:feet]
    for legend in labels:
        near = min(top.face.holes, key=lambda hole: math.dist((hole.x, hole.y), legend.box.centre))
        assert near.id == legend.hole
        control = top.face.control(near.id)
        assert control is not None
        assert legend.box.height == pytest.approx(control.cap, rel=0.06)  # round letters overshoot a little


def test_a_label_that_reads_as_another_parts_is_seen() -> None:
    """The lamp that stood above footswitch A is brought to the place of A's label."""
    text = plan_job(Path("box.toml"), Wish({"footswitches": 2, "lamps": 2})).text
    layouts = prepare_job(read_job(text, Path("box.toml"))).layouts
    top = next(layout for layout in layouts if layout.face.side == "top")
    assert list(misread(top)) == []
    label = next(legend for legend in top.legends if legend.hole == "foot-1")
    x, y = label.box.centre
    holes = tuple(replace(hole, x=x, y=y) if hole.id == "lamp-1" else hole for hole in top.face.holes)
    moved = replace(top, face=replace(top.face, holes=holes))
    assert list(misread(moved)) == ['"A" of foot-1 would stand nearer to lamp-1']


@pytest.mark.parametrize("more", [{"pots": 4, "toggles": 1}, {"pots": 1}, {"pots": 2, "rotaries": 1}], ids=str)
def test_sockets_on_both_sides_face_each_other(more: dict[str, int]) -> None:
    """There is room in these boxes (common practice: both as far from the front)."""
    text = plan_job(Path("box.toml"), Wish({**more, "lamps": 1, "footswitches": 1, "jacks": 2, "dc": 1})).text
    (right,), (left,) = (
        [at for id, at in places(tomllib.loads(text), side).items() if id.startswith("socket")]
        for side in ("right", "left")
    )
    assert (-left[0], left[1]) == right


@pytest.mark.parametrize("kind", list(kinds()))
def test_placeholders_are_distinct_and_alike(kind: str) -> None:
    for count in range(1, 13):
        items = items_of(Wish({kind: count}), next(variants(Wish({kind: count}))))[kind]
        labels = [item.label for item in items]
        if kind == "lamps":
            assert set(labels) == {""}
            continue
        assert len(set(labels)) == count
        numbered = [label.rpartition(" ")[0] for label in labels if label.rpartition(" ")[2].isdecimal()]
        assert numbered in ([], [numbered[0]] * count if numbered else [])
    if kind == "dc":
        assert labels == [f"9 V {n}" for n in range(1, 13)]


def test_many_parts_are_answered(tmp_path: Path) -> None:
    """36 parts and a dozen rotary switches: their rows are higher than the largest face."""
    ran = run_here("new", tmp_path / "box", "--pots", 12, "--toggles", 12, "--lamps", 12, "--rotaries", 12)
    assert (ran.status, ran.out) == (1, "")
    assert "no stock box does, not even the largest, 188x120x37: " in ran.err
    assert tree(tmp_path) == {}


@pytest.mark.parametrize("name", ["", ".toml", ".", "..", "  "])
def test_a_name_that_is_none_is_told(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for more in ([], ["--pots", 1]):
        ran = run_here("new", name, *more)
        assert (ran.status, ran.out) == (1, "")
        assert "the job file has no name" in ran.err
        assert "facegraphic new my-box" in ran.err
    assert tree(tmp_path) == {}


class Search:
    """Looks for a place for discs on a face, symmetrical about its axis: random starts, the best ones then shaken.

    Singles stand on the axis, pairs beside it. Knows nothing of rows; distances are worked out here.
    """

    def __init__(self, radii: list[float], apart: np.ndarray, lower: list[bool]) -> None:
        self.radii, self.apart, self.lower = np.array(radii), apart, np.array(lower)

    def misses(self, at: np.ndarray, width: float, height: float) -> np.ndarray:
        """The largest miss of each of some (n, discs, 2) placings; 0 or less when all is well."""
        edge = self.radii + 2.5
        off = np.maximum(np.abs(at[..., 0]) + edge - width / 2, np.abs(at[..., 1]) + edge - height / 2).max(axis=1)
        for i in np.flatnonzero(~self.lower):
            # A body reaches 8.25 mm up and 12.75 down from its shaft; the room inside ends a wall of 2 mm and half a
            # millimetre of air behind the rim, and up to 1.4 mm sooner where the walls lean in: 1.1 mm inside the flat.
            x, y = at[:, i].T
            off = np.maximum(off, np.abs(x) + 8.25 + 1.1 - width / 2)
            off = np.maximum(off, np.maximum(y + 8.25, 12.75 - y) + 1.1 - height / 2)
            if not self.lower.any():
                off = np.maximum(off, 6.5 + 2.5 + 4.4 - y - height / 2)  # room for its label
        for i, low in enumerate(self.lower):
            # Screw posts of 5 mm and more fill the corners of that room; a footswitch is 17.5 × 18.5 mm.
            x, y = at[:, i].T
            side, end = (
                (np.abs(x) + 8.75, np.abs(y) + 9.25) if low else (np.abs(x) + 8.25, np.maximum(y + 8.25, 12.75 - y))
            )
            off = np.maximum(off, np.minimum(side - width / 2, end - height / 2) + 6.1)
        for i, j in combinations(range(len(self.radii)), 2):
            off = np.maximum(off, self.apart[i, j] - np.hypot(*(at[:, i] - at[:, j]).T))
            dx, dy = np.abs(at[:, i] - at[:, j]).T
            if not self.lower[i] and not self.lower[j]:
                # Bodies of 16.5 × 21 mm, half a millimetre apart, one way or the other.
                off = np.maximum(off, np.minimum(17.0 - dx, 21.5 - dy))
            if self.lower[i] != self.lower[j]:
                foot, other = (i, j) if self.lower[i] else (j, i)
                off = np.maximum(off, at[:, foot, 1] - at[:, other, 1])
        return off

    def least(self, width: float, height: float, twins: list[tuple[int, ...]], seed: int = 1) -> float:
        """`twins`: each a single, or a pair that mirrors each other."""
        dice = np.random.default_rng(seed)

        def mirrored(at: np.ndarray) -> np.ndarray:
            for twin in twins:
                if len(twin) == 1:
                    at[:, twin[0], 0] = 0
                else:
                    at[:, twin[1]] = at[:, twin[0]] * (-1, 1)
            return at

        count = len(self.radii)
        at = mirrored(dice.uniform(-0.5, 0.5, (20_000, count, 2)) * (width, height))
        at = at[np.argsort(self.misses(at, width, height))[:200]]
        best = self.misses(at, width, height)
        for step in np.geomspace(8, 0.02, 300):
            tried = mirrored(at + dice.normal(0, step, at.shape) * (dice.random((len(at), count, 1)) < 0.5))
            off = self.misses(tried, width, height)
            better = off < best
            at[better], best[better] = tried[better], off[better]
        self.best = at[best.argmin()]
        return float(best.min())


def knobs_and_feet(knobs: int, feet: int) -> tuple[Search, list[list[tuple[int, ...]]]]:
    """13 mm knobs, 18 mm washers: 13 + 5 between knobs, 6.5 + 20 to a foot, 60 between feet (spacing table)."""
    lower = [False] * knobs + [True] * feet
    radii = [9.0 if low else 6.5 for low in lower]
    apart = np.array([[60.0 if a and b else 26.5 if a or b else 18.0 for b in lower] for a in lower])
    ways = []
    for singles in range(knobs % 2, knobs + 1, 2):
        pairs = [(i, i + 1) for i in range(singles, knobs, 2)]
        near = [(knobs,)] if feet == 1 else [(knobs, knobs + 1)]
        ways.append([*((i,) for i in range(singles)), *pairs, *(near if feet else [])])
    return Search(radii, apart, lower), ways


@pytest.mark.parametrize(("knobs", "feet"), [(4, 1), (2, 1), (6, 0), (6, 2)])
def test_no_smaller_face_would_do(knobs: int, feet: int) -> None:
    """An independent search finds no place in any smaller box, and finds one in the box that was chosen."""
    plan = choose(Wish({"pots": knobs, "footswitches": feet}), lambda plan: "")
    search, ways = knobs_and_feet(knobs, feet)

    def least(name: str) -> float:
        # The flat of the top: both lengths less 2·(height·tan 2° + edge·tan 44°), plain trigonometry.
        box = boxes()[name]
        inset = 2 * (box.size[2] * math.tan(math.radians(2)) + box.edge * math.tan(math.radians(44)))
        length, width = box.size[0] - inset, box.size[1] - inset
        return min(search.least(*face, way) for way in ways for face in ((length, width), (width, length)))

    assert least(plan.box.name) <= 0.01
    for name, why in plan.refused:
        if "common practice" not in why:
            assert least(name) > -0.5, name  # holes are planned on half millimetres


def test_a_wish_that_no_box_holds_is_told(tmp_path: Path) -> None:
    ran = run_here("new", tmp_path / "box", "--footswitches", 4)
    assert (ran.status, ran.out) == (1, "")
    assert "4 footswitches: no stock box does, not even the largest, 188x120x37: " in ran.err
    assert "4 footswitches side by side need 203 mm" in ran.err  # 3 · 60 + 18 + 5
    assert "ask for fewer parts" in ran.err
    assert tree(tmp_path) == {}


def test_a_forced_box_is_taken_or_refused(tmp_path: Path) -> None:
    assert run_here("new", tmp_path / "a", "--pots", 1, "--box", "120x94x34", "--knob", "round-25").status == 0
    text = (tmp_path / "a.toml").read_text(encoding="utf-8")
    assert 'stock = "120x94x34"' in text
    assert 'knob = "round-25"' in text
    assert run_here("new", tmp_path / "c", "--pots", 1, "--knob", "none").status == 0
    assert 'knob = "none"' in (tmp_path / "c.toml").read_text(encoding="utf-8")
    ran = run_here("new", tmp_path / "b", "--footswitches", 1, "--pots", 8, "--box", "93x39x31")
    assert ran.status == 1
    assert re.search("the box 93x39x31 does not hold them: .* need .* mm", ran.err)


def test_the_process_is_written(tmp_path: Path) -> None:
    assert run_here("new", tmp_path / "a", "--pots", 1, "--process", "toner-transfer").status == 0
    job = tomllib.loads((tmp_path / "a.toml").read_text(encoding="utf-8"))
    assert (job["finish"]["process"], job["finish"]["ink"]) == ("toner-transfer", "#000000")
    assert run_here("new", tmp_path / "b", "--pots", 1, "--process", "toner-resist").status == 0
    paints = [tomllib.loads((tmp_path / f"{name}.toml").read_text(encoding="utf-8"))["box"]["paint"] for name in "ab"]
    light, dark = (ImageColor.getcolor(paint, "L") for paint in paints)
    assert int(str(dark)) < 64 < 192 < int(str(light))  # etched lettering is bare metal: dark paint lies round it


@pytest.mark.parametrize(
    "asked", [["--pots", 0], ["--box", "112x60x31"], ["--pots", -1], ["--pots", 13], ["--box", "x"]]
)
def test_numbers_that_say_nothing_are_a_wrong_command_line(asked: list[object], tmp_path: Path) -> None:
    ran = run_here("new", tmp_path / "box", *asked)
    assert (ran.status, ran.out) == (2, "")
    assert tree(tmp_path) == {}


def test_a_planned_job_never_overwrites(tmp_path: Path) -> None:
    (tmp_path / "box.toml").write_text("mine")
    ran = run_here("new", tmp_path / "box", "--pots", 1)
    assert (ran.status, ran.out) == (1, "")
    assert "the file is there already" in ran.err
    assert tree(tmp_path) == {"box.toml": b"mine"}


def test_kinds_and_spacings_name_what_there_is() -> None:
    assert all(spacing.value > 0 and spacing.source for spacing in spacings().values())
    assert {kind.stem: name for name, kind in kinds().items()} == STEMS
    assert all(name in parts() for kind in kinds().values() for name in kind.part)
