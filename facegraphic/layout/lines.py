"""Ruled lines between the sections of a face, the title breaking the line in its middle."""

import math

from facegraphic.errors import Finding
from facegraphic.geometry.path import Path
from facegraphic.geometry.shapes import bar
from facegraphic.job.model import Face, Finish, Line
from facegraphic.layout.frames import TITLE_ROOM
from facegraphic.layout.model import Legend, Mark
from facegraphic.lettering.library import spelled
from facegraphic.lettering.text import Style, set_block

STUB = 2.0  # the least of a line, in mm, that still is seen as one on either side of its title


def section_line(wish: Line, face: Face, finish: Finish) -> tuple[Mark, Legend | None, list[Finding]]:
    """The line as ruled, its title along it, and what is wrong with either."""
    said = _thin(wish, face, finish)
    whole = Mark(bar(wish.start, wish.end, wish.width), "line", finish.ink)
    block = set_block(wish.label, Style(finish.font, wish.cap))
    if not block.path:
        return whole, None, said
    (x0, y0), (x1, y1) = wish.start, wish.end
    long, room = math.dist(wish.start, wish.end), block.ink.width + 2 * TITLE_ROOM
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    if long < room + 2 * STUB:
        message = f'the label "{spelled(wish.label)}" leaves too little of its line of {long:.1f} mm'
        least = math.ceil((room + 2 * STUB) * 10) / 10
        remedy = f"make the line {least:g} mm long or longer, shorten the label, or lower its height ({wish.cap:g} mm)"
        return whole, None, [*said, Finding("line-label-too-long", "error", message, remedy, face.side, middle)]
    share = (1 - room / long) / 2
    dx, dy = (x1 - x0) * share, (y1 - y0) * share
    parts = (bar(wish.start, (x0 + dx, y0 + dy), wish.width), bar((x1 - dx, y1 - dy), wish.end, wish.width))
    angle = reading_angle(x1 - x0, y1 - y0)
    title = Legend(block.turned(angle) if angle else block, "frame", "line", finish.ink, angle=angle)
    return Mark(Path.joined(parts), "line", finish.ink), title.moved(*middle), said


def reading_angle(dx: float, dy: float) -> float:
    """How far a title is turned to read along a line, whichever way that was drawn: up an upright one, else rightward.

    Counter-clockwise in degrees, over -90 to 90.
    """
    angle = round(math.degrees(math.atan2(dy, dx)), 6) % 180.0
    return angle if angle <= 90.0 else angle - 180.0


def _thin(wish: Line, face: Face, finish: Finish) -> list[Finding]:
    """A line below what the process holds comes out broken (thinnest line: films table)."""
    least = finish.least_line
    if wish.width >= least - 1e-9:
        return []
    (x0, y0), (x1, y1) = wish.start, wish.end
    message = f"a section line is {wish.width:g} mm wide; {finish.film.name} holds {least:g} mm and more"
    remedy = f"give it a width of {least:g} mm or more"
    return [Finding("line-too-thin", "warning", message, remedy, face.side, ((x0 + x1) / 2, (y0 + y1) / 2))]
