"""What a drawing comes to where it is drawn. It knows of no job, so that whoever draws needn't load what a job is."""

from typing import NamedTuple

from facegraphic.stock.limits import limit

MOST_WORK = limit("art-work")


class Spot(NamedTuple):
    """Where a drawing is drawn: what is seen of it (left, top, right, bottom; shares of its width and height), and how
    many usual faces the whole of it would take there.
    """

    seen: tuple[float, float, float, float] = (0.0, 0.0, 1.0, 1.0)
    faces: float = 1.0


class Work(NamedTuple):
    """The steps of a drawing in a place: of its own, and by the area that it paints there; and what most come from."""

    own: int
    area: int = 0
    most: str = "elements"
    mend: str = "have fewer shapes"

    @property
    def whole(self) -> int:
        return self.own + self.area
