"""Masks and plugs as they are printed to be cut by hand: true size, never mirrored.

Black lines are cut, dashed ones folded, dotted ones cut through waste only. What is sprayed is tinted with the paint,
loose pieces are numbered, crosses and marks line the mask up.
"""

import math
from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.film.face import Piece
from facegraphic.geometry.path import IDENTITY, Box, Point
from facegraphic.geometry.regions import path_of
from facegraphic.geometry.shapes import bar, cross, disc
from facegraphic.lettering.library import DEFAULT_FONT, load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.masks.cut import CutMask
from facegraphic.masks.plugs import Plug
from facegraphic.masks.wrap import NEIGHBOURS, Edge, Line
from facegraphic.scene.scene import Fill, Group, Item

CUT, FINE = 0.15, 0.1
CUT_INK, FOLD_INK, FAINT = "#000000", "#5a5a5a", "#8a8a8a"
FOLD, WEED, RING = (2.4, 1.2), (0.5, 0.7), (0.8, 0.8)  # dash and gap
NUMBER = (1.2, 2.6)  # capital height of a piece's number, least and most
TINT = 0.26  # of the paint's colour in what it fills
CLEAR = "#e8eef2"
MARGIN = 1.0  # round the outline on a sheet
PLUG_GAP, PLUG_ROW, PLUG_CAP = 4.0, 150.0, 1.5
CROSS_SHARE, CROSS_LEAST = 0.7, 2.5


def mask_piece(mask: CutMask, count: int) -> Piece:
    """A mask to be packed on sheets with others; `count` is how many coats the job has."""
    box = Box(*mask.material.bounds).union(Box(*shapely.union(mask.one.cover, mask.one.opening).bounds)).grown(MARGIN)
    group = Group(tuple(_items(mask)), mask.stem)
    return Piece(mask.one.side, group, box, box, said=caption(mask, count), ticks=False)


def caption(mask: CutMask, count: int) -> str:
    """What a mask is for."""
    count_loose = len(mask.loose)
    loose = f" · {count_loose} loose piece{'s' * (count_loose > 1)}" if count_loose else ""
    return f"{mask.one.side} · coat {mask.one.number} of {count}: {what(mask)} · {mask.stuff.title}{loose}"


def what(mask: CutMask) -> str:
    coat = mask.one.coat
    return coat.paint if coat.kind == "paint" and coat.paint else f"{coat.kind} {coat.paint or 'coat'}"


def tinted(paint: str | None) -> str:
    """A light tint of a paint, dark enough to tell from paper."""
    if paint is None:
        return CLEAR
    channels = [int(paint[i : i + 2], 16) for i in (1, 3, 5)]
    return "#" + "".join(f"{min(round(255 + (c - 255) * TINT), 243):02x}" for c in channels)


def _items(mask: CutMask) -> Iterator[Item]:
    stem = mask.stem
    yield Fill(path_of(mask.opening), tinted(mask.one.coat.paint), "evenodd", f"{stem}-opening")
    faint = [(edge.start, edge.end) for edge in mask.edges if not edge.flap or mask.one.coat.mask == "stencil"]
    yield _lines(f"{stem}-edges", faint, RING, FAINT, FINE)
    yield _lines(f"{stem}-folds", mask.folds, FOLD, FOLD_INK, FINE)
    yield _lines(f"{stem}-weeds", mask.weeds, WEED, CUT_INK, CUT)
    yield Group(tuple(_crosses(mask)), f"{stem}-crosses")
    marks = tuple(Fill(bar(start, end, CUT), CUT_INK) for start, end in mask.marks)
    yield Group(marks, f"{stem}-marks")
    outline = mask.material.boundary.buffer(CUT / 2, quad_segs=2, join_style="mitre")
    yield Fill(path_of(outline), CUT_INK, "evenodd", f"{stem}-cut")
    if mask.loose:
        yield Group(tuple(_numbers(mask)), f"{stem}-numbers")
    yield Group(tuple(_names(mask)), f"{stem}-sides")


def _lines(id: str, lines: Sequence[Line], dash: tuple[float, float], ink: str, wide: float) -> Group:
    return Group(tuple(Fill(bar(a, b, wide), ink) for line in lines for a, b in dashes(*line, *dash)), id)


