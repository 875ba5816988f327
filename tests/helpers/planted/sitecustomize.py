"""Put on a Python's path, this kills it at a planned step of writing to a folder, or notes each of these steps.

A step is any opening, half-done write, flush to the disk, change of mode, second name, move or removal in that folder;
it is killed just before it, and a write in its middle. Workers have the same plan, each for itself.
"""

import os
import signal
import sys
from pathlib import Path
from typing import Any

UNDER = os.environ.get("KILL_UNDER", "")
AT = int(os.environ.get("KILL_AT", "0"))
HOW = os.environ.get("KILL_HOW", "itself")  # or "group"
NOTED = os.environ.get("KILL_NOTED", "")
WATCHED = ("open", "os.chmod", "os.link", "os.rename", "os.remove")

steps = 0


def step(kind: str) -> None:
    global steps
    steps += 1
    if NOTED:
        handle = os.open(NOTED, os.O_WRONLY | os.O_APPEND | os.O_CREAT)
        os.write(handle, f"{os.getpid()} {kind}\n".encode())
        os.close(handle)
    if steps == AT:
        if HOW == "group":
            os.killpg(0, signal.SIGKILL)
        os.kill(os.getpid(), signal.SIGKILL)


def watch(event: str, arguments: tuple[Any, ...]) -> None:
    if event not in WATCHED:
        return
    path = arguments[0]
    inside = isinstance(path, str | Path) and str(path).startswith(UNDER) and str(path) != UNDER
    if inside and (event != "open" or arguments[2] & (os.O_WRONLY | os.O_RDWR)):
        step(event)


class Halting:
    """A file that is written in two halves, with a step between them."""

    def __init__(self, file: Any) -> None:
        self.file = file

    def __enter__(self) -> "Halting":
        return self

    def __exit__(self, *rest: object) -> None:
        self.file.close()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)

    def write(self, data: bytes) -> int:
        self.file.write(data[: len(data) // 2])
        self.file.flush()
        step("write")
        self.file.write(data[len(data) // 2 :])
        return len(data)


def plant() -> None:
    fdopen, fsync = os.fdopen, os.fsync

    def opened(handle: int, mode: str = "r", *rest: Any, **more: Any) -> Any:
        file = fdopen(handle, mode, *rest, **more)
        return Halting(file) if mode == "wb" else file

    def synced(handle: Any) -> None:
        step("os.fsync")
        fsync(handle)

    os.fdopen, os.fsync = opened, synced  # type: ignore[assignment]
    sys.addaudithook(watch)


if UNDER:
    plant()
