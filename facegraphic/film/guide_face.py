"""Draw panels of the box on a page of the drill guide: what to cut, where to crease, every hole at true size."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fontTools.misc.transform import Transform

from facegraphic.film.guide_labels import Ground, Spot, name_holes
from facegraphic.film.guide_names import CORNERS, LOW_FIRST, in_panel
from facegraphic.film.guide_net import TABBED, Panel, tab
from facegraphic.film.guide_text import BOLD, FINE, HEADING, PLAIN, Hand, figure
from facegraphic.film.marks import BLACK
from facegraphic.film.names import name
from facegraphic.geometry.path import IDENTITY, Box, Path, Point
from facegraphic.geometry.shapes import bar, cross, disc
from facegraphic.layout.model import PlacedHole
from facegraphic.scene.scene import Fill, Group, Item
from facegraphic.stock.faces import Side

CUT_WIDE, FOLD_WIDE, FLAT_WIDE, RING_WIDE, CROSS_WIDE = 0.25, 0.2, 0.1, 0.15, 0.12
FLAT_INK = "#7f7f7f"
DASH = (2.5, 1.5)
ARM = 1.5  # how far a cross reaches past its hole
MIDDLE = 3.0  # length of the marks where a panel's middle lines meet its edges
LONG_ID = 20  # characters
FLAP = 9.0  # on a panel by itself, to hook it over the edge
FACING: Mapping[Side, str] = {"front": "towards you", "back": "away from you"}


@dataclass(frozen=True)
class Numbered:
    """A hole with its number in the table."""

    number: int
    placed: PlacedHole


@dataclass(frozen=True)
class Laid:
    """A panel with its holes and the transform that carries it to where it is drawn.

    `flaps` are the edges at which a flap hangs on it, `creased` those at which another panel does, `tabbed` those
    with a tab; each by the number of the corner that it begins at. All others are cut.
    """

    panel: Panel
    holes: tuple[Numbered, ...]
    place: Transform
    creased: tuple[int, ...] = ()
    tabbed: tuple[int, ...] = ()
    flaps: tuple[int, ...] = ()

    def edge(self, number: int) -> tuple[Point, Point]:
        corners = self.panel.corners
        return self.at(corners[number]), self.at(corners[(number + 1) % 4])

    def at(self, point: Point) -> Point:
        x, y = self.place.transformPoint(point)
        return (x, y)

    def carried(self, transform: Transform) -> "Laid":
        return Laid(self.panel, self.holes, transform.transform(self.place), self.creased, self.tabbed, self.flaps)

    @property
    def box(self) -> Box:
        """What it takes with flaps and tabs."""
        points = [self.at(corner) for corner in self.panel.corners]
        points += [point for points_ in self.hanging() for point in points_]
        xs, ys = zip(*points, strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))

    @property
    def inner(self) -> Box:
        """The box of the panel alone."""
        xs, ys = zip(*(self.at(corner) for corner in self.panel.corners), strict=True)
        return Box(min(xs), min(ys), max(xs), max(ys))

    def hanging(self) -> Iterator[Sequence[Point]]:
        """Tabs and flaps."""
        for number in self.tabbed:
            yield tab(*self.edge(number))
        for number in self.flaps:
            yield tab(*self.edge(number), FLAP)


def whole_net(
    found: Mapping[Side, Panel], places: Mapping[Side, Transform], holes: Mapping[Side, tuple[Numbered, ...]]
) -> list[Laid]:
    """All panels hinged to the top."""
    laid = []
    for side, own in found.items():
        creased = (0, 1, 2, 3) if side == "top" else (2,)
        tabbed = (1, 3) if side in TABBED else ()
        laid.append(Laid(own, holes.get(side, ()), places[side], creased, tabbed))
    return laid


def alone(own: Panel, holes: tuple[Numbered, ...]) -> Laid:
    """One panel with flaps at the edges of the top, to hook it over them."""
    return Laid(own, holes, IDENTITY, flaps=(0, 1, 2, 3) if own.side == "top" else (2,))


def box_of(laid: Iterable[Laid]) -> Box:
    return Box.around(one.box for one in laid)


def draw(laid: Sequence[Laid], page: Box, taken: Sequence[Box] = ()) -> Group:
    """Panels with their holes and words; words keep within `page` and clear of what is `taken`."""
    ground = Ground(page, list(taken))
    items: list[Item] = []
    for one in laid:
        items.append(Group(tuple(_lines(one, ground)), f"guide-{one.panel.side}-lines"))
    for one in laid:
        items.append(Group(tuple(_holes(one, ground)), f"guide-{one.panel.side}-holes"))
    for one in laid:
        items.append(Group(tuple(_labels(one, ground)), f"guide-{one.panel.side}-labels"))
    for one in laid:
        corners = () if not one.holes else LOW_FIRST if one.panel.side == "front" else CORNERS
        named = in_panel(ground, one.inner, _names(one), corners)
        items.append(Group(tuple(named), f"guide-{one.panel.side}-name"))
    return Group(tuple(items), "guide")


def _lines(one: Laid, ground: Ground) -> Iterator[Fill]:
    """The flat part, marks at the middle lines, creases, cuts."""
    flat = one.panel.outline
    inside = flat.grown(-FLAT_WIDE / 2).path.transformed(one.place)
    around = flat.grown(FLAT_WIDE / 2).path.transformed(one.place)
    yield Fill(around + inside, FLAT_INK, "evenodd", f"guide-{one.panel.side}-flat")
    for ring in inside.rings(0.2):
        for start, end in zip(ring, [*ring[1:], ring[0]], strict=True):
            ground.line(start, end)
    for start, end in middles(one):
        ground.line(start, end)
        yield Fill(bar(start, end, CROSS_WIDE), BLACK)
    for number in range(4):
        start, end = one.edge(number)
        ground.line(start, end)
        if number in one.creased and one.panel.side != "top":
            continue  # drawn once, with the top
        if number in (*one.creased, *one.tabbed, *one.flaps):
            yield Fill(dashed(start, end, FOLD_WIDE), BLACK)
        else:
            yield Fill(bar(start, end, CUT_WIDE), BLACK)
    for points in one.hanging():
        for start, end in pairwise(points):
            ground.line(start, end)
            yield Fill(bar(start, end, CUT_WIDE), BLACK)


def middles(one: Laid) -> Iterator[tuple[Point, Point]]:
    """Short marks inwards from where the middle lines through the face's centre meet the panel's edges."""
    corners = one.panel.corners
    (x0, y0), (x1, _), (x2, y1), (x3, _) = corners
    long = min(MIDDLE, (y1 - y0) / 6)
    left, right = x0 + (x3 - x0) * -y0 / (y1 - y0), x1 + (x2 - x1) * -y0 / (y1 - y0)
    for start, end in (
        ((0.0, y0), (0.0, y0 + long)),
        ((0.0, y1), (0.0, y1 - long)),
        ((left, 0.0), (left + long, 0.0)),
        ((right, 0.0), (right - long, 0.0)),
    ):
        yield one.at(start), one.at(end)


def dashed(start: Point, end: Point, width: float) -> Path:
    """A dashed line that begins and ends with a whole dash."""
    length = math.dist(start, end)
    on, off = DASH
    count = max(2, round((length + off) / (on + off)))
    on = (length - (count - 1) * off) / count
    if on <= 0:
        return bar(start, end, width)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    dashes = []
    for number in range(count):
        a = number * (on + off)
        first, last = (start[0] + ux * a, start[1] + uy * a), (start[0] + ux * (a + on), start[1] + uy * (a + on))
        dashes.append(bar(first, last, width))
    return Path.joined(dashes)


def _holes(one: Laid, ground: Ground) -> Iterator[Group]:
    for numbered in one.holes:
        hole = numbered.placed.hole
        at = one.at((hole.x, hole.y))
        _spot(one, numbered).take(ground)
        thin = min(RING_WIDE, hole.d / 4)  # the line lies half on either side of the true edge
        ring = Fill(disc(at, hole.d + thin) + disc(at, hole.d - thin), BLACK, "evenodd")
        mark = Fill(cross(at, hole.d + 2 * ARM, CROSS_WIDE), BLACK)
        yield Group((ring, mark), f"guide-{one.panel.side}-hole-{numbered.number}-{name(hole.id)}")


def _names(one: Laid) -> list[tuple[str, Hand]]:
    side = one.panel.side
    facing = FACING.get(side, "")
    said = side.upper() + ("" if one.holes else "\nno holes")
    head, low = Hand(HEADING, "tagstrip-bold"), Hand(2.2, "tagstrip-bold")
    words = [(f"{side.upper()}\n{facing}", head)] if facing and one.holes else []
    return [*words, (said, head), (side.upper(), BOLD), (side.upper(), low)]


def _spot(one: Laid, numbered: Numbered) -> Spot:
    hole = numbered.placed.hole
    x, y = one.at((hole.x, hole.y))
    return Spot(x, y, hole.d / 2, hole.d / 2 + ARM)


def _labels(one: Laid, ground: Ground) -> list[Group]:
    """Number, id and size beside each hole; the number alone where they stand close."""
    if not one.holes:
        return []
    holes = [numbered.placed.hole for numbered in one.holes]
    numbers = [str(numbered.number) for numbered in one.holes]
    sizes = [f"Ø {figure(hole.d)}" for hole in holes]
    full = [f"{n} {_short(hole.id)}\n{size}" for n, hole, size in zip(numbers, holes, sizes, strict=True)]
    brief = [f"{n}\n{size}" for n, size in zip(numbers, sizes, strict=True)]
    wordings = [(full, PLAIN), (full, FINE), (brief, FINE), (numbers, FINE), (numbers, Hand(1.8))]
    found = name_holes(ground, [_spot(one, numbered) for numbered in one.holes], wordings, one.inner)
    return [Group(tuple(words), f"guide-{one.panel.side}-label-{n}") for n, words in zip(numbers, found, strict=True)]


def _short(id: str) -> str:
    """An id in one line, cut off where it would take the face over; the table has all of it."""
    plain = " ".join(id.split())
    return plain if len(plain) <= LONG_ID else f"{plain[: LONG_ID - 3]}..."
