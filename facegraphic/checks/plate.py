"""Rules about the white plate."""

from collections.abc import Iterator

from facegraphic.checks.told import several
from facegraphic.errors import Finding
from facegraphic.film.plate import fine_parts
from facegraphic.geometry.regions import region
from facegraphic.job.model import Finish
from facegraphic.layout.ground import mark_owner
from facegraphic.layout.model import FaceLayout


def white_beside_strokes(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """White under strokes finer than twice the choke and a line cannot be drawn in by all of it (plain arithmetic)."""
    if finish.film.look != "plate" or not finish.choke or layout.face.ground:
        return
    areas = [(legend.name, region(legend.path)) for legend in layout.legends if legend.path]
    areas += [(mark_owner(mark), region(mark.path, mark.rule)) for mark in layout.marks]
    names = list(dict.fromkeys(name for name, area in areas if not fine_parts(area, finish).is_empty))
    if names:
        least = 2 * finish.choke + finish.film.line
        message = (
            f"strokes of {several(names)} are finer than {least:g} mm, so the white under them is drawn in by less "
            f"than {finish.choke:g} mm and may show beside them"
        )
        remedy = "set them larger or in a heavier cut, or ask the service for a smaller choke"
        yield Finding("white-beside-strokes", "note", message, remedy, layout.face.side)
