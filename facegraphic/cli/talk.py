"""How the commands speak: results to stdout, everything else to stderr."""

import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from facegraphic.errors import Finding, Problem, UserError, printable

if TYPE_CHECKING:  # a name for the type checker alone: all of the layout would be loaded with it, for help as well
    from facegraphic.layout.model import FaceLayout

PATIENCE = 2.0  # s


NOTHING = "nothing was written"


def complain(error: UserError, outcome: str = NOTHING) -> None:
    """Tell every problem with its advice; and what comes of it, where something might have been written."""
    for problem in error.problems:
        click.echo(str(problem), err=True)
    count = len(error.problems)
    click.echo(f"{count} problem{'s' if count > 1 else ''}{f'; {outcome}' if outcome else ''}", err=True)


def tell_notes(notes: Iterable[Problem]) -> None:
    """Notes as talk beside the work: they stop nothing."""
    for note in notes:
        click.echo(f"note: {note}", err=True)


def tell_findings(findings: Sequence[Finding], job: str) -> None:
    """Findings as talk beside the work."""
    for finding in findings:
        click.echo(f"{printable(job)}: {finding}", err=True)


def progress(name: str, done: int, total: int) -> None:
    """A counter on a terminal, nothing in a pipe."""
    if sys.stderr.isatty():
        end = "\n" if done + 1 == total else ""
        click.echo(f"\r\033[K[{done + 1}/{total}] {name}{end}", err=True, nl=False)


@contextmanager
def trying() -> Iterator[Callable[[str], None]]:
    """Names what is being tried, on a terminal, once that takes longer than a person waits; nothing in a pipe."""
    start, told = time.monotonic(), ""

    def tell(name: str) -> None:
        nonlocal told
        if sys.stderr.isatty() and time.monotonic() - start > PATIENCE and name != told:
            click.echo(f"\r\033[Ktrying {name} …", err=True, nl=False)
            told = name

    try:
        yield tell
    finally:
        if told:
            click.echo("\r\033[K", err=True, nl=False)


def explanation(layouts: Iterable["FaceLayout"]) -> Iterator[str]:
    """Why each label stands where it stands, as lines."""
    for layout in layouts:
        proof = layout.proof
        if proof is None or not layout.reasons:
            continue
        sure = "proved best" if proof.proved else f"not proved: at most {proof.gap:.1%} could be saved"
        own = sum(reason.cost for reason in layout.reasons)
        yield f"\n{layout.face.side}: {proof.cost:.1f} points, {sure}: {own:.1f} of the labels below by themselves,"
        yield f"  {proof.cost - own:.1f} for what is not alike in a row or kind, reads as one, or found no place"
        for reason in layout.reasons:
            yield f"  {reason.legend}: {reason.stands}; {reason.cost:.1f} points"
            yield from (f"    {points:.1f} {why}" for why, points in reason.parts)
            second = f"the best other place: {reason.runner_up}, {reason.extra:.1f} points more"
            yield f"    {second if reason.runner_up else 'no other place is open while the others stay'}"
            yield from (f"    {place} is closed: {blockers}" for place, blockers in reason.ruled_out)
