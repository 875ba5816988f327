"""A mask as it is cut: its material in pieces, with what it adds round the face, and what holds and lines it up."""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.fit_curves import fitted
from facegraphic.geometry.path import Path, Point
from facegraphic.geometry.regions import disc_region, joined, minus, without_necks
from facegraphic.job.model import Coat, Job
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.bridges import Bridge, bridged, pieces_of, spanning_tree
from facegraphic.masks.cuttable import NECK_MM, cuttable
from facegraphic.masks.regions import LEAST, NOTHING, FaceCoat, covers, face_coats, face_region
from facegraphic.masks.slivers import Sliver
from facegraphic.masks.wrap import Edge, Line, tab, wrap
from facegraphic.stock.faces import SIDES
from facegraphic.stock.tables import MaskStuff, masks

ENOUGH = 2  # holes that a mask must lie over to be lined up by them
MARK = (3.0, 5.0)  # mm: how far a mark for lining up reaches in from the edge and out
FEW_WEEDS = 0.8  # mm: shorter ways from a loose piece to its opening's edge need no cut


@dataclass(frozen=True)
class CutMask:
    """One mask of one coat and side, in face mm.

    `material` is what is cut out, `loose` its pieces in reading order, without the frame that has the flaps. `opening`
    is what of the face it leaves open, after thin parts were settled: `slivers` tells of those. `crosses` are holes
    that it lies over, `marks` lines across the edges, both to line it up by; `weeds` are cuts through waste that let it
    come off in one go without lifting loose pieces; `plugged` are holes that it does not lie over.
    """

    one: FaceCoat
    material: BaseGeometry
    opening: BaseGeometry
    loose: tuple[BaseGeometry, ...]
    folds: tuple[Line, ...]
    weeds: tuple[Line, ...]
    crosses: tuple[tuple[Point, float], ...]
    marks: tuple[Line, ...]
    edges: tuple[Edge, ...]
    bridges: tuple[Bridge, ...]
    slivers: tuple[Sliver, ...]
    plugged: tuple[tuple[Point, float], ...] = ()

    @property
    def stem(self) -> str:
        return f"mask-{self.one.side}-{self.one.number}"

    @property
    def stuff(self) -> MaskStuff:
        return masks()[self.one.coat.mask]


def cut_masks(job: Job, layouts: Sequence[FaceLayout]) -> tuple[CutMask, ...]:
    """Every mask of a job, face by face in spraying order; none for coats that spray all there is."""
    by_side = {layout.face.side: face_coats(layout, job.coats) for layout in layouts}
    made = []
    for layout in layouts:
        for one in by_side[layout.face.side]:
            reached = {side for side, others in by_side.items() if any(other.number == one.number for other in others)}
            mask = _mask(one, layout, job, reached | _beyond(one.coat, job))
            if mask is not None:
                made.append(mask)
    return tuple(made)


def as_cut(layout: FaceLayout, job: Job, masks: Sequence[CutMask]) -> tuple[FaceCoat, ...]:
    """The coats of a face in spraying order, each opening as its mask among some really leaves it."""
    cut = {mask.one.number: mask.opening for mask in masks if mask.one.side == layout.face.side}
    coats = face_coats(layout, job.coats)
    return tuple(replace(one, opening=cut.get(one.number, one.opening)) for one in coats)


def outlines(mask: CutMask) -> tuple[Path, ...]:
    """The cut lines, each contour a closed path of its own, of few nodes."""
    return contours(fitted(mask.material))


def contours(path: Path) -> tuple[Path, ...]:
    """The contours of a path one by one."""
    found: list[list[tuple[object, ...]]] = []
    for segment in path.segments:
        if segment[0] == "M":
            found.append([])
        found[-1].append(segment)
    return tuple(Path(tuple(part)) for part in found)


def sprays_box(coat: Coat, job: Job) -> bool:
    """Whether a coat goes over all of the box: sides that the job does not list, and the edges, are sprayed too."""
    return coat.where == "everything" and set(coat.sides) == {face.side for face in job.faces}


