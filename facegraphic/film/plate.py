"""The white plate of a print on clear or coloured stock: under all that is printed, drawn in so that none shows.

It is drawn in (choked) wherever colour ends at bare stock. At the bleed's outer edge it runs on with the colour: there
the knife ends both. White under fine strokes is drawn in less, or not at all, so that a line of it stays: without white
an ink that lets light through is lost on dark stock, while a rim of white beside a stroke is only a blemish.
"""

from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.film.artwork import placed_art
from facegraphic.film.one_bit import pixels_of
from facegraphic.film.registration import openings
from facegraphic.geometry.regions import disc_region, path_of, region
from facegraphic.job.model import Finish
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Fill, Group, Item, Plate, Scene

WHITE, BLACK = "#ffffff", "#000000"
BEYOND = 5.0  # mm past the bleed that count as printed, so that nothing is drawn in there
LEAST = 1.5  # squares of the finest stroke's width: what opening takes beyond that is a stroke, not a corner


def white_plate(layout: FaceLayout, finish: Finish) -> Group:
    """A face's white as the layer that lies under its colours, in white ink; `plates` draws it as plates are."""
    side, bled = layout.face.side, region(layout.face.outline.grown(finish.bleed).path)
    area = _printable(layout, finish, bled)
    lettering = _lettering(layout).intersection(area)
    fine = shapely.Polygon() if layout.face.ground else _under_fine(lettering, finish)
    items: list[Item] = []
    if layout.face.ground:
        items.append(Fill(path_of(_drawn_in(area, bled, finish)), WHITE, "evenodd", f"{side}-white-ground"))
    elif layout.face.arts:
        items.append(_under_art(layout, finish, area, lettering))
    else:
        items.append(Fill(path_of(_drawn_in(lettering, bled, finish)), WHITE, "evenodd", f"{side}-white-lettering"))
    if not fine.is_empty:
        items.append(Fill(path_of(fine), WHITE, "evenodd", f"{side}-white-fine"))
    return Group(tuple(items), f"{side}-white", layer="white")


def fine_parts(lettering: BaseGeometry, finish: Finish, choke: float | None = None) -> BaseGeometry:
    """Strokes that would keep less than the process's finest line of white once it is drawn in."""
    radius = (finish.choke if choke is None else choke) + finish.film.line / 2
    found = []
    for part in shapely.get_parts(lettering):
        core = part.buffer(-radius, quad_segs=4)
        if core.is_empty:
            found.append(part)
            continue
        rest = shapely.get_parts(part.difference(core.buffer(radius * 1.01, quad_segs=4)))
        found += [piece for piece in rest if piece.area > LEAST * (2 * radius) ** 2]
    return shapely.union_all(found)


def _under_fine(lettering: BaseGeometry, finish: Finish) -> BaseGeometry:
    """White under fine strokes, drawn in as far as leaves a line of it: by two thirds, one third, or not at all."""
    found, before = [], finish.choke
    for share in (2 / 3, 1 / 3, 0.0):
        fine = fine_parts(lettering, finish, before)
        if fine.is_empty:
            break
        before = finish.choke * share
        found.append(lettering.buffer(-before, quad_segs=8).intersection(fine))
    return shapely.union_all(found)


def plates(scene: Scene) -> dict[str, Scene]:
    """A scene's colour alone, and its white alone, in black as plates are; nothing for scenes without a white layer."""
    white = only(scene, "white")
    if not white.items:
        return {}
    return {"colour": only(scene, "colour"), "white": replace(white, items=_in_black(white.items), bits=1)}


def only(scene: Scene, layer: str) -> Scene:
    """What of a scene belongs to a layer; "" for what belongs to none."""
    return replace(scene, items=_only(scene.items, layer, ""))


def layers(scene: Scene) -> list[str]:
    """The layers of a scene in painting order."""
    return list(dict.fromkeys(_layers(scene.items)))


def _layers(items: tuple[Item, ...]) -> list[str]:
    found = []
    for item in items:
        if isinstance(item, Group):
            found += [item.layer] if item.layer else _layers(item.items)
    return found


def _only(items: tuple[Item, ...], layer: str, within: str) -> tuple[Item, ...]:
    kept: list[Item] = []
    for item in items:
        if isinstance(item, Group):
            inner = _only(item.items, layer, item.layer or within)
            kept += [replace(item, items=inner)] if inner else []
        elif within == layer:
            kept.append(item)
    return tuple(kept)


def _in_black(items: tuple[Item, ...]) -> tuple[Item, ...]:
    out: list[Item] = []
    for item in items:
        if isinstance(item, Group):
            out.append(replace(item, items=_in_black(item.items)))
        elif isinstance(item, Fill | Plate):
            out.append(replace(item, ink=BLACK))
        else:
            out.append(item)
    return tuple(out)


def _printable(layout: FaceLayout, finish: Finish, bled: BaseGeometry) -> BaseGeometry:
    """The bled face, less the holes where they are cleared."""
    return bled.difference(shapely.union_all([disc_region(*at, size) for at, size in openings(layout.face, finish)]))


def _lettering(layout: FaceLayout) -> BaseGeometry:
    """All legends and marks as one region."""
    areas = [region(legend.path) for legend in layout.legends if legend.path]
    return shapely.union_all([*areas, *(region(mark.path, mark.rule) for mark in layout.marks)])


def _drawn_in(area: BaseGeometry, bled: BaseGeometry, finish: Finish) -> BaseGeometry:
    beyond = bled.buffer(BEYOND).difference(bled)
    return shapely.union(area, beyond).buffer(-finish.choke, quad_segs=8).intersection(area)


def _under_art(layout: FaceLayout, finish: Finish, area: BaseGeometry, lettering: BaseGeometry) -> Plate:
    """Artwork's edges are known in pixels only, so the plate under it is made of them."""
    side, box = layout.face.side, layout.face.outline.box.grown(finish.bleed)
    arts = tuple(placed_art(art, box, f"{side}-white-{number}") for number, art in enumerate(layout.face.arts, 1))
    bare = lettering.buffer(finish.halo, quad_segs=8) if finish.halo else shapely.Polygon()
    return Plate(
        Group(arts),
        cut=path_of(bare),
        lettering=path_of(lettering),
        area=path_of(area),
        bled=layout.face.outline.grown(finish.bleed).path,
        grid=pixels_of(box, finish.dpi),
        choke=finish.choke,
        ink=WHITE,
        id=f"{side}-white-plate",
    )
