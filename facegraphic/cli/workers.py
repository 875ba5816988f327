"""Several jobs at a time, in processes beside this one."""

import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from functools import partial
from importlib import import_module
from multiprocessing import active_children, get_context, parent_process, resource_tracker
from multiprocessing.process import BaseProcess
from threading import Thread, current_thread, main_thread
from typing import TYPE_CHECKING, Any

import click

from facegraphic.cli.haste import make_haste
from facegraphic.cli.listening import signals
from facegraphic.cli.talk import complain
from facegraphic.errors import Problem, UserError, brief

if TYPE_CHECKING:  # a process more is started before what it is to do is loaded here
    from facegraphic.pipeline.preparing import Prepared, Progress, Wishes
    from facegraphic.pipeline.previewing import Awaited, Begin, Pictures, Tell

MOST_THERE = 4_000_000  # pixels of a job's pictures that a process beside may hold once more
ENDED = Problem(
    "a worker was ended from outside, so the run has stopped: of the jobs not told of by then some are not made",
    "make again; with fewer --workers if memory was short",
)


@contextmanager
def pool_of(workers: int, tell: "Progress") -> Iterator[Callable[[Callable[[Any], Any], Iterable[Any]], Iterator[Any]]]:
    """A `map` over jobs in so many processes; `tell` gets a count of the jobs done.

    Where the system lets no processes be begun, it is told, and the jobs are done here.
    """
    try:
        pools = _Pools(workers)
    except (OSError, ImportError, NotImplementedError) as error:  # no shared memory, no semaphores, no handles
        click.echo(f"there can be no workers here ({brief(error)}); jobs are done one after another", err=True)
        yield partial(_in_turn, tell)
        return
    try:
        yield partial(_counted, pools, tell)
    except BrokenProcessPool:
        complain(UserError(ENDED), "")
        raise SystemExit(1) from None
    except BaseException:
        # What they write stands whole or not at all. A pool whose workers are gone drops what waits by itself.
        _end(active_children())
        raise
    finally:
        pools.now.shutdown()


class _Pools:
    """A pool, and another in its place once it is broken."""

    def __init__(self, workers: int) -> None:
        self._workers = workers
        self.renew()

    def renew(self) -> None:
        # Fresh processes, not copies: threads of the solver do not live on in a copy.
        self.now = ProcessPoolExecutor(self._workers, get_context("spawn"), _end_with_run)

    def submit(self, work: Callable[[Any], Any], things: Iterable[Any]) -> "list[Future[Any]]":
        with _unheard():
            waiting = [self.now.submit(work, thing) for thing in things]
        _let_go(self.now, self._workers)
        return waiting


def _let_go(pool: ProcessPoolExecutor, workers: int) -> None:
    """Close this process's own end of what results are sent by, once all workers have theirs.

    While it is open no end comes to the message of a worker that is ended amid it, and it is waited for for ever.
    """
    with suppress(AttributeError, TypeError):  # the pool has no name for it that is meant for others
        if len(pool._processes) == workers:
            pool._result_queue._writer.close()  # type: ignore[attr-defined]


def _in_turn(tell: "Progress", work: Callable[[Any], Any], things: Iterable[Any]) -> Iterator[Any]:
    waiting = list(things)
    for number, thing in enumerate(waiting):
        yield work(thing)
        tell(f"job {number + 1}", number, len(waiting))


def _end(workers: Iterable[BaseProcess]) -> None:
    for worker in workers:
        worker.terminate()


@contextmanager
def one_beside() -> Iterator["Begin"]:
    """A process that draws the pictures of a box while this one does the rest; it starts at once, to be ready then.

    Whatever keeps it from that costs time only: then they are drawn in turn.
    """
    others = active_children()
    try:
        pool = ProcessPoolExecutor(1, get_context("spawn"), _end_with_run)
        with _unheard():
            pool.submit(import_module, "facegraphic.pipeline.previewing")
        _let_go(pool, 1)
    except Exception:  # no shared memory, no handles, no more processes: systems differ in what they give
        yield partial(_begun, None)
        return
    try:
        yield partial(_begun, pool)
    finally:
        _end(worker for worker in active_children() if worker not in others)  # it writes nothing
        pool.shutdown()  # at once, as its process has ended; while it does so the program must not end by itself


