"""What another place of one label would cost, asked the short way, is what asking for the whole face again says."""

from pathlib import Path

import pytest
from helpers.harbours import harbour

from facegraphic.job.load import load_job
from facegraphic.layout.face import arrange
from facegraphic.layout.placing import Placing

EXAMPLES = Path(__file__).parents[1] / "examples"
JOBS = [*sorted(path.name for path in EXAMPLES.glob("*.toml")), "harbour"]


def placings(name: str, folder: Path) -> list[Placing]:
    job = load_job(harbour(folder, 4, 3) if name == "harbour" else EXAMPLES / name)
    return [arrange(face, job.finish).placing for face in job.faces]


@pytest.mark.parametrize("name", JOBS)
def test_a_swap_costs_what_the_whole_costs_more(name: str, tmp_path: Path) -> None:
    asked = 0
    for placing in placings(name, tmp_path):
        chosen = placing.solution.chosen[: len(placing.labels)]
        taken = set(chosen)
        for number, out in enumerate(chosen):
            for new in placing.problem.items[number] if out is not None else ():
                whole = placing.cost([*chosen[:number], new, *chosen[number + 1 :]]) - placing.cost(chosen)
                assert placing.swapped(out, new) == pytest.approx(whole, abs=1e-9)
                others = taken - {out}
                barred = any({a, b} - {new} <= others and new in (a, b) for a, b in placing.problem.conflicts)
                assert placing.meets(new, but=out) == barred
                asked += 1
    assert asked > 10 or name == "kelp-drier.toml"
