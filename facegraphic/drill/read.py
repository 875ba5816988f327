"""Hole positions from a file of any kind: looks what it holds, has it read, and judges what came of it."""

import math
import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from itertools import islice

from facegraphic.drill.kinds import kind_of, text_of
from facegraphic.drill.model import (
    LARGEST_MM,
    LONGEST_ID,
    MOST_BYTES,
    MOST_DRAWING_BYTES,
    MOST_HOLES,
    Asked,
    DrillHole,
    Kind,
    Reading,
    TooMuch,
    Unreadable,
    far,
    too_large,
    too_many_holes,
)
from facegraphic.drill.table import read_table
from facegraphic.errors import Problem, nearest
from facegraphic.stock.limits import limit
from facegraphic.units import format_number

SAME_PLACE_MM = 0.001
MOST_TOLD = limit("job-problems")
# Circles as drawings write them: enough to tell a file of too many holes from one that is only large.
_MARKS: dict[Kind, re.Pattern[bytes]] = {
    "DXF": re.compile(rb"\n[ \t]*CIRCLE[ \t]*\r?\n"),
    "SVG": re.compile(rb"<(\w+:)?circle\b"),
}


def read_holes(data: bytes, file: str, asked: Asked | None = None) -> Reading:
    """Read a hole table, an NC drill file, a DXF or an SVG. Whatever is wrong stands in the reading's problems."""
    asked = asked or Asked()
    kind: Kind = "table"
    try:
        if len(data) > MOST_BYTES:
            raise too_large(len(data), MOST_BYTES)
        kind = kind_of(data)
        if kind in _MARKS and len(data) > MOST_DRAWING_BYTES:
            raise TooMuch(*too_large(len(data), MOST_DRAWING_BYTES).told)
        reading = _read(kind, data, file, asked)
    except TooMuch as error:
        many = sum(1 for _ in islice(_MARKS[kind].finditer(data), MOST_HOLES + 1)) > MOST_HOLES
        what, mend, line = (too_many_holes() if many else error).told
        return Reading(kind, problems=(Problem(what, mend, file, line),))
    except Unreadable as error:
        return Reading(kind, problems=(Problem(error.what, error.mend, file, error.line),))
    holes = _named(reading.holes)
    problems = list(islice(_unsound(reading, file), MOST_TOLD + 1))
    if len(problems) > MOST_TOLD:
        problems[MOST_TOLD:] = [Problem("and more like these", "mend these first", file)]
    if asked.layers:
        problems += _unknown_layers(reading, asked, file)
        wanted = {layer.lower() for layer in asked.layers}
        holes = [hole for hole in holes if hole.layer.lower() in wanted]
    notes = (*reading.notes, *_doubles(holes, file))
    return replace(reading, holes=tuple(holes), notes=notes, problems=(*reading.problems, *problems))


def _read(kind: Kind, data: bytes, file: str, asked: Asked) -> Reading:
    # ezdxf and svgelements take a while to load, and the readers are large: each is loaded for its own files only.
    if kind == "DXF":
        from facegraphic.drill.dxf import read_dxf

        return read_dxf(data, file, asked)
    if kind == "SVG":
        from facegraphic.drill.svg import read_svg

        return read_svg(data, file, asked)
    if kind == "NC drill":
        from facegraphic.drill.nc import read_nc

        reading = read_nc(text_of(data), file, asked)
        return replace(reading, layers=Counter(hole.layer for hole in reading.holes if hole.layer))
    return _read_table(data, file, asked)


def _read_table(data: bytes, file: str, asked: Asked) -> Reading:
    text = text_of(data)
    if not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            data.decode("utf-8")
        except UnicodeDecodeError as error:
            line = data[: error.start].count(b"\n") + 1
            raise Unreadable("the table is not UTF-8 text", "save it as CSV or TSV, in UTF-8", line) from None
    holes, problems = read_table(text, file, asked.units or "mm")
    return Reading("table", tuple(holes), problems=tuple(problems))


def _named(holes: Iterable[DrillHole]) -> list[DrillHole]:
    """Ids that a table can hold: short, without control characters, not taken for a comment."""
    found = []
    for hole in holes:
        id = "".join(c if c.isprintable() else " " for c in hole.id).strip().lstrip("#").strip()
        found.append(replace(hole, id=id[:LONGEST_ID]) if id[:LONGEST_ID] != hole.id else hole)
    return found


def _unsound(reading: Reading, file: str) -> Iterator[Problem]:
    for hole in reading.holes:
        worst = max(hole.x, hole.y, hole.d, key=abs)
        if not all(map(math.isfinite, (hole.x, hole.y, hole.d))):
            yield Problem(f"hole {hole.id} has no sound position or size", "check the file's units", file, hole.line)
        elif abs(worst) > LARGEST_MM:
            what = "is {} mm across" if worst == hole.d else "lies {} mm out"
            mend = "check the figure, and the file's units"
            yield Problem(f"hole {hole.id} {what.format(far(worst))}", mend, file, hole.line)
        elif hole.d <= 0:
            yield Problem(f"hole {hole.id} has no diameter", "give it one above 0", file, hole.line)


def _unknown_layers(reading: Reading, asked: Asked, file: str) -> Iterator[Problem]:
    known = {layer.lower() for layer in reading.layers}
    for layer in asked.layers:
        if layer.lower() not in known:
            mend = nearest(layer, reading.layers) if known else f"a {reading.kind} like this has no layers"
            yield Problem(f'no hole is on a layer "{layer}"', mend, file)


def _doubles(holes: list[DrillHole], file: str) -> Iterator[Problem]:
    """Tell of holes that share their middle with an earlier one."""
    first: dict[tuple[int, int], DrillHole] = {}
    twice: list[tuple[DrillHole, DrillHole]] = []
    for hole in holes:
        if not all(abs(figure) <= LARGEST_MM for figure in (hole.x, hole.y)):
            continue
        cell = (round(hole.x / SAME_PLACE_MM), round(hole.y / SAME_PLACE_MM))
        if cell in first:
            twice.append((first[cell], hole))
        first.setdefault(cell, hole)
    for one, other in twice[:3]:
        what = f"holes {one.id} and {other.id} share one place, {format_number(one.x)}, {format_number(one.y)} mm"
        mend = "both are kept; take one out if it was drawn twice"
        yield Problem(what, mend, file, other.line)
    if len(twice) > 3:
        yield Problem(f"{len(twice) - 3} more holes share a place with another", "all are kept", file, twice[3][1].line)
