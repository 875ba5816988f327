"""``facegraphic fonts``: the lettering that can be named."""

import textwrap
from pathlib import Path

import click

from facegraphic.cli.talk import tell_notes
from facegraphic.cli.wanted import Folder
from facegraphic.errors import Problem, UserError, brief, nearest
from facegraphic.job.reading import read_file
from facegraphic.lettering.directory import FontError
from facegraphic.lettering.font import Font
from facegraphic.lettering.library import DEFAULT_FONT, load_named, named_fonts, symbol_font, symbols
from facegraphic.output.folder import write_all
from facegraphic.pipeline.pages import make_specimen
from facegraphic.stock.limits import limit


@click.command(epilog="Example: facegraphic fonts --specimen tagstrip-regular")
@click.option(
    "--specimen", "name", help="Write a page that shows this font, a name or a TTF or OTF file, as SVG, PNG and PDF."
)
@click.option("--out", type=Folder(), default=Path(), help="Folder for the page; by default this one.")
def fonts(name: str | None, out: Path) -> None:
    """Print the names of the lettering a job can use. A TTF or OTF file can be named by its path.

    With --specimen, write a page with the font's sizes, characters and symbols, reversed, and a ladder for toner.
    """
    if name is None:
        for known in named_fonts():
            click.echo(f"{known}  (default)" if known == DEFAULT_FONT else known)
        click.echo("\nSymbols, in any text as {name}:\n" + textwrap.fill(", ".join(symbols()), 100), err=True)
        return
    font = _font(name)
    if font.damage:
        tell_notes([Problem(font.damage, "get the file anew", name)])
    for path in write_all(out, make_specimen(font)):
        click.echo(path)


def _font(name: str) -> Font:
    """A font by its name or its file."""
    if name in named_fonts():
        return load_named(name)
    file = Path(name)
    if file.suffix.lower() not in (".ttf", ".otf"):
        mend = f"{nearest(name, named_fonts())}; or give a TTF or OTF file"
        raise click.BadParameter(mend, param_hint="--specimen")
    try:
        return Font(file.stem, read_file(file, limit("font-bytes")), symbol_font)
    except FontError as error:
        what = f"it cannot be used as a font: {brief(error)}"
        raise UserError(Problem(what, "give a TTF or OTF file", name)) from error
