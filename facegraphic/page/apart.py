"""Work beside the event loop, in threads that the end of the program does not wait for."""

import asyncio
import contextlib
import threading
from collections.abc import Callable, Iterator
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
LONGEST_WRITING = 10.0  # s
_busy: set[threading.Thread] = set()
_writing = threading.Lock()


async def apart(work: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T:
    """Do some work in a thread of its own and give what it returns, or raise what it raises."""
    loop = asyncio.get_running_loop()
    future: asyncio.Future[T] = loop.create_future()

    def settle(result: T | None, error: BaseException | None) -> None:
        if future.done():
            return
        if error is not None:
            future.set_exception(error)
        else:
            future.set_result(result)  # type: ignore[arg-type]

    def run() -> None:
        result, error = None, None
        try:
            result = work(*args, **kwargs)
        except BaseException as raised:  # whoever waits for it is to see it
            error = raised
        with contextlib.suppress(RuntimeError):  # the loop may have ended meanwhile
            loop.call_soon_threadsafe(settle, result, error)
        _busy.discard(threading.current_thread())

    thread = threading.Thread(target=run, daemon=True)
    _busy.add(thread)
    thread.start()
    return await future


@contextlib.contextmanager
def unbroken() -> Iterator[None]:
    """Round what the end of the program has to wait for after all: the writing of files."""
    with _writing:
        yield


def wait_for_writing() -> None:
    """Wait until no file is being written, and let no other be begun."""
    _writing.acquire(timeout=LONGEST_WRITING)


def any_left() -> bool:
    """Whether some of it is still being done."""
    return any(thread.is_alive() for thread in tuple(_busy))
