"""Read how the preview is to show the box."""

from facegraphic.job.model import Shown
from facegraphic.job.reader import Table


def read_shown(table: Table) -> Shown:
    """The [preview] table; problems go to its notes."""
    usual = Shown()
    shown = Shown(
        knobs=table.number("knobs", usual.knobs, 0.0, 1.0, "of a knob's travel"),
        lamps=table.choice("lamps", "on", ("on", "off")) == "on",
    )
    table.close()
    return shown
