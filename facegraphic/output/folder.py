"""Write files whole or not at all."""

import contextlib
import errno
import os
import re
import tempfile
from collections.abc import Mapping
from pathlib import Path

from facegraphic.errors import Problem, UserError
from facegraphic.output.earlier import outdated
from facegraphic.output.lock import held

ANOTHER_FOLDER = "choose another folder with --out, or make room and give yourself leave to write there"


def write_all(folder: Path, files: Mapping[str, bytes], mend: str = ANOTHER_FOLDER) -> list[Path]:
    """Write every file beside its place, then move them all into it. UserError, and nothing changed, if one fails."""
    return write_together({folder: files}, mend)


def write_together(folders: Mapping[Path, Mapping[str, bytes]], mend: str = ANOTHER_FOLDER) -> list[Path]:
    """The same for the files of several folders, all or none.

    What an earlier run has made of the same kind and format, and this one has not, is taken away: a sheet too many
    would be printed with the others. Runs that write to the same folder do so one after the other. Killed at any
    moment, of every file the old one stands or the new one; what was not yet moved is swept away by the next run.
    """
    folder = Path()
    try:
        for folder in folders:
            folder.mkdir(parents=True, exist_ok=True)
        with held(folders):
            return _written(folders, mend)
    except OSError as error:
        raise UserError(Problem(f"cannot write: {error.strerror or error}", mend, str(folder))) from None


def _written(folders: Mapping[Path, Mapping[str, bytes]], mend: str) -> list[Path]:
    staged: list[tuple[Path, Path]] = []
    folder = Path()
    old = [path for folder, files in folders.items() for path in outdated(folder, files)]
    try:
        for folder, files in folders.items():
            _sweep(folder, files)
            for name, data in files.items():
                staged.append((_stage(folder, name, data), folder / name))
        for _, final in staged:
            if final.is_dir():
                raise IsADirectoryError(errno.EISDIR, f"{final.name} is a folder there")
        for temporary, final in staged:
            temporary.replace(final)
        for path in old:
            path.unlink(missing_ok=True)
    except OSError as error:
        for temporary, _ in staged:
            with contextlib.suppress(OSError):
                temporary.unlink()
        raise UserError(Problem(f"cannot write: {error.strerror or error}", mend, str(folder))) from None
    return [final for _, final in staged]


def _sweep(folder: Path, files: Mapping[str, bytes]) -> None:
    """Take away what a run that was killed has left beside these files; nobody else writes here now."""
    for path in folder.iterdir():
        left = re.fullmatch(r"\.(.+)\.[a-z0-9_]{8}\.part", path.name)
        if left and left[1] in files:
            path.unlink(missing_ok=True)


def _stage(folder: Path, name: str, data: bytes) -> Path:
    handle, temporary = tempfile.mkstemp(prefix=f".{name}.", suffix=".part", dir=folder)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        umask = os.umask(0)
        os.umask(umask)
        Path(temporary).chmod(0o666 & ~umask)
    except OSError:
        with contextlib.suppress(OSError):
            Path(temporary).unlink()
        raise
    return Path(temporary)
