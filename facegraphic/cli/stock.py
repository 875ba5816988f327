"""``facegraphic stock``: the tables."""

from collections.abc import Iterable, Mapping
from typing import Any

import click

from facegraphic.stock import tables
from facegraphic.stock.limits import limits

FILM = (
    *("name", "mirrored", "bits", "look", "line", "gap", "line_reversed", "gap_reversed", "text", "bleed", "cut"),
    *("holes", "clear", "border", "choke", "rim", "steps", "work", "wait", "cautions", "title", "ink"),
    *("down", "source"),
)
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "boxes": ("name", "size", "draft", "edge", "corner", "lid", "title", "source"),
    "parts": (
        "name",
        "hole",
        "nut",
        "washer",
        "bezel",
        "hides",
        "body",
        "depth",
        "travel",
        "throws",
        "title",
        "source",
    ),
    "knobs": ("name", "diameter", "height", "title", "source"),
    "films": FILM,
    "papers": ("name", "size", "source"),
    "bits": ("name", "diameter", "source"),
    "spacings": ("name", "value", "title", "source"),
    "masks": ("name", "least", "radius", "dust", "title", "source"),
    "tolerances": ("name", "value", "process", "title", "source"),
    "limits": ("name", "most", "unit", "title", "source"),
}


@click.command(epilog="Example: facegraphic stock parts")
@click.argument("table", required=False, type=click.Choice(list(COLUMNS)), metavar="[TABLE]")
def stock(table: str | None) -> None:
    """Print the tables, with where each figure comes from.

    TABLE is boxes, parts, knobs, films, papers, bits, spacings, masks, tolerances or limits; without one all of them.

    Lengths are mm: a nut across its corners, what a part hides for certain over its flats. Travel is degrees, work
    and wait are hours, least and most.
    """
    for name in [table] if table else COLUMNS:
        if not table:
            click.echo(f"\n{name.upper()}")
        rows = (limits() if name == "limits" else getattr(tables, name)()).values()
        for line in _lines(COLUMNS[name], rows):
            click.echo(line)


def _lines(columns: tuple[str, ...], rows: Iterable[Any]) -> list[str]:
    cells = [list(columns), *([_cell(_told(row, column)) for column in columns] for row in rows)]
    widths = [max(len(row[i]) for row in cells) for i in range(len(columns))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells]


def _told(row: Any, column: str) -> Any:
    """A row's value, a computed one without the digits that its sources have not."""
    value = getattr(row, column)
    return round(value, 1) if column == "hides" else value


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return " x ".join(f"{part:g}" for part in value)
    if isinstance(value, float | int):
        return str(value) if isinstance(value, int) and value else f"{value:.6g}" if value else "-"
    return value or "-"