def _begun(pool: ProcessPoolExecutor | None, prepared: "Prepared", wishes: "Wishes") -> "Awaited":
    from facegraphic.pipeline.previewing import in_turn, pictures, preview_names

    if pool is None or not preview_names(prepared, wishes) or _pixels(prepared) > MOST_THERE:
        return in_turn(prepared, wishes)
    try:
        drawn = pool.submit(pictures, prepared, wishes)
    except (BrokenProcessPool, OSError, RuntimeError):
        return in_turn(prepared, wishes)
    return partial(_awaited, drawn, prepared, wishes)


def _pixels(prepared: "Prepared") -> int:
    """Of all pictures of a job: they would be in memory in both processes."""
    from facegraphic.job.image import Picture

    arts = {art.image for face in prepared.job.faces for art in face.arts}
    return sum(image.width * image.height for image in arts if isinstance(image, Picture))


def _awaited(drawn: "Future[Pictures]", prepared: "Prepared", wishes: "Wishes", tell: "Tell") -> "Pictures":
    from facegraphic.pipeline.previewing import pictures, preview_names

    for done, name in enumerate(preview_names(prepared, wishes)[:-1]):
        tell(name, done)
    try:
        return drawn.result()
    except UserError:
        raise
    except Exception:  # it was ended from outside, or has too little memory: then they are drawn here
        return pictures(prepared, wishes, tell)


@contextmanager
def _unheard() -> Iterator[None]:
    """Start processes that do not hear Ctrl-C: this one does, and ends them, where each would tell of it at length."""
    if current_thread() is not main_thread():
        yield
        return
    if hasattr(signal, "pthread_sigmask"):
        resource_tracker.ensure_running()  # else it would be started amid this, and let Ctrl-C through again
        before = signal.pthread_sigmask(signal.SIG_BLOCK, signals())  # it waits, and is heard after
        try:
            yield
        finally:
            signal.pthread_sigmask(signal.SIG_SETMASK, before)
        return
    heard = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, heard)


def _end_with_run() -> None:
    """Let a worker make haste as the run does that it works for, and not outlive it."""
    make_haste()
    parent = parent_process()
    if parent:
        Thread(target=_leave_after, args=[parent], daemon=True).start()


def _leave_after(parent: Any) -> None:
    """A run that was killed cannot stop its workers, and they would wait for ever."""
    parent.join()
    os._exit(1)


def _counted(pools: _Pools, tell: "Progress", work: Callable[[Any], Any], things: Iterable[Any]) -> Iterator[Any]:
    """What becomes of things, in their order. Where a worker is killed, what was not done is begun anew by others.

    BrokenProcessPool if workers are killed over and over, without anything being done.
    """
    # Not the pool's own map: left amid its work, that calls off what waits, on which the end of the pool stumbles.
    waiting = list(things)
    running = deque(pools.submit(work, waiting))
    moved = True
    for number in range(len(waiting)):
        while _is_broken(running[0]):
            if not moved:
                raise BrokenProcessPool
            click.echo("a worker was ended from outside; what it had not done is done again", err=True)
            again = [position for position, future in enumerate(running) if _is_broken(future)]
            pools.renew()
            left = pools.submit(work, [waiting[number + position] for position in again])
            for position, future in zip(again, left, strict=True):
                running[position] = future
            moved = False
        yield running.popleft().result()
        moved = True
        tell(f"job {number + 1}", number, len(waiting))


def _is_broken(future: "Future[Any]") -> bool:
    """Whether the process that was to do something has ended before; waits for it."""
    return isinstance(future.exception(), BrokenProcessPool)
