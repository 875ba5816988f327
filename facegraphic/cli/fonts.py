"""``facegraphic fonts``: the lettering that can be named."""

import textwrap
from pathlib import Path

import click

from facegraphic.errors import nearest
from facegraphic.lettering.library import DEFAULT_FONT, named_fonts, symbols
from facegraphic.output.folder import write_all
from facegraphic.pipeline import make_specimen


@click.command(epilog="Example: facegraphic fonts --specimen tagstrip-regular")
@click.option("--specimen", "name", help="Write a page that shows this font, as SVG, PNG and PDF.")
@click.option(
    "--out", type=click.Path(path_type=Path), default=Path(), help="Folder for the page; by default this one."
)
def fonts(name: str | None, out: Path) -> None:
    """Print the names of the lettering a job can use; any TTF or OTF file can be named by its path instead.

    With --specimen, write a page with the font's sizes, characters and symbols, reversed, and a ladder for toner.
    """
    if name is None:
        for known in named_fonts():
            click.echo(f"{known}  (default)" if known == DEFAULT_FONT else known)
        click.echo("\nSymbols, in any text as {name}:\n" + textwrap.fill(", ".join(symbols()), 100), err=True)
        return
    if name not in named_fonts():
        raise click.BadParameter(nearest(name, named_fonts()), param_hint="--specimen")
    for path in write_all(out, make_specimen(name)):
        click.echo(path)
