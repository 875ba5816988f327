"""Everything a process prints of one face, in painting order, unmirrored."""

from dataclasses import dataclass

from facegraphic.film.artwork import placed_art
from facegraphic.film.marks import BARE, cut_line, hole_marks
from facegraphic.film.mirror import as_printed
from facegraphic.film.names import Ids
from facegraphic.film.one_bit import border, screened_arts
from facegraphic.film.plate import white_plate
from facegraphic.film.registration import openings
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.regions import disc_region, path_of, region
from facegraphic.geometry.shapes import rectangle
from facegraphic.job.model import Finish
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Fill, FillRule, Group, Item, Scene
from facegraphic.stock.faces import Side


@dataclass(frozen=True)
class Piece:
    """A face as it is printed, round its own centre: its group, mirrored if need be, its trimmed and its bled box.

    `said` is its caption if it is more than a face; `ticks` says where it is trimmed.
    """

    side: Side
    group: Group
    trim: Box
    bled: Box
    said: str = ""
    ticks: bool = True

    @property
    def caption(self) -> str:
        return self.said or f"{self.side} {self.trim.width:.1f} × {self.trim.height:.1f} mm"


def piece(layout: FaceLayout, finish: Finish) -> Piece:
    """A face ready to be printed."""
    trim = layout.face.outline.box
    group = as_printed(face_art(layout, finish), finish.mirrored)
    return Piece(layout.face.side, group, trim, trim.grown(finish.bleed))


def face_art(layout: FaceLayout, finish: Finish, marked: bool = True) -> Group:
    """The printed face as one group round the face centre, named for its side; hole marks and cut line if `marked`."""
    face = layout.face
    trim = face.outline.grown(finish.bleed).path
    ground = _ground(layout, finish)
    printed = _artwork(layout, finish)
    printed.append(Group(tuple(_marks(layout)), f"{face.side}-marks"))
    printed.append(Group(tuple(_legends(layout)), f"{face.side}-legends"))
    clip, rule = _printed_area(layout, finish, trim)
    items: list[Item] = [white_plate(layout, finish)] if finish.film.look == "plate" else []
    if finish.sunk:
        # Resist stays in cleared holes too: it is the art that keeps off their rims.
        items += ground
    else:
        printed = [*ground, *printed]
    layer = "colour" if finish.film.look == "plate" else ""
    items.append(Group(tuple(printed), f"{face.side}-printed", clip=clip, clip_rule=rule, layer=layer))
    if finish.border:
        items.append(border(layout, finish))
    if marked and finish.holes == "mark":
        items.append(Group(tuple(hole_marks(layout, finish)), f"{face.side}-holes", layer=layer and "marks"))
    if marked and finish.cut == "line":
        items.append(Group((cut_line(layout, finish),), f"{face.side}-cut", layer=layer and "marks"))
    return Group(tuple(items), face.side)


def underlay(layout: FaceLayout, finish: Finish, bare: str) -> Scene:
    """What lettering is printed on, as a page of the face with its bleed, unmirrored; `bare` where there is nothing."""
    box = layout.face.outline.box.grown(finish.bleed)
    under = (*_ground(layout, finish), *_artwork(layout, finish))
    return Scene(box.width, box.height, (Fill(rectangle(box), bare), *under))


def _ground(layout: FaceLayout, finish: Finish) -> list[Item]:
    face, bled = layout.face, layout.face.outline.grown(finish.bleed)
    return [Fill(bled.path, face.ground, id=f"{face.side}-ground")] if face.ground else []


def _artwork(layout: FaceLayout, finish: Finish) -> list[Item]:
    """Artwork, and the halo that is cut into it."""
    face = layout.face
    items: list[Item] = []
    if finish.film.bits == 1:
        items += [screened_arts(layout, finish)] if face.arts else []
    else:
        for number, art in enumerate(face.arts, 1):
            items.append(placed_art(art, face.outline.box.grown(finish.bleed), f"{face.side}-art-{number}"))
    if finish.halo:
        items.append(_halo(layout, finish, face.ground or BARE))
    return items


def art_scene(piece: Piece, bits: int) -> Scene:
    """The page that holds just the face and its bleed."""
    return Scene(piece.bled.width, piece.bled.height, (piece.group,), bits)


def _printed_area(layout: FaceLayout, finish: Finish, trim: Path) -> tuple[Path, FillRule]:
    """What may be printed on: the face and its bleed, without the holes where they are cleared."""
    if finish.holes != "clear":
        return trim, "nonzero"
    area = region(trim)
    for at, diameter in openings(layout.face, finish):
        area = area.difference(disc_region(*at, diameter))
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
    side, ids = layout.face.side, Ids()
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
    ids = Ids()
    items: list[Item] = []
    for legend in layout.legends:
        words = (layout.face.side, legend.role, *(filter(None, (legend.hole, legend.text[:24]))))
        items.append(Fill(legend.path, legend.ink, id=ids.unique(*words)))
    return items
