"""``facegraphic show``: the local page."""

from importlib.util import find_spec
from pathlib import Path

import click

from facegraphic.cli.config import known_printer, unattended
from facegraphic.errors import Problem, UserError
from facegraphic.job.model import Printer
from facegraphic.pipeline.preparing import Wishes

PORT = 8417
NEEDED = ("starlette", "uvicorn", "watchfiles")


@click.command(epilog="Example: facegraphic show examples/slow-ferry.toml, then open the address that it prints")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="JOB...|FOLDER")
@click.option("--port", type=click.IntRange(0, 65535), default=PORT, show_default=True, help="Or the next free one.")
@click.option("--read-only", is_flag=True, help="Show only: nothing on the page writes a file.")
@click.option("--open", "opened", is_flag=True, help="Open the page in your browser as well.")
@click.option("--printer", callback=known_printer, help="As for make: correct every file for a printer of yours.")
def show(paths: tuple[Path, ...], port: int, read_only: bool, opened: bool, printer: Printer | None) -> None:
    """Show jobs on a page that follows their files as you edit them.

    Prints the page's address, which only this machine answers to and which has a key in it: pass it to nobody. The
    page writes nudges and settings back into the job files, and makes all files when asked to. Ctrl-C stops it.
    """
    missing = [name for name in NEEDED if find_spec(name) is None]
    if missing:
        what = f"the page needs {', '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} not installed"
        raise UserError(Problem(what, 'in the folder of facegraphic: pip install ".[page]"'))
    from facegraphic.page.desk import desk_of
    from facegraphic.page.server import leave, listen, new_token, serve

    fresh = unattended()
    desk = desk_of(paths, Wishes(printer=printer), fresh)
    listening, token = listen(port), new_token()
    address = listening.address(token)

    def ready() -> None:
        if listening.moved:
            click.echo(f"port {port} is taken; the page is on {listening.port}", err=True)
        click.echo(address)
        if opened:
            click.launch(address)

    serve(desk, listening, token, read_only, ready)
    click.echo("stopped", err=True)
    leave()
