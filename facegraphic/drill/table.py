"""Hole tables: CSV or TSV text with a header naming id, x, y and d in any order.

Pure: text in, holes and complaints out. Figures stay as the file has them, in mm; origins are the job's matter.
Decimal commas are read where commas don't part the cells. Without an id column holes are numbered from 1.
"""

import csv
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice

from facegraphic.drill.model import MOST_HOLES, RIGHT_FILE, DrillHole, too_many_holes
from facegraphic.errors import Problem, brief, nearest
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT, parse_length

COLUMNS = {
    "id": ("id", "name", "hole"),
    "x": ("x",),
    "y": ("y",),
    "d": ("d", "dia", "diameter", "ø"),
    "unit": ("unit", "units"),
}
WANTED = ("x", "y", "d")
MOST_PROBLEMS = limit("job-problems")
MOST_LINES = limit("table-rows")
MOST_CELLS = limit("table-cells")
LONGEST_FIGURE = limit("figure-length")
UNIT_NAMES = {
    "mm": "mm", "millimeter": "mm", "millimeters": "mm", "millimetre": "mm", "millimetres": "mm",
    "cm": "cm", "centimeters": "cm", "centimetres": "cm",
    "in": "in", "inch": "in", "inches": "in", '"': "in",
    "mil": "mil", "mils": "mil", "thou": "mil",
}  # fmt: skip
_UNITS = "|".join(sorted(map(re.escape, UNIT_NAMES), key=len, reverse=True))
_HEADER_UNIT = re.compile(rf"(?P<name>[a-zø]+?)(?:[ _,/:]*(?:in )?[(\[]?(?P<unit>{_UNITS})[)\]]?)?")
# What `facegraphic holes` tells beside these of a picture; a table may have them, and they are passed over.
MEASURED = ("roundness", "ux", "uy", "ud")
_FULL = re.compile(r"^[^#\s]", re.MULTILINE)
_DECIMAL_COMMA = re.compile(r"\d,|,\d")
_EXPONENT = re.compile(rf"([-+]?(?:\d+[.,]?\d*|[.,]\d+)e[-+]?\d{{1,3}})\s*({_UNITS})?", re.IGNORECASE)  # 1e-3, 2.5E+1
_SEPARATOR = re.compile(r"sep=(.)\s*", re.IGNORECASE)  # a first line that spreadsheets write for themselves


@dataclass
class _Table:
    """A table being read."""

    file: str
    unit: str
    delimiter: str
    line: int = 0
    columns: dict[str, tuple[int, str]] = field(default_factory=dict)
    holes: list[DrillHole] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    rows: int = 0
    ids: dict[str, int] = field(default_factory=dict)  # and the lines they stand on
    commas: int | None = None  # the first lines with a decimal comma, and with a decimal point
    points: int | None = None

    def problem(self, what: str, mend: str) -> None:
        self.problems.append(Problem(what, mend, self.file, self.line))


def read_table(text: str, file: str, unit: str = "mm") -> tuple[list[DrillHole], list[Problem]]:
    """Read a hole table. Figures without a unit of their own count in their column's or row's unit, else in `unit`."""
    text = text.removeprefix("\ufeff")
    lines = text.count("\n") + text.count("\r") - text.count("\r\n")
    if lines > MOST_LINES:
        full = sum(1 for _ in islice(_FULL.finditer(text), MOST_HOLES + 1)) > MOST_HOLES
        what = too_many_holes().what if full else f"the table has {lines} lines, more than {MOST_LINES} are not read"
        return [], [Problem(what, RIGHT_FILE, file)]
    header_line = next(_told_lines(text), "")
    named = _SEPARATOR.fullmatch(header_line)
    table = _Table(file, unit, named[1] if named else max(",;\t", key=header_line.count))
    rows = csv.reader(io.StringIO(text, newline=""), delimiter=table.delimiter)
    try:
        for row in rows:
            table.line = rows.line_num
            first = row[0].lstrip() if row else ""
            if not any(cell.strip() for cell in row) or first.startswith("#") or _is_separator(first, table):
                continue
            if not table.columns:
                _header(row, table)
                if table.problems:
                    break
            elif len(table.problems) >= MOST_PROBLEMS:
                table.problem("and more like these", "mend these first")
                break
            elif len(table.holes) >= MOST_HOLES:
                many = too_many_holes()
                table.problems.append(Problem(many.what, many.mend, file))
                break
            else:
                _row(row, table)
    except csv.Error as error:
        table.line = rows.line_num
        table.problem(f"not a table: {brief(error)}", "save it as CSV or TSV text")
    if not table.columns and not table.problems:
        table.problems.append(Problem("the table is empty", "write a header id,x,y,d and a row for each hole", file))
    if table.commas and table.points:
        what = f"decimal commas, and decimal points from line {table.points} on"
        table.line = table.commas
        table.problem(what, "write all figures one way, so that none is taken for thousands")
    return table.holes, table.problems


