"""Plugs and dots for holes: what keeps paint out of holes, off threads, and off the metal that must stay bare.

A dot lies over its hole. It may reach past the hole's edge only as far as nut, washer or rim will hide, and half of
that is left for play and hand. Under one socket the box is earthed: there the paint stays off all that the seat bears
on, outside, and inside where the socket's own shoulder lies.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from facegraphic.job.model import Coat, Control, Hole
from facegraphic.layout.model import FaceLayout
from facegraphic.stock.faces import Side

MOST_PAST = 2.0  # mm past the hole's edge: a dot needs no more to hold
TUCKED = 0.25  # mm: paint reaches so far under the seat of the socket that earths the box, so that no bare ring shows
EARTHS = ("socket-6.35", "socket-6.35-closed", "socket-3.5")  # metal sockets whose sleeve is at earth, best first
WHY_BARE = "bare metal here earths the box: painted over, it is no shield against hum"


@dataclass(frozen=True)
class Plug:
    """A disc to cut; `inside` lies on the inner face of the panel. `why` says what it keeps bare beyond the hole."""

    side: Side
    hole: Hole
    diameter: float
    inside: bool = False
    why: str = ""


def plugs(layouts: Sequence[FaceLayout], coats: Sequence[Coat]) -> tuple[Plug, ...]:
    """The discs for every hole of all faces that are sprayed, face by face."""
    sprayed = [layout for layout in layouts if any(layout.face.side in coat.sides for coat in coats)]
    earth = earthed(sprayed)
    made = []
    for layout in sprayed:
        for hole in layout.face.holes:
            control = layout.face.control(hole.id)
            if earth == (layout.face.side, hole.id) and control and control.part:
                bare = max(hole.d, control.part.hides - 2 * TUCKED)
                made.append(Plug(layout.face.side, hole, bare, why=WHY_BARE))
                made.append(Plug(layout.face.side, hole, control.part.seat, inside=True, why=WHY_BARE))
            else:
                made.append(Plug(layout.face.side, hole, dot(hole, control)))
    return tuple(made)


def dot(hole: Hole, control: Control | None) -> float:
    """The diameter of a hole's dot: past its edge by half of what the part hides there, by 2 mm at most; without a part
    the hole's own, for there a wider dot would leave a bare ring.
    """
    hides = control.part.hides if control and control.part else 0.0
    past = max(0.0, (hides - hole.d) / 2)
    return hole.d + 2 * min(MOST_PAST, past / 2)


def earthed(layouts: Sequence[FaceLayout]) -> tuple[Side, str] | None:
    """The socket under which the box is earthed: the first of the best kind; None if there is none."""
    for wanted in EARTHS:
        for layout in layouts:
            for control in layout.face.controls:
                if control.part and control.part.name == wanted:
                    return (layout.face.side, control.hole)
    return None
