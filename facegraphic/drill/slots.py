"""Telling of slots and routed moves, which are no holes of a face but must not vanish in silence."""

from collections.abc import Iterator, Sequence

from facegraphic.drill.model import LeftOut, Slot
from facegraphic.errors import Problem

TOLD_ONE_BY_ONE = 12
MEND = "a face has round holes only: keep legends off it yourself, or add holes for it"


def slot_notes(slots: Sequence[Slot], file: str) -> Iterator[Problem]:
    """A note for each slot, as far as a person reads them, and one for the rest."""
    for slot in slots[:TOLD_ONE_BY_ONE]:
        (x0, y0), (x1, y1) = slot.start, slot.end
        kind = "routed move" if slot.routed else "slot"
        what = f"{kind} {slot.width:g} mm wide from {x0:g}, {y0:g} to {x1:g}, {y1:g} mm is left out"
        yield LeftOut(what, MEND, file, slot.line)
    if len(slots) > TOLD_ONE_BY_ONE:
        more = slots[TOLD_ONE_BY_ONE:]
        yield LeftOut(f"{len(more)} more slots or routed moves are left out from here on", MEND, file, more[0].line)
