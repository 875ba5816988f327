"""A round of `make`: which jobs have anything new, making those, and telling of all in their order."""

import os
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Any

from facegraphic.cli.order import Order, Told


def make_all(order: Order, once_shared: Path) -> None:
    """Make every job of an order that has anything new. SystemExit(1) if one is wrong.

    `once_shared` is where the jobs' common sheets would be, or may be from an earlier run.
    """
    told = Told(order.options["quiet"], order.options["as_json"], len(order.folders) > 1)
    if order.shared:
        if order.nothing_new_at_all:
            for path, folder in order.folders.items():
                told.kept(str(path), folder)
            told.kept(str(order.shared), order.shared)
        else:
            _bench(order, told).together(order.shared)
    else:
        new = [path for path in order.folders if not order.nothing_new(path)]
        with _beside(order, len(new)) as begin:
            made = _bench(order, told, begin).each(new) if new else iter(())
            for path, folder in order.folders.items():
                if path in new:
                    next(made)
                else:
                    told.kept(str(path), folder)
            next(made, None)
        if order.outdated(once_shared):
            told.outdated(once_shared)
    told.close()


def _bench(order: Order, told: Told, begin: Any = None) -> Any:
    from facegraphic.cli.bench import Bench  # the whole way through the house is loaded with it

    return Bench(order, told, begin)


def cores() -> int:
    """How many things this process may do at a time."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def is_program() -> bool:
    """Whether this process is the command, and not a script that calls it, which a process more would run again."""
    main = sys.modules["__main__"]
    return Path(sys.argv[0]).stem == "facegraphic" or getattr(main.__spec__, "name", "") == "facegraphic.__main__"


def _beside(order: Order, jobs: int) -> AbstractContextManager[Any]:
    """A process that draws the pictures of a single job's box, on machines that can do two things at a time."""
    if jobs != 1 or "preview" not in order.options["only"] or cores() < 2 or not is_program():
        return nullcontext()
    from facegraphic.cli.workers import one_beside

    return one_beside()
