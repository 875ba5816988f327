"""``facegraphic holes``: hole positions out of a drill file, a scan or a photo."""

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.talk import tell_notes
from facegraphic.drill import model
from facegraphic.drill.fit import Fit, Spot
from facegraphic.drill.measured import as_records, as_table, fit_lines, fit_record, lay, spots
from facegraphic.drill.model import RIGHT_FILE, Asked
from facegraphic.drill.read import read_holes
from facegraphic.drill.scan.card import survey_by_card
from facegraphic.drill.scan.limits import LEAST_DPI, MOST_BYTES, MOST_DPI
from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import Survey, survey
from facegraphic.drill.scan.vision import Pixels
from facegraphic.drill.summary import moved_to_middle, reading_record, summary
from facegraphic.errors import Problem, UserError, printable
from facegraphic.film.measured import measured_scene
from facegraphic.job.load import load_job
from facegraphic.job.reading import read_file
from facegraphic.job.scans import looks_like_picture, scan_dpi, scan_pixels
from facegraphic.output.folder import write_all
from facegraphic.output.png import png_bytes
from facegraphic.stock.faces import SIDES
from facegraphic.units import parse_length

LARGEST = 1000.0
FILES_ONLY = ("units", "layers", "origin")
PICTURES_ONLY = ("size", "top", "dpi", "card", "picture")


