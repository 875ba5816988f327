"""``facegraphic new``: a starter job."""

import shlex
from pathlib import Path

import click

from facegraphic.job.starter import write_starter


@click.command(epilog="Example: facegraphic new my-box && facegraphic make my-box.toml")
@click.argument("name")
def new(name: str) -> None:
    """Write NAME.toml, a starter job that makes at once. An existing file is never overwritten."""
    path = write_starter(Path(name))
    click.echo(path)
    name = shlex.quote(str(path))
    click.echo(f"next: edit {name}, then: facegraphic make {name}", err=True)
