"""Write a file beside its place, so that what comes into the place is whole."""

import contextlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


@contextmanager
def written_beside(place: Path, data: bytes) -> Iterator[Path]:
    """A file of some bytes beside a place, safe on the disk, to be moved there; what is not moved is taken away.

    OSError if it cannot be written. The file may be read by its owner alone.
    """
    handle, name = tempfile.mkstemp(prefix=f".{place.name}.", suffix=".part", dir=place.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        yield Path(name)
    finally:
        with contextlib.suppress(OSError):
            Path(name).unlink(missing_ok=True)


def put_new(place: Path, data: bytes) -> None:
    """Write a file that isn't there yet, whole or not at all. FileExistsError if it is; OSError if it cannot be."""
    if os.path.lexists(place):
        raise FileExistsError(place)
    with written_beside(place, data) as beside:
        umask = os.umask(0)
        os.umask(umask)
        beside.chmod(0o666 & ~umask)
        try:
            place.hardlink_to(beside)  # unlike a move, it takes nobody's place
        except FileExistsError:
            raise
        except (OSError, NotImplementedError):  # file systems without second names
            with place.open("x"):
                pass
            try:
                beside.replace(place)
            except OSError:
                place.unlink(missing_ok=True)
                raise
