"""The layout solver: against trying everything, on point labels, out of time, and beside wrong answers."""

import itertools
import math
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import highspy
import pytest
from benchmarks.point_labels import count_free, count_on_graph, label_problem, measure, min_degree, points
from hypothesis import example, given, settings
from hypothesis import strategies as st

from facegraphic.layout import solver
from facegraphic.layout.cliques import bits, clique_rows, maximal_cliques
from facegraphic.layout.reduction import Reduced, reduce_problem
from facegraphic.layout.solver import Agreement, Problem, check_choice, cost_of, solve

# Whole and half costs, so that ties and equal candidates are common.
COSTS = st.sampled_from([0.0, 0.0, 0.5, 1.0, 1.0, 2.0, 3.5, 7.0])


@st.composite
def problems(draw: st.DrawFn, costs: st.SearchStrategy[float] = COSTS) -> Problem:
    """Up to five items with up to four candidates each, some items with none."""
    sizes = draw(st.lists(st.integers(0, 4), max_size=5))
    starts = [0, *itertools.accumulate(sizes)]
    items = tuple(tuple(range(start, start + size)) for start, size in zip(starts, sizes, strict=False))
    everyone = range(starts[-1])
    pairs = list(itertools.combinations(everyone, 2))
    share = draw(st.sampled_from([0.1, 0.3, 0.6]))
    conflicts = tuple(pair for pair in pairs if draw(st.floats(0, 1)) < share)
    agreements = []
    for _ in range(draw(st.integers(0, 2)) if everyone else 0):
        some = st.lists(st.sampled_from(everyone), min_size=1, max_size=4, unique=True).map(tuple)
        agreements.append(Agreement(draw(costs), tuple(draw(st.lists(some, min_size=1, max_size=3)))))
    prices = tuple(draw(costs) for _ in everyone)
    return Problem(items, prices, conflicts, draw(st.sampled_from([0.0, 1.0, 5.0, 1000.0])), tuple(agreements))


def price(problem: Problem, chosen: Sequence[int | None]) -> float:
    """The cost of a choice, summed here without the solver's help."""
    total = 0.0
    for one in chosen:
        total += problem.omission if one is None else problem.costs[one]
    for agreement in problem.agreements:
        total += agreement.weight * sum(1 for value in agreement.values if set(value) & set(chosen))
    return total


def clashes(problem: Problem, chosen: Sequence[int | None]) -> bool:
    return any(one in chosen and other in chosen for one, other in problem.conflicts)


def least(problem: Problem) -> float:
    """The least cost, by trying every choice."""
    ways = itertools.product(*[(*item, None) for item in problem.items])
    return min(price(problem, chosen) for chosen in ways if not clashes(problem, chosen))


def reduced(problem: Problem) -> Reduced:
    values = [(agreement.weight, value) for agreement in problem.agreements for value in agreement.values]
    return reduce_problem(problem.items, problem.costs, problem.conflicts, problem.omission, values)


@settings(max_examples=300, deadline=None)
@given(problems())
@example(Problem((), (), ()))
@example(Problem(((),), (), ()))
@example(Problem(((0,), (), (1,)), (1.0, 2.0), ((0, 1),), 1000.0, (Agreement(3.0, ((0, 1),)),)))
def test_costs_as_little_as_the_best_of_all_choices(problem: Problem) -> None:
    solution = solve(problem)
    check_choice(problem, solution.chosen)
    assert not clashes(problem, solution.chosen)
    assert all(one is None or one in item for one, item in zip(solution.chosen, problem.items, strict=True))
    assert solution.cost == cost_of(problem, solution.chosen)
    assert solution.cost == pytest.approx(price(problem, solution.chosen), abs=1e-9)
    assert solution.cost == pytest.approx(least(problem), abs=1e-6)
    assert solution.proved and solution.bound <= solution.cost


@settings(max_examples=150, deadline=None)
@given(problems(st.floats(0, 10).map(lambda cost: round(cost, 3))))
def test_uneven_costs_are_solved_as_well(problem: Problem) -> None:
    assert solve(problem).cost == pytest.approx(least(problem), abs=1e-6)


