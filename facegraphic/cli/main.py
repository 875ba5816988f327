"""The ``facegraphic`` command."""

import errno
import sys
from contextlib import suppress
from importlib import import_module
from typing import Any, NoReturn

import click

from facegraphic import __version__
from facegraphic.cli.haste import make_haste
from facegraphic.cli.listening import listening
from facegraphic.cli.talk import NOTHING, complain
from facegraphic.errors import UserError, brief, printable

# What help says of each command: the first sentence of its own help, which a test compares.
COMMANDS = {
    "new": "Write NAME.toml, a starter job that makes at once.",
    "check": "Print what is wrong with jobs, worst first, and how to mend it.",
    "show": "Show jobs on a page that follows their files as you edit them.",
    "make": "Write print-ready art, sheets, drill guide, steps and previews.",
    "holes": "Print the hole positions of FILE as a table.",
    "ruler": "Write the printer test page, or keep what its print measures.",
    "stock": "Print the tables, with where each figure comes from.",
    "fonts": "Print the names of the lettering a job can use.",
}
PRINT_ONLY = ("check", "show", "holes", "stock", "fonts")


class Commands(click.Group):
    """Loads a command's module only when that command is wanted, so that help and mistakes come at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"facegraphic.cli.{cmd_name}"), cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands as click would, but by `COMMANDS`, so that none of their modules is loaded for it."""
        limit = formatter.width - 6 - max(map(len, COMMANDS))
        rows = [(name, click.Command(name, help=told).get_short_help_str(limit)) for name, told in COMMANDS.items()]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; problems of the user's are told, not raised."""
        try:
            return super().invoke(ctx)
        except UserError as error:
            complain(error, "" if ctx.invoked_subcommand in PRINT_ONLY else NOTHING)
            sys.exit(error.exit_status)


def _tell_version(ctx: click.Context, param: click.Parameter, value: bool) -> None:
    """Print the version, and that of the engine that draws everything."""
    if not value or ctx.resilient_parsing:
        return
    from facegraphic.output.engine import version

    click.echo(f"facegraphic {__version__} ({version()})")
    ctx.exit()


@click.command(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Example: facegraphic new my-box && facegraphic make my-box.toml",
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_tell_version,
    help="Show the version and exit.",
)
def facegraphic() -> None:
    """Legends and artwork for drilled boxes, print-ready at true size.

    Write a job file (facegraphic new), look what is wrong with it (check), and print what make writes.
    """


def run(arguments: Any = None) -> None:
    """Run the command line; problems of the user's are told, not raised."""
    make_haste()
    with listening() as heard:
        try:
            try:
                facegraphic.main(args=arguments, prog_name="facegraphic", standalone_mode=False)
            finally:
                if heard:  # and lost, in a library that cannot hand it on
                    _stopped()
        except click.ClickException as error:
            error.show()
            sys.exit(error.exit_code)
        except BrokenPipeError:
            # The reader of our output has gone; there is no one left to tell.
            sys.stderr.close()
            sys.exit(1)
        except (click.Abort, KeyboardInterrupt):
            _stopped()
        except Exception as error:  # whatever was not foreseen: a person is told in a line, not shown a stack
            if isinstance(error, OSError) and error.errno == errno.ENOSPC and not error.filename:
                _unwritten()
            click.echo(f"facegraphic has a fault: {type(error).__name__}: {printable(brief(error))}", err=True)
            mend = "this is not your doing; please report it with the job. No file is left half-written"
            click.echo(f"    {mend}", err=True)
            sys.exit(1)


def _stopped() -> NoReturn:
    click.echo("stopped; no file is left half-written", err=True)
    sys.exit(130)


def _unwritten() -> NoReturn:
    """Tell that standard output, which is a file then, has come to its end."""
    with suppress(OSError):
        sys.stdout.close()
    click.echo(
        "what was to be told could not all be written: there is no room left\n    make room, then run it again",
        err=True,
    )
    sys.exit(1)
