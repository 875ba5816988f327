"""The short run of every harness: derandomised, so the same few hundred cases each time, none of them large.

It holds what stands; what is new is found by the long run, ``python -m tests.fuzz``.
"""

import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings

from facegraphic.errors import Problem, UserError

from . import left
from .large import MOST
from .limits import Fault, afresh, run
from .lot import run_lot, smaller
from .mutate import Rolled, drawn
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


def _greedy(data: bytes) -> None:
    """A reader that wants more memory than it may have, and hides that there was none."""
    if data == b"takes":
        bytearray(60 * 2**20)
    if data == b"refuses":
        try:
            raise MemoryError
        except MemoryError:
            raise UserError(Problem("it is too large", "make it smaller")) from None
    if data == b"words":
        raise UserError(Problem("it cannot be drawn: out of memory", "make it smaller"))


@pytest.mark.parametrize("data", [b"takes", b"refuses", b"words"])
def test_want_of_memory_is_seen(data: bytes, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("fuzz.limits.MEGABYTES", 40)
    assert run(_greedy, b"little") == "values"
    with pytest.raises(Fault, match="MB"):
        run(_greedy, data)


def test_each_part_of_a_case_has_time_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    def work(data: bytes) -> None:
        for _ in range(4):
            if data == b"parted":
                afresh()
            start = time.process_time()
            while time.process_time() - start < 0.1:
                pass

    monkeypatch.setattr("fuzz.limits.SECONDS", 0.25)
    assert run(work, b"parted") == "values"
    with pytest.raises(Fault, match="longer"):
        run(work, b"whole")


@pytest.mark.parametrize("place", ["holiday.svg", "below/bait.svg", "link.svg", "../bait.svg", "../beside/bait.svg"])
@pytest.mark.parametrize("fault", [Path.unlink, lambda path: path.write_bytes(b"lost")])
def test_bait_that_is_taken_is_seen(
    place: str, fault: Callable[[Path], object], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = left.write_together

    def spoilt(folders: Mapping[Path, Mapping[str, bytes]], **options: Any) -> None:
        whole(folders, **options)
        fault(next(iter(folders)) / place)

    assert run(TARGETS["left"].read, b"") == "values"
    monkeypatch.setattr("fuzz.left.write_together", spoilt)
    with pytest.raises(Fault, match=r"taken away|beside"):
        run(TARGETS["left"].read, b"")


class _Large(Rolled):
    """Choices of the long run that make every case large."""

    def seldom(self) -> bool:
        return True


@pytest.mark.parametrize("name", ["job", "csv", "nc", "dxf", "holes", "art", "printers", "left"])
def test_large_inputs_are_large_and_are_read(name: str) -> None:
    target = TARGETS[name]
    make = target.inputs()
    inputs = [make(_Large(f"{name} {number}")) for number in range(3)]
    assert max(map(len, inputs)) > 100_000
    assert max(map(len, inputs)) <= MOST
    run(target.read, inputs[0])


def test_a_failing_input_is_made_smaller(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target = Target("planted", _planted, lambda: lambda choices: b"the crow and the " + choices.of((b"owl", b"cat")))
    with pytest.raises(Fault) as caught:
        run(_planted, b"the crow and the owl")
    assert smaller(target, b"the crow and the owl", str(caught.value).partition("):")[0]) == b"ow"
    assert run_lot(target, 0, 20, tmp_path) == 20
    assert "KeyError in _planted" in capsys.readouterr().out
    assert (tmp_path / "planted-0-small").read_bytes() == b"ow"
