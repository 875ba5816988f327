"""Everything a process prints of one face, in painting order, unmirrored."""

import re
import unicodedata
from dataclasses import dataclass

from facegraphic.film.artwork import placed_art
from facegraphic.film.mirror import as_printed
from facegraphic.film.registration import fits
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.regions import disc_region, path_of, region
from facegraphic.geometry.shapes import cross, disc, rectangle
from facegraphic.job.model import Finish, Hole
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Fill, FillRule, Group, Item, Scene
from facegraphic.stock.faces import Side

CROSS_SHARE = 0.7  # of the hole's diameter, so that the cross falls out with the hole
CROSS_WIDE = 0.15
CROSS_GROUND = 0.25  # bare film round the cross, so that it shows on any art
CUT_WIDE = 0.1
CUT_INK = "#7f7f7f"
BARE = "#ffffff"
BLACK = "#000000"


@dataclass(frozen=True)
class Piece:
    """A face as it is printed, round its own centre: its group, mirrored if need be, its trimmed and its bled box."""

    side: Side
    group: Group
    trim: Box
    bled: Box

    @property
    def caption(self) -> str:
        return f"{self.side} {self.trim.width:.1f} × {self.trim.height:.1f} mm"


def piece(layout: FaceLayout, finish: Finish) -> Piece:
    """A face ready to be printed."""
    trim = layout.face.outline.box
    group = as_printed(face_art(layout, finish), finish.mirrored)
    return Piece(layout.face.side, group, trim, trim.grown(finish.bleed))


def face_art(layout: FaceLayout, finish: Finish) -> Group:
    """The printed face as one group round the face centre, named for its side."""
    face = layout.face
    trim = face.outline.grown(finish.bleed).path
    printed = _under_lettering(layout, finish)
    printed.append(Group(tuple(_marks(layout)), f"{face.side}-marks"))
    printed.append(Group(tuple(_legends(layout)), f"{face.side}-legends"))
    clip, rule = _printed_area(layout, finish, trim)
    items: list[Item] = [Group(tuple(printed), f"{face.side}-printed", clip=clip, clip_rule=rule)]
    if finish.holes == "mark":
        items.append(Group(tuple(_hole_marks(layout)), f"{face.side}-holes"))
    if finish.cut == "line":
        outer, inner = face.outline.grown(CUT_WIDE / 2).path, face.outline.grown(-CUT_WIDE / 2).path
        ink = BLACK if finish.film.bits == 1 else CUT_INK
        items.append(Fill(outer + inner, ink, "evenodd", f"{face.side}-cut-line"))
    return Group(tuple(items), face.side)


def underlay(layout: FaceLayout, finish: Finish, bare: str) -> Scene:
    """What lettering is printed on, as a page of the face with its bleed, unmirrored; `bare` where there is nothing."""
    box = layout.face.outline.box.grown(finish.bleed)
    return Scene(box.width, box.height, (Fill(rectangle(box), bare), *_under_lettering(layout, finish)))


def _under_lettering(layout: FaceLayout, finish: Finish) -> list[Item]:
    """Ground, artwork, and the halo that is cut into them."""
    face, bled = layout.face, layout.face.outline.grown(finish.bleed)
    items: list[Item] = [Fill(bled.path, face.ground, id=f"{face.side}-ground")] if face.ground else []
    for number, art in enumerate(face.arts, 1):
        items.append(placed_art(art, face.outline.box.grown(finish.bleed), finish, f"{face.side}-art-{number}"))
    if finish.halo:
        items.append(_halo(layout, finish, face.ground or BARE))
    return items


def art_scene(piece: Piece, bits: int) -> Scene:
    """The page that holds just the face and its bleed."""
    return Scene(piece.bled.width, piece.bled.height, (piece.group,), bits)


def name(text: str) -> str:
    """A text as part of an id: letters without their accents, digits and hyphens."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-").lower() or "x"


class _Ids:
    """Gives each id once: a second one of the same name is numbered."""

    def __init__(self) -> None:
        self.given: dict[str, int] = {}

    def unique(self, *words: str) -> str:
        id = "-".join(map(name, words))
        self.given[id] = self.given.get(id, 0) + 1
        return id if self.given[id] == 1 else f"{id}-{self.given[id]}"


def _printed_area(layout: FaceLayout, finish: Finish, trim: Path) -> tuple[Path, FillRule]:
    """What may be printed on: the face and its bleed, without the holes where they are cleared."""
    if finish.holes != "clear":
        return trim, "nonzero"
    area = region(trim)
    for fit in fits(layout.face, finish):
        diameter = fit.hole.d + 2 * fit.clear
        if diameter > 0:
            area = area.difference(disc_region(fit.hole.x, fit.hole.y, diameter))
    return path_of(area), "evenodd"


def _halo(layout: FaceLayout, finish: Finish, ground: str) -> Group:
    """A clear ground round all lettering, so that it reads over art."""
    halos = []
    for legend in layout.legends:
        around = region(legend.path).buffer(finish.halo, quad_segs=8).simplify(0.005)
        halos.append(Fill(path_of(around), ground, "evenodd"))
    for mark in layout.marks:
        halos.append(Fill(path_of(region(mark.path, mark.rule).buffer(finish.halo, quad_segs=4)), ground, "evenodd"))
    return Group(tuple(halos), f"{layout.face.side}-halo")


def _marks(layout: FaceLayout) -> list[Item]:
    """Scales by hole, frames, and section lines."""
    side, ids = layout.face.side, _Ids()
    items: list[Item] = []
    for hole in dict.fromkeys(mark.hole for mark in layout.marks if mark.hole):
        fills = tuple(Fill(mark.path, mark.ink, mark.rule) for mark in layout.marks if mark.hole == hole)
        items.append(Group(fills, ids.unique(side, "scale", hole)))
    for role in ("frame", "line"):
        ruled = [mark for mark in layout.marks if mark.hole is None and mark.role == role]
        items += [Fill(mark.path, mark.ink, mark.rule, f"{side}-{role}-{n}") for n, mark in enumerate(ruled, 1)]
    return items


def _legends(layout: FaceLayout) -> list[Item]:
    """Legends with ids such as ``top-label-rate-rate``: side, role, hole, text."""
    ids = _Ids()
    items: list[Item] = []
    for legend in layout.legends:
        words = (layout.face.side, legend.role, *(filter(None, (legend.hole, legend.text[:24]))))
        items.append(Fill(legend.path, legend.ink, id=ids.unique(*words)))
    return items


def _hole_marks(layout: FaceLayout) -> list[Item]:
    return [_hole_mark(layout.face.side, placed.hole, number) for number, placed in enumerate(layout.holes, 1)]


def _hole_mark(side: str, hole: Hole, number: int) -> Group:
    """A centre cross on a bare disc inside the hole: both fall out with the hole."""
    at = (hole.x, hole.y)
    size = hole.d * CROSS_SHARE
    bare = min(size + 2 * CROSS_GROUND, hole.d)
    return Group(
        (Fill(disc(at, bare), BARE), Fill(cross(at, size, CROSS_WIDE), BLACK)),
        f"{side}-hole-{number}-{name(hole.id)}",
    )
