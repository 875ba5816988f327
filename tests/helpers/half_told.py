"""A worker that is amid the message that its result comes by when its run ends; a program, told which kind it is."""

import gc
import os
import struct
import sys
import time
from multiprocessing import active_children
from multiprocessing.queues import SimpleQueue
from pathlib import Path
from typing import Any

from facegraphic.cli.workers import _end, _Pools, one_beside


def half_told(mark: str) -> None:
    """Write the beginning of a message of a million bytes into whatever results are sent by."""
    for queue in [found for found in gc.get_objects() if isinstance(found, SimpleQueue)]:
        writer: Any = queue._writer  # type: ignore[attr-defined]
        os.write(writer.fileno(), struct.pack("!i", 1_000_000) + b"begun")
    Path(mark).touch()
    time.sleep(60)


def begun(mark: str) -> None:
    while not Path(mark).exists():
        time.sleep(0.01)


def main(how: str, mark: str) -> None:
    if how == "beside":
        with one_beside() as begin:
            begin.args[0].submit(half_told, mark)  # type: ignore[attr-defined]
            begun(mark)
        print("ended")
        return
    pools = _Pools(1)
    pools.submit(half_told, [mark])
    begun(mark)
    _end(active_children())
    pools.now.shutdown()
    print("ended")


if __name__ == "__main__":
    main(*sys.argv[1:])
