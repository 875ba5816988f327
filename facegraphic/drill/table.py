"""Hole tables: CSV or TSV text with a header naming id, x, y and d in any order.

Pure: text in, holes and complaints out. Figures stay as the file has them, in mm; origins are the job's matter.
"""

import csv
import io
import re
from dataclasses import dataclass

from facegraphic.errors import Problem, nearest
from facegraphic.units import parse_length

COLUMNS = {
    "id": ("id", "name", "hole"),
    "x": ("x",),
    "y": ("y",),
    "d": ("d", "dia", "diameter"),
}
# What `facegraphic holes` tells beside these; a table may have them, and they are passed over.
MEASURED = ("roundness", "ux", "uy", "ud")
MOST_ROWS = 10_000
_HEADER_UNIT = re.compile(r"(?P<name>[a-z]+)(?:[ _]*[(\[]?(?P<unit>mm|cm|in|mil)[)\]]?)?")
_DECIMAL_COMMA = re.compile(r"\d,|,\d")


@dataclass(frozen=True)
class TableHole:
    """A row: figures in mm, and the line it stands on."""

    id: str
    x: float
    y: float
    d: float
    line: int


def read_table(text: str, file: str, unit: str = "mm") -> tuple[list[TableHole], list[Problem]]:
    """Read a hole table. Figures without a unit of their own count in their column's unit, else in `unit`."""
    text = text.removeprefix("\ufeff")
    header_line = next((line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")), "")
    delimiter = max(",;\t", key=header_line.count)
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    problems: list[Problem] = []
    holes: list[TableHole] = []
    columns: dict[str, tuple[int, str]] | None = None
    try:
        for row in rows:
            if not any(cell.strip() for cell in row) or row[0].lstrip().startswith("#"):
                continue
            if columns is None:
                columns, problems = _header(row, file, rows.line_num, unit)
                if problems:
                    break
            elif len(holes) >= MOST_ROWS:
                problems.append(Problem(f"more than {MOST_ROWS} holes", "is this a hole table?", file))
                break
            else:
                _row(row, columns, (file, rows.line_num, delimiter), holes, problems)
    except csv.Error as error:
        problems.append(Problem(f"not a table: {error}", "save it as CSV or TSV text", file, rows.line_num))
    if columns is None and not problems:
        problems.append(Problem("the table is empty", "write a header id,x,y,d and a row for each hole", file))
    return holes, problems


def _header(row: list[str], file: str, line: int, unit: str) -> tuple[dict[str, tuple[int, str]], list[Problem]]:
    columns: dict[str, tuple[int, str]] = {}
    problems = []
    for number, cell in enumerate(row):
        match = _HEADER_UNIT.fullmatch(cell.strip().lower())
        known_as = {**COLUMNS, **{name: (name,) for name in MEASURED}}
        name = next((key for key, names in known_as.items() if match and match["name"] in names), None)
        if name is None or match is None:
            known = [alias for names in COLUMNS.values() for alias in names]
            problems.append(Problem(f'column "{cell.strip()}" is not known', nearest(cell.strip(), known), file, line))
        elif name in columns:
            problems.append(Problem(f'two columns for "{name}"', "keep one of them", file, line))
        else:
            columns[name] = (number, match["unit"] or unit)
    missing = [name for name in COLUMNS if name not in columns]
    if missing:
        mend = "the first line must name the columns id, x, y and d"
        problems.append(Problem(f"no column for {', '.join(missing)}", mend, file, line))
    return columns, problems


def _row(
    row: list[str],
    columns: dict[str, tuple[int, str]],
    place: tuple[str, int, str],
    holes: list[TableHole],
    problems: list[Problem],
) -> None:
    file, line, delimiter = place
    if len(row) != len(columns):
        mend = f'one cell for each of {", ".join(columns)}, parted by "{_shown(delimiter)}"'
        if delimiter == "," and len(row) > len(columns):
            mend += "; write decimals with a point, as in 7.5"
        problems.append(Problem(f"{len(row)} cells where {len(columns)} are wanted", mend, file, line))
        return
    figures: dict[str, float] = {}
    for name in ("x", "y", "d"):
        number, unit = columns[name]
        cell = row[number]
        if _DECIMAL_COMMA.search(cell):
            mend = f"write it with a decimal point: {cell.strip().replace(',', '.')}"
            problems.append(Problem(f'decimal comma in {name} = "{cell}"', mend, file, line))
            continue
        try:
            figures[name] = parse_length(cell, unit)
        except ValueError as error:
            problems.append(Problem(f'{name} = "{cell}" is not a length', str(error), file, line))
    if len(figures) == 3:
        holes.append(TableHole(row[columns["id"][0]].strip(), **figures, line=line))


def _shown(delimiter: str) -> str:
    return {"\t": "a tab"}.get(delimiter, delimiter)