def dashes(start: Point, end: Point, dash: float, gap: float) -> Iterator[Line]:
    """A line in dashes that begin and end with a whole one."""
    length = math.dist(start, end)
    if length < 1e-6:
        return
    count = max(1, round((length + gap) / (dash + gap)))
    step = (length + gap) / count
    long = max(step - gap, min(length, 0.2))
    for number in range(count):
        a, b = number * step / length, min(1.0, (number * step + long) / length)
        yield (
            (start[0] + (end[0] - start[0]) * a, start[1] + (end[1] - start[1]) * a),
            (start[0] + (end[0] - start[0]) * b, start[1] + (end[1] - start[1]) * b),
        )


def _circle(at: Point, diameter: float) -> Iterator[Item]:
    """A dashed circle."""
    count = max(8, round(math.pi * diameter / sum(RING)))
    for number in range(count):
        a, b = (math.tau * (number + end) / count for end in (0.0, 0.5))
        ends = [(at[0] + diameter / 2 * math.cos(c), at[1] + diameter / 2 * math.sin(c)) for c in (a, b)]
        yield Fill(bar(ends[0], ends[1], FINE), FAINT)


def _crosses(mask: CutMask) -> Iterator[Item]:
    """Holes that the mask lies over, each with a cross to line it up by; those in its openings, with their plugs in
    them, faintly: until its waste is taken off they line it up too.
    """
    for at, diameter in mask.plugged:
        yield from _circle(at, diameter)
        yield Fill(cross(at, max(CROSS_LEAST, diameter * CROSS_SHARE), FINE), FAINT)
    for at, diameter in mask.crosses:
        yield from _circle(at, diameter)
        yield Fill(cross(at, max(CROSS_LEAST, diameter * CROSS_SHARE), CUT), CUT_INK)


def _numbers(mask: CutMask) -> Iterator[Item]:
    """Each piece's number, within it or, where it is too small, beside it with a line to it."""
    holes = [shapely.Point(at).buffer(size / 2 + 0.4) for at, size in (*mask.crosses, *mask.plugged)]
    taken = list(holes)
    lines = shapely.union_all([mask.material.boundary, *holes])
    for number, piece in enumerate(mask.loose, 1):
        room = piece.difference(shapely.union_all(taken)) if taken else piece
        core = shapely.maximum_inscribed_circle(room, tolerance=0.05)
        (x, y), radius = core.coords[0], core.length
        words = set_block(str(number), Style(load_named(DEFAULT_FONT), NUMBER[1]))
        fits = 0.92 * 2 * radius / math.hypot(words.ink.width, words.ink.height)
        cap = min(NUMBER[1], NUMBER[1] * fits)
        if cap < NUMBER[0]:
            words = set_block(str(number), Style(load_named(DEFAULT_FONT), NUMBER[0]))
            spot = _beside(piece, lines, Box.centred(words.ink.width + 0.5, words.ink.height + 0.5), taken)
            if spot is not None:
                taken.append(shapely.box(*Box.centred(words.ink.width + 0.3, words.ink.height + 0.3, spot)))
                start, end = shapely.shortest_line(taken[-1], piece).coords
                if math.dist(start, end) > 0.1:
                    yield Fill(bar(start, end, FINE), FAINT)
                yield Fill(words.path.moved(spot[0] - words.ink.centre[0], spot[1] - words.ink.centre[1]), CUT_INK)
                continue
            (x, y), cap = (piece.representative_point().x, piece.representative_point().y), NUMBER[0]
        words = set_block(str(number), Style(load_named(DEFAULT_FONT), cap))
        taken.append(shapely.box(*Box.centred(words.ink.width, words.ink.height, (x, y)).grown(0.3)))
        yield Fill(words.path.moved(x - words.ink.centre[0], y - words.ink.centre[1]), CUT_INK)


def _beside(piece: BaseGeometry, lines: BaseGeometry, size: Box, taken: Sequence[BaseGeometry]) -> Point | None:
    """The nearest place for a number of some size that meets neither lines nor other numbers."""
    x0, y0, x1, y1 = piece.bounds
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    for far in (0.5, 1.0, 1.6, 2.4, 3.4, 5.0, 7.0, 9.0):
        for turn in range(16):
            angle = math.tau * turn / 16
            at = (
                middle[0] + math.cos(angle) * ((x1 - x0 + size.width) / 2 + far),
                middle[1] + math.sin(angle) * ((y1 - y0 + size.height) / 2 + far),
            )
            place = shapely.box(*size.moved(*at))
            if not place.intersects(lines) and not any(place.intersects(other) for other in taken):
                return at
    return None


