"""Cases of one harness in the process it is run in: each is made from its number, so that any can be had again."""

import faulthandler
import os
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from .folder import clean_up
from .limits import SECONDS, Fault, run
from .mutate import Rolled
from .targets import Target

MOST_TRIES = 3000  # of making a failing input smaller


def run_lot(target: Target, first: int, cases: int, out: Path) -> int:
    """Run so many cases from a number on; what fails goes to `out`, made smaller. The number of failures."""
    make = target.inputs()
    last = os.open(out / f"{target.name}-last", os.O_CREAT | os.O_RDWR | os.O_TRUNC)
    ends: Counter[str] = Counter()
    seen: set[str] = set()
    for number in range(first, first + cases):
        data = make(Rolled(f"{target.name} {number}"))
        os.ftruncate(last, os.pwrite(last, data, 0))
        try:
            ends[_watched(target, data)] += 1
        except Fault as fault:
            ends["FAULT"] += 1
            if _kind(fault) not in seen:
                seen.add(_kind(fault))
                _keep(target, number, data, fault, out)
    os.close(last)
    clean_up()
    print(f"{target.name}: {first} to {first + cases - 1}: {dict(ends)}", flush=True)
    return ends["FAULT"]


def _watched(target: Target, data: bytes) -> str:
    faulthandler.dump_traceback_later(
        24 * (target.seconds or SECONDS), exit=True, file=sys.__stderr__
    )  # in C, where no alarm is heard
    try:
        return run(target.read, data, target.seconds)
    finally:
        faulthandler.cancel_dump_traceback_later()


def _kind(fault: Fault) -> str:
    """What a failure has in common with others of its kind."""
    return str(fault).partition("):")[0][:160] if "):" in str(fault) else str(fault)[:20]


def _keep(target: Target, number: int, data: bytes, fault: Fault, out: Path) -> None:
    (out / f"{target.name}-{number}").write_bytes(data)
    small = data if "longer than" in str(fault) else smaller(target, data, _kind(fault))
    kept = out / f"{target.name}-{number}-small"
    kept.write_bytes(small)
    print(f"{target.name}: case {number}: {fault}\n    {kept} ({len(small)} of {len(data)} bytes)", flush=True)


def smaller(target: Target, data: bytes, kind: str) -> bytes:
    """The input without whatever can be left away while it fails the same way."""
    tries = 0
    size = len(data) // 2
    while size and tries < MOST_TRIES:
        shrunk = False
        for shorter in _without(data, size):
            tries += 1
            if tries > MOST_TRIES:
                break
            if _fails(target, shorter, kind):
                data, shrunk = shorter, True
                break
        size = min(size, len(data) // 2) if shrunk else size // 2
    return data


def _without(data: bytes, size: int) -> Iterator[bytes]:
    for start in range(0, len(data) - size + 1, size):
        yield data[:start] + data[start + size :]


def _fails(target: Target, data: bytes, kind: str) -> bool:
    try:
        _watched(target, data)
    except Fault as fault:
        return _kind(fault) == kind
    return False
