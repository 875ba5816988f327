"""``facegraphic fonts``: the lettering that can be named."""

import textwrap

import click

from facegraphic.lettering.library import DEFAULT_FONT, named_fonts, symbols


@click.command(epilog='Example: facegraphic fonts, then in the job: font = "barlow-condensed-medium"')
def fonts() -> None:
    """Print the names of the lettering a job can use; any TTF or OTF file can be named by its path instead."""
    for name in named_fonts():
        click.echo(f"{name}  (default)" if name == DEFAULT_FONT else name)
    click.echo("\nSymbols, in any text as {name}:\n" + textwrap.fill(", ".join(symbols()), 100), err=True)
