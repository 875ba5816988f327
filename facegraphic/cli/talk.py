"""How the commands speak: results to stdout, everything else to stderr."""

import sys
from collections.abc import Sequence

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


def progress(name: str, done: int, total: int) -> None:
    """A counter on a terminal, nothing in a pipe."""
    if sys.stderr.isatty():
        end = "\n" if done + 1 == total else ""
        click.echo(f"\r\033[K[{done + 1}/{total}] {name}{end}", err=True, nl=False)