def _told_lines(text: str) -> Iterator[str]:
    return (line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#"))


def _is_separator(first: str, table: _Table) -> bool:
    return not table.columns and first.lower().startswith("sep=")


def _header(row: list[str], table: _Table) -> None:
    columns: dict[str, tuple[int, str]] = {}
    while row and not row[-1].strip():
        row.pop()
    if len(row) > MOST_CELLS:
        table.problem(f"{len(row)} columns", "a hole table has id, x, y and d: is this the right file?")
        return
    for number, cell in enumerate(row):
        match = _HEADER_UNIT.fullmatch(cell.strip().lower())
        known_as = {**COLUMNS, **{name: (name,) for name in MEASURED}}
        name = next((key for key, names in known_as.items() if match and match["name"] in names), None)
        if name is None or match is None:
            known = [alias for names in COLUMNS.values() for alias in names]
            table.problem(f'column "{cell.strip()[:40]}" is not known', nearest(cell.strip()[:40], known))
        elif name in columns:
            table.problem(f'two columns for "{name}"', "keep one of them")
        else:
            columns[name] = (number, UNIT_NAMES[match["unit"]] if match["unit"] else "")
    missing = [name for name in WANTED if name not in columns]
    if missing:
        missing = [name for name in ("id", *WANTED) if name not in columns]
        mend = "the first line must name the columns id, x, y and d"
        table.problem(f"no column for {', '.join(missing)}", mend)
    table.columns = columns


def _row(row: list[str], table: _Table) -> None:
    wanted = len(table.columns)
    table.rows += 1
    while len(row) > wanted and not row[-1].strip():
        row.pop()  # spreadsheets fill rows up
    if len(row) != wanted:
        mend = f'one cell for each of {", ".join(table.columns)}, parted by "{_shown(table.delimiter)}"'
        if table.delimiter == "," and len(row) > wanted:
            mend += "; write decimals with a point, as in 7.5"
        table.problem(f"{len(row)} cells where {wanted} are wanted", mend)
        return
    unit = table.unit
    if "unit" in table.columns and (cell := row[table.columns["unit"][0]].strip()):
        if cell.lower() not in UNIT_NAMES:
            table.problem(f'unit "{cell[:40]}" is not known', nearest(cell[:40], MM_PER_UNIT))
            return
        unit = UNIT_NAMES[cell.lower()]
        others = [f"{name} ({own})" for name in WANTED if (own := table.columns[name][1]) and own != unit]
        if others:
            what = f"the unit column says {unit}, but the header has {' and '.join(others)}"
            table.problem(what, "say each unit once: in the header, or in the unit column")
            return
    figures: dict[str, float] = {}
    for name in WANTED:
        number, own = table.columns[name]
        value = _figure(name, row[number], own or unit, table)
        if value is not None:
            figures[name] = value
    id = row[table.columns["id"][0]].strip() if "id" in table.columns else str(table.rows)
    if id and table.ids.setdefault(id, table.line) != table.line:
        what = f'two holes have the id "{id[:60]}", here and on line {table.ids[id]}'
        table.problem(what, "give each hole of a face its own id")
    elif len(figures) == 3:
        table.holes.append(DrillHole(id, figures["x"], figures["y"], figures["d"], table.line))


def _figure(name: str, cell: str, unit: str, table: _Table) -> float | None:
    """A length in mm; None with a problem for what is none."""
    if len(cell) > LONGEST_FIGURE:
        table.problem(f'{name} = "{cell[:20]}..." has {len(cell)} characters', f"write it in {LONGEST_FIGURE} or fewer")
        return None
    if _DECIMAL_COMMA.search(cell):
        if table.delimiter == ",":
            mend = f"write it with a decimal point: {cell.strip().replace(',', '.')}"
            table.problem(f'decimal comma in {name} = "{cell}"', mend)
            return None
        table.commas = table.commas or table.line
    elif "." in cell:
        table.points = table.points or table.line
    try:
        if match := _EXPONENT.fullmatch(cell.strip()):
            return parse_length(float(match[1].replace(",", ".")), UNIT_NAMES[match[2].lower()] if match[2] else unit)
        return parse_length(cell, unit)
    except ValueError as error:
        table.problem(f'{name} = "{cell[:60]}" is not a length', str(error))
    return None


def _shown(delimiter: str) -> str:
    return {"\t": "a tab"}.get(delimiter, delimiter)