def _names(mask: CutMask) -> Iterator[Item]:
    """What lies past each edge, on its flap."""
    for edge, past in zip(mask.edges, NEIGHBOURS[mask.one.side], strict=True):
        if edge.flap > 6 and mask.one.coat.mask != "stencil":
            yield _name(edge, _folding(mask.one.side, past))


def _name(edge: Edge, text: str) -> Fill:
    words = set_block(text, _style(2.0))
    turn = round(math.degrees(math.atan2(edge.out[1], edge.out[0])) - 90)
    turn = turn - 180 if abs(turn) > 91 else turn
    at = edge.off(edge.middle, min(edge.flap - 3, 12.0))
    return Fill(words.turned(turn).path.moved(*at), FOLD_INK)


def _folding(side: str, past: str) -> str:
    """Where a flap goes."""
    if not past:
        return "fold over the lid's edge"
    way = "down" if side == "top" else "over" if past == "top" else "round"
    return f"fold {way}: {past}"


def _style(cap: float) -> Style:
    return Style(load_named(DEFAULT_FONT), cap)


def plug_piece(plugs: Sequence[Plug]) -> Piece:
    """All discs to cut, in rows, each with the hole that it is for, and the note why one socket stays bare."""
    items: list[Item] = []
    x = y = deep = wide = 0.0
    for plug in plugs:
        text = f"{plug.hole.id}{' inside' if plug.inside else ''}"
        label = set_block(f"{plug.side} {text}\n{plug.diameter:.1f}", _style(PLUG_CAP))
        width = max(plug.diameter, label.ink.width)
        if x and x + width > PLUG_ROW:
            x, y, deep = 0.0, y - deep - PLUG_GAP, 0.0
        at = (x + width / 2, y - plug.diameter / 2)
        items += _plug(plug, at)
        under = at[1] - plug.diameter / 2 - 1.2
        items.append(Fill(label.path.moved(at[0] - label.ink.centre[0], under - label.ink.y1), CUT_INK))
        deep = max(deep, plug.diameter + 1.2 + label.ink.height)
        x += width + PLUG_GAP
        wide = max(wide, x - PLUG_GAP)
    y -= deep
    for why in dict.fromkeys(plug.why for plug in plugs if plug.why):
        bare = ", ".join(dict.fromkeys(f"{plug.side} {plug.hole.id}" for plug in plugs if plug.why == why))
        note = set_block(f"{bare}: {why}", _style(2.0))
        y -= PLUG_GAP + note.ink.height
        items.append(Fill(note.path.moved(-note.ink.x0, y - note.ink.y0), CUT_INK))
        wide = max(wide, note.ink.width)
    box = Box.centred(wide, -y).grown(MARGIN)
    said = f"{len(plugs)} discs for holes · peel them after the last coat"
    return Piece(
        plugs[0].side,
        Group(tuple(items), "plugs", transform=IDENTITY.translate(-wide / 2, -y / 2)),
        box,
        box,
        said=said,
        ticks=False,
    )


def plug_places(plugs: Sequence[Plug]) -> list[tuple[Point, float]]:
    """Middle and diameter of each disc in rows, for cut files."""
    places = []
    x = y = deep = 0.0
    for plug in plugs:
        if x and x + plug.diameter > PLUG_ROW:
            x, y, deep = 0.0, y - deep - PLUG_GAP, 0.0
        places.append(((x + plug.diameter / 2, y - plug.diameter / 2), plug.diameter))
        deep, x = max(deep, plug.diameter), x + plug.diameter + PLUG_GAP
    return places


def _plug(plug: Plug, at: Point) -> Iterator[Item]:
    ring = disc(at, plug.diameter + CUT) + disc(at, plug.diameter - CUT)
    yield Fill(ring, CUT_INK, "evenodd")
    if plug.diameter > plug.hole.d + 0.2:
        yield from _circle(at, plug.hole.d)
    yield Fill(cross(at, max(CROSS_LEAST, plug.hole.d * 0.4), FINE), CUT_INK)
