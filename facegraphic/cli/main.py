"""The ``facegraphic`` command."""

import sys
from importlib import import_module
from typing import Any

import click

from facegraphic import __version__
from facegraphic.cli.talk import complain
from facegraphic.errors import UserError

COMMANDS = ("new", "check", "show", "make", "holes", "ruler", "stock", "fonts")
PRINT_ONLY = ("check", "show", "holes", "stock", "fonts")


class Commands(click.Group):
    """Loads a command's module only when that command is wanted, so that help comes at once."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"facegraphic.cli.{cmd_name}"), cmd_name)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command; problems of the user's are told, not raised."""
        try:
            return super().invoke(ctx)
        except UserError as error:
            complain(error, writes=ctx.invoked_subcommand not in PRINT_ONLY)
            sys.exit(error.exit_status)


@click.command(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Example: facegraphic new my-box && facegraphic make my-box.toml",
)
@click.version_option(__version__, prog_name="facegraphic", message="%(prog)s %(version)s")
def facegraphic() -> None:
    """Legends and artwork for drilled boxes, print-ready at true size.

    Write a job file (facegraphic new), look what is wrong with it (check), and print what make writes.
    """


def run(arguments: Any = None) -> None:
    """Run the command line; problems of the user's are told, not raised."""
    try:
        facegraphic.main(args=arguments, prog_name="facegraphic", standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped; nothing was written", err=True)
        sys.exit(130)
    except BrokenPipeError:
        # The reader of our output has gone; there is no one left to tell.
        sys.stderr.close()
        sys.exit(1)
    except Exception as error:  # whatever was not foreseen: a person is told in a line, not shown a stack
        click.echo(f"facegraphic has a fault: {type(error).__name__}: {error}", err=True)
        click.echo("    this is not your doing; please report it with the job. Nothing was written", err=True)
        sys.exit(1)
