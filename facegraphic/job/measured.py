"""Measured holes of a face in a job: read from their table, laid on the planned ones, and put in their place.

Measured positions count from the middle of the face, x right and y up, in mm, as `facegraphic holes` writes them. From
a scan with the face's outline (`measured_from = "outline"`) they are taken as they are, but for quarter turns and
mirroring: the outline says where they lie, and nothing is moved to please the plan. Where no outline was seen
(`"holes"`) they are moved and turned, never scaled, to lie best on the plan.
"""

from collections.abc import Sequence
from dataclasses import replace

from facegraphic.drill.fit import Fit, Spot
from facegraphic.drill.measured import lay, spots
from facegraphic.drill.model import Asked
from facegraphic.job.files import Files
from facegraphic.job.model import Hole
from facegraphic.job.reader import Table, shown


def read_measured(table: Table, files: Files) -> tuple[Spot, ...] | None:
    """The holes of the table that `measured` names, or None."""
    if not table.has("measured"):
        return None
    name = table.text("measured")
    reading = files.holes(table, "measured", name, Asked(None, ())) if name else None
    return tuple(spots(reading.holes)) if reading else None


def as_measured(
    table: Table, planned: Sequence[Hole], measured: Sequence[Spot] | None, free: bool
) -> tuple[list[Hole], Fit | None]:
    """The holes where they were measured, those not found where they were planned; diameters stay as planned."""
    holes = list(planned)
    if not measured or not holes:
        return holes, None
    fit = lay(spots(holes), measured, free)
    if fit is None:
        other = lay(spots(holes), measured, free=True) if not free else None
        mend = "is this the scan of this side? Its size may be another, or its middle not the face's"
        if other:
            x, y = other.motion.shift
            mend = f'moved by {x:.1f}, {y:.1f} mm they would: measure with --size, or write measured_from = "holes"'
        table.problem("measured", f"the holes of {shown(table.text('measured'))} do not lie as planned", mend)
        return holes, None
    at = {pair.planned.id: pair.back for pair in fit.pairs}
    placed = [
        replace(hole, x=at[hole.id][0], y=at[hole.id][1], planned=(hole.x, hole.y)) if hole.id in at else hole
        for hole in holes
    ]
    return placed, fit
