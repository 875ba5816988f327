"""``facegraphic ruler``: the printer test page, and the corrections measured on it."""

from pathlib import Path
from typing import Any

import click

from facegraphic.cli.config import VARIABLE, config_folder, known_printer
from facegraphic.cli.wanted import Folder
from facegraphic.film.ruler import papers_for_ruler
from facegraphic.job.model import Printer
from facegraphic.job.printers import FILE, measured, printer_name, read_printers, with_printer
from facegraphic.output.folder import write_all
from facegraphic.pipeline.pages import make_card, make_ruler
from facegraphic.stock.tables import papers
from facegraphic.units import format_number


def _lengths(ctx: click.Context, param: click.Parameter, value: tuple[str, str] | None) -> tuple[float, float] | None:
    if value is None:
        return None
    across, up = (_measured(text) for text in value)
    return across, up


def _measured(text: str) -> float:
    if text.startswith("--"):
        raise click.BadParameter(f"one length only stands before {text}; give two, as in --measured 99.2 100.4")
    try:
        return measured(text)
    except ValueError as error:
        raise click.BadParameter(f'"{text}", one of two lengths in mm, across and up: {error}') from None


def _name(ctx: click.Context, param: click.Parameter, value: str | None) -> str | None:
    try:
        return None if value is None else printer_name(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


@click.command(epilog='Example: facegraphic ruler --measured 99.2 100.4 --save "office laser"')
@click.option("--out", type=Folder(), help="Folder for the page; by default this one.")
@click.option("--paper", type=click.Choice(papers_for_ruler()), default="A4", show_default=True)
@click.option("--dpi", type=click.IntRange(72, 2400), default=600, show_default=True, help="Of the PNG.")
@click.option("--printer", callback=known_printer, help="Write the page corrected for a printer, to see it come true.")
@click.option(
    "--measured", nargs=2, callback=_lengths, metavar="ACROSS UP", help="How long the 100 mm bars are on the print."
)
@click.option("--save", callback=_name, metavar="NAME", help="Keep what was measured under this printer's name.")
@click.option("--card", is_flag=True, help="Write a card instead that gives scans and photos their scale.")
@click.option("--list", "as_list", is_flag=True, help="Print the printers kept.")
def ruler(**options: Any) -> None:
    """Write the printer test page, or keep what its print measures.

    The page is ruler.svg, .png and .pdf. Print it at 100 %, measure both 100 mm bars, and keep their lengths under a
    name. Then "facegraphic make JOB --printer NAME" draws everything larger or smaller by what that printer gets wrong.
    """
    keeping = options["measured"] is not None or options["save"] is not None
    if keeping + options["as_list"] + (options["printer"] is not None) > 1:
        raise click.UsageError("--measured with --save, --printer and --list are for different errands; take one")
    if options["card"] and (keeping or options["as_list"]):
        raise click.UsageError("--card writes a page; it goes with --out, --paper, --dpi and --printer only")
    if options["as_list"]:
        _list()
    elif keeping:
        _keep(options["measured"], options["save"])
    else:
        for path in write_all(options["out"] or Path(), _page(options)):
            click.echo(path)


def _page(options: dict[str, Any]) -> dict[str, bytes]:
    make = make_card if options["card"] else make_ruler
    return make(papers()[options["paper"]], options["printer"], options["dpi"])


def _list() -> None:
    """Names to stdout with what was measured and the scale that follows; where they are kept to stderr."""
    folder = config_folder()
    printers = read_printers(folder)
    for name in sorted(printers):
        click.echo(_told(printers[name]))
    if not printers:
        click.echo("no printer is kept yet: facegraphic ruler --measured X Y --save NAME", err=True)
    click.echo(f"kept in {folder / FILE}; the variable {VARIABLE} names another folder", err=True)


def _keep(lengths: tuple[float, float] | None, name: str | None) -> None:
    if lengths is None:
        raise click.UsageError("give the bars' lengths to be kept: --measured 99.2 100.4")
    if name is None:
        raise click.UsageError('give the printer a name to be kept under: --save "office laser"')
    folder = config_folder()
    before = read_printers(folder).get(name)
    printer = Printer(name, *lengths)
    mend = f"make room, give yourself leave to write there, or name another folder with {VARIABLE}"
    write_all(folder, {FILE: with_printer(folder, printer)}, mend)
    click.echo(_told(printer))
    if before and before != printer:
        click.echo(f"in place of {_told(before)}", err=True)


def _told(printer: Printer) -> str:
    bars = " x ".join(format_number(length) for length in (printer.across, printer.up))
    scale = " x ".join(format_number(factor, 5) for factor in printer.scale)
    return f"{printer.name}: bars {bars} mm, scale {scale}"