@settings(max_examples=300, deadline=None)
@given(problems())
def test_reductions_keep_a_best_choice(problem: Problem) -> None:
    rest = reduced(problem)
    total = rest.cost
    for part in rest.parts:
        pairs = tuple((one, other) for one, near in enumerate(part.near) for other in bits(near) if one < other)
        shared = tuple(Agreement(weight, (users,)) for weight, users in part.values)
        alone = Problem(part.items, part.costs, pairs, problem.omission, shared)
        total += least(alone)
        assert [len(again.names) for again in reduced(alone).parts] == [len(part.names)]  # nothing more to reduce
    assert total == pytest.approx(least(problem), abs=1e-9)


def test_reductions_decide_what_is_easy() -> None:
    # A cheapest candidate that nothing bars; one that is barred more and costs more; one dearer than leaving it out.
    easy = Problem(((0, 1), (2, 3), (4,)), (1.0, 2.0, 0.0, 0.0, 9.0), ((1, 2), (3, 4)), omission=8.0)
    rest = reduced(easy)
    assert (rest.taken, rest.parts, rest.cost) == ((0, 2), (), 9.0)


def test_parts_hang_together_by_conflicts_and_values_only() -> None:
    ring = [(0, 2), (2, 4), (4, 0), (1, 3), (3, 5), (5, 1)]  # three items that all want to differ
    twice = Problem(
        tuple((2 * item, 2 * item + 1) for item in range(6)),
        (0.0,) * 12,
        tuple(ring + [(one + 6, other + 6) for one, other in ring]),
    )
    assert [part.names for part in reduced(twice).parts] == [tuple(range(6)), tuple(range(6, 12))]
    joined = replace(twice, agreements=(Agreement(1.0, ((0, 6),)),))
    assert [part.names for part in reduced(joined).parts] == [tuple(range(12))]
    assert solve(joined).cost == least(joined) == 2000.0


def test_things_agree_when_that_pays() -> None:
    # Item 0 must take value b; the others follow when the weight is more than the detour.
    items, costs = ((0,), (1, 2), (3, 4)), (0.0, 0.0, 1.0, 0.0, 1.0)
    for weight, chosen, cost in ((5.0, (0, 2, 4), 7.0), (1.0, (0, 1, 3), 2.0)):
        agreement = Agreement(weight, ((1, 3), (0, 2, 4)))
        solution = solve(Problem(items, costs, (), agreements=(agreement,)))
        assert (solution.chosen, solution.cost) == (chosen, cost)


@pytest.mark.parametrize(
    ("wrong", "why"),
    [((0, 2), "in conflict"), ((2, 1), "has no candidate"), ((0,), "1 choices for 2"), ((0, 7), "has no candidate")],
)
def test_wrong_choices_are_rejected(wrong: tuple[int, ...], why: str) -> None:
    problem = Problem(((0, 1), (2, 3)), (0.0,) * 4, ((0, 2),))
    check_choice(problem, (0, 3))
    check_choice(problem, (None, 2))
    with pytest.raises(ValueError, match=why):
        check_choice(problem, wrong)


def hard() -> Problem:
    """A map of which the reductions leave a good deal."""
    problem = label_problem(points(750, 0))
    assert sum(len(part.names) for part in reduced(problem).parts) > 200
    return problem


@pytest.mark.parametrize("bound", [-math.inf, 0.0, 1e6])
def test_a_false_answer_of_the_program_is_not_passed_on(monkeypatch: pytest.MonkeyPatch, bound: float) -> None:
    problem, honest = hard(), solve(hard())
    monkeypatch.setattr(solver, "_run", lambda lp, count, end: (list(range(count)), bound))
    solution = solve(problem)
    check_choice(problem, solution.chosen)
    assert solution.bound <= honest.cost <= solution.cost
    assert not solution.proved and solution.gap > 0


