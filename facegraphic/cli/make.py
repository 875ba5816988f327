"""``facegraphic make``: write everything."""

import os
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.config import known_printer, unattended
from facegraphic.cli.order import Order
from facegraphic.cli.round import make_all
from facegraphic.cli.wanted import Folder, jobs_argument, some_of
from facegraphic.pipeline.kinds import FORMATS, KINDS, VIEWS
from facegraphic.stock.limits import limit
from facegraphic.stock.tables import papers


@click.command(epilog="Example: facegraphic make examples/slow-ferry.toml --format pdf --out print")
@jobs_argument
@click.option("--out", type=Folder(), help="Folder to write to; by default JOB-out beside the job.")
@click.option("--only", default=",".join(KINDS), **some_of(KINDS), help="What to write.")
@click.option("--format", "formats", default=",".join(FORMATS), **some_of(FORMATS))
@click.option(
    "--view",
    "views",
    default=VIEWS[0],
    help=f"Pictures of the box: {', '.join(VIEWS)}.",
    **some_of(VIEWS),
)
@click.option("--dpi", type=click.IntRange(72, 4800), help="Pixels to the inch of PNG files.")
@click.option("--mirror/--no-mirror", default=None, help="Print mirrored or not, whatever the process says.")
@click.option("--paper", type=click.Choice(list(papers())), help="Paper of the sheets and the drill guide.")
@click.option("--copies", type=click.IntRange(1, limit("copies")), help="How often every face is to be printed.")
@click.option("--apart", is_flag=True, help="Sheets of each job by itself, where several jobs would share them.")
@click.option("--printer", callback=known_printer, help="Correct every file for a printer kept with facegraphic ruler.")
@click.option(
    "--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="How many jobs are made at a time."
)
@click.option("--fresh", is_flag=True, help="Make all anew; labels needn't stay where the last run has put them.")
@click.option("--quiet", is_flag=True, help="No findings, no progress; errors still.")
@click.option("--json", "as_json", is_flag=True, help="Print each job's report as JSON.")
def make(jobs: tuple[Path, ...], **options: Any) -> None:
    """Write print-ready art, sheets, drill guide, steps and previews.

    Art and sheets come as SVG, PNG and PDF, with drill-guide.pdf, steps.md and report.json, and preview.png, the
    finished box.

    Jobs with coats of paint also get masks and plugs: cut lines as SVG and DXF, pages to cut by hand as PDF; and
    preview-coats.png, the box after each coat.

    preview.html has the box to turn, with its prints and masks. --view names the pictures beside it, parted by commas:
    three-quarter (preview.png), flat (preview-flat.png: the faces folded out), top (preview-top.png: from above).

    Prints the folder written to. Nothing of a job is written if anything is wrong with it. Several jobs share sheets,
    which then stand in a folder of their own: gang-out beside the first job, or --out itself. Labels stay where the
    last run has put them in that folder unless another place is clearly better; --fresh forgets it. Where nothing has
    changed since the last run, its files stay as they are.
    """
    gang = len(jobs) > 1 and "sheet" in options["only"] and not options["apart"]
    folders = {path: _folder(path, options["out"], len(jobs) > 1) for path in jobs}
    shared = options["out"] or jobs[0].with_name("gang-out")
    _require_apart([*((path, _folder(path, options["out"], len(jobs) > 1)) for path in jobs)], shared if gang else None)
    forgetful = options["fresh"] or unattended()
    make_all(Order(options, folders, shared if gang else None, forgetful), shared)


def _require_apart(jobs: list[tuple[Path, Path]], shared: Path | None) -> None:
    """UsageError if two jobs, or a job and the sheets that all share, have one folder, whatever it is called."""
    taken = {os.path.realpath(shared): "the sheets that the jobs share"} if shared else {}
    for job, folder in jobs:
        place = os.path.realpath(folder)
        if place not in taken:
            taken[place] = str(job)
        elif os.path.realpath(taken[place]) == os.path.realpath(job):
            raise click.UsageError(f"{job} is named twice; name each job once")
        else:
            mend = "give one job file another name, or make each by itself with its own --out"
            raise click.UsageError(f"{taken[place]} and {job} would be written to one folder, {folder}; {mend}")


def _folder(job: Path, out: Path | None, several: bool) -> Path:
    """JOB-out beside the job, or the folder asked for; with several jobs, one folder in it for each."""
    if out is None:
        return job.with_name(f"{job.stem}-out")
    return out / job.stem if several else out
