"""The short run of every harness: the same few hundred cases each time. ``python -m tests.fuzz`` is the long run."""

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from facegraphic.errors import Problem, UserError

from .limits import Fault, run
from .lot import run_lot, smaller
from .mutate import drawn
from .targets import TARGETS, Target


@pytest.mark.parametrize("name", TARGETS)
def test_only_values_or_errors_come_out(name: str) -> None:
    target = TARGETS[name]

    @settings(
        max_examples=target.short,
        derandomize=True,
        database=None,
        deadline=None,
        suppress_health_check=list(HealthCheck),
    )
    @given(drawn(target.inputs()))
    def trial(data: bytes) -> None:
        run(target.read, data)

    trial()


def _planted(data: bytes) -> None:
    if b"ow" in data:
        raise KeyError("planted")
    if b"hang" in data:
        while True:
            pass
    if b"mute" in data:
        raise UserError(Problem("no advice"))
    if b"talk" in data:
        print("by the way")


@pytest.mark.parametrize("data", [b"crow", b"hang", b"mute", b"talk"])
def test_a_planted_fault_is_seen(data: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fuzz.limits.SECONDS", 0.2)
    assert run(_planted, b"plain") == "values"
    with pytest.raises(Fault):
        run(_planted, data)


def test_a_failing_input_is_made_smaller(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = Target("planted", _planted, lambda: lambda choices: b"the crow and the " + choices.of((b"owl", b"cat")))
    with pytest.raises(Fault) as caught:
        run(_planted, b"the crow and the owl")
    assert smaller(target, b"the crow and the owl", str(caught.value).partition("):")[0]) == b"ow"
    assert run_lot(target, 0, 20, tmp_path) == 20
    assert "KeyError in _planted" in capsys.readouterr().out
    assert (tmp_path / "planted-0-small").read_bytes() == b"ow"