def test_a_program_that_cannot_be_solved_yields_nothing() -> None:
    part = reduced(hard()).parts[0]
    end = time.thread_time() + 60.0
    assert solver._run(solver._model(part, 1.0), len(part.names), end)[0]
    impossible = solver._model(part, 1.0)
    impossible.row_lower_ = impossible.row_upper_ = [float(len(part.names) + 1)] * impossible.num_row_
    assert solver._run(impossible, len(part.names), end) == ([], -math.inf)
    broken = solver._model(part, 1.0)
    broken.a_matrix_.index_ = [broken.num_col_] * len(broken.a_matrix_.index_)  # a column that is not there
    assert solver._run(broken, len(part.names), end) == ([], -math.inf)


def test_another_number_of_threads_elsewhere_does_no_harm() -> None:
    highspy.Highs.resetGlobalScheduler(True)  # what the tests before this one left
    other = highspy.Highs()
    other.silent()
    other.setOptionValue("threads", 2)
    column = other.addBinary(obj=-1.0)
    assert other.run() == highspy.HighsStatus.kOk and other.val(column) == 1.0
    try:
        assert solve(hard()).proved
    finally:
        highspy.Highs.resetGlobalScheduler(True)


def test_what_else_the_machine_does_changes_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The clock runs on while other programs have the processor: as if HiGHS were stopped before it began."""
    allowed: list[float] = []
    once = solver._run_once

    def on_a_busy_machine(lp: highspy.HighsLp, count: int, seconds: float) -> solver._Result:
        allowed.append(seconds)
        return once(lp, count, seconds if len(allowed) % 3 == 0 else 0.0)

    alone = solve(hard())
    monkeypatch.setattr(solver, "_run_once", on_a_busy_machine)
    assert solve(hard()) == alone and alone.proved
    assert len(allowed) >= 3 and allowed[0] <= 10.0 < allowed[1] < allowed[2]


@pytest.mark.parametrize("seconds", [0.0, 1e-6, 0.02, 0.1])
def test_out_of_time_there_is_still_a_choice(seconds: float) -> None:
    problem = label_problem(points(1000, 0))
    solution = solve(problem, seconds)
    check_choice(problem, solution.chosen)
    assert solution.cost == pytest.approx(price(problem, solution.chosen))
    assert 0 <= solution.bound <= solution.cost
    assert solution.proved == (solution.cost - solution.bound <= 1e-6 * solution.cost)
    assert solution.chosen.count(None) < 200  # the greedy start at the least


def test_the_same_problem_has_the_same_solution_whatever_the_hash_seed() -> None:
    tests = Path(__file__).parent
    program = (
        "from dataclasses import replace;"
        "from benchmarks.point_labels import label_problem, points;"
        "from facegraphic.layout.solver import Agreement, solve;"
        "problem = label_problem(points(500, 2));"
        "values = tuple(tuple(range(corner, 400, 4)) for corner in range(4));"
        "print(solve(replace(problem, omission=50.0, agreements=(Agreement(0.5, values),)), 60.0))"
    )
    said = set()
    for seed in ("0", "1", "77"):
        path = os.pathsep.join([str(tests), str(tests.parent)])
        environment = {**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": path}
        command = [sys.executable, "-c", program]
        said.add(subprocess.run(command, env=environment, check=True, capture_output=True, text=True).stdout)
    assert len(said) == 1
    assert said.pop().startswith("Solution(chosen=(")  # and nothing else is printed, by HiGHS for one


BAD = {
    "candidates": Problem(((0,), (0, 1)), (0.0, 0.0), ()),
    "one cost each": Problem(((0, 1),), (0.0,), ()),
    "not negative": Problem(((0,),), (-1.0,), ()),
    "finite": Problem(((0,),), (math.nan,), ()),
    "with itself": Problem(((0,),), (0.0,), ((0, 0),)),
    "a conflict": Problem(((0,),), (0.0,), ((0, 1),)),
    "an agreement": Problem(((0,),), (0.0,), (), agreements=(Agreement(1.0, ((-1,),)),)),
}


@pytest.mark.parametrize("why", BAD)
def test_a_problem_that_makes_no_sense_is_refused(why: str) -> None:
    with pytest.raises(ValueError, match=why):
        solve(BAD[why])


def test_nothing_to_choose_costs_nothing_and_an_item_without_candidates_is_left_out() -> None:
    nothing = solve(Problem((), (), ()))
    assert (nothing.chosen, nothing.cost, nothing.proved, nothing.gap) == ((), 0.0, True, 0.0)
    lone = solve(Problem(((), (0,)), (2.0,), (), omission=30.0))
    assert (lone.chosen, lone.cost, lone.bound) == ((None, 0), 32.0, 32.0)


@settings(max_examples=200, deadline=None)
@given(st.integers(1, 9), st.data())
def test_all_maximal_cliques_are_found_and_fewer_still_cover_every_edge(count: int, data: st.DataObject) -> None:
    pairs = list(itertools.combinations(range(count), 2))
    edges = data.draw(st.sets(st.sampled_from(pairs))) if pairs else set()
    near = [sum(1 << other for other in range(count) if {(one, other), (other, one)} & edges) for one in range(count)]
    subsets = [set(bits(mask)) for mask in range(1, 1 << count)]
    cliques = [some for some in subsets if all(pair in edges for pair in itertools.combinations(sorted(some), 2))]
    maximal = [some for some in cliques if not any(some < other for other in cliques)]
    found = [set(bits(mask)) for mask in maximal_cliques(near)]
    assert sorted(map(sorted, found)) == sorted(map(sorted, maximal))
    cover = [set(bits(mask)) for mask in clique_rows(near, 0)]
    assert all(some in maximal for some in cover)
    assert set().union(*cover) == set(range(count))
    assert all(any({*edge} <= some for some in cover) for edge in edges)


def test_too_many_cliques_still_give_the_best_choice(monkeypatch: pytest.MonkeyPatch) -> None:
    problem = hard()
    best = solve(problem).cost
    monkeypatch.setattr(solver, "ROWS_PER_CANDIDATE", 0)
    assert solve(problem).cost == best


def test_an_item_of_very_many_candidates_is_no_trouble() -> None:
    # Each candidate bars one of another item, so that none stands in for another.
    count = 1200
    pairs = tuple((one, count + one) for one in range(count))
    items = (tuple(range(count)), tuple(range(count, 2 * count)))
    costs = tuple(float(one == 0 or one == count + 1) * 0.5 for one in range(2 * count))
    assert solve(Problem(items, costs, pairs)).cost == 0.0
    everyone = (1 << count) - 1  # in a clique larger than Python nests calls
    assert list(maximal_cliques([everyone & ~(1 << one) for one in range(count)])) == [everyone]


@pytest.mark.parametrize("number", range(60))
def test_small_maps_of_points_agree_with_trying_everything(number: int) -> None:
    # Seven points crowded into a corner of the map, where labels are in each other's way.
    places = [(x / 26, y / 36) for x, y in points(7, number)]
    problem = label_problem(places)
    solution = solve(problem)
    assert solution.proved
    assert solution.cost == least(problem)
    assert 7 - solution.cost == count_on_graph(problem, solution.chosen)


@pytest.mark.parametrize("size", [100, 250])
def test_maps_of_points_are_proved_best_and_counted_again(size: int) -> None:
    places = points(size, 0)
    run = measure(places, 60.0)
    assert run.solution.proved and run.sound
    assert min_degree(label_problem(places)) <= run.placed <= size


def test_the_recount_sees_overlaps() -> None:
    problem = label_problem([(100.0, 100.0), (110.0, 100.0)])
    assert count_on_graph(problem, (0, 4)) == 0
    assert count_on_graph(problem, (1, 4)) == 2
    assert count_on_graph(problem, (1, None)) == 1
    assert count_on_graph(problem, (4, 1)) == 0
    assert count_free([(0.0, 0.0), (30.0, 0.0), (0.0, 7.0)]) == 3  # touching is free
    assert count_free([(0.0, 0.0), (29.9, 6.9), (100.0, 0.0)]) == 1