def _size(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[float, float] | None:
    if value is None:
        return None
    parts = re.split(r"\s*[x×]\s*(?=[\d.,])", value.strip())
    try:
        lengths = [parse_length(part) for part in parts]
    except ValueError as error:
        raise click.BadParameter(str(error)) from None
    if len(lengths) != 2 or not all(5 <= length <= LARGEST for length in lengths):
        raise click.BadParameter(f'a width and a height of 5 to {LARGEST:g} mm are wanted, as in "112.4x60.5"')
    return lengths[0], lengths[1]


def _length(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    try:
        return None if value is None else parse_length(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


@click.command(
    epilog="Example: facegraphic holes panel.dxf --layer DRILL > panel.csv;"
    " of a scan: facegraphic holes scan.png --size 112.4x60.5 --picture look.png > scan.csv"
)
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option(
    "--units", type=click.Choice(["mm", "in", "mil", "cm"]), help="Of figures whose unit the file doesn't say."
)
@click.option("--layer", "layers", multiple=True, metavar="NAME", help="Holes of this layer only; may be repeated.")
@click.option(
    "--origin",
    type=click.Choice(["file", "middle-of-holes"]),
    help="Where zero is: where the file has it (the default), or amid the holes.",
)
@click.option("--size", callback=_size, metavar="WxH", help='Of the outline in a picture: "112.4x60.5", in mm.')
@click.option("--top", callback=_length, metavar="W", help="Width of the outline's upper edge, where it tapers.")
@click.option("--dpi", type=click.FloatRange(LEAST_DPI, MOST_DPI), help="Of a scan whose outline's size is not known.")
@click.option("--card", is_flag=True, help="A printed card (facegraphic ruler --card) lies beside the face.")
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="PNG", help="Write a picture with all that was found."
)
@click.option("--against", type=click.Path(path_type=Path), metavar="JOB", help="Compare with the holes of a job.")
@click.option("--side", type=click.Choice(SIDES), help="The job's face; by default its only one, or the top.")
@click.option("--free", is_flag=True, help="Lay the holes on the job's wherever they fit, whatever the outline says.")
@click.option("--json", "as_json", is_flag=True, help="Print all that is known as JSON.")
def holes(file: Path, **options: Any) -> None:
    """Print the hole positions of FILE as a table.

    Its columns are id, x, y and d in mm, x to the right and y up.

    FILE is a hole table (CSV, TSV), an NC drill file (Excellon), a DXF or an SVG, or a scan or photo of the drilled
    face, told by what it holds. What is no round hole (slots, routed paths) is told on stderr, and so is what was taken
    on trust. A job reads the same drill files, and what this prints, with drill = "FILE".

    For a picture lay the face on the scanner's glass, or photograph it from straight above, and say how large things
    are: --size, --dpi or --card. Its x and y count from the middle of the face; ux, uy and ud are standard
    uncertainties. A job takes it with measured = "FILE".
    """
    data = read_file(file, MOST_BYTES)
    found = _in_picture(data, file, options) if looks_like_picture(data) else _in_file(file, options)
    fit = _against(found, options) if options["against"] else None
    if options["picture"] and found.survey is not None and found.pixels is not None:
        view = found.pixels if found.survey.view is None else found.survey.view
        image = png_bytes(measured_scene(view, found.survey, fit), 300)
        target: Path = options["picture"]
        write_all(target.parent, {target.name: image}, "choose another place with --picture", [file])
    _tell(found, fit, options["as_json"])


@dataclass(frozen=True)
class _Found:
    """What a file of any kind holds: rows of holes, the table and the record that tell them; a picture's survey."""

    rows: tuple[Any, ...]
    table: str
    record: dict[str, Any]
    survey: Survey | None = None
    pixels: Pixels | None = None


def _in_file(file: Path, options: dict[str, Any]) -> _Found:
    """The holes of a drill file, told by what it holds."""
    _not_for("scans and photos", PICTURES_ONLY, options)
    asked = Asked(options["units"], options["layers"])
    reading = read_holes(read_file(file, model.MOST_BYTES), file.name, asked)
    if reading.problems:
        raise UserError(reading.problems)
    moved = options["origin"] == "middle-of-holes"
    if moved:
        reading = moved_to_middle(reading)
    tell_notes(reading.notes)
    if not reading.holes and not reading.slots:
        mend = "is it the right file, and whole? what was left out of it is told above" if reading.notes else RIGHT_FILE
        raise UserError(Problem("the file holds no hole", mend, file.name))
    click.echo(printable(f"{file}: {summary(reading, moved)}"), err=True)
    return _Found(reading.holes, as_table(reading.holes), reading_record(reading))


def _in_picture(data: bytes, file: Path, options: dict[str, Any]) -> _Found:
    """The holes of a scan or photo."""
    _not_for("drill files", FILES_ONLY, options)
    pixels = scan_pixels(data, str(file))
    found = _survey(pixels, scan_dpi(data), file, options)
    for note in found.notes:
        click.echo(f"{printable(str(file))}: {note}", err=True)
    width, height = found.frame.size
    record = {
        "kind": "picture",
        "holes": as_records(found.holes),
        "frame": {"origin": found.frame.origin, "size": [round(width, 4), round(height, 4)]},
        "notes": list(found.notes),
    }
    return _Found(tuple(found.holes), as_table(found.holes), record, found, pixels)


def _not_for(others: str, names: tuple[str, ...], options: dict[str, Any]) -> None:
    for name in names:
        if options[name]:
            raise click.UsageError(f"--{name.rstrip('s') if name == 'layers' else name} is for {others}")


def _survey(pixels: Pixels, tag: float | None, file: Path, options: dict[str, Any]) -> Survey:
    size, top, dpi, card = (options[key] for key in ("size", "top", "dpi", "card"))
    if (size is not None) + (dpi is not None) + card != 1:
        raise click.UsageError("say how large things are, one way: --size WxH of the outline, --dpi, or --card")
    if top is not None and size is None:
        raise click.UsageError("--top goes with --size")
    try:
        if card:
            return survey_by_card(pixels)
        return survey(pixels, Size(size[0], size[1], top) if size else None, dpi, tag)
    except UserError as error:
        raise UserError(Problem(p.what, p.mend, p.file or str(file)) for p in error.problems) from None


def _against(found: _Found, options: dict[str, Any]) -> Fit:
    job = load_job(options["against"])
    sides = [face.side for face in job.faces]
    side = options["side"] or (sides[0] if len(sides) == 1 else "top")
    face = next((face for face in job.faces if face.side == side), None)
    if face is None:
        raise UserError(Problem(f"the job has no {side} face", f"take one of: {', '.join(sides)}", job.file))
    planned = [Spot(hole.id, *(hole.planned or (hole.x, hole.y)), hole.d) for hole in face.holes]
    free = options["free"] or (found.survey is not None and found.survey.frame.origin != "outline")
    fit = lay(planned, spots(found.rows), free) or lay(planned, spots(found.rows), free=True)
    if fit is None:
        mend = "is it this job, this side, and the right size?"
        raise UserError(Problem(f"the holes do not lie as those of the {side} face", mend, job.file))
    return fit


def _tell(found: _Found, fit: Fit | None, as_json: bool) -> None:
    if as_json:
        record = {**found.record, "fit": fit_record(fit)} if fit is not None else found.record
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    elif fit is not None:
        click.echo(printable("\n".join(fit_lines(fit))))
    else:
        click.echo(found.table, nl=False)
