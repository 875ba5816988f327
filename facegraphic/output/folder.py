"""Write files whole or not at all."""

import contextlib
import errno
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path

from facegraphic.errors import Problem, UserError

ANOTHER_FOLDER = "choose another folder with --out, or make room and give yourself leave to write there"


def write_all(folder: Path, files: Mapping[str, bytes], mend: str = ANOTHER_FOLDER) -> list[Path]:
    """Write every file beside its place, then move them all into it. UserError, and nothing changed, if one fails."""
    staged: list[tuple[Path, Path]] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            staged.append((_stage(folder, name, data), folder / name))
        for _, final in staged:
            if final.is_dir():
                raise IsADirectoryError(errno.EISDIR, f"{final.name} is a folder there")
        for temporary, final in staged:
            temporary.replace(final)
    except OSError as error:
        for temporary, _ in staged:
            with contextlib.suppress(OSError):
                temporary.unlink()
        raise UserError(Problem(f"cannot write: {error.strerror or error}", mend, str(folder))) from None
    return [final for _, final in staged]


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
