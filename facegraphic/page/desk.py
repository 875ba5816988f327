"""The jobs that are on the page: those named, and whatever job files lie in the folders named."""

import re
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from facegraphic.errors import Problem, UserError
from facegraphic.job.saving import job_bytes
from facegraphic.page.bench import Bench
from facegraphic.pipeline.preparing import Wishes

MOST_JOBS = 60
# What tells a job file from other TOML files, whether it can be read or not.
_JOB = re.compile(rb"^\s*(?:\[\s*box\s*\]|\[\[\s*face\s*\]\]|box\s*[.=]|face\s*=)", re.MULTILINE)


@dataclass
class Desk:
    """Jobs by their names on the page, in the order they were found."""

    jobs: tuple[Path, ...]
    folders: tuple[Path, ...]
    wishes: Wishes = field(default_factory=Wishes)
    fresh: bool = False

    def __post_init__(self) -> None:
        self._lock = threading.Lock()
        self._benches: dict[Path, Bench] = {}
        self.look_round()

    @property
    def benches(self) -> tuple[Bench, ...]:
        return tuple(self._benches.values())

    def bench(self, name: str) -> Bench | None:
        return next((bench for bench in self.benches if bench.name == name), None)

    def look_round(self) -> bool:
        """Look for job files that have come; whether there are any. One that has gone stays, with that as its error."""
        with self._lock:
            found = [*self.jobs, *(path for folder in self.folders for path in jobs_in(folder))]
            new = [path for path in dict.fromkeys(found) if path not in self._benches]
            new = new[: MOST_JOBS - len(self._benches)]
            names = {bench.name for bench in self.benches}
            benches = dict(self._benches)
            for path in new:
                name = _unlike(path.stem, names)
                names.add(name)
                benches[path] = Bench(name, path, self.wishes, self.fresh)
            self._benches = benches
        return bool(new)

    @property
    def watched(self) -> frozenset[Path]:
        """All files that the jobs go by."""
        return frozenset(path for bench in self.benches for path in bench.watched)

    def touched(self, paths: Iterable[Path]) -> list[Bench]:
        """The jobs that go by any of some files."""
        asked = set(paths)
        return [bench for bench in self.benches if not bench.watched.isdisjoint(asked)]


def desk_of(paths: Iterable[Path], wishes: Wishes, fresh: bool) -> Desk:
    """A desk with what was named on the command line. UserError where there is no job."""
    paths = [path.absolute() for path in paths]
    folders = tuple(path for path in paths if path.is_dir())
    jobs = tuple(path for path in paths if not path.is_dir())
    for path in jobs:
        job_bytes(path)
    desk = Desk(jobs, folders, wishes, fresh)
    if not desk.benches:
        raise UserError(Problem("there is no job file in it", "facegraphic new my-box starts one", str(folders[0])))
    return desk


def jobs_in(folder: Path) -> Iterator[Path]:
    """The job files of a folder by name; links that lead out of it are left alone."""
    try:
        found = sorted(folder.glob("*.toml"))
        home = folder.resolve()
    except OSError:
        return
    for path in found:
        try:
            if path.is_file() and path.resolve().is_relative_to(home) and _JOB.search(job_bytes(path)):
                yield path
        except (OSError, UserError):
            continue


def _unlike(stem: str, names: set[str]) -> str:
    """A name as an address can hold it, that no other job has."""
    plain = re.sub(r"[^\w.-]+", "-", stem).strip(".-") or "job"
    number, name = 1, plain
    while name in names:
        number += 1
        name = f"{plain}-{number}"
    return name
