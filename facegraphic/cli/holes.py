"""``facegraphic holes``: hole positions out of a file."""

import csv
import io
import json
from pathlib import Path
from typing import Any

import click

from facegraphic.cli.talk import tell_notes
from facegraphic.drill.model import MOST_BYTES, Asked, DrillHole, Reading
from facegraphic.drill.read import read_holes
from facegraphic.drill.summary import moved_to_middle, summary
from facegraphic.errors import UserError
from facegraphic.job.files import read_file
from facegraphic.units import format_number

COLUMNS = ("id", "x", "y", "d")


@click.command(epilog="Example: facegraphic holes panel.dxf --units mm --layer DRILL > panel.csv")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--units", type=click.Choice(["mm", "in", "mil", "cm"]), help="Of figures whose unit the file doesn't say."
)
@click.option("--layer", "layers", multiple=True, metavar="NAME", help="Holes of this layer only; may be repeated.")
@click.option(
    "--origin",
    type=click.Choice(["file", "middle-of-holes"]),
    default="file",
    show_default=True,
    help="Where zero is: where the file has it, or amid the holes.",
)
@click.option(
    "--json", "as_json", is_flag=True, help="Print all that is known: line, layer and tool of each hole; slots."
)
def holes(file: Path, as_json: bool, origin: str, **asked: Any) -> None:
    """Print the hole positions of FILE as a table: id, x, y and d in mm, x to the right and y up.

    FILE is a hole table (CSV, TSV), an NC drill file (Excellon), a DXF or an SVG, told by what it holds. What is no
    round hole (slots, routed paths) is told on stderr, and so is what was taken on trust. A job reads the same files,
    and what this prints, with drill = "FILE".
    """
    reading = holes_of(file, Asked(asked["units"], asked["layers"]))
    if reading.problems:
        raise UserError(reading.problems)
    if origin == "middle-of-holes":
        reading = moved_to_middle(reading)
    tell_notes(reading.notes)
    click.echo(f"{file}: {summary(reading)}", err=True)
    click.echo(as_json_text(reading) if as_json else as_table(reading.holes), nl=False)


def holes_of(file: Path, asked: Asked) -> Reading:
    """The holes of a file of any kind, told by what it holds. UserError if it cannot be read."""
    return read_holes(read_file(file, MOST_BYTES), file.name, asked)


def as_table(found: tuple[DrillHole, ...]) -> str:
    """Holes as the table that a job's drill key reads."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerows((hole.id, *map(format_number, (hole.x, hole.y, hole.d))) for hole in found)
    return out.getvalue()


def as_json_text(reading: Reading) -> str:
    record = {
        "kind": reading.kind,
        "page": reading.page and [float(format_number(side)) for side in reading.page],
        "layers": dict(reading.layers),
        "holes": [_hole_record(hole) for hole in reading.holes],
        "slots": [
            {
                "from": [float(format_number(figure)) for figure in slot.start],
                "to": [float(format_number(figure)) for figure in slot.end],
                "width": float(format_number(slot.width)),
                "routed": slot.routed,
                "line": slot.line,
                "tool": slot.tool,
            }
            for slot in reading.slots
        ],
        "notes": [{"line": note.line, "message": note.what, "remedy": note.mend} for note in reading.notes],
    }
    return json.dumps(record, indent=1, ensure_ascii=False) + "\n"


def _hole_record(hole: DrillHole) -> dict[str, Any]:
    figures = {name: float(format_number(getattr(hole, name))) for name in COLUMNS[1:]}
    return {"id": hole.id, **figures, "line": hole.line, "layer": hole.layer or None, "tool": hole.tool or None}
