"""``facegraphic new``: a starter job, or one laid out for a list of parts."""

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from facegraphic.job.starter import job_path, write_new, write_starter
from facegraphic.stock.tables import boxes, films, kinds, knobs

MOST = 12


def _counts(command: Callable[..., Any]) -> Callable[..., Any]:
    """An option for the number of each kind of part."""
    for name, kind in reversed(list(kinds().items())):
        plural = f"{kind.title}{'es' if kind.title.endswith('ch') else 's'}"
        option = click.option(f"--{name}", type=click.IntRange(0, MOST), metavar="N", help=f"How many {plural}.")
        command = option(command)
    return command


@click.command(
    epilog="Example: facegraphic new my-box --pots 4 --footswitches 1 --toggles 1 --lamps 1 --jacks 2 --dc 1"
)
@click.argument("name")
@_counts
@click.option("--box", type=click.Choice(list(boxes())), help="This stock box, instead of the smallest that will do.")
@click.option("--knob", type=click.Choice([*knobs(), "none"]), help="This knob, instead of the largest that fits.")
@click.option("--process", type=click.Choice(list(films())), help="How the art is printed.")
def new(name: str, box: str | None, knob: str | None, process: str | None, **counts: int | None) -> None:
    """Write NAME.toml, a starter job that makes at once. An existing file is never overwritten.

    With numbers of parts it takes the smallest stock box whose faces and inside hold them, gives every hole its place,
    and says why no smaller box would do.
    """
    asked = {kind: count for kind, count in counts.items() if count}
    if not asked:
        if box or knob or process or any(count is not None for count in counts.values()):
            raise click.UsageError("say what the box is to hold, as in --pots 2 --jacks 2")
        path = write_starter(Path(name))
    else:
        path = _planned(Path(name), asked, box, knob, process)
    click.echo(path)
    name = shlex.quote(str(path))
    click.echo(f"next: edit {name}, then: facegraphic make {name}", err=True)


def _planned(path: Path, asked: dict[str, int], box: str | None, knob: str | None, process: str | None) -> Path:
    """Lay out a box and write its job."""
    from facegraphic.cli.talk import trying
    from facegraphic.pipeline.planning import plan_job
    from facegraphic.planning.model import Wish

    path = job_path(path)
    with trying() as tell:
        planned = plan_job(path, Wish(asked, box, knob, process or "waterslide-clear"), tell)
    write_new(path, planned.text)
    size = planned.plan.box
    click.echo(f"{size.name}, {' × '.join(f'{length:g}' for length in size.size)} mm, is the box", err=True)
    for smaller, why in planned.plan.refused:
        click.echo(f"    {smaller}: {why}", err=True)
    if not planned.titled:
        click.echo("    its top has no room for the title, which is left out", err=True)
    return path
