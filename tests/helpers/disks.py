"""Disks that are full, read-only or gone, and a process without the superuser's powers."""

import errno
import os
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

# For a process of its own (capset(2)): what is left of a superuser is an owner, whom modes of folders bind.
POWERLESS = """
import ctypes
head, none = (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
if ctypes.CDLL(None, use_errno=True).capset(head, none):
    raise SystemExit("cannot give up the superuser's powers")
"""


@contextmanager
def small_disk(place: Path, size: str) -> Iterator[Path]:
    """A file system of its own in memory, of some size; skips where that may not be mounted."""
    place.mkdir(parents=True, exist_ok=True)
    try:
        words = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
        done = subprocess.run(words, capture_output=True, text=True)
    except OSError as error:
        pytest.skip(f"no file system can be mounted here: {error}")
    if done.returncode:
        pytest.skip(f"no file system can be mounted here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def fill(disk: Path, leave: int) -> Path:
    """Fill a disk but for some bytes; the file that does it."""
    filler = disk / "filler"
    facts = os.statvfs(disk)
    filler.write_bytes(bytes(max(0, facts.f_bavail * facts.f_bsize - leave)))
    return filler


class Failing:
    """Lets the nth of all steps of writing fail, or all from there on: a disk that fills up, or is taken away."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, at: int, on: bool = False) -> None:
        self.at, self.on, self.steps = at, on, 0
        self.failed: list[str] = []
        for owner, name in (
            (os, "fsync"),
            (Path, "chmod"),
            (Path, "hardlink_to"),
            (Path, "replace"),
            (Path, "unlink"),
        ):
            monkeypatch.setattr(owner, name, self._or_fail(name, getattr(owner, name)))
        opened = os.fdopen
        monkeypatch.setattr(os, "fdopen", lambda *rest: self._halfway(opened(*rest)))

    def _or_fail(self, name: str, first: Callable[..., Any]) -> Callable[..., Any]:
        def step(*rest: Any, **more: Any) -> Any:
            self._count(name)
            return first(*rest, **more)

        return step

    def _count(self, name: str) -> None:
        self.steps += 1
        if self.steps == self.at or (self.on and self.steps > self.at):
            self.failed.append(name)
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def _halfway(self, file: Any) -> "_Halfway":
        return _Halfway(file, lambda: self._count("write"))


class _Halfway:
    """A file that is asked whether to fail when half of what is to be written is."""

    def __init__(self, file: Any, ask: Callable[[], None]) -> None:
        self.file, self.ask = file, ask

    def __enter__(self) -> "_Halfway":
        return self

    def __exit__(self, *rest: object) -> None:
        self.file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)

    def write(self, data: bytes) -> None:
        self.file.write(data[: len(data) // 2])
        self.ask()
        self.file.write(data[len(data) // 2 :])
