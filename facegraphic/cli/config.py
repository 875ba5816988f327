"""Where a user's own settings lie, and the printers kept there."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from facegraphic.errors import nearest

if TYPE_CHECKING:
    from facegraphic.job.model import Printer

VARIABLE = "FACEGRAPHIC_CONFIG"


def unattended() -> bool:
    """Whether this is an automatic build, which must not depend on what an earlier run has left behind."""
    return os.environ.get("CI", "").lower() not in ("", "0", "false")


def config_folder() -> Path:
    """The folder that the environment variable names, else the system's usual place for a program's settings."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else Path(click.get_app_dir("facegraphic"))


def known_printer(ctx: click.Context, param: click.Parameter, value: str | None) -> "Printer | None":
    """A click callback that looks a printer up by its name."""
    if value is None:
        return None
    from facegraphic.job.printers import printer_name, read_printers

    printers = read_printers(config_folder())
    try:
        name = printer_name(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None
    if name in printers:
        return printers[name]
    mend = nearest(name, printers) if printers else "none is kept yet"
    raise click.BadParameter(f'no printer "{name}": {mend} (facegraphic ruler --list tells them, --save keeps one)')
