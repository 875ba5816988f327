"""One job that is worked on: its file is read and laid out, changed, judged and made. Called from threads."""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from facegraphic.errors import Finding, Problem, UserError, brief
from facegraphic.film.gang import lay_gangs
from facegraphic.job.edit import SETTINGS, edited, key_path, tidy
from facegraphic.job.files import Files
from facegraphic.job.load import job_text, read_job
from facegraphic.job.saving import ChangedMeanwhile, body_of, job_bytes, save, text_of
from facegraphic.output.earlier import places_of
from facegraphic.output.folder import write_all
from facegraphic.output.made import RECORD, record
from facegraphic.page.apart import unbroken
from facegraphic.page.layouts import Layouts
from facegraphic.page.pictures import Kept
from facegraphic.page.state import Change, History, Judged, Shown, State, stamped
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Prepared, Progress, Wishes, judged, laid_out, prepare

UNSURE = 0.08  # s: a file that is just being written may look broken for a moment
FARTHEST = 500.0  # mm that a label may be nudged


@dataclass(frozen=True)
class Read:
    """What came of reading a job file: a job laid out, or what is wrong."""

    data: bytes | None
    prepared: Prepared | None = None
    problems: tuple[Problem, ...] = ()


@dataclass
class Bench:
    """A job by its `name` on the page and the `path` of its file. Its state is a value, replaced as a whole."""

    name: str
    path: Path
    wishes: Wishes = field(default_factory=Wishes)
    fresh: bool = False
    state: State = field(default_factory=State)
    kept: Kept = field(default_factory=Kept)
    named: frozenset[Path] = frozenset()

    def __post_init__(self) -> None:
        self._lock = threading.RLock()
        self._layouts = Layouts()
        self.making = threading.Lock()

    @property
    def folder(self) -> Path:
        """Where `make` writes to."""
        return self.path.with_name(f"{self.path.stem}-out")

    @property
    def watched(self) -> frozenset[Path]:
        """All files that this job goes by."""
        return self.named | {self.path, self.path.resolve(), self.folder / "report.json"}

    def look(self) -> Change | None:
        """Look at the file again; None if nothing is different."""
        with self._lock:
            read = self._read()
            if read.problems and read.problems != self.state.problems:
                time.sleep(UNSURE)
                read = self._read()
            return self._take(read)

    def _take(self, read: Read) -> Change | None:
        state = self.state
        if read.prepared is None or read.data is None:
            if read.problems == state.problems:
                return None
            self.state = state.broken(read.problems)
            return Change(self.state.version, broken=True)
        before = state.shown
        own = before is not None and before.data == read.data
        if own and before and not state.problems and before.prepared == read.prepared:
            return None
        return self._show(read.data, read.prepared, state.history if own else History())

    def _show(self, data: bytes, prepared: Prepared, history: History) -> Change:
        version = self.state.version + 1
        shown = stamped(self.state.shown, data, prepared, version)
        self.state = self.state.showing(shown, history)
        return Change(version, tuple(side for side, stamp in shown.stamps.items() if stamp == version))

    def _read(self) -> Read:
        try:
            data = job_bytes(self.path)
        except UserError as error:
            return Read(None, problems=tuple(replace(p, file=self.path.name) for p in error.problems))
        try:
            return Read(data, self._laid_out(data))
        except UserError as error:
            return Read(data, problems=error.problems)
        except Exception as error:  # whatever was not foreseen is told like any other error, and the page goes on
            return Read(data, problems=(_fault(error, self.path.name),))

    def _laid_out(self, data: bytes) -> Prepared:
        files = Files(self.path.parent)
        try:
            job = read_job(job_text(data, self.path.name), self.path, files)
        finally:
            self.named = frozenset(files.named)
        return laid_out(job, self._wishes(), self._layouts.lay_out)

    def _wishes(self) -> Wishes:
        return self.wishes if self.fresh else replace(self.wishes, earlier=places_of(self.folder))

    def nudge(self, side: str, key: str, to: tuple[float, float]) -> Change:
        """Write where a label is to stand, from where it would by itself. UserError, ChangedMeanwhile."""
        with self._lock:
            shown = self._sound()
            hole = key.removeprefix("control:")
            controls = [c for face in shown.prepared.job.faces if face.side == side for c in face.controls]
            control = next((c for c in controls if c.hole == hole and key.startswith("control:")), None)
            if control is None:
                raise UserError(Problem(f"the {side} face has no label {key}", "reload the page"))
            if not all(abs(length) <= FARTHEST for length in to):
                raise UserError(Problem("a label cannot stand so far away", "drop it on the face"))
            tidied = [tidy(length) for length in to]
            path = (*key_path(control.key), "nudge")
            return self._edit(shown, lambda text: edited(text, path, tidied))

    def set(self, values: Mapping[str, str]) -> Change:
        """Write settings by name. UserError, ChangedMeanwhile."""
        with self._lock:
            shown = self._sound()

            def change(text: str) -> str:
                for name, value in values.items():
                    text = edited(text, SETTINGS[name], value)
                return text

            return self._edit(shown, change)

    def undo(self) -> Change:
        with self._lock:
            shown, history = self._sound(), self.state.history
            if not history.past:
                raise UserError(Problem("there is nothing to undo", "changes made outside this page are not kept here"))
            return self._replace(shown, history.past[-1], history.undone(shown.data))

    def redo(self) -> Change:
        with self._lock:
            shown, history = self._sound(), self.state.history
            if not history.future:
                raise UserError(Problem("there is nothing to redo", ""))
            return self._replace(shown, history.future[-1], history.redone(shown.data))

    def _sound(self) -> Shown:
        """What is shown, if the file is still that."""
        if self.state.problems or self.state.shown is None:
            raise ChangedMeanwhile(Problem("the file has an error", "mend it first", self.path.name))
        if job_bytes(self.path) != self.state.shown.data:
            mend = "look at what is in it now, and make the change again"
            what = "the file has been changed meanwhile, outside this page"
            raise ChangedMeanwhile(Problem(what, mend, self.path.name))
        return self.state.shown

    def _edit(self, shown: Shown, change: Callable[[str], str]) -> Change:
        mark, body = body_of(text_of(shown.data))
        after = (mark + change(body)).encode("utf-8")
        if after == shown.data:
            return Change(self.state.version)
        return self._replace(shown, after, self.state.history.done(shown.data))

    def _replace(self, shown: Shown, after: bytes, history: History) -> Change:
        """Write a text that reads well in the place of the one that is shown."""
        prepared = self._laid_out(after)
        with unbroken():
            save(self.path, shown.data, after)
        return self._show(after, prepared, history)

    @property
    def behind(self) -> bool:
        """Whether the checks have still to be tried on what is shown."""
        return self.state.shown is not None and self.state.judged.version < self.state.version

    def judge(self) -> int | None:
        """Try the checks on what is shown, and lay it on sheets; the version, or None if that is shown no longer."""
        state = self.state
        if state.shown is None:
            return None
        done = self._judged(state.shown.prepared, state.version)
        with self._lock:
            if self.state.version != state.version:
                return None
            self.state = replace(self.state, judged=done)
        return state.version

    def _judged(self, prepared: Prepared, version: int) -> Judged:
        try:
            findings = judged(prepared, self.wishes).findings
            return Judged(version, findings, lay_gangs([(prepared.job, prepared.pieces)]))
        except UserError as error:
            problems = error.problems
        except Exception as error:  # as above
            problems = (_fault(error),)
        return Judged(version, tuple(Finding("job", "error", problem.what, problem.mend) for problem in problems))

    def make(self, progress: Progress) -> Path:
        """Make everything anew from the file, as the command does, and write it. UserError says why not."""
        try:
            prepared = prepare(self.path, self._wishes())
            files = make(prepared, self.wishes, progress)
            with unbroken():
                # Asked for by nobody but the page, it is made again by the command; what is there is known by it.
                kept = {**files, RECORD: record("", dict(prepared.job.read), files)}
                inputs = [Path(path) for path, _ in prepared.job.read]
                write_all(self.folder, kept, "make room, or give yourself leave to write there", inputs)
        except UserError:
            raise
        except Exception as error:
            raise UserError(_fault(error, self.path.name)) from error
        return self.folder


def _fault(error: Exception, file: str = "") -> Problem:
    what = f"facegraphic has a fault: {type(error).__name__}: {brief(error)}"
    return Problem(what, "this is not your doing; please report it with the job", file)
