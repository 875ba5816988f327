"""Work beside the event loop, in threads that the end of the program does not wait for."""

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
_busy: set[threading.Thread] = set()


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


def any_left() -> bool:
    """Whether some of it is still being done."""
    return any(thread.is_alive() for thread in tuple(_busy))