def body_paint(job: Job, number: int | None = None) -> str:
    """The colour of the box's edges and of sides without a face of their own, after the coats up to `number`."""
    coats = job.coats[:number] if number is not None else job.coats
    sprayed = [coat.paint for coat in coats if covers(coat) and coat.paint and sprays_box(coat, job)]
    return sprayed[-1] if sprayed else job.paint


def _beyond(coat: Coat, job: Job) -> set[str]:
    return {*SIDES, ""} if sprays_box(coat, job) else set()


def _mask(one: FaceCoat, layout: FaceLayout, job: Job, sprayed: Collection[str]) -> CutMask | None:
    stuff = masks()[one.coat.mask]
    face = face_region(layout)
    opening, slivers = (one.opening, ()) if one.whole else cuttable(one, face, stuff)
    cover = minus(face, opening)
    around = wrap(one, opening, layout.face.outline, job.box, sprayed)
    if cover.area <= LEAST and around.extra.area <= LEAST:
        return None
    crosses = tuple(_crosses(layout, cover))
    tabs, marks = _edge_marks(around.edges, cover) if len(crosses) < ENOUGH else (NOTHING, ())
    material = without_necks(joined([cover, around.extra, tabs]), NECK_MM)
    held: tuple[Bridge, ...] = ()
    if one.coat.mask == "stencil":
        stencil = bridged(material, max(one.coat.bridge, stuff.least))
        material, held = without_necks(stencil.material, NECK_MM), stencil.bridges
    opening = minus(face, material)
    loose: list[BaseGeometry] = list(pieces_of(material))
    if one.coat.mask == "stencil" or any(edge.flap for edge in around.edges):
        loose = loose[1:]  # the frame lies by itself
    loose.sort(key=lambda piece: (-round(piece.bounds[3]), piece.bounds[0]))
    weeds = tuple(_weeds(opening))
    return CutMask(
        one, material, opening, tuple(loose), around.folds, weeds, crosses, marks, around.edges, held, slivers,
        tuple(((hole.x, hole.y), hole.d) for hole in layout.face.holes if ((hole.x, hole.y), hole.d) not in crosses),
    )  # fmt: skip


def _crosses(layout: FaceLayout, cover: BaseGeometry) -> Iterator[tuple[Point, float]]:
    for hole in layout.face.holes:
        if cover.contains(disc_region(hole.x, hole.y, hole.d)):
            yield (hole.x, hole.y), hole.d


def _edge_marks(edges: Sequence[Edge], cover: BaseGeometry) -> tuple[BaseGeometry, tuple[Line, ...]]:
    """Marks across the middles of the edges, on flaps or on tabs of their own."""
    tabs, marks = [], []
    for edge in edges:
        own = tab(edge, cover)
        if edge.flap or not own.is_empty:
            tabs.append(own)
            inward = MARK[0] if cover.contains(shapely.Point(edge.off(edge.middle, -MARK[0]))) else 0.0
            outward = min(MARK[1], edge.flap) if edge.flap else MARK[1]
            marks.append((edge.off(edge.middle, -inward), edge.off(edge.middle, outward)))
    return shapely.union_all(tabs) if tabs else NOTHING, tuple(marks)


def _weeds(opening: BaseGeometry) -> Iterator[Line]:
    """The shortest cuts that join all loose pieces within an opening to its edge, so that waste comes off in one go
    without lifting a piece. A minimum spanning tree never crosses a piece: that would be a nearer one to join.
    """
    for part in shapely.get_parts(opening):
        rings = [part.exterior, *part.interiors]
        for first, second in spanning_tree(rings):
            (x0, y0), (x1, y1) = shapely.shortest_line(rings[first], rings[second]).coords
            if math.dist((x0, y0), (x1, y1)) > FEW_WEEDS:
                yield (x0, y0), (x1, y1)
