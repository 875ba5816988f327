"""Jobs being made, one after the other or several at a time in processes of their own."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TypeVar

import click

from facegraphic.cli.order import Order, Told
from facegraphic.cli.talk import progress
from facegraphic.errors import Finding, Problem, UserError, nothing_unforeseen
from facegraphic.job.load import load_job
from facegraphic.output.earlier import places_of
from facegraphic.output.folder import Edited, require_place, write_all, write_together
from facegraphic.output.made import RECORD, REPORT, record
from facegraphic.pipeline.making import in_silence, make, make_gang, require_sound
from facegraphic.pipeline.preparing import Prepared, Progress, Wishes, judged, laid_out, with_masks
from facegraphic.pipeline.previewing import Awaited, Begin, in_turn

One = TypeVar("One")
Other = TypeVar("Other")


@dataclass(frozen=True)
class Done:
    """What became of a job; it may come from another process, so that nothing is told there. With `pictures` that have
    been begun it may not.
    """

    findings: tuple[Finding, ...] = ()
    report: bytes = b""
    prepared: Prepared | None = None
    pictures: Awaited | None = None
    wrong: tuple[Problem, ...] = ()


@dataclass(frozen=True)
class Task:
    """A job to be made: its file and folder, what is asked for, and what its record says of that."""

    path: Path
    folder: Path
    wishes: Wishes
    forgetful: bool
    asked: str = ""

    def laid_out(self) -> Prepared:
        earlier = {} if self.forgetful else places_of(self.folder)
        return with_masks(laid_out(load_job(self.path), replace(self.wishes, earlier=earlier)))


def prepared_alone(task: Task, begin: Begin | None = None) -> Done:
    """Prepare a job; what is wrong with it is in the answer.

    `begin` begins the pictures of the box: they wait for nothing that the checks say, and take longest.
    """
    found: tuple[Finding, ...] = ()
    pictures = None
    try:
        with nothing_unforeseen(str(task.path)):
            laid = task.laid_out()
            pictures = begin(laid, task.wishes) if begin else None
            prepared = judged(laid, task.wishes)
            found = prepared.findings
            require_sound([prepared])
            require_place(task.folder)
    except UserError as error:
        return Done(found, wrong=tuple(error.problems))
    return Done(found, prepared=prepared, pictures=pictures)


def made_alone(tell: Progress, begin: Begin, task: Task) -> Done:
    """Make a job and write its files; what is wrong with it is in the answer."""
    done = prepared_alone(task, begin)
    if done.prepared is None:
        return done
    try:
        with nothing_unforeseen(str(task.path)):
            written = _written(task, done.prepared, tell, done.pictures)
            return replace(written, findings=(*done.findings, *written.findings))
    except UserError as error:
        return Done(done.findings, wrong=tuple(error.problems))


def _written(task: Task, prepared: Prepared, tell: Progress, pictures: Awaited | None = None) -> Done:
    files = make(prepared, task.wishes, tell, pictures)
    sources = _sources([prepared])
    edited: list[Edited] = []
    kept = {**files, RECORD: record(task.asked, sources, files)}
    write_all(task.folder, kept, inputs=map(Path, sources), tell=edited.append)
    return Done(tuple(map(_stays, edited)), files["report.json"])


def _stays(edited: Edited) -> Finding:
    path, kept = edited
    if kept:
        what = f"{path.name} has been edited since it was made; what was in it is {kept.name} now, and it is made anew"
        return Finding("edited", "note", what, "put into the job what is to stay; print one of them")
    what = f"{path.name} was made by an earlier run and has been edited since, so it stays though it is outdated"
    return Finding("edited", "note", what, "don't print it with the others; take it away or give it another name")


def _sources(prepared: Iterable[Prepared]) -> Mapping[str, str]:
    return {str(Path(path).absolute()): found for one in prepared for path, found in one.job.read}


class Bench:
    """Makes the jobs of an order and tells what becomes of them; `begin` begins the pictures of a box."""

    def __init__(self, order: Order, told: Told, begin: Begin | None = None) -> None:
        self.order, self.told, self.begin = order, told, begin or in_turn
        asked = order.options
        self.workers: int = asked["workers"]
        self.progress: Progress = in_silence if asked["quiet"] else progress
        self.wishes = Wishes(
            formats=asked["formats"],
            kinds=asked["only"],
            dpi=asked["dpi"],
            mirrored=asked["mirror"],
            paper=asked["paper"],
            printer=asked["printer"],
            copies=asked["copies"],
            views=asked["views"],
            ganged=order.shared is not None,
        )

    def each(self, paths: Sequence[Path]) -> Iterator[None]:
        """Make jobs by themselves, telling of each in turn; one that is wrong doesn't stop the others."""
        tasks = [self._task(path, self.wishes, self.order.asked(path)) for path in paths]
        work = partial(made_alone, self._apart(len(tasks)), self.begin)
        with self._running(len(tasks)) as run:
            for task, done in zip(tasks, run(work, tasks), strict=True):
                self._tell(task, done)
                yield

    def together(self, shared: Path) -> None:
        """Make jobs that share sheets; if one is wrong no sheet is, since its place on the film would stay empty."""
        tasks = [self._task(path, self.wishes) for path in self.order.folders]
        with self._running(len(tasks)) as run:
            ready: dict[Path, Prepared] = {}
            for task, done in zip(tasks, run(prepared_alone, tasks), strict=True):
                self._tell(task, done)
                if done.prepared:
                    ready[task.path] = done.prepared
            if self.told.failed:
                self._without_sheets(ready, shared)
                return
            with self.told.wrong():
                require_place(shared)
                tell = self._apart(len(tasks))
                made = make_gang(list(ready.values()), self.wishes, shared.name, tell, run)
                self.told.findings(shared.name, made.findings)
                self._write_gang(shared, dict(zip(self.order.folders, made.jobs, strict=True)), made.sheets, ready)

    def _write_gang(
        self,
        shared: Path,
        jobs: Mapping[Path, Mapping[str, bytes]],
        sheets: Mapping[str, bytes],
        ready: Mapping[Path, Prepared],
    ) -> None:
        sources, asked = _sources(ready.values()), self.order.asked()
        named = [(str(path), self.order.folders[path], files) for path, files in jobs.items()]
        named.append((str(shared), shared, sheets))
        kept = {folder: {**files, RECORD: record(asked, sources, files)} for _, folder, files in named}
        edited: list[Edited] = []
        write_together(kept, inputs=map(Path, sources), tell=edited.append)
        self.told.findings(shared.name, tuple(map(_stays, edited)))
        for name, folder, files in named:
            self.told.made(name, folder, files["report.json"])

    def _without_sheets(self, ready: Mapping[Path, Prepared], shared: Path) -> None:
        """Make what stands alone of those that are right."""
        old = f" (those in {shared.name} are of an earlier run)" if (shared / REPORT).exists() else ""
        what = f"no sheets are made, since not all jobs that share them are right{old}; --apart makes each by itself"
        click.echo(what, err=True)
        wishes = replace(self.wishes, kinds=tuple(kind for kind in self.wishes.kinds if kind != "sheet"))
        for path, prepared in ready.items():
            with self.told.wrong(str(path)):
                task = self._task(path, wishes)
                self._tell(task, _written(task, prepared, self.progress))

    def _task(self, path: Path, wishes: Wishes, asked: str = "") -> Task:
        return Task(path, self.order.folders[path], wishes, self.order.forgetful, asked)

    def _tell(self, task: Task, done: Done) -> None:
        self.told.findings(str(task.path), done.findings)
        with self.told.wrong(str(task.path)):
            if done.wrong:
                raise UserError(done.wrong)
            if done.report:
                self.told.made(str(task.path), task.folder, done.report)

    def _apart(self, jobs: int) -> Progress:
        """What tells of progress where the jobs are made: nothing in processes beside this one."""
        return self.progress if min(jobs, self.workers) < 2 else in_silence

    @contextmanager
    def _running(self, jobs: int) -> Iterator[Callable[[Callable[[One], Other], Iterable[One]], Iterable[Other]]]:
        """A `map` over jobs: in this process, or in several, with a count of the jobs done."""
        workers = min(jobs, self.workers)
        if workers < 2:
            yield map
            return
        from facegraphic.cli.workers import pool_of  # for several workers only

        with pool_of(workers, self.progress) as run:
            yield run
