"""One case under limits: what may come out of a reader, how long it may take, and how much memory."""

import contextlib
import io
import resource
import signal
import sys
import traceback
import warnings
from collections.abc import Callable, Iterator

from facegraphic.errors import UserError

SECONDS = 5.0  # of the processor, so that what else runs on the machine does not count
MEGABYTES = 1024


class Fault(AssertionError):
    """An input that does what no input may; the text says what."""


class _Late(BaseException):
    """Not an Exception, so that no reader takes it for a damaged file."""


def run(read: Callable[[bytes], object], data: bytes) -> str:
    """Run a reader on an input: "values" or "refused". Fault for anything else."""
    before = peak_mb()
    try:
        with _in_time(), _quiet():
            read(data)
        ended = "values"
    except UserError as error:
        ended = "refused"
        _told(error)
    except _Late:
        raise Fault(f"it takes longer than {SECONDS:g} s") from None
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
    for problem in error.problems:
        if not (problem.what.strip() and problem.mend.strip()):
            raise Fault(f"refused without advice: {problem}")
        if "Traceback" in str(problem) or len(str(problem)) > 4000:
            raise Fault(f"refused at length: {str(problem)[:300]}")


def peak_mb() -> float:
    """The most memory that this process has had, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (2**20 if sys.platform == "darwin" else 2**10)


def hold_memory() -> None:
    """Let this process have no more than so many MB beyond what it has: allocations then fail, and are seen."""
    with contextlib.suppress(OSError, ValueError):
        pages = int(open("/proc/self/statm").read().split()[0]) * resource.getpagesize()  # noqa: PTH123, SIM115
        most = pages + MEGABYTES * 2**20
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


@contextlib.contextmanager
def _in_time() -> Iterator[None]:
    def late(*_: object) -> None:
        raise _Late

    was = signal.signal(signal.SIGPROF, late)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, was)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Nothing is said but by way of problems: what reaches stdout, stderr or the warnings is a fault."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err), warnings.catch_warnings():
        warnings.simplefilter("error")
        yield
    if said := out.getvalue() + err.getvalue():
        raise Fault(f"it talks by itself: {said[:200]}")
