"""What all the drawings of a job come to: each is read once, and then drawn in every place and tile."""

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from facegraphic.errors import UserError
from facegraphic.job.drawn import MOST_WORK, Spot, Work
from facegraphic.job.image import Drawing
from facegraphic.job.model import Art, Face, Finish
from facegraphic.stock.limits import limit, step

MOST_TILES, MOST_JOB_WORK = limit("tiles"), limit("job-art-work")
LEAST_TILE = 3.0  # mm: smaller ones are told of elsewhere, and not drawn
USUAL = 112.0 * 60.0  # mm²: the face that areas are weighed on
Place = tuple[str | int, ...]


class _Spread(NamedTuple):
    """An artwork on its face: how many times it is drawn, where each time, and how wide it is there in mm."""

    many: int
    spot: Spot
    wide: float

    def again(self, work: Work) -> int:
        """The steps of a place but the first: what goes by no area takes the less the smaller it is drawn."""
        return int(work.own * min(1.0, self.wide / step("again"))) + work.area


def _spread(art: Art, face: Face, finish: Finish) -> _Spread:
    width, height = (length + 2 * finish.bleed for length in face.outline.size)
    region = (art.region.width, art.region.height) if art.region else (width, height)
    natural = art.image.size
    if art.fit == "tile" and art.tile > 0:
        tile = max(art.tile, LEAST_TILE)
        high = max(art.tile * natural[1] / natural[0], LEAST_TILE)
        many = math.ceil(region[0] / tile) * math.ceil(region[1] / high)
        return _Spread(many, Spot(faces=tile * high / USUAL), tile)
    if art.fit == "stretch":
        return _Spread(1, Spot(faces=region[0] * region[1] / USUAL), max(region))
    scales = [there / own for there, own in zip(region, natural, strict=True)]
    scale = max(scales) if art.fit == "cover" else min(scales)
    across, down = (min(1.0, there / (own * scale)) for there, own in zip(region, natural, strict=True))
    seen = ((1 - across) / 2, (1 - down) / 2, (1 + across) / 2, (1 + down) / 2)
    return _Spread(1, Spot(seen, natural[0] * natural[1] * scale * scale / USUAL), max(region))


def _read(drawing: Drawing, spot: Spot) -> Work:
    return Work(drawing.work)


Weigh = Callable[[Drawing, Spot], Work]


def faults(faces: tuple[Face, ...], finish: Finish, weigh: Weigh = _read) -> Iterator[tuple[Place, str, str]]:
    """What is too much of a job's artwork: a place among its keys, what it is, and how to mend it.

    `weigh` says what a drawing comes to in a place: by what stands in it, unless somebody has drawn it.
    """
    whole = 0
    seen: set[Drawing] = set()
    for number, face in enumerate(faces):
        for count, art in enumerate(face.arts):
            place: Place = ("face", number, "art", count)
            spread = _spread(art, face, finish)
            if spread.many > MOST_TILES:
                yield (*place, "tile"), f"{spread.many} tiles of {art.name}", f"{MOST_TILES} at most: make tile larger"
            elif isinstance(art.image, Drawing):
                try:
                    work = weigh(art.image, spread.spot)
                except UserError as error:
                    for problem in error.problems:
                        yield (*place, "file"), f"{art.name}: {problem.what}", problem.mend
                    continue
                yield from _too_much(place, art, spread, work)
                again = spread.again(work)
                was = whole
                whole += (again if art.image in seen else work.whole) + (spread.many - 1) * again
                seen.add(art.image)
                if was <= MOST_JOB_WORK < whole:
                    what = f"with {art.name} the job's drawings come to {whole} steps, more than {MOST_JOB_WORK}"
                    yield (*place, "file"), what, "have fewer of them, or simpler ones"


def _too_much(place: Place, art: Art, spread: _Spread, work: Work) -> Iterator[tuple[Place, str, str]]:
    """What there is to say of a drawing by itself."""
    if work.whole > MOST_WORK:
        what = f"{art.name} holds more than can be drawn: here it comes to {work.whole} steps, where {MOST_WORK} are"
        yield (*place, "file"), f"{what} taken, most of it by its {work.most}", work.mend
        return
    whole = work.whole + (spread.many - 1) * spread.again(work)
    if spread.many > 1 and whole > MOST_WORK:
        told = f"come to {whole} steps to draw, more than {MOST_WORK}"
        yield (*place, "tile"), f"{spread.many} tiles of {art.name} {told}", "make tile larger, or the drawing simpler"
