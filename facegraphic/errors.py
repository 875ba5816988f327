"""What can be wrong with what a user gave, as values: where it stands, what it is, how to mend it.

A `Problem` stops the work (exit status 1, nothing written). A `Finding` is what the checks say of a job that can
be read; only findings of severity "error" stop an output from being written.
"""

import difflib
import re
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]
# Control characters but for line ends and tabs, marks of direction, and halves of characters that no output takes.
_STEERING = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
MOST_SAID = 300  # letters of what a library says
SEVERITIES: tuple[Severity, ...] = ("error", "warning", "note")


def printable(text: str) -> str:
    r"""A text with what would steer a terminal, or turn the reading round, written out: names come from strangers.

    >>> printable("a\x1b[31m\u202eb\nc")
    'a\\x1b[31m\\u202eb\nc'
    """
    return _STEERING.sub(lambda found: ascii(found[0])[1:-1], text)


def brief(error: Exception) -> str:
    """What a library says of a file, which may have the file's own words in it, at any length."""
    said = str(error)
    return said if len(said) <= MOST_SAID else f"{said[:MOST_SAID]} …"


@dataclass(frozen=True)
class Problem:
    """One thing a user can mend; `key` is the path in the job file, `line` counts from 1."""

    what: str
    mend: str = ""
    file: str = ""
    line: int | None = None
    key: str = ""

    def __str__(self) -> str:
        place = ":".join(part for part in (self.file, str(self.line or "")) if part)
        head = ": ".join(part for part in (place, self.key, self.what) if part)
        return printable(f"{head}\n    {self.mend}" if self.mend else head)


class UserError(Exception):
    """Everything found wrong with the input, all at once."""

    exit_status = 1

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        self.problems = (problems,) if isinstance(problems, Problem) else tuple(problems)
        super().__init__("\n".join(map(str, self.problems)))

    def __reduce__(self) -> tuple[type["UserError"], tuple[tuple[Problem, ...]]]:
        """Between processes it goes as its problems, not as the text they make."""
        return type(self), (self.problems,)


@contextmanager
def nothing_unforeseen(file: str = "") -> Iterator[None]:
    """Turn whatever else is raised into a UserError: a person is told in a line, and other files go on."""
    try:
        yield
    except UserError:
        raise
    except MemoryError:
        raise UserError(Problem("memory ran out", "ask for a lower dpi, or give it simpler artwork", file)) from None
    except Exception as error:
        what = f"facegraphic has a fault: {type(error).__name__}: {brief(error)}"
        raise UserError(Problem(what, "this is not your doing; please report it with the job", file)) from error


@dataclass(frozen=True)
class Finding:
    """What a check says of a job: `at` is a place on the face in mm, if there is one."""

    code: str
    severity: Severity
    message: str
    remedy: str
    side: str = ""
    at: tuple[float, float] | None = None

    def __str__(self) -> str:
        place = f"{self.side}: " if self.side else ""
        return printable(f"{self.severity}: {place}{self.message} [{self.code}]\n    {self.remedy}")


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by severity, those of one severity in the order they were found."""
    return tuple(sorted(findings, key=lambda finding: SEVERITIES.index(finding.severity)))


def nearest(name: str, known: Iterable[str]) -> str:
    """Advise on a name that isn't known: the nearest one that is, else all of them."""
    names = sorted(known)
    return meant(name, names) or (f"known are: {', '.join(names)}" if names else "none is known")


def meant(name: str, known: Iterable[str]) -> str:
    """Ask whether the nearest of some names is meant by one that isn't known; "" if none is near."""
    spelt = {known.lower(): known for known in sorted(known, reverse=True)}
    close = difflib.get_close_matches(name.lower(), spelt, n=1, cutoff=0.6)
    return f'did you mean "{spelt[close[0]]}"?' if close else ""
