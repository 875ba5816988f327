"""``facegraphic check``: what is wrong with a job."""

import json
from pathlib import Path

import click

from facegraphic.cli.config import unattended
from facegraphic.cli.talk import complain, explanation
from facegraphic.cli.wanted import jobs_argument
from facegraphic.errors import UserError, nothing_unforeseen, printable
from facegraphic.output.earlier import places_of
from facegraphic.output.report import finding_record
from facegraphic.pipeline.preparing import Wishes, prepare


@click.command(epilog="Example: facegraphic check examples/slow-ferry.toml --json")
@jobs_argument
@click.option("--explain", is_flag=True, help="Print, for each label, why it stands where it stands.")
@click.option("--json", "as_json", is_flag=True, help="Print findings as JSON.")
def check(jobs: tuple[Path, ...], explain: bool, as_json: bool) -> None:
    """Print what is wrong with jobs, worst first, and how to mend it. Writes nothing.

    Labels are taken to stay where the last make has put them in JOB-out, as make itself would have it.

    Exit status 1 if a job cannot be read or has a finding of severity "error".
    """
    failed = False
    records = {}
    for path in jobs:
        try:
            with nothing_unforeseen(str(path)):
                earlier = {} if unattended() else places_of(path.with_name(f"{path.stem}-out"))
                prepared = prepare(path, Wishes(earlier=earlier))
        except UserError as error:
            complain(error, "")
            failed = True
            continue
        failed = failed or not prepared.sound
        records[str(path)] = [finding_record(finding) for finding in prepared.findings]
        if not as_json:
            for finding in prepared.findings:
                click.echo(f"{printable(str(path))}: {finding}")
            if not prepared.findings:
                click.echo(f"{printable(str(path))}: nothing to mend")
            if explain:
                click.echo(printable("\n".join(explanation(prepared.layouts))))
    if as_json:
        click.echo(json.dumps(records, indent=1, ensure_ascii=False))
    if failed:
        raise SystemExit(1)
