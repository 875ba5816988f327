"""Read files that strangers may have made: ordinary ones only, and never more of one than is let in.

What says that it is an ordinary file may lie still (some of the system's own give nothing until there is news) or grow
while it is read, so it is opened without waiting and its size is not relied upon.
"""

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import suppress
from hashlib import sha256
from itertools import islice
from pathlib import Path

from facegraphic.errors import Problem, UserError, meant

PIECE = 1 << 20


MOST_LOOKED_AT = 1000  # files of a folder, for one that may be meant


class _TooLarge(Exception):
    pass


def _meant(path: Path) -> str:
    """A guess at the file that is meant by a name of none: the most alike of its folder's, or ""."""
    with suppress(OSError):
        names = {entry.name for entry in islice(path.parent.iterdir(), MOST_LOOKED_AT)}
        own = {name for name in names if Path(name).stem == path.name}  # its kind was left away
        return meant(path.name, own or names)
    return ""


def read_file(path: Path, most: int) -> bytes:
    """Read a whole file of at most `most` bytes. UserError says why it cannot be read."""
    problem, mend = "", "check the name and where it lies"
    try:
        if path.is_dir():
            problem = "this is a folder, not a file"
        elif not path.exists():
            problem, mend = "there is no such file", _meant(path) or mend
        elif not path.is_file():
            problem = "this is not an ordinary file"
        else:
            return b"".join(_pieces(path, most, most + 1))
    except _TooLarge as error:
        problem, mend = f"{error}, more than {most} are not read", "is this the right file? if so, make it smaller"
    except (OSError, ValueError) as error:
        problem = f"it cannot be read: {getattr(error, 'strerror', None) or error}"
    raise UserError(Problem(problem, mend, str(path)))


def hash_of(path: Path, most: int) -> str:
    """The SHA-256 of an ordinary file, "" if it isn't there. OSError if it cannot be read or has over `most` bytes."""
    found = sha256()
    try:
        for piece in _pieces(path, most, PIECE):
            found.update(piece)
    except FileNotFoundError:
        return ""
    except _TooLarge as error:
        raise OSError(errno.EFBIG, str(error)) from None
    return found.hexdigest()


def _pieces(path: Path, most: int, piece: int) -> Iterator[bytes]:
    """The bytes of a file in pieces, the first of which is all of it where a piece may be as long."""
    if not path.is_file():  # to open a device may already do something
        path.stat()
        raise OSError(errno.EINVAL, "this is not an ordinary file")
    with open(path, "rb", buffering=0, opener=_without_waiting) as file:
        facts = os.fstat(file.fileno())
        if not stat.S_ISREG(facts.st_mode):
            raise OSError(errno.EINVAL, "this is not an ordinary file")
        if facts.st_size > most:
            raise _TooLarge(f"the file has {facts.st_size} bytes")
        left = most + 1
        while left:
            data = file.read(min(left, piece, max(facts.st_size + 1, PIECE)))
            if data is None:
                raise OSError(errno.EAGAIN, "it gives nothing for now")
            if not data:
                return
            left -= len(data)
            yield data
    raise _TooLarge(f"the file has {most + 1} bytes or more")


def _without_waiting(name: str, flags: int) -> int:
    return os.open(name, flags | getattr(os, "O_NONBLOCK", 0))
