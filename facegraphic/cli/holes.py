"""``facegraphic holes``: where the holes of a drilled box really are."""

import json
import re
from pathlib import Path
from typing import Any

import click

from facegraphic.drill.fit import Fit, Spot
from facegraphic.drill.measured import as_records, as_table, fit_lines, fit_record, lay, spots
from facegraphic.drill.scan.card import survey_by_card
from facegraphic.drill.scan.limits import LEAST_DPI, MOST_BYTES, MOST_DPI
from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import Survey, survey
from facegraphic.drill.scan.vision import Pixels
from facegraphic.drill.table import read_table
from facegraphic.errors import Problem, UserError
from facegraphic.film.measured import measured_scene
from facegraphic.job.files import read_file
from facegraphic.job.load import load_job
from facegraphic.job.scans import looks_like_picture, scan_pixels
from facegraphic.output.folder import write_all
from facegraphic.output.png import png_bytes
from facegraphic.stock.faces import SIDES
from facegraphic.units import parse_length

LARGEST = 1000.0


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


@click.command(epilog="Example: facegraphic holes scan.png --size 112.4x60.5 --picture look.png > scan.csv")
@click.argument("file", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--size", callback=_size, metavar="WxH", help='The outline\'s size: "112.4x60.5" in mm, or with units.')
@click.option("--top", callback=_length, metavar="W", help="Width of the outline's upper edge, where it tapers.")
@click.option("--dpi", type=click.FloatRange(LEAST_DPI, MOST_DPI), help="Of a scan whose outline's size is not known.")
@click.option("--card", is_flag=True, help="A printed card (facegraphic ruler --card) lies beside the face.")
@click.option("--against", type=click.Path(path_type=Path), metavar="JOB", help="Compare with the holes of a job.")
@click.option("--side", type=click.Choice(SIDES), help="The job's face; by default its only one, or the top.")
@click.option("--free", is_flag=True, help="Lay the holes on the job's wherever they fit, whatever the outline says.")
@click.option(
    "--picture", type=click.Path(path_type=Path), metavar="PNG", help="Write a picture with all that was found."
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def holes(file: Path, **options: Any) -> None:
    """Print where the holes are in a scan or photo of the drilled face, or in a hole table, as CSV id,x,y,d.

    x runs right and y up from the middle of the face, in mm; ux, uy and ud are standard uncertainties. Lay the face
    on the scanner's glass, or photograph it from straight above; the size is that of the outline to be seen.
    """
    data = read_file(file, MOST_BYTES)
    found: Survey | None = None
    pixels: Pixels | None = None
    if looks_like_picture(data):
        pixels = scan_pixels(data, str(file))
        found = _survey(pixels, file, options)
        rows: list[Any] = list(found.holes)
        for note in found.notes:
            click.echo(f"{file}: {note}", err=True)
    else:
        if options["picture"]:
            raise click.UsageError("--picture is for scans and photos")
        rows = _table(data, file)
    fit = _against(rows, found, options) if options["against"] else None
    if options["picture"] and found is not None and pixels is not None:
        image = png_bytes(measured_scene(pixels if found.view is None else found.view, found, fit), 300)
        target: Path = options["picture"]
        write_all(target.parent, {target.name: image}, "choose another place with --picture")
    _tell(rows, found, fit, options["as_json"])


def _survey(pixels: Pixels, file: Path, options: dict[str, Any]) -> Survey:
    size, top, dpi, card = (options[key] for key in ("size", "top", "dpi", "card"))
    if (size is not None) + (dpi is not None) + card != 1:
        raise click.UsageError("say how large things are, one way: --size WxH of the outline, --dpi, or --card")
    if top is not None and size is None:
        raise click.UsageError("--top goes with --size")
    try:
        if card:
            return survey_by_card(pixels)
        return survey(pixels, Size(size[0], size[1], top) if size else None, dpi)
    except UserError as error:
        raise UserError(Problem(p.what, p.mend, p.file or str(file)) for p in error.problems) from None


def _table(data: bytes, file: Path) -> list[Any]:
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        mend = "give a PNG, JPEG or TIFF picture, or a table as CSV or TSV"
        raise UserError(Problem("neither a picture nor a hole table", mend, str(file))) from None
    rows, problems = read_table(text, str(file))
    if problems:
        raise UserError(problems)
    return list(rows)


def _against(rows: list[Any], found: Survey | None, options: dict[str, Any]) -> Fit:
    job = load_job(options["against"])
    sides = [face.side for face in job.faces]
    side = options["side"] or (sides[0] if len(sides) == 1 else "top")
    face = next((face for face in job.faces if face.side == side), None)
    if face is None:
        raise UserError(Problem(f"the job has no {side} face", f"take one of: {', '.join(sides)}", job.file))
    planned = [Spot(hole.id, *(hole.planned or (hole.x, hole.y)), hole.d) for hole in face.holes]
    free = options["free"] or (found is not None and found.frame.origin != "outline")
    fit = lay(planned, spots(rows), free) or lay(planned, spots(rows), free=True)
    if fit is None:
        mend = "is it this job, this side, and the right size?"
        raise UserError(Problem(f"the holes do not lie as those of the {side} face", mend, job.file))
    return fit


def _tell(rows: list[Any], found: Survey | None, fit: Fit | None, as_json: bool) -> None:
    if as_json:
        record: dict[str, Any] = {"holes": as_records(rows)}
        if found is not None:
            width, height = found.frame.size
            record["frame"] = {"origin": found.frame.origin, "size": [round(width, 4), round(height, 4)]}
            record["notes"] = list(found.notes)
        if fit is not None:
            record["fit"] = fit_record(fit)
        click.echo(json.dumps(record, indent=1, ensure_ascii=False))
    elif fit is not None:
        click.echo("\n".join(fit_lines(fit)))
    else:
        click.echo(as_table(rows), nl=False)
