"""One writer of a folder at a time, whatever process it is in. A lock ends with the process that holds it."""

import errno
import os
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from facegraphic.errors import Problem, UserError

PATIENCE = 60.0  # seconds; all that is done under a lock is to write files that are ready
PAUSE = 0.02
TAKEN = (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES)


@contextmanager
def held(folders: Iterable[Path], patience: float = PATIENCE) -> Iterator[None]:
    """Hold some folders, which must be there, against other runs; waits for those that hold one now.

    UserError after `patience` seconds. Where a file system knows no locks, nothing is held.
    """
    with ExitStack() as stack:
        # Always in the same order, so that two runs never wait for each other.
        for folder in sorted({folder.resolve() for folder in folders}):
            stack.enter_context(_held(folder, time.monotonic() + patience))
        yield


@contextmanager
def _held(folder: Path, until: float) -> Iterator[None]:
    handle = _opened(folder)
    try:
        while not _taken(handle):
            if time.monotonic() > until:
                what = "another run has been writing to this folder for a minute"
                raise UserError(Problem(what, "wait for it or stop it, or choose another folder", str(folder)))
            time.sleep(PAUSE)
        yield
    finally:
        os.close(handle)


if sys.platform == "win32":
    import msvcrt

    def _opened(folder: Path) -> int:
        return os.open(folder / ".facegraphic-writes", os.O_RDWR | os.O_CREAT)

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        return True

else:
    import fcntl

    def _opened(folder: Path) -> int:
        return os.open(folder, os.O_RDONLY)

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            return error.errno not in TAKEN
        return True
