"""Write a job file back: whole or not at all, and never over what somebody else has written meanwhile."""

import stat
from pathlib import Path

from facegraphic.errors import Problem, UserError
from facegraphic.job.beside import written_beside
from facegraphic.job.reading import read_file

MOST_BYTES = 1_000_000
_BOM = "\ufeff"


class ChangedMeanwhile(UserError):
    """The file is no longer what the change was made for."""


def job_bytes(path: Path) -> bytes:
    """A job file as it lies on disk. UserError if it cannot be read."""
    return read_file(path, MOST_BYTES)


def text_of(data: bytes) -> str:
    """Bytes of a job file as text, line ends and byte order mark kept. ValueError if they are not UTF-8."""
    return data.decode("utf-8")


def body_of(text: str) -> tuple[str, str]:
    """A byte order mark, if there is one, and what follows it."""
    return (_BOM, text[1:]) if text.startswith(_BOM) else ("", text)


def save(path: Path, before: bytes, after: bytes) -> None:
    """Put `after` in the place of `before`. ChangedMeanwhile, and nothing written, if the file is no longer `before`.

    The file keeps its mode; a link stays one, and what it leads to is written.
    """
    place = path.resolve()
    try:
        with written_beside(place, after) as beside:
            beside.chmod(stat.S_IMODE(place.stat().st_mode))
            if place.read_bytes() != before:
                what, mend = "the file has been changed meanwhile, outside this page", "look at what is in it now"
                raise ChangedMeanwhile(Problem(what, f"{mend}, and make the change again", path.name))
            beside.replace(place)
    except OSError as error:
        mend = "give yourself leave to write there, or make room"
        raise UserError(Problem(f"cannot write: {error.strerror or error}", mend, path.name)) from None
