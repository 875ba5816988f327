"""``facegraphic make``: write everything."""

import json
import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.config import known_printer
from facegraphic.cli.talk import complain, progress, tell_findings
from facegraphic.errors import UserError
from facegraphic.job.sheet import MOST_COPIES
from facegraphic.output.earlier import places_of
from facegraphic.output.folder import write_all, write_together
from facegraphic.pipeline import (
    FORMATS,
    KINDS,
    VIEWS,
    Prepared,
    Progress,
    Wishes,
    in_silence,
    make_gang,
    prepare,
    require_sound,
)
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
@click.option(
    "--view",
    "views",
    default=VIEWS[0],
    callback=_some_of(VIEWS),
    help=f"Pictures of the box: {', '.join(VIEWS)}.",
    show_default=True,
)
@click.option("--dpi", type=click.IntRange(72, 4800), help="Pixels to the inch of PNG files.")
@click.option("--mirror/--no-mirror", default=None, help="Print mirrored or not, whatever the process says.")
@click.option("--paper", type=click.Choice(list(papers())), help="Paper of the sheets and the drill guide.")
@click.option("--copies", type=click.IntRange(1, MOST_COPIES), help="How often every face is to be printed.")
@click.option("--apart", is_flag=True, help="Sheets of each job by itself, where several jobs would share them.")
@click.option("--printer", callback=known_printer, help="Correct every file for a printer kept with facegraphic ruler.")
@click.option("--fresh", is_flag=True, help="Place labels anew, wherever they stood in the last run.")
@click.option("--quiet", is_flag=True, help="No findings, no progress; errors still.")
@click.option("--json", "as_json", is_flag=True, help="Print each job's report as JSON.")
def make(jobs: tuple[Path, ...], **options: Any) -> None:
    """Write print-ready art and sheets of jobs as SVG, PNG and PDF, with drill-guide.pdf, steps.md and report.json,
    and preview.png, the finished box.

    Jobs with coats of paint also get masks and plugs: cut lines as SVG and DXF, pages to cut by hand as PDF; and
    preview-coats.png, the box after each coat.

    preview.html has the box to turn, with its prints and masks. --view names the pictures beside it, parted by commas:
    three-quarter (preview.png), flat (preview-flat.png: the faces folded out), top (preview-top.png: from above).

    Prints the folder written to. Nothing of a job is written if anything is wrong with it. Several jobs share sheets,
    which then stand in a folder of their own: gang-out beside the first job, or --out itself. Labels stay where the
    last run has put them in that folder unless another place is clearly better; --fresh forgets it.
    """
    wishes = Wishes(
        formats=options["formats"],
        kinds=options["only"],
        dpi=options["dpi"],
        mirrored=options["mirror"],
        paper=options["paper"],
        printer=options["printer"],
        copies=options["copies"],
        views=options["views"],
    )
    gang = len(jobs) > 1 and "sheet" in wishes.kinds and not options["apart"]
    folders = {path: _folder(path, options["out"], len(jobs) > 1) for path in jobs}
    shared = options["out"] or jobs[0].with_name("gang-out")
    if len({*folders.values(), *([shared] if gang else [])}) < len(jobs) + gang:
        raise click.UsageError("two of the jobs would write to the same folder; make them one at a time")
    # Builds must not depend on what an earlier one left behind.
    fresh = options["fresh"] or os.environ.get("CI", "").lower() not in ("", "0", "false")
    bench = _Bench(replace(wishes, ganged=gang), fresh, options["quiet"], options["as_json"])
    (bench.together if gang else bench.each)(folders, *([shared] if gang else []))
    bench.close()


@dataclass
class _Bench:
    """Jobs being made: what is asked for, and what has become of it so far."""

    wishes: Wishes
    fresh: bool
    quiet: bool
    as_json: bool
    reports: dict[str, Any] = field(default_factory=dict)
    failed: bool = False

    def prepared(self, path: Path, folder: Path) -> Prepared:
        prepared = prepare(path, self.wishes if self.fresh else replace(self.wishes, earlier=places_of(folder)))
        if not self.quiet:
            tell_findings([f for f in prepared.findings if f.severity != "error"], str(path))
        return prepared

    def write(self, name: str, folder: Path, files: Mapping[str, bytes]) -> None:
        write_all(folder, files)
        self.done(name, folder, files)

    def done(self, name: str, folder: Path, files: Mapping[str, bytes]) -> None:
        self.reports[name] = json.loads(files["report.json"])
        if not self.as_json:
            click.echo(folder)

    def each(self, folders: Mapping[Path, Path]) -> None:
        """Make every job by itself; one that is wrong doesn't stop the others."""
        for path, folder in folders.items():
            with self.told():
                self.write(
                    str(path), folder, make_files(self.prepared(path, folder), self.wishes, self.told_progress())
                )

    def together(self, folders: Mapping[Path, Path], shared: Path) -> None:
        """Make jobs that share sheets; if one is wrong no sheet is, since its place on the film would stay empty."""
        ready: dict[Path, Prepared] = {}
        for path, folder in folders.items():
            with self.told():
                prepared = self.prepared(path, folder)
                require_sound([prepared])
                ready[path] = prepared
        if self.failed:
            self.without_sheets(folders, ready)
            return
        with self.told():
            made = make_gang(list(ready.values()), self.wishes, shared.name, self.told_progress())
            if not self.quiet:
                tell_findings(made.findings, shared.name)
            names = [*map(str, folders), str(shared)]
            everything = dict(zip([*folders.values(), shared], [*made.jobs, made.sheets], strict=True))
            write_together(everything)
            for name, (folder, files) in zip(names, everything.items(), strict=True):
                self.done(name, folder, files)

    def without_sheets(self, folders: Mapping[Path, Path], ready: Mapping[Path, Prepared]) -> None:
        """Make what stands alone of those that are right."""
        click.echo(
            "no sheets are made, since not all jobs that share them are right; --apart makes each by itself", err=True
        )
        wishes = replace(self.wishes, kinds=tuple(kind for kind in self.wishes.kinds if kind != "sheet"))
        for path, prepared in ready.items():
            with self.told():
                self.write(str(path), folders[path], make_files(prepared, wishes, self.told_progress()))

    def told_progress(self) -> Progress:
        return in_silence if self.quiet else progress

    @contextmanager
    def told(self) -> Iterator[None]:
        """Tell of what is wrong with a job instead of stopping."""
        try:
            yield
        except UserError as error:
            complain(error)
            self.failed = True

    def close(self) -> None:
        if self.as_json:
            click.echo(json.dumps(self.reports, indent=1, ensure_ascii=False))
        if self.failed:
            raise SystemExit(1)


def _folder(job: Path, out: Path | None, several: bool) -> Path:
    """JOB-out beside the job, or the folder asked for; with several jobs, one folder in it for each."""
    if out is None:
        return job.with_name(f"{job.stem}-out")
    return out / job.stem if several else out
