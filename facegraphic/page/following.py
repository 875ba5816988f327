"""Follows the files of all jobs, and tells the page what has changed: pictures first, then what the checks say."""

import asyncio
from collections.abc import Iterable
from pathlib import Path

import anyio
from watchfiles import awatch

from facegraphic.errors import UserError
from facegraphic.page.answers import problem_record
from facegraphic.page.apart import apart
from facegraphic.page.bench import Bench
from facegraphic.page.desk import Desk
from facegraphic.page.drawing import draw_faces
from facegraphic.page.events import Hub
from facegraphic.page.state import Change

STEP_MS, DEBOUNCE_MS = 5, 50  # how often changes are looked for, and how long they are gathered at most
BREATH = 0.03  # s between pictures and checks, so that a page gets the pictures first
POLL_MS = 1000  # how often files are looked at where nothing is told of their changing
Signature = tuple[int, int, int]
NEVER: Signature = (-1, -1, -1)


class Follower:
    """Keeps the desk's jobs as their files are."""

    def __init__(self, desk: Desk, hub: Hub) -> None:
        self.desk = desk
        self.hub = hub
        self._settling: dict[str, asyncio.Task[None]] = {}
        self._seen: dict[Path, Signature | None] = {}
        self._stop = anyio.Event()

    def stop(self) -> None:
        self._stop.set()

    async def follow(self) -> None:
        """Look at all jobs once, then whenever a file changes, until it is stopped."""
        for bench in self.desk.benches:
            await self.look(bench)
        while not self._stop.is_set():
            folders = _folders(self.desk)
            watching = awatch(
                *folders,
                watch_filter=lambda _, path: self._wanted(Path(path)),
                debounce=DEBOUNCE_MS,
                step=STEP_MS,
                rust_timeout=POLL_MS,
                yield_on_timeout=True,
                stop_event=self._stop,
                recursive=False,
                ignore_permission_denied=True,
            )
            try:
                async for changes in watching:
                    await self.stir(Path(path) for _, path in changes)
                    if _folders(self.desk) != folders:
                        break
            except (OSError, RuntimeError):  # a folder went while it was watched, or there is nothing left to watch
                await asyncio.sleep(POLL_MS / 1000)
                await self.stir(())

    def _wanted(self, path: Path) -> bool:
        return path in self.desk.watched or (path.suffix == ".toml" and path.parent in self.desk.folders)

    async def stir(self, paths: Iterable[Path]) -> None:
        """Look again at what goes by some files, and by those that have changed without anybody telling."""
        paths = set(paths)
        stirred = paths | self._unlike()
        # A file that came before the watch began is told of by nobody, so folders are looked through at rest too.
        new = not paths or any(path.suffix == ".toml" and path.parent in self.desk.folders for path in stirred)
        if new and await apart(self.desk.look_round):
            self.hub.tell("jobs", {})
            stirred |= {bench.path for bench in self.desk.benches if bench.state.version == 0}
        for bench in self.desk.touched(stirred):
            await self.look(bench)

    def _unlike(self) -> set[Path]:
        """Files that are not as they were the last time; those that are new here too, which may have changed since."""
        now = {path: _signature(path) for path in self.desk.watched}
        unlike = {path for path, signature in now.items() if self._seen.get(path, NEVER) != signature}
        self._seen = now
        return unlike

    async def look(self, bench: Bench) -> None:
        change = await apart(bench.look)
        if change is not None:
            self.changed(bench, change)

    def changed(self, bench: Bench, change: Change) -> None:
        """Tell of a new version, then draw it, then judge it."""
        if change.broken:
            self.hub.tell("error", {"job": bench.name, "version": change.version})
            return
        self.hub.tell("changed", {"job": bench.name, "version": change.version, "faces": list(change.sides)})
        if bench.name not in self._settling:
            task = asyncio.create_task(self._settle(bench))
            self._settling[bench.name] = task
            task.add_done_callback(lambda _: self._settling.pop(bench.name, None))

    async def _settle(self, bench: Bench) -> None:
        while bench.behind:
            version = bench.state.version
            await apart(draw_faces, bench)
            await asyncio.sleep(BREATH)
            if bench.state.version != version:
                continue
            judged = await apart(bench.judge)
            if judged is not None:
                self.hub.tell("findings", {"job": bench.name, "findings_version": judged})

    def make(self, bench: Bench) -> bool:
        """Begin to make a job's files; whether it was not being made already."""
        if not bench.making.acquire(blocking=False):
            return False
        self._making = asyncio.create_task(self._make(bench))
        return True

    async def _make(self, bench: Bench) -> None:
        def progress(name: str, done: int, total: int) -> None:
            self.hub.tell("making", {"job": bench.name, "file": name, "done": done, "total": total})

        try:
            folder = await apart(bench.make, progress)
            self.hub.tell("made", {"job": bench.name, "folder": folder.name})
        except UserError as error:
            problems = [problem_record(problem) for problem in error.problems]
            self.hub.tell("failed", {"job": bench.name, "problems": problems})
        finally:
            bench.making.release()


def _folders(desk: Desk) -> set[Path]:
    """The folders in which anything that is watched lies, or would."""
    return {folder for folder in {*desk.folders, *(path.parent for path in desk.watched)} if folder.is_dir()}


def _signature(path: Path) -> Signature | None:
    try:
        status = path.stat()
    except OSError:
        return None
    return (status.st_mtime_ns, status.st_size, status.st_ino)
