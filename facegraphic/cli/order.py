"""What `make` is asked for, and how it tells what became of it."""

import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.talk import NOTHING, complain, tell_findings
from facegraphic.errors import Finding, UserError, printable
from facegraphic.job.reading import read_file
from facegraphic.output.earlier import findings_of
from facegraphic.output.made import MOST_KEPT, REPORT, Now, nothing_new, outdated

# The options that bear on what is made.
ASKED = ("only", "formats", "views", "dpi", "mirror", "paper", "copies", "printer", "apart")


@dataclass(frozen=True)
class Order:
    """What `make` was asked for: the options of the command, the folder of every job, that of the sheets they share.

    `forgetful` says that labels are placed wherever they stood in the last run.
    """

    options: Mapping[str, Any]
    folders: Mapping[Path, Path]
    shared: Path | None
    forgetful: bool
    now: Now = field(default_factory=Now, compare=False)  # jobs that share sheets have all sources in common

    def asked(self, job: Path | None = None) -> str:
        """All that bears on what is made of a job alone, or of all together."""
        jobs = [path for path in self.folders if job is None or path == job]
        places = [str(path.absolute()) for path in (*jobs, *([self.shared] if self.shared else []))]
        return repr(([self.options[name] for name in ASKED], self.forgetful, places))

    def nothing_new(self, job: Path) -> bool:
        return self._nothing_new([self.folders[job]], self.asked(job))

    def outdated(self, shared: Path) -> bool:
        """Whether sheets that these jobs once shared lie there, and no longer show one of them as it is."""
        return shared not in self.folders.values() and outdated(shared, self.folders, self.now)

    @property
    def nothing_new_at_all(self) -> bool:
        return self._nothing_new([*self.folders.values(), *([self.shared] if self.shared else [])], self.asked())

    def _nothing_new(self, places: Iterable[Path], asked: str) -> bool:
        """Whether all is as it was made in some folders; and each has a report, from which the findings are told."""
        return not self.options["fresh"] and all(
            nothing_new(place, asked, self.now) and findings_of(place) is not None for place in places
        )


class Told:
    """Tells what has become of jobs, and remembers it for the end."""

    def __init__(self, quiet: bool, as_json: bool, several: bool = False) -> None:
        self.quiet, self.as_json, self.several = quiet, as_json, several
        self.reports: dict[str, Any] = {}
        self.failed = False

    def findings(self, name: str, findings: tuple[Finding, ...]) -> None:
        if not self.quiet:
            tell_findings([finding for finding in findings if finding.severity != "error"], name)

    def made(self, name: str, folder: Path, report: bytes) -> None:
        self.reports[name] = json.loads(report)
        if not self.as_json:
            click.echo(folder)

    def kept(self, name: str, folder: Path) -> None:
        """A job whose files stand as they are."""
        report = read_file(folder / REPORT, MOST_KEPT)
        self.findings(name, findings_of(folder) or ())
        if not self.quiet:
            click.echo(f"{printable(name)}: nothing has changed since the last run; --fresh makes it again", err=True)
        self.made(name, folder, report)

    @contextmanager
    def wrong(self, job: str = "") -> Iterator[None]:
        """Tell of what is wrong instead of stopping: with one job, by whose error others are written all the same."""
        try:
            yield
        except UserError as error:
            complain(error, f"nothing of {printable(job)} was written" if job and self.several else NOTHING)
            self.failed = True

    def outdated(self, shared: Path) -> None:
        """Sheets that were shared once, and would be printed for those that have been made now."""
        if not self.quiet:
            what = "the sheets there are of an earlier run, of these jobs together, and no longer show them as they are"
            click.echo(f"{printable(str(shared))}: note: {what}; don't print them", err=True)

    def close(self) -> None:
        if self.as_json:
            click.echo(json.dumps(self.reports, indent=1, ensure_ascii=False))
        if self.failed:
            raise SystemExit(1)
