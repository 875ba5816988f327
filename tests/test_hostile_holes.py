"""Holes by the thousand, spread out or all in one place: judged in little time, and told in few words."""

from itertools import combinations
from pathlib import Path

import pytest
import shapely
from helpers.jobs import good, lay
from helpers.runs import run_apart

from facegraphic.checks import pairs
from facegraphic.errors import Finding

LIMITED = "import resource; resource.setrlimit(resource.RLIMIT_CPU, (10, 10))\n"
HEAD = "id,x,y,d\nrate,-12,32,7.5\n"


@pytest.mark.parametrize("where", ["one place", "spread"])
def test_two_thousand_holes_are_judged_in_little_time(tmp_path: Path, where: str) -> None:
    places = [(0.0, 0.0)] * 1990 if where == "one place" else [(i % 40 - 20, i // 40 * 2 - 50) for i in range(1990)]
    rows = "".join(f"h{i},{x},{y},0.9\n" for i, (x, y) in enumerate(places))
    lay(tmp_path, good(), {"holes.csv": HEAD + rows})
    ran = run_apart("check", "job.toml", cwd=tmp_path, before=LIMITED)
    assert ran.status in (0, 1), ran.err[-300:]
    told = ran.out + ran.err
    assert "fault" not in told
    assert told.count("[holes-close]") == 21
    assert "more like these" in told
    assert told.count("\n") < 400


def test_close_pairs_are_those_that_trying_all_of_them_finds() -> None:
    areas = [shapely.box(x, y, x + 3, y + 3) for x in range(0, 20, 2) for y in range(0, 20, 5)]
    wanted = {(j, i) for i, j in combinations(range(len(areas)), 2) if areas[i].intersects(areas[j])}
    assert set(pairs.close_pairs(areas)) == wanted
    assert wanted


def test_of_many_findings_alike_the_first_and_the_number_are_told() -> None:
    found = [Finding("holes-close", "warning", f"no {i}", "mend it", "top") for i in range(50)]
    errors = [Finding("legend-collides", "error", f"no {i}", "mend it", "top") for i in range(50)]
    told = list(pairs.some_of_each([*found, *errors]))
    assert [finding.message for finding in told[:20]] == [f"no {i}" for i in range(20)]
    assert sum(finding.severity == "error" for finding in told) == 50
    assert told[-1].message.startswith("and 30 more like these")
    assert list(pairs.some_of_each(found[:20])) == found[:20]
