"""What all the drawings of a job come to: each is read once, and then drawn in every place and tile."""

import math
from collections.abc import Callable, Iterator

from facegraphic.job.image import Drawing
from facegraphic.job.model import Art, Face, Finish
from facegraphic.stock.limits import limit, step

MOST_TILES, MOST_WORK, MOST_JOB_WORK = limit("tiles"), limit("art-work"), limit("job-art-work")
LEAST_TILE = 3.0  # mm: smaller ones are told of elsewhere, and not drawn
Place = tuple[str | int, ...]


def tiles(art: Art, face: Face, finish: Finish) -> int:
    """How many tiles a tiled artwork has on its face or in its region; 1 for any other."""
    if art.fit != "tile" or art.tile <= 0:
        return 1
    width, height = (length + 2 * finish.bleed for length in face.outline.size)
    size = (art.region.width, art.region.height) if art.region else (width, height)
    high = art.tile * art.image.size[1] / art.image.size[0]
    return math.ceil(size[0] / max(art.tile, LEAST_TILE)) * math.ceil(size[1] / max(high, LEAST_TILE))


def _read(drawing: Drawing) -> int:
    return drawing.work


def _again(art: Art, face: Face, work: int) -> int:
    """The steps to draw a drawing once more, which is read already: the fewer, the smaller it is there."""
    size = (art.region.width, art.region.height) if art.region else face.outline.size
    wide = max(art.tile, LEAST_TILE) if art.fit == "tile" else max(size)
    return int(work * min(1.0, wide / step("again")))


def faults(
    faces: tuple[Face, ...], finish: Finish, steps: Callable[[Drawing], int] = _read
) -> Iterator[tuple[Place, str, str]]:
    """What is too much of a job's artwork: a place among its keys, what it is, and how to mend it.

    `steps` says what a drawing comes to: by what stands in it, unless somebody has drawn it.
    """
    whole = 0
    seen: set[Drawing] = set()
    for number, face in enumerate(faces):
        for count, art in enumerate(face.arts):
            place: Place = ("face", number, "art", count)
            many = tiles(art, face, finish)
            if many > MOST_TILES:
                yield (*place, "tile"), f"{many} tiles of {art.name}", f"{MOST_TILES} at most: make tile larger"
            elif isinstance(art.image, Drawing):
                work = steps(art.image)
                again = _again(art, face, work)
                if many > 1 and work + (many - 1) * again > MOST_WORK:
                    told = f"come to {work + (many - 1) * again} steps to draw, more than {MOST_WORK}"
                    mend = "make tile larger, or the drawing simpler"
                    yield (*place, "tile"), f"{many} tiles of {art.name} {told}", mend
                was = whole
                whole += (again if art.image in seen else work) + (many - 1) * again
                seen.add(art.image)
                if was <= MOST_JOB_WORK < whole:
                    what = f"with {art.name} the job's drawings come to {whole} steps, more than {MOST_JOB_WORK}"
                    yield (*place, "file"), what, "have fewer of them, or simpler ones"
