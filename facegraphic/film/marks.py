"""Hole marks and the cut line."""

from facegraphic.film.names import name
from facegraphic.geometry.shapes import cross, disc
from facegraphic.job.model import Finish, Hole
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Fill, Group, Item

CROSS_SHARE = 0.7  # of the hole's diameter, so that the cross falls out with the hole
CROSS_WIDE = 0.15
CROSS_GROUND = 0.25  # bare film round the cross, so that it shows on any art
CUT_WIDE = 0.1
CUT_INK = "#7f7f7f"
BARE = "#ffffff"
BLACK = "#000000"


def hole_marks(layout: FaceLayout, finish: Finish) -> list[Item]:
    return [_hole_mark(layout.face.side, placed.hole, number, finish) for number, placed in enumerate(layout.holes, 1)]


def bare_disc(hole: Hole, finish: Finish) -> float:
    """The diameter of the ground on which a hole's cross stands."""
    ground = max(CROSS_GROUND, finish.least_gap) if finish.film.bits == 1 else CROSS_GROUND
    return min(hole.d * CROSS_SHARE + 2 * ground, hole.d)


def _hole_mark(side: str, hole: Hole, number: int, finish: Finish) -> Group:
    """A centre cross on a bare disc inside the hole: both fall out with the hole. Where resist covers all, a bare cross
    on a disc of it, which etches no more than a scratch into what is drilled away.
    """
    at = (hole.x, hole.y)
    wide = max(CROSS_WIDE, finish.least_line) if finish.film.bits == 1 else CROSS_WIDE
    ground, ink = (BLACK, BARE) if finish.sunk else (BARE, BLACK)
    return Group(
        (Fill(disc(at, bare_disc(hole, finish)), ground), Fill(cross(at, hole.d * CROSS_SHARE, wide), ink)),
        f"{side}-hole-{number}-{name(hole.id)}",
    )


def cut_line(layout: FaceLayout, finish: Finish) -> Fill:
    outline = layout.face.outline
    outer, inner = outline.grown(CUT_WIDE / 2).path, outline.grown(-CUT_WIDE / 2).path
    ink = BLACK if finish.film.bits == 1 else CUT_INK
    return Fill(outer + inner, ink, "evenodd", f"{layout.face.side}-cut-line")
