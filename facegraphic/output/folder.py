"""Write files whole or not at all."""

import errno
import itertools
import os
import secrets
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from facegraphic.errors import Problem, UserError
from facegraphic.output.begun import note, sweep
from facegraphic.output.earlier import earlier, listed
from facegraphic.output.lock import held
from facegraphic.output.made import RECORD, REPORT, with_left

ANOTHER_FOLDER = "choose another folder with --out, or make room and give yourself leave to write there"
EDITED = "edited"  # in the name under which an edited file stays while another takes its place
LAST = (REPORT, RECORD)  # what tells of the other files is put in place after them

Folders = Mapping[Path, Mapping[str, bytes]]


class Edited(NamedTuple):
    """A file that was edited since it was made; `kept` is its new name where it is made anew, None where it stays."""

    path: Path
    kept: Path | None = None


def _silent(edited: Edited) -> None:
    """Say nothing of a file that stays."""


def write_all(
    folder: Path,
    files: Mapping[str, bytes],
    mend: str = ANOTHER_FOLDER,
    inputs: Iterable[Path] = (),
    tell: Callable[[Edited], None] = _silent,
) -> list[Path]:
    """Write every file beside its place, then move them all into it. UserError, and nothing changed, if one fails.

    UserError too if one would take the place of an input, whatever name or link that goes by.
    """
    return write_together({folder: files}, mend, inputs, tell)


def write_together(
    folders: Folders,
    mend: str = ANOTHER_FOLDER,
    inputs: Iterable[Path] = (),
    tell: Callable[[Edited], None] = _silent,
) -> list[Path]:
    """The same for the files of several folders, all or none.

    What an earlier run has made of the same kind and format, and this one has not, is taken away: a sheet too many
    would be printed with the others. It must be in the folder's record with the hash that it has; what was edited
    stays, under another name if it is made anew, and is told of. Runs that write to the same folder do so one after the
    other. Killed at any moment, of every file the old one stands or the new one; a note then tells the next run what
    there is to clear up.
    """
    read = frozenset(who for path in inputs for who in _identities(path))
    _require_apart([folder / name for folder, files in folders.items() for name in files], read)
    moving = _Moving(read)
    try:
        with _folders(folders), held(folders):
            written = moving.all_of(folders)
    except OSError as error:
        place = error.place if isinstance(error, _NoFolder) else moving.place
        wrong = [Problem(f"cannot write: {error.strerror or error}", mend, str(place))]
        for path, kept in moving.rescued.items():
            what = f"this file had been edited and could not be put back; what was in it is {kept.name} now"
            wrong.append(Problem(what, "take it from there", str(path)))
        raise UserError(wrong) from None
    for edited in (*map(Edited, moving.edited), *(Edited(*pair) for pair in moving.rescued.items())):
        tell(edited)
    return written


def require_place(folder: Path, mend: str = ANOTHER_FOLDER) -> None:
    """UserError where a folder, or one that is to be made, takes no files: better told before anything is drawn."""
    place = next(path for path in (folder, *folder.absolute().parents) if os.path.lexists(path))
    try:
        if not place.is_dir():
            raise _NoFolder(FileExistsError() if place == folder else NotADirectoryError(), folder)
        with tempfile.TemporaryFile(dir=place):
            pass
    except OSError as error:
        where = error.place if isinstance(error, _NoFolder) else place
        raise UserError(Problem(f"cannot write: {error.strerror or error}", mend, str(where))) from None


class _NoFolder(OSError):
    """A folder that cannot be made, and why."""

    def __init__(self, why: OSError, place: Path) -> None:
        what = why.strerror
        if isinstance(why, FileExistsError):
            what = (
                "this link leads nowhere"
                if place.is_symlink() and not place.exists()
                else "this is a file, not a folder"
            )
        elif isinstance(why, NotADirectoryError):
            what = "this is below a file, not a folder"
        super().__init__(why.errno, what)
        self.place = place


@contextmanager
def _folders(folders: Iterable[Path]) -> Iterator[None]:
    """Make folders that are missing; those that are empty still are taken away again if what is done there fails."""
    made: list[Path] = []
    try:
        for folder in folders:
            missing = [path for path in (folder, *folder.parents) if not os.path.lexists(path)]
            made += reversed(missing)
            try:
                folder.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise _NoFolder(error, folder) from None
        yield
    except BaseException:
        for path in reversed(made):
            with suppress(OSError):  # not made, or something is in it
                path.rmdir()
        raise


def _require_apart(outputs: Iterable[Path], read: frozenset[object]) -> None:
    """UserError that names every output in whose place an input lies: it is the only one that there is, maybe."""
    mend = "choose another folder with --out, or give the file that was read another name"
    what = "this file was read, and an output of the same name would take its place"
    wrong = [Problem(what, mend, str(output)) for output in outputs if _identities(output) & read]
    if wrong:
        raise UserError(wrong)


def _identities(path: Path) -> frozenset[object]:
    """What a file is known by: where it really lies and, if it is there, which one it is of its disk."""
    place = os.path.realpath(path)
    try:
        facts = path.stat()
    except (OSError, ValueError):
        return frozenset({place})
    return frozenset({place, (facts.st_dev, facts.st_ino)})


