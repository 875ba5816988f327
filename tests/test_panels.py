"""Sixty random panels: nothing overlaps, every layout is proved best, and a search by hand finds no better one."""

import math
import random
from collections.abc import Iterator
from functools import cache
from itertools import combinations
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import shapely
from helpers.jobs import lay
from helpers.panels import random_panel
from helpers.runs import run_here

from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.load import load_job
from facegraphic.job.model import Face, Finish, Job
from facegraphic.layout import choose
from facegraphic.layout.cover import cover_region
from facegraphic.layout.face import lay_out
from facegraphic.layout.model import FaceLayout
from facegraphic.layout.placing import Placing
from facegraphic.layout.solver import Solution, cost_of
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, line_length

SEEDS = range(60)


def read(text: str) -> Job:
    with TemporaryDirectory() as folder:
        return load_job(lay(Path(folder), text))


@cache
def laid(seed: int) -> FaceLayout:
    job = read(random_panel(seed))
    return lay_out(job.faces[0], job.finish)


@cache
def placed(seed: int) -> Placing:
    """How the labels of a panel were placed, caught on its way."""
    caught: list[Placing] = []
    job = read(random_panel(seed))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "facegraphic.layout.face.place_labels", lambda *args: caught.append(choose.place_labels(*args)) or caught[0]
        )
        lay_out(job.faces[0], job.finish)
    return caught[0]


