"""Read what a job says of the circuit board inside the box."""

from typing import Any

from facegraphic.job.model import Board
from facegraphic.job.reader import Table

PITCH = 2.54  # mm between the holes of stripboard, 0.1 in (common practice)
MOST_HOLES = 400
# Where the job does not say: from memory. Under the top a board lies behind 16 mm potentiometers, 9 mm deep.
STANDOFF = {"top": 12.0, "lid": 5.0}
THICKNESS = 1.6
PARTS = 10.0
JOINTS = 2.0


def read_board(table: Table) -> Board | None:
    """The [board] table; None, and a problem, when it has no size. Problems go to the table's notes."""
    size = table.lengths("size", 2, low=1.0)
    holes = table.value("holes", None, _holes)
    under = table.choice("under", "lid", tuple(STANDOFF))
    board = Board(
        size=size or holes or (0.0, 0.0),
        under=under,
        at=table.lengths("at", 2, (0.0, 0.0)),
        standoff=table.length("standoff", STANDOFF[under], high=100.0),
        thickness=table.length("thickness", THICKNESS, low=0.1, high=10.0),
        parts=table.length("parts", PARTS, high=100.0),
        joints=table.length("joints", JOINTS, high=20.0),
    )
    if table.has("size") and table.has("holes"):
        table.problem("holes", "both size and holes are given", "keep one of them")
    elif not table.has("size") and not table.has("holes"):
        mend = "add size = [61, 46] in mm, or holes = [24, 18] of stripboard"
        table.notes.add(table.path, "the board has no size", mend)
    table.close()
    return board if size or holes else None


def _holes(value: Any) -> tuple[float, float]:
    """Stripboard counted in holes, cut half a pitch outside the outer ones: so many pitches wide."""
    whole = isinstance(value, list) and all(isinstance(n, int) and not isinstance(n, bool) for n in value)
    if not whole or len(value) != 2 or not all(1 <= n <= MOST_HOLES for n in value):
        raise ValueError(f"two whole numbers of holes, 1 to {MOST_HOLES}, are wanted, as in [24, 18]")
    return (value[0] * PITCH, value[1] * PITCH)
