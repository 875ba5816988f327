"""What of an opening can be cut from a material: thin specks go to what lies round them, all else that is thin is told.

A speck is merged only where no shape changes by it: nothing may come apart and nothing may grow together, or else a
letter would lose its counter or run into the next. Hairlines, as drawings leave between shapes that should meet, are
merged in any case. Lettering is left as it is, however thin: it is read, and half a letter is worse than a warning.
"""

from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.regions import joined, minus, shared, without_necks
from facegraphic.masks.regions import FaceCoat
from facegraphic.masks.slivers import NOISE_MM, Sliver, rounded, settled
from facegraphic.stock.tables import MaskStuff

NECK_MM = 0.02  # no blade cuts between two lines so near to each other, and no file shows them apart
HAIR = 0.25  # of the least width: so thin a line is none that anybody drew
STRAY = 0.05  # of a speck: with less of it asked for, it is what the trap leaves over


def cuttable(one: FaceCoat, face: BaseGeometry, stuff: MaskStuff) -> tuple[BaseGeometry, tuple[Sliver, ...]]:
    """A coat's opening in its face as it can be cut, and the thin parts: merged ones, and those that are left."""
    # Crowded points say nothing that a blade could follow, and would take minutes.
    opening = shared(one.opening.simplify(NOISE_MM), face)
    thin = settled(opening, face, stuff.least, merge=False).slivers
    specks = [sliver for sliver in thin if sliver.shape.area < stuff.dust and _free(sliver, one)]
    merged: list[Sliver] = []
    for side in ("mask", "opening"):
        mine = [sliver for sliver in specks if sliver.side == side]
        mask = minus(face, opening)
        given, taking = (mask, opening) if side == "mask" else (opening, mask)
        moved = _harmless(mine, given, taking, HAIR * stuff.least)
        shapes = [_grown(sliver.shape) for sliver in moved]
        opening = shared(joined([opening, *shapes]), face) if side == "mask" else minus(opening, joined(shapes))
        merged += moved
    left = tuple(sliver for sliver in thin if not any(sliver is other for other in merged))
    if stuff.radius and all(sliver.thickness > 2 * stuff.radius for sliver in left):
        opening = rounded(opening, face, stuff.radius)
    # Along the face's edge too nothing may be left that is no wider than a neck.
    cover = without_necks(minus(face, shared(without_necks(opening, NECK_MM), face)), NECK_MM)
    opening = minus(face, cover)
    return opening, (*left, *(replace(sliver, merged=True) for sliver in merged))


def _free(sliver: Sliver, one: FaceCoat) -> bool:
    """Whether a thin part may be merged at all: lettering may not."""
    if "legends" not in (one.coat.where, one.coat.keep):
        return True
    asked = sliver.shape.intersection(one.region).area
    return sliver.side == "opening" and bool(asked < STRAY * sliver.shape.area)


def _harmless(specks: Sequence[Sliver], given: BaseGeometry, taking: BaseGeometry, hair: float) -> list[Sliver]:
    """The specks of `given` that `taking` may have: hairlines, and those that leave both in as many pieces."""
    takers = shapely.STRtree(shapely.get_parts(taking))
    found = [sliver for sliver in specks if sliver.thickness < hair]
    other = [sliver for sliver in specks if sliver.thickness >= hair]
    other = [sliver for sliver in other if len(takers.query(_grown(sliver.shape), predicate="intersects")) == 1]
    pieces = shapely.get_parts(given)
    holders = shapely.STRtree(pieces)
    by_piece: dict[int, list[Sliver]] = {}
    for sliver in other:
        at = holders.query(sliver.shape.representative_point(), predicate="intersects")
        by_piece.setdefault(int(at[0]) if len(at) else -1, []).append(sliver)
    for number, mine in by_piece.items():
        found += _whole(pieces[number], mine) if number >= 0 else mine
    return found


def _whole(piece: BaseGeometry, specks: Sequence[Sliver]) -> list[Sliver]:
    """Those of a piece's specks without which it stays one piece, or nothing."""
    if _pieces(minus(piece, joined([_grown(sliver.shape) for sliver in specks]))) <= 1:
        return list(specks)
    kept = []
    for sliver in specks:
        rest = minus(piece, _grown(sliver.shape))
        if _pieces(rest) <= 1:
            kept.append(sliver)
            piece = rest
    return kept


def _pieces(area: BaseGeometry) -> int:
    """How many pieces there are; crumbs no wider than a neck do not count."""
    return sum(not part.buffer(-NECK_MM / 2).is_empty for part in shapely.get_parts(area))


def _grown(shape: BaseGeometry) -> BaseGeometry:
    """A thin part a micron larger, so that no crack stays round it."""
    return shape.buffer(2 * NOISE_MM, join_style="mitre")
