"""How far art may stray from the hole it belongs to, and how wide it is knocked out round each hole.

A hole is drilled a little beside its place and a little too wide or too narrow, the art is printed a little too large
or too small, and laid a little beside the mark; then the part moves in its hole as far as its thread leaves room. So an
opening that is too narrow leaves film over the hole, and one too wide shows a bare ring beside nut, washer or bezel.

What adds up here is independent, so two sums are told. Worst case: all strays are at their furthest, all one way;
nothing passes it. RSS, the root of the sum of squares: each figure is taken as three standard deviations, along any
one line, of an error spread by the normal law; then the sum passes RSS along a given line, either way, in 0.27 % of
holes, and in some direction in at most exp(-9/2) = 1.1 % (Rayleigh's law). Both sums: handbooks of tolerancing.

A knob hides nothing here: it stands above the nut, so the panel can be seen from the side under its skirt.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from facegraphic.geometry.path import Point
from facegraphic.job.model import Control, Face, Finish, Hole
from facegraphic.stock.tables import Part

PRINT_LENGTH = 100.0  # mm, what the tolerance of the print is given over: the bars of the test page


def rss(strays: Iterable[float]) -> float:
    """The root of the sum of squares of some tolerances.

    >>> round(rss([0.20, 0.10, 0.15]), 4)
    0.2693
    """
    return math.hypot(*strays)


def worst_case(strays: Iterable[float]) -> float:
    """The sum of some tolerances, whatever their signs.

    >>> round(worst_case([0.20, 0.10, 0.15]), 4)
    0.45
    """
    return math.fsum(map(abs, strays))


@dataclass(frozen=True)
class Spread:
    """How far some tolerances may add up, in mm, by both sums."""

    rss: float
    worst: float

    @staticmethod
    def of(*strays: float) -> "Spread":
        return Spread(rss(strays), worst_case(strays))


@dataclass(frozen=True)
class Fit:
    """A hole, its opening in the art, and its cover; radii and strays in mm.

    `cover` is the radius that the part hides for certain, the hole's own where it has no rim beyond it, None where no
    part is named. `art` is how far the art strays from the hole's edge, `seat` from the cover's. `clear` is how far the
    opening reaches past the hole's edge (less than 0: within the hole, so that its film is cut after laying), and
    `chosen` whether the program chose that. `play` is how far the part moves in its hole, and `stays` whether a film
    stays, which could hang over.
    """

    hole: Hole
    cover: float | None
    art: Spread
    seat: Spread
    clear: float
    chosen: bool
    play: float
    stays: bool
    part: Part | None = None

    @property
    def rim(self) -> float:
        return self.hole.d / 2

    @property
    def bare(self) -> bool:
        """Whether a part is named that hides nothing beyond the hole."""
        return self.cover is not None and self.cover <= self.rim

    @property
    def over_hole(self) -> Spread | None:
        """By how much film may hang over the hole; less than 0 where some is left; None: no film stays."""
        if not self.stays:
            return None
        return Spread(self.art.rss - self.clear, self.art.worst - self.clear)

    @property
    def past_cover(self) -> Spread | None:
        """By how much the opening may reach past the cover; less than 0 where some is left.

        None where the cover is unknown, or no opening is left.
        """
        if self.cover is None or self.rim + self.clear <= 1e-9:
            return None
        over = self.rim + self.clear - self.cover
        return Spread(over + self.seat.rss, over + self.seat.worst)

    @property
    def lacks(self) -> float:
        """By how much the cover's radius is too small for an opening that by RSS neither hangs over nor shows."""
        return 0.0 if self.cover is None else self.rim + self.art.rss + self.seat.rss - self.cover

    def enough(self, size: float, cleared: bool) -> float:
        """Diameter of a cover under which not even the worst case shows anything, nor leaves film over the hole.

        `size` is the tolerance of the hole's diameter, `cleared` whether art is knocked out round the hole. Such a
        cover has a rim, so it moves with its part, even where the part fitted now has none.
        """
        least = self.rim + Spread.of(size, self.play).worst
        if cleared:
            past = self.art.worst if self.chosen and self.stays else 0.0 if self.chosen else self.clear
            least = max(least, self.rim + past + self.art.worst + self.play)
        return 2 * least


def opening(rim: float, cover: float, film: Spread | None, seat: Spread) -> float:
    """Radius of the opening in the art round a hole of radius `rim` under a cover of radius `cover` (mm).

    The middle of what the worst case leaves, or as near to it as RSS leaves. Where RSS leaves nothing, no gap is to
    show, for film over a hole can be cut and a gap cannot be mended. `film` is how far film strays from the hole's
    edge; None where no film stays: then nothing hangs over, and not even the worst case is to show a gap.
    """
    if film is None:
        last = cover - seat.worst
        return max(0.0, min((rim + last) / 2, last))
    middle = (rim + film.worst + cover - seat.worst) / 2
    return max(0.0, min(max(middle, rim + film.rss), cover - seat.rss))


def play(hole: Hole, control: Control | None) -> float:
    """How far a part can move from the middle of its hole: half of what its thread leaves."""
    part = control.part if control else None
    return max(0.0, (hole.d - part.thread) / 2) if part and part.thread else 0.0


def fit(hole: Hole, control: Control | None, finish: Finish) -> Fit:
    """How one hole, its art and its cover fit together."""
    own, part = finish.tolerance, control.part if control else None
    printed = own.print * math.hypot(hole.x, hole.y) / PRINT_LENGTH
    strays = (own.drill, printed, own.place, own.size / 2)
    moves = play(hole, control)
    art, seat = Spread.of(*strays), Spread.of(*strays, moves)
    cover = max(part.hides, hole.d) / 2 if part else None
    if cover == hole.d / 2:
        seat = art  # only the hole's own edge is left to end at
    asked = control.clear if control else finish.clear
    film = art if finish.film.stays else None
    if asked is not None:
        clear = asked
    elif cover is None:
        clear = min(max(finish.film.clear, film.rss if film else 0.0), max(finish.film.clear, finish.gap))
    else:
        clear = opening(hole.d / 2, cover, film, seat) - hole.d / 2
    return Fit(hole, cover, art, seat, clear, asked is None, moves, finish.film.stays, part)


def fits(face: Face, finish: Finish) -> tuple[Fit, ...]:
    """The fit of every hole of a face, in their order."""
    return tuple(fit(hole, face.control(hole.id), finish) for hole in face.holes)


def openings(face: Face, finish: Finish) -> list[tuple[Point, float]]:
    """Middle and diameter (mm) of every opening in the art of a face, where holes are cleared."""
    if finish.holes != "clear":
        return []
    sizes = [((each.hole.x, each.hole.y), each.hole.d + 2 * each.clear) for each in fits(face, finish)]
    return [(at, diameter) for at, diameter in sizes if diameter > 0]