class _Moving:
    """One move of files into their places, and the way back from it; `place` is what is in hand."""

    def __init__(self, read: frozenset[object]) -> None:
        self.place = Path()
        self.read = read
        self.edited: list[Path] = []  # of no use, but no longer only ours
        self.anew: list[Path] = []  # edited, and soon made anew
        self.rescued: dict[Path, Path] = {}  # of those, under which names they stay
        self.staged: list[tuple[Path, Path]] = []  # files beside their places, and these
        self.kept: dict[Path, Path | None] = {}  # earlier files, each with a second name if it could have one
        self.begun: list[Path] = []  # places that are no longer as they were, or soon not
        self.notes: dict[Path, bool] = {}  # whether there was one already

    def all_of(self, folders: Folders) -> list[Path]:
        """Write and move all; what has been done by then is undone if anything fails."""
        whole = False
        try:
            old = [path for folder, files in folders.items() for path in self._ready(folder, files)]
            self._move(old)
            whole = True
        except BaseException:
            whole = self._undone()
            self.notes = {path: before for path, before in self.notes.items() if not before}
            raise
        finally:
            seconds = (second for second in self.kept.values() if second)
            # The notes go last: while one lies there, whatever else was left is cleared up by the next run.
            if _cleared([*(temporary for temporary, _ in self.staged), *seconds]) and whole:
                _cleared(self.notes)
        return [final for _, final in self.staged if final not in self.notes]

    def _ready(self, folder: Path, files: Mapping[str, bytes]) -> Iterable[Path]:
        """Write a folder's files beside their places; what there will be outdated then."""
        self.place = folder
        before = earlier(folder, files, lambda path: bool(_identities(path) & self.read))
        self.edited += before.edited
        self.anew += before.anew
        if RECORD in files:
            files = {**files, RECORD: with_left(files[RECORD], listed(before.left))}
        sweep(folder, files.keys())
        for name, data in note(folder, files).items():
            there = (folder / name).exists()
            self._stage(folder / name, data).replace(folder / name)
            self.notes[folder / name] = there
        for name, data in files.items():
            self._stage(folder / name, data)
        return before.away

    def _stage(self, final: Path, data: bytes) -> Path:
        self.place = final
        handle, name = tempfile.mkstemp(prefix=f".{final.name}.", suffix=".part", dir=final.parent)
        temporary = Path(name)
        self.staged.append((temporary, final))
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        umask = os.umask(0)
        os.umask(umask)
        temporary.chmod(0o666 & ~umask)
        return temporary

    def _move(self, old: Iterable[Path]) -> None:
        """Move all into its place, what tells of it last, and take away what is outdated."""
        moves = [(temporary, final) for temporary, final in self.staged if final not in self.notes]
        for final in (*(final for _, final in moves), *old):
            self.place = final.parent
            if final.is_dir():
                raise IsADirectoryError(errno.EISDIR, f"{final.name} is a folder there")
            if final.exists():
                self.kept[final] = _second_name(final)
        for path in self.anew:
            self.place = path
            self.rescued[path] = _kept_beside(path)
        for temporary, final in sorted(moves, key=lambda move: move[1].name in LAST and 1 + LAST.index(move[1].name)):
            self.place = final
            self.begun.append(final)
            temporary.replace(final)
        for path in old:
            self.place = path
            self.begun.append(path)
            path.unlink(missing_ok=True)

    def _undone(self) -> bool:
        """Put back what stood there; whether all of it does again."""
        whole = True
        for final in self.begun:
            try:
                second = self.kept.get(final)
                if second:
                    second.replace(final)
                elif final in self.kept:
                    whole = False
                else:
                    final.unlink(missing_ok=True)
            except OSError:
                whole = False
        # What was edited stays under its other name where it is no longer in its own place.
        back = {path: kept for path, kept in self.rescued.items() if _alike(path, kept)}
        _cleared(back.values())
        self.rescued = {path: kept for path, kept in self.rescued.items() if path not in back}
        return whole


def _alike(one: Path, other: Path) -> bool:
    """Whether two files surely hold the same."""
    try:
        return one.samefile(other) or one.read_bytes() == other.read_bytes()
    except OSError:
        return False


def _cleared(paths: Iterable[Path]) -> bool:
    """Take files away; whether all of them are gone."""
    gone = True
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError:
            gone = False
    return gone


def _second_name(path: Path) -> Path | None:
    """A second name of a file, under which it stays while its place is taken; None where a file system has none."""
    second = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        second.hardlink_to(path)
    except (OSError, NotImplementedError):
        return None
    return second


def _kept_beside(path: Path) -> Path:
    """A file under another name too, one that nothing has yet."""
    for number in itertools.count(1):
        kept = path.with_name(f"{path.stem}.{EDITED}{f'-{number}' if number > 1 else ''}{path.suffix}")
        if os.path.lexists(kept):
            continue
        try:
            kept.hardlink_to(path)
        except FileExistsError:  # another run came between
            continue
        except (OSError, NotImplementedError):  # a file system without such names
            _copied(path, kept)
        return kept
    raise AssertionError("numbers do not end")


def _copied(path: Path, other: Path) -> None:
    with other.open("xb") as file:
        try:
            file.write(path.read_bytes())
        except OSError:
            other.unlink()
            raise
