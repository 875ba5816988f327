"""How the commands speak: results to stdout, everything else to stderr."""

import sys
from collections.abc import Callable, Sequence

import click

from facegraphic.errors import Finding, UserError


def complain(error: UserError) -> None:
    """Tell every problem with its advice."""
    for problem in error.problems:
        click.echo(str(problem), err=True)
    count = len(error.problems)
    click.echo(f"{count} problem{'s' if count > 1 else ''}; nothing was written", err=True)


def tell_findings(findings: Sequence[Finding], job: str) -> None:
    """Findings as talk beside the work."""
    for finding in findings:
        click.echo(f"{job}: {finding}", err=True)


def progress(total: int) -> Callable[[str], None]:
    """A counter on a terminal, nothing in a pipe."""
    if not sys.stderr.isatty():
        return lambda name: None
    done = 0

    def step(name: str) -> None:
        nonlocal done
        done += 1
        end = "\n" if done >= total else ""
        click.echo(f"\r\033[K[{done}/{total}] {name}{end}", err=True, nl=False)

    return step
