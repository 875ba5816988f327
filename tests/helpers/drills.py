"""Drill files as programs we didn't write read them: gerbonara, pcb-tools, and gerbv (which writes what it
has read)."""

import os
import re
import subprocess
import warnings
from pathlib import Path
from typing import Any

import pytest
from helpers.debian import debian_file, debian_program

from facegraphic.drill.model import Asked, Reading
from facegraphic.drill.read import read_holes
from facegraphic.geometry.path import Point

# Some systems leave a package's documentation out; .ci/run then unpacks it elsewhere and says where.
EXAMPLES = os.environ.get("GERBV_EXAMPLES", "/usr/share/doc/gerbv/examples")
Row = tuple[float, float, float]


def example(name: str) -> Path:
    """A drill file from gerbv's examples."""
    return debian_file("gerbv", f"{EXAMPLES}/{name}")


def read(text: str | bytes, units: str | None = None, layers: tuple[str, ...] = ()) -> Reading:
    data = text.encode("utf-8") if isinstance(text, str) else text
    return read_holes(data, "holes.file", Asked(units, layers))


def rows(reading: Reading) -> list[Row]:
    """x, y, d of the holes of a file without problems, in the file's order."""
    assert reading.problems == ()
    return [(hole.x, hole.y, hole.d) for hole in reading.holes]


def told(reading: Reading) -> str:
    """All notes and problems as a user sees them."""
    return "\n".join(map(str, (*reading.notes, *reading.problems)))


def by_gerbonara(path: Path) -> list[Row]:
    """What gerbonara reads, in the file's order. It raises SyntaxError for what it doesn't know."""
    from gerbonara.excellon import ExcellonFile

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        drills = list(ExcellonFile.open(path).drills())
    return [
        (_mm(drill.x, drill.unit), _mm(drill.y, drill.unit), _mm(drill.tool.diameter, drill.tool.unit))
        for drill in drills
    ]


def _mm(value: float, unit: Any) -> float:
    return value * {"in": 25.4, "mm": 1.0}[unit.shorthand]


def by_pcb_tools(text: str) -> tuple[list[Row], list[tuple[Point, Point, float]]]:
    """What pcb-tools reads: holes, and slots as start, end and width, in the file's order, mm.

    Fails under CI=true when it is missing. Its reading of files by name fails on Python 3.11 (open mode "rU"), so it
    is given the text.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            from gerber import excellon

            found = excellon.loads(text)
    except ImportError as error:
        reason = f"pcb-tools 0.1.6 is not installed (pip install --no-deps pcb-tools==0.1.6): {error}"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    factor = {"inch": 25.4, "metric": 1.0}[found.units]
    holes: list[Row] = []
    slots: list[tuple[Point, Point, float]] = []
    for hit in found.hits:
        d = hit.tool.diameter * factor
        if hasattr(hit, "position"):
            holes.append((hit.position[0] * factor, hit.position[1] * factor, d))
        else:
            start, end = ((at[0] * factor, at[1] * factor) for at in (hit.start, hit.end))
            slots.append((start, end, d))
    return holes, slots


def by_gerbv(path: Path, folder: Path) -> list[Row]:
    """What gerbv reads and writes again: inches with four places, tools with three; sorted by tool."""
    out = folder / "by-gerbv.drl"
    gerbv = debian_program("gerbv", "gerbv")
    subprocess.run([gerbv, "-x", "drill", "-o", out, path], capture_output=True, timeout=120, check=True)
    sizes: dict[str, float] = {}
    found: list[Row] = []
    size = 0.0
    for line in out.read_text().splitlines():
        if tool := re.fullmatch(r"T(\d+)C([\d.]+)", line):
            sizes[tool[1]] = float(tool[2]) * 25.4
        elif tool := re.fullmatch(r"T(\d+)", line):
            size = sizes[tool[1]]
        elif hit := re.fullmatch(r"X(-?\d+)Y(-?\d+)", line):
            found.append((int(hit[1]) * 0.00254, int(hit[2]) * 0.00254, size))
    return found


def alike(some: list[Row], others: list[Row], places: float, sizes: float) -> bool:
    """Whether two lists hold the same holes in any order, positions and sizes to so many mm."""
    left = list(others)
    for x, y, d in some:
        near = next(
            (
                row
                for row in left
                if abs(row[0] - x) <= places and abs(row[1] - y) <= places and abs(row[2] - d) <= sizes
            ),
            None,
        )
        if near is None:
            return False
        left.remove(near)
    return not left
