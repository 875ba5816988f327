"""``facegraphic make``: write everything."""

import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.config import known_printer
from facegraphic.cli.talk import complain, progress, tell_findings
from facegraphic.errors import UserError
from facegraphic.output.earlier import places_of
from facegraphic.output.folder import write_all
from facegraphic.pipeline import FORMATS, KINDS, Wishes, prepare
from facegraphic.pipeline import make as make_files
from facegraphic.stock.tables import papers


def _some_of(names: tuple[str, ...]) -> Any:
    """A click callback that reads a comma list of some names."""

    def read(ctx: click.Context, param: click.Parameter, value: str) -> tuple[str, ...]:
        asked = [part.strip() for part in value.split(",") if part.strip()]
        unknown = [part for part in asked if part not in names]
        if unknown or not asked:
            raise click.BadParameter(f"choose from {', '.join(names)}, parted by commas")
        return tuple(name for name in names if name in asked)

    return read


@click.command(epilog="Example: facegraphic make examples/slow-ferry.toml --format pdf --out print")
@click.argument("jobs", nargs=-1, required=True, type=click.Path(path_type=Path), metavar="JOB...")
@click.option("--out", type=click.Path(path_type=Path), help="Folder to write to; by default JOB-out beside the job.")
@click.option("--only", default=",".join(KINDS), callback=_some_of(KINDS), show_default=True, help="What to write.")
@click.option("--format", "formats", default=",".join(FORMATS), callback=_some_of(FORMATS), show_default=True)
@click.option("--dpi", type=click.IntRange(72, 4800), help="Pixels to the inch of PNG files.")
@click.option("--mirror/--no-mirror", default=None, help="Print mirrored or not, whatever the process says.")
@click.option("--paper", type=click.Choice(list(papers())), help="Paper of the sheets.")
@click.option("--printer", callback=known_printer, help="Correct every file for a printer kept with facegraphic ruler.")
@click.option("--fresh", is_flag=True, help="Place labels anew, wherever they stood in the last run.")
@click.option("--quiet", is_flag=True, help="No findings, no progress; errors still.")
@click.option("--json", "as_json", is_flag=True, help="Print each job's report as JSON.")
def make(jobs: tuple[Path, ...], **options: Any) -> None:
    """Write print-ready art and sheets of jobs as SVG, PNG and PDF, with steps.md and report.json.

    Prints the folder written to. Nothing of a job is written if anything is wrong with it. Labels stay where the last
    run has put them in that folder unless another place is clearly better; --fresh forgets it.
    """
    wishes = Wishes(
        options["formats"], options["only"], options["dpi"], options["mirror"], options["paper"], options["printer"]
    )
    folders = {path: _folder(path, options["out"], len(jobs) > 1) for path in jobs}
    if len(set(folders.values())) < len(jobs):
        raise click.UsageError("two of the jobs would write to the same folder; make them one at a time")
    # Builds must not depend on what an earlier one left behind.
    fresh = options["fresh"] or os.environ.get("CI", "").lower() not in ("", "0", "false")
    reports = {}
    failed = False
    for path, folder in folders.items():
        try:
            reports[str(path)] = _make_one(path, folder, wishes, options["quiet"], fresh)
        except UserError as error:
            complain(error)
            failed = True
            continue
        if not options["as_json"]:
            click.echo(folder)
    if options["as_json"]:
        click.echo(json.dumps(reports, indent=1, ensure_ascii=False))
    if failed:
        raise SystemExit(1)


def _make_one(path: Path, folder: Path, wishes: Wishes, quiet: bool, fresh: bool) -> Any:
    prepared = prepare(path, wishes if fresh else replace(wishes, earlier=places_of(folder)))
    if not quiet:
        tell_findings([f for f in prepared.findings if f.severity != "error"], str(path))
    files = make_files(prepared, wishes) if quiet else make_files(prepared, wishes, progress)
    write_all(folder, files)
    return json.loads(files["report.json"])


def _folder(job: Path, out: Path | None, several: bool) -> Path:
    """JOB-out beside the job, or the folder asked for; with several jobs, one folder in it for each."""
    if out is None:
        return job.with_name(f"{job.stem}-out")
    return out / job.stem if several else out
