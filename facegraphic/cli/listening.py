"""Ctrl-C, heard at any moment and answered at one where that does no harm."""

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType

SOON = 0.02  # s
LOADING = "<frozen importlib._bootstrap>"
CALLED_FROM_C = "write_func"  # what cairo hands its files to: it would take an error there for one of the disk's


@contextmanager
def listening() -> Iterator[list[int]]:
    """What has been heard of Ctrl-C, which is raised as ever, but for two places: where a module is loaded and where C
    calls us it waits until that is done, since there it is lost, made another error of, or answered with a stack.
    """
    heard: list[int] = []

    def note(number: int, frame: FrameType | None) -> None:
        heard.append(number)
        if later and _must_wait(frame):
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


def _must_wait(frame: FrameType | None) -> bool:
    while frame:
        if frame.f_code.co_filename == LOADING or frame.f_code.co_name == CALLED_FROM_C:
            return True
        frame = frame.f_back
    return False