def overlaps(layout: FaceLayout) -> list[str]:
    """Labels that meet a hole, a cover, a mark, the margin or other lettering, on the outlines as they are filled."""
    labels = [(legend.name, region(legend.path)) for legend in layout.legends if legend.role == "label"]
    others = [(legend.name, region(legend.path)) for legend in layout.legends if legend.role != "label"]
    others += [(mark.role, region(mark.path)) for mark in layout.marks]
    face = layout.face
    others += [(f"hole {hole.id}", disc_region(hole.x, hole.y, hole.d)) for hole in face.holes]
    others += [(f"cover of {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]
    found = [f"{a} / {b}" for a, own in labels for b, other in others if own.intersects(other)]
    found += [f"{a} / {b}" for (a, own), (b, other) in combinations(labels, 2) if own.intersects(other)]
    inside = region(face.outline.grown(-2.5).path)
    return found + [f"{name} / margin" for name, own in labels if not inside.contains(own)]


@pytest.mark.parametrize("seed", SEEDS)
def test_nothing_overlaps_and_it_is_proved(seed: int) -> None:
    layout = laid(seed)
    assert overlaps(layout) == []
    assert layout.proof is not None
    assert layout.proof.proved
    # Every label stands, or is named.
    wanted = [control for control in layout.face.controls if control.label]
    there = [legend for legend in layout.legends if legend.role == "label"]
    unplaced = [f for f in layout.findings if f.code == "legend-no-room" and f.message.startswith("the label")]
    assert len(wanted) == len(there) + len(unplaced)


def test_the_panels_are_what_they_should_be() -> None:
    counts = [len(laid(seed).face.controls) for seed in SEEDS]
    assert min(counts) == 2
    assert max(counts) >= 12
    assert sum(len(laid(seed).face.controls) <= 6 for seed in SEEDS) >= 20


def test_an_overlap_is_seen() -> None:
    layout = laid(1)
    moved = tuple(legend.moved(0, 6) if legend.role == "label" else legend for legend in layout.legends)
    assert overlaps(FaceLayout(layout.face, layout.holes, moved, layout.marks, ()))


@pytest.mark.parametrize("seed", [seed for seed in SEEDS if len(laid(seed).face.controls) <= 6])
def test_a_search_of_all_choices_agrees(seed: int) -> None:
    placing = placed(seed)
    assert least_cost(placing) == pytest.approx(placing.solution.cost, abs=1e-6)
    assert cost_of(placing.problem, placing.solution.chosen) == pytest.approx(placing.solution.cost, abs=1e-9)
    labels = placing.solution.chosen[: len(placing.labels)]
    assert placing.cost(labels) == pytest.approx(placing.solution.cost, abs=1e-6)


def least_cost(placing: Placing) -> float:
    """Depth first through all choices, label by label, leaving branches that already cost more than the best."""
    problem, labels = placing.problem, placing.problem.items[: len(placing.labels)]
    together = {(pair.a, pair.b): pair.points for pair in placing.pairs}
    meets: dict[int, set[int]] = {}
    for a, b in problem.conflicts:
        meets.setdefault(a, set()).add(b)
        meets.setdefault(b, set()).add(a)
    values = [(agreement.weight, frozenset(value)) for agreement in problem.agreements for value in agreement.values]
    of = {c: [i for i, (_, value) in enumerate(values) if c in value] for item in labels for c in item}
    # What an item costs at least: shared values may have been paid for by others.
    floor = [min([problem.omission, *(problem.costs[c] for c in item)]) for item in labels]
    rest = [sum(floor[i:]) for i in range(len(floor) + 1)]
    best = problem.omission * len(labels)

    def search(number: int, cost: float, taken: frozenset[int], paid: frozenset[int]) -> None:
        nonlocal best
        if cost + rest[number] >= best - 1e-9:
            return
        if number == len(labels):
            best = cost
            return
        options = []
        for c in labels[number]:
            if not meets.get(c, set()) & taken:
                new = [i for i in of[c] if i not in paid]
                more = sum(together.get((min(c, t), max(c, t)), 0.0) for t in taken) + sum(values[i][0] for i in new)
                options.append((problem.costs[c] + more, c, frozenset(new)))
        for more, c, new_values in sorted(options, key=lambda option: (option[0], option[1])):
            search(number + 1, cost + more, taken | {c}, paid | new_values)
        search(number + 1, cost + problem.omission, taken, paid)

    search(0, 0.0, frozenset(), frozenset())
    return best


def test_a_worse_solution_is_seen() -> None:
    placing = placed(2)
    worse = Solution(placing.solution.chosen, placing.solution.cost + 0.01, 0.0)
    assert least_cost(placing) != pytest.approx(worse.cost, abs=1e-6)


@pytest.mark.parametrize("seed", SEEDS[::6])
def test_the_same_job_has_the_same_layout(seed: int) -> None:
    job = read(random_panel(seed))
    again = lay_out(job.faces[0], job.finish)
    assert [(legend.name, legend.box) for legend in again.legends] == [(x.name, x.box) for x in laid(seed).legends]


def pairs(layout: FaceLayout) -> Iterator[tuple[str, float, float]]:
    """Gaps sideways and upright between legends of which one at least is a label, in capital heights."""
    for a, b in combinations(layout.legends, 2):
        if "label" in (a.role, b.role) and "around" not in (a.place, b.place) and "under" not in (a.place, b.place):
            across = max(a.box.x0 - b.box.x1, b.box.x0 - a.box.x1)
            along = max(a.box.y0 - b.box.y1, b.box.y0 - a.box.y1)
            cap = min(a.block.cap, b.block.cap)
            yield f"{a.name} / {b.name}", across / cap, along / cap


@pytest.mark.parametrize("seed", SEEDS)
def test_legends_never_read_as_one(seed: int) -> None:
    """NUREG-0700 Rev 3, 11.4.1.5-7: words a character's width apart (3:5 of the height at least), lines half of it."""
    close = [name for name, across, along in pairs(laid(seed)) if across < 0.6 - 1e-6 and along < 0.5 - 1e-6]
    assert close == []


@pytest.mark.parametrize("seed", SEEDS)
def test_controls_never_cover_labels(seed: int) -> None:
    """MIL-STD-1472E 5.5.2: controls must not cover labels."""
    layout = laid(seed)
    covers = shapely.union_all([cover_region(h, layout.face.control(h.id)) for h in layout.face.holes])
    assert [legend.name for legend in layout.legends if region(legend.path).intersects(covers)] == []


def test_labels_of_a_kind_stand_alike_where_they_can(tmp_path: Path) -> None:
    """MIL-STD-1472E 5.5.2: labels have the same place relative to their items, all over."""
    holes = ", ".join(f'{{ id = "h{i}", at = [{x}, 10], d = 7.5 }}' for i, x in enumerate((-40, -14, 14, 40)))
    text = f'[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\nhole = [{holes}]\n'
    for i, (label, knob) in enumerate(zip(("LOW", "MIDDLE", "HIGH", "VOLUME"), (13, 19, 16, 13), strict=True)):
        text += f'[[face.control]]\nhole = "h{i}"\npart = "pot-16"\nknob = "round-{knob}"\nlabel = "{label}"\n'
    job = load_job(lay(tmp_path, text))
    legends = lay_out(job.faces[0], job.finish).legends
    assert {legend.place for legend in legends} == {"below"}
    assert {round(legend.block.cap, 6) for legend in legends} == {2.8}
    assert len({round(legend.block.body.y0, 6) for legend in legends}) == 1


@pytest.mark.parametrize("seed", SEEDS[::5])
def test_moving_a_hole_a_little_leaves_the_rest(seed: int) -> None:
    """With the last run's places known, a hole moved by 0.3 mm changes no other label's place."""
    layout = laid(seed)
    earlier = {x.hole: x.place for x in layout.legends if x.role == "label" and x.hole}
    dice = random.Random(seed)
    job = read(random_panel(seed))
    face = job.faces[0]
    moved = dice.choice(face.holes)
    holes = tuple(type(h)(h.id, h.x + 0.3, h.y - 0.2, h.d) if h is moved else h for h in face.holes)
    again = lay_out(type(face)(**{**vars(face), "holes": holes}), job.finish, earlier)
    now = {x.hole: x.place for x in again.legends if x.role == "label" and x.hole}
    changed = [hole for hole, place in now.items() if earlier.get(hole, place) != place and hole != moved.id]
    assert changed == []


def test_too_many_labels_are_named_and_none_dropped(tmp_path: Path) -> None:
    holes = ", ".join(f'{{ id = "h{i}", at = [{-12 + 8 * (i % 4)}, {16 - 8 * (i // 4)}], d = 3.1 }}' for i in range(20))
    text = f'[box]\nstock = "93x39x31"\n[[face]]\nside = "top"\nhole = [{holes}]\n'
    text += "".join(f'[[face.control]]\nhole = "h{i}"\nlabel = "LABEL NUMBER {i}"\n' for i in range(20))
    job = load_job(lay(tmp_path, text))
    layout = lay_out(job.faces[0], job.finish)
    there = {legend.hole for legend in layout.legends}
    told = {f.message.split(" of ")[1].split()[0] for f in layout.findings if f.code == "legend-no-room"}
    assert there | told == {f"h{i}" for i in range(20)}
    assert not there & told
    assert told


def test_a_refused_label_names_its_blocker_and_the_smallest_change(tmp_path: Path) -> None:
    text = '[box]\nsize = [60, 40, 30]\nedge = 0\ncorner = 0\ndraft = 0\n[finish]\nheight = 4\n[[face]]\nside = "top"\n'
    text += 'hole = [{ id = "a", at = [0, 0], d = 7.5 }]\n[[face.control]]\nhole = "a"\npart = "pot-16"\n'
    text += 'knob = "round-32"\nlabel = "REVERBERATOR"\n'
    said = [f for f in lay_out(*one_face(tmp_path, text)).findings if f.code == "legend-no-room"]
    assert len(said) == 1
    assert "it would meet the margin" in said[0].message
    assert "shorten it by" in said[0].remedy or "set it" in said[0].remedy


def one_face(folder: Path, text: str) -> tuple[Face, Finish]:
    job = load_job(lay(folder, text))
    return job.faces[0], job.finish


NARROW = (
    "[box]\nsize = [44, 60, 30]\nedge = 0\ncorner = 0\ndraft = 0\n[finish]\nheight = {cap}\n"
    'font = "tagstrip-condensed-regular"\n[[face]]\nside = "top"\nhole = [{{ id = "a", at = [0, {y}], d = 7.5 }}]\n'
    '[[face.control]]\nhole = "a"\npart = "pot-16"\nknob = "{knob}"\nlabel = "{label}"\n'
)


def refusals(folder: Path, **values: object) -> list[str]:
    """The advice for each label without room."""
    text = NARROW.format(**{"cap": 3, "y": 0, "knob": "round-25", "label": "M" * 30, **values})
    findings = lay_out(*one_face(folder, text)).findings
    return [finding.remedy for finding in findings if finding.code == "legend-no-room"]


def amount(advice: str, before: str) -> float:
    return float(advice.split(before)[1].split()[0])


def test_the_shortening_that_is_advised_is_enough_and_not_much_more(tmp_path: Path) -> None:
    (advice,) = refusals(tmp_path)
    least = 3 * 0.7
    style = Style(load_named("tagstrip-condensed-regular"), least)
    letter = line_length("MM", style) - line_length("M", style)
    fewer = math.ceil(amount(advice, "shorten it by ") / letter)
    assert refusals(tmp_path, label="M" * (30 - fewer)) == []
    assert refusals(tmp_path, label="M" * (30 - fewer + 1))


def test_the_height_that_is_advised_is_enough_and_not_much_less(tmp_path: Path) -> None:
    (advice,) = refusals(tmp_path)
    cap = amount(advice, "set it ")
    assert refusals(tmp_path, cap=cap) == []
    assert refusals(tmp_path, cap=(cap + 0.15) / 0.7)


def test_the_move_that_is_advised_is_enough_and_not_much_more(tmp_path: Path) -> None:
    # A long word that has no room beside the knob; above and below stand the margins, until the hole moves.
    narrow = {"knob": "round-32", "label": "MMMMMMMM", "cap": 4, "y": 0}
    narrow_box = NARROW.replace("[44, 60, 30]", "[44, 43, 30]")
    text = narrow_box.format(**narrow)
    said = [f.remedy for f in lay_out(*one_face(tmp_path, text)).findings if f.code == "legend-no-room"]
    assert len(said) == 1
    way = "up" if " mm up" in said[0] else "down"
    far = amount(said[0], "move hole a ") * (1 if way == "up" else -1)
    for share, stands in ((1.0, True), (0.7, False)):
        moved = narrow_box.format(**{**narrow, "y": far * share})
        left = [f for f in lay_out(*one_face(tmp_path, moved)).findings if f.code == "legend-no-room"]
        assert (left == []) is stands


def test_a_place_that_is_asked_for_is_kept_where_it_can_be(tmp_path: Path) -> None:
    base = '[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\nhole = [{{ id = "a", at = [0, 0], d = 7.5 }}]\n'
    base += '[[face.control]]\nhole = "a"\npart = "pot-16"\nlabel = "MIX"\nplace = "{place}"\n'
    for place in ("below", "above", "left", "right", "above-left", "below-right", "around", "under"):
        layout = lay_out(*one_face(tmp_path / place, base.format(place=place)))
        assert [legend.place for legend in layout.legends] == [place]
        assert not layout.findings


@pytest.mark.parametrize("fault", ["wide", "same holes", "no label"])
def test_odd_panels_are_told_or_made(tmp_path: Path, fault: str) -> None:
    holes = '{ id = "a", at = [0, 0], d = 7.5 }, { id = "b", at = [0, 0], d = 7.5 }'
    label = "W" * 60 if fault == "wide" else "MIX"
    body = '[[face.control]]\nhole = "a"\npart = "pot-16"\n'
    body += "" if fault == "no label" else f'label = "{label}"\n'
    if fault != "same holes":
        holes = holes.split(", {")[0]
    ran = run_here(
        "check", lay(tmp_path, f'[box]\nstock = "93x39x31"\n[[face]]\nside = "top"\nhole = [{holes}]\n{body}')
    )
    wanted = {"wide": "has no room", "same holes": "overlap", "no label": "nothing to mend"}[fault]
    assert wanted in ran.out + ran.err


def test_explain_gives_cost_runner_up_and_what_is_closed(tmp_path: Path) -> None:
    path = tmp_path / "panel.toml"
    path.write_text(random_panel(1), encoding="utf-8")
    ran = run_here("check", path, "--explain")
    assert "proved best" in ran.out
    for control in laid(1).face.controls:
        assert f'"{control.label}" of {control.hole}: ' in ran.out
    assert "the best other place: " in ran.out
    assert " is closed: " in ran.out


def test_a_frame_may_stand_within_another(tmp_path: Path) -> None:
    text = '[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\n'
    text += 'hole = [{ id = "a", at = [-20, 0], d = 7.5 }, { id = "b", at = [20, 0], d = 7.5 }]\n'
    text += "".join(f'[[face.control]]\nhole = "{h}"\npart = "pot-16"\nlabel = "{h}MIX"\n' for h in "ab")
    text += '[[face.frame]]\nholes = ["a", "b"]\nlabel = "ALL"\n[[face.frame]]\nholes = ["a"]\n'
    layout = lay_out(*one_face(tmp_path, text))
    assert {legend.hole for legend in layout.legends if legend.role == "label"} == {"a", "b"}


def test_a_layout_without_a_fault_costs_next_to_nothing(tmp_path: Path) -> None:
    holes = ", ".join(f'{{ id = "h{i}", at = [{x}, 0], d = 7.5 }}' for i, x in enumerate((-30, 0, 30)))
    text = f'[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\nhole = [{holes}]\n'
    text += "".join(f'[[face.control]]\nhole = "h{i}"\npart = "pot-16"\nlabel = "MIX"\n' for i in range(3))
    proof = lay_out(*one_face(tmp_path, text)).proof
    assert proof is not None
    assert proof.cost < 0.5


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_row_on_an_empty_face_has_its_labels_below(tmp_path: Path, count: int) -> None:
    holes = ", ".join(f'{{ id = "h{i}", at = [{30 * i - 30}, 0], d = 7.5 }}' for i in range(count))
    text = f'[box]\nstock = "120x94x34"\n[[face]]\nside = "top"\nhole = [{holes}]\n'
    text += "".join(f'[[face.control]]\nhole = "h{i}"\npart = "pot-16"\nlabel = "MIX"\n' for i in range(count))
    assert {legend.place for legend in lay_out(*one_face(tmp_path, text)).legends} == {"below"}
