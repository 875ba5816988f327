"""Read what a job says of the film or paper it is printed on."""

from typing import Any

from facegraphic.geometry.path import Box
from facegraphic.job.model import Sheet
from facegraphic.job.reader import LONGEST_MM, Table, within
from facegraphic.stock.limits import limit
from facegraphic.stock.tables import Paper, papers
from facegraphic.units import parse_length

MOST_COPIES = limit("copies")
LEAST_GAP, MOST_GAP = 4.0, 50.0  # below the least, cut ticks of one piece would run into the next
BARE_EDGE = 8.0  # most printers leave 4 to 6 mm bare (common practice)
MOST_USED = limit("used-regions")


def read_sheet(table: Table) -> Sheet:
    """The [sheet] table; problems go to its notes."""
    size = table.lengths("size", 2, low=20.0)
    name = table.choice("paper", "A4", tuple(papers()))
    if table.has("size") and table.has("paper"):
        table.problem("size", "both paper and size are given", "keep one of them")
    paper = Paper("x".join(f"{length:g}" for length in size), size, "the job file") if size else papers()[name]
    sheet = Sheet(
        paper=paper,
        copies=table.whole("copies", 1, 1, MOST_COPIES),
        used=table.value("used", (), lambda value: _used(value, paper)),
        edge=table.value("edge", (BARE_EDGE, BARE_EDGE, BARE_EDGE, BARE_EDGE), _edge),
        gap=table.length("gap", 5.0, low=LEAST_GAP, high=MOST_GAP),
        turn=bool(table.flag("turn", True)),
        price=table.number("price", 0.0, 0.0, 1e6),
    )
    left, upper, right, lower = sheet.edge
    if left + right >= paper.size[0] or upper + lower >= paper.size[1]:
        table.problem(
            "edge",
            f"{', '.join(f'{length:g}' for length in sheet.edge)} mm leave nothing of {paper.name}",
            "give what the printer leaves bare",
        )
    table.close()
    return sheet


def _used(value: Any, paper: Paper) -> tuple[Box, ...]:
    """Used regions as boxes, x right and y down from the upper left corner."""
    if not isinstance(value, list) or not all(isinstance(region, list) and len(region) == 4 for region in value):
        raise ValueError("write regions as [[x, y, width, height], ...] in mm from the upper left corner")
    if len(value) > MOST_USED:
        raise ValueError(f"there are {len(value)} regions; {MOST_USED} are enough")
    return tuple(_region([parse_length(length) for length in region], paper) for region in value)


def _region(lengths: list[float], paper: Paper) -> Box:
    x, y, width, height = (within(length, 0, LONGEST_MM) for length in lengths)
    if width == 0 or height == 0:
        raise ValueError("a region needs a width and a height; write [x, y, width, height]")
    if x >= paper.size[0] or y >= paper.size[1]:
        raise ValueError(
            f"a region that begins at {x:g}, {y:g} is not on {paper.name}, {paper.size[0]:g} × {paper.size[1]:g} mm"
        )
    return Box(x, y, x + width, y + height)


def _edge(value: Any) -> tuple[float, float, float, float]:
    """One length for all edges, or left, upper, right and lower."""
    lengths = value if isinstance(value, list) else [value] * 4
    if len(lengths) != 4:
        raise ValueError("write one length, or [left, upper, right, lower]")
    left, upper, right, lower = (within(parse_length(length), 0, 200.0) for length in lengths)
    return (left, upper, right, lower)
