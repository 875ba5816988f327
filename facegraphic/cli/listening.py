"""Ctrl-C, heard at any moment and answered at one where that does no harm."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType

SOON = 0.02  # s
LOADING = "<frozen importlib._bootstrap>"


@contextmanager
def listening() -> Iterator[list[int]]:
    """What has been heard of Ctrl-C, which is raised as ever; but amid the loading of a module not before that is done.

    Libraries that are stopped while they are loaded lose it, make another error of it or print a stack of their own.
    """
    heard: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        heard.append(number)
        if later and _loads(frame):
            signal.setitimer(signal.ITIMER_REAL, SOON)
        else:
            signal.default_int_handler(number, frame)

    listens = signal.getsignal(signal.SIGINT) is signal.default_int_handler and current_thread() is main_thread()
    later = listens and hasattr(signal, "setitimer")
    before = {number: signal.getsignal(number) for number in (signals() if listens else ())}
    for number in before:
        signal.signal(number, note)
    try:
        yield heard
    finally:
        if later:
            signal.setitimer(signal.ITIMER_REAL, 0)
        for number, handler in before.items():
            signal.signal(number, handler)


def signals() -> set[signal.Signals]:
    """Those by which Ctrl-C comes: its own, and where there is one, that of the timer that it waits by."""
    return {signal.SIGINT, signal.SIGALRM} if hasattr(signal, "setitimer") else {signal.SIGINT}


def _loads(frame: FrameType | None) -> bool:
    """Whether a module is being loaded."""
    while frame:
        if frame.f_code.co_filename == LOADING:
            return True
        frame = frame.f_back
    return False
