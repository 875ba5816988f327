"""One case under limits: what may come out of a reader, how long it may take, and how much memory."""

import contextlib
import io
import re
import resource
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

from facegraphic.errors import UserError

SECONDS = 5.0  # of the processor, so that what else runs on the machine does not count
MEGABYTES = 1024
HELD = False  # whether no case may have more than that: in processes of the long run, which have nothing else to do
_NO_MEMORY = re.compile(r"memory|bad_alloc", re.IGNORECASE)  # words of a refusal that hides that there was too little
_OWN = Path("/proc/self")  # what the system tells of a process; not on every system


class Fault(AssertionError):
    """An input that does what no input may; the text says what."""


class _Late(BaseException):
    """Not an Exception, so that no reader takes it for a damaged file."""


def run(read: Callable[[bytes], object], data: bytes, seconds: float | None = None) -> str:
    """Run a reader on an input: "values" or "refused". Fault for anything else."""
    seconds = SECONDS if seconds is None else seconds
    if HELD:
        hold_memory()
    before = _from_now_on()
    try:
        with _in_time(seconds), _quiet():
            read(data)
        ended = "values"
    except UserError as error:
        ended = "refused"
        _told(error)
    except _Late:
        raise Fault(f"it takes longer than {seconds:g} s") from None
    except Exception as error:
        place = traceback.extract_tb(error.__traceback__)[-1]
        raise Fault(f"{type(error).__name__} in {place.name} ({place.filename}:{place.lineno}): {error}") from error
    if peak_mb() - before > MEGABYTES:
        raise Fault(f"it takes {peak_mb() - before:.0f} MB")
    return ended


def _told(error: UserError) -> None:
    """A refusal says what is wrong, and how to mend it, in lines that can be shown."""
    if not error.problems:
        raise Fault("refused without a word")
    if _wanted_memory(error):
        raise Fault(f"it asks for more memory than {MEGABYTES} MB, and refuses for want of it: {str(error)[:300]}")
    for problem in error.problems:
        if not (problem.what.strip() and problem.mend.strip()):
            raise Fault(f"refused without advice: {problem}")
        if "Traceback" in str(problem) or len(str(problem)) > 4000:
            raise Fault(f"refused at length: {str(problem)[:300]}")


def _wanted_memory(error: BaseException) -> bool:
    """Whether a refusal comes of an allocation that failed, by its words or by what it was raised from.

    A limit of the process's own (`hold_memory`) makes those fail that ask for too much: a reader that takes this for
    one more kind of damage would take all memory there is where nothing holds it.
    """
    seen: list[BaseException] = []
    link: BaseException | None = error
    while link is not None and link not in seen:
        seen.append(link)
        link = link.__cause__ or link.__context__
    return any(isinstance(one, MemoryError) or _NO_MEMORY.search(str(one)) for one in seen)


def _from_now_on() -> float:
    """MB in use; from now on `peak_mb` tells the most from here, where the system lets a process begin anew."""
    try:
        (_OWN / "clear_refs").write_text("5")
        return int((_OWN / "statm").read_text().split()[1]) * resource.getpagesize() / 2**20
    except OSError:
        return peak_mb()


def peak_mb() -> float:
    """The most memory that this process has had, in MB."""
    try:
        told = (_OWN / "status").read_text()
        return int(told.partition("VmHWM:")[2].split(None, 1)[0]) / 2**10
    except (OSError, ValueError, IndexError):
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)


def hold_memory() -> None:
    """Let this process have no more than so many MB beyond what it has now: allocations then fail, and are seen."""
    with contextlib.suppress(OSError, ValueError):
        pages = int((_OWN / "statm").read_text().split()[0]) * resource.getpagesize()
        most = pages + MEGABYTES * 2**20
        resource.setrlimit(resource.RLIMIT_AS, (most, resource.getrlimit(resource.RLIMIT_AS)[1]))


@contextlib.contextmanager
def _in_time(seconds: float) -> Iterator[None]:
    def late(*_: object) -> None:
        raise _Late

    was = signal.signal(signal.SIGPROF, late)
    # Again and again, lest a handler that a library calls in the wrong place swallows the first.
    signal.setitimer(signal.ITIMER_PROF, seconds, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, was)


def afresh() -> None:
    """Give the rest of a case the time of a case anew: it is what another format or command does."""
    _, seconds = signal.getitimer(signal.ITIMER_PROF)
    if seconds:
        signal.setitimer(signal.ITIMER_PROF, seconds, seconds)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Nothing is said but by way of problems: what reaches stdout, stderr or the warnings is a fault."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
        warnings.simplefilter("error")
        yield
    if said := out.getvalue() + err.getvalue():
        raise Fault(f"it talks by itself: {said[:200]}")
