"""Rules about colours as they will look on the box: lettering against what lies under it, inks against each other."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import shapely

from facegraphic.checks.told import several
from facegraphic.errors import Finding, Severity
from facegraphic.film.colour import LEAST, Colours, coded, contrast, luminance, seen, to_linear
from facegraphic.film.face import underlay
from facegraphic.film.grounds import UNLIKE, apart, ratio_words
from facegraphic.film.marks import BARE
from facegraphic.film.vision import KINDS, as_seen_with, difference, lab
from facegraphic.geometry.path import Path, Point
from facegraphic.geometry.regions import region
from facegraphic.job.model import Finish
from facegraphic.layout.ground import mark_owner
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.regions import FaceCoat, covers
from facegraphic.scene.scene import Scene
from facegraphic.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL.Image import Image

GOOD = 4.5  # WCAG 2.2, SC 1.4.3 for other text
LARGE = 4.45  # mm of capital height: 18 pt (WCAG's large text), of which capitals take 0.7 in usual fonts
NEAR = 0.4  # mm round lettering that count as what it stands on
WORST = 0.1  # lettering over artwork is judged by the tenth of it that reads worst
DPI = 150  # artwork is looked at this finely: 0.17 mm, about what an eye resolves at 0.6 m
DIFFERENT, ALIKE = 12.0, 6.0  # CIEDE2000: clearly two colours, and hardly two (a choice; 1 is just noticeable)

Draw = Callable[[Scene, int], "Image"]


@dataclass(frozen=True)
class Sight:
    """A face to be looked at: `paint` is the box's, `draw` renders a scene at some dpi, 1 mm as dpi/25.4 pixels.

    `coats` are those of the face, in spraying order: what is printed stands on what they leave to be seen.
    """

    layout: FaceLayout
    finish: Finish
    paint: str
    draw: Draw
    coats: tuple[FaceCoat, ...] = ()

    def light(self, printed: Colours) -> Colours:
        """Linear light of printed colours, once on the box."""
        return seen(printed, self.paint, self.finish.film.look)

    @property
    def bare(self) -> str:
        """What stands for bare film in a rendering: white, but where white is itself printed."""
        return self.paint if self.finish.film.look == "plate" else BARE


@dataclass(frozen=True)
class _Shown:
    """Lettering (`cap` mm high) or marks (0) with their contrast to a luminance `below`, on a paint."""

    name: str
    path: Path
    rule: str
    ink: str
    cap: float
    below: float = 0.0
    ratio: float = 21.0
    paint: str = ""

    @property
    def at(self) -> Point:
        return self.path.bounds.centre


def _shown(layout: FaceLayout) -> list[_Shown]:
    """All lettering of a face, and its marks by what they belong to."""
    found = [_Shown(i.name, i.path, "nonzero", i.ink, i.block.cap) for i in layout.legends if i.path]
    for owner, ink in dict.fromkeys((mark_owner(mark), mark.ink) for mark in layout.marks):
        paths = [mark.path for mark in layout.marks if (mark_owner(mark), mark.ink) == (owner, ink)]
        found.append(_Shown(owner, Path.joined(paths), "evenodd", ink, 0.0))
    return found


def _judged(sight: Sight) -> list[_Shown]:
    """What a face shows with its contrast; over artwork the worst tenth counts. Nothing for a process without inks."""
    if sight.finish.film.look == "relief":
        return []
    grounds: dict[str, Colours] = {}
    judged = []
    for item in _shown(sight.layout):
        found = []
        for paint in _paints(sight, item):
            on = replace(sight, paint=paint)
            if paint not in grounds:
                grounds[paint] = _ground(on)
            below = _under(grounds[paint], item) if sight.layout.face.arts else grounds[paint]
            if below.size:
                ratios = contrast(below, luminance(on.light(coded(item.ink))))
                worst = int(np.argsort(ratios)[int(WORST * (len(ratios) - 1))])
                found.append(replace(item, below=float(below[worst]), ratio=float(ratios[worst]), paint=paint))
        if found:
            judged.append(min(found, key=lambda one: one.ratio))
    return judged


def _ground(sight: Sight) -> Colours:
    """The luminance of what lies under lettering: of every pixel of artwork, else one."""
    if sight.layout.face.arts:
        page = np.asarray(sight.draw(underlay(sight.layout, sight.finish, sight.bare), DPI).convert("RGB")) / 255
        return luminance(sight.light(page))
    return luminance(sight.light(coded(sight.layout.face.ground or sight.bare))).reshape(1)


def _paints(sight: Sight, item: _Shown) -> tuple[str, ...]:
    """The paints under and close round something, but those under less than a tenth of it.

    Coats of lettering are no ground: what is printed there stands on the same lettering, sprayed.
    """
    if not sight.coats:
        return (sight.paint,)
    rest = area = region(item.path, item.rule, flatness=0.02).buffer(NEAR, quad_segs=2)
    shares: dict[str, float] = {}
    for one in reversed(sight.coats):
        if covers(one.coat) and one.coat.where != "legends":
            paint = one.coat.paint or sight.paint
            shares[paint] = shares.get(paint, 0.0) + rest.intersection(one.region).area
            rest = rest.difference(one.region)
    shares[sight.paint] = shares.get(sight.paint, 0.0) + rest.area
    return tuple(paint for paint, share in shares.items() if share >= WORST * area.area)


def _under(page: Colours, item: _Shown) -> Colours:
    """The page's pixels under and close round something; the page is that of `underlay` at `DPI`."""
    area = region(item.path, item.rule, flatness=0.02)
    high, wide = page.shape
    scale = DPI / MM_PER_INCH
    x0, y0, x1, y1 = shapely.bounds(area) + np.array([-NEAR, -NEAR, NEAR, NEAR])
    across = np.arange(max(0, int(x0 * scale + wide / 2)), min(wide, int(x1 * scale + wide / 2) + 1))
    down = np.arange(max(0, int(high / 2 - y1 * scale)), min(high, int(high / 2 - y0 * scale) + 1))
    columns, rows = (axis.ravel() for axis in np.meshgrid(across, down))
    places = shapely.points((columns + 0.5 - wide / 2) / scale, (high / 2 - rows - 0.5) / scale)
    near = shapely.STRtree(places).query(shapely.get_parts(area), "dwithin", NEAR)[1]
    inside = np.unique(near)
    return np.asarray(page[rows[inside], columns[inside]])


def contrasts(sight: Sight) -> Iterator[Finding]:
    """Lettering and marks need contrast to what lies under them, as both will look (WCAG 2.2, SC 1.4.3 and 1.4.11).

    Ink that clear film cannot show, since it is lighter than the paint (inks only darken), is told as that.
    """
    items = sorted(_judged(sight), key=lambda item: item.ratio)
    faint = [item for item in items if item.ratio < LEAST]
    clear = sight.finish.film.look == "clear"
    vain = [item for item in faint if clear and _own_luminance(item.ink) > _own_luminance(item.paint)]
    if vain:
        yield _vanishing(replace(sight, paint=vain[0].paint), vain)
    faint = [item for item in faint if item not in vain]
    modest = [item for item in items if LEAST <= item.ratio < GOOD and 0 < item.cap < LARGE]
    if faint:
        yield _weak(replace(sight, paint=faint[0].paint), faint, "contrast-low", "warning", LEAST)
    if modest:
        yield _weak(replace(sight, paint=modest[0].paint), modest, "contrast-modest", "note", GOOD)


def _own_luminance(colour: str) -> float:
    return float(luminance(to_linear(coded(colour))))


def _vanishing(sight: Sight, items: Sequence[_Shown]) -> Finding:
    worst = items[0]
    message = (
        f"the ink {worst.ink} of {several([item.name for item in items])} is lighter than the paint {sight.paint}; "
        f"on {sight.finish.film.name} inks only darken, so it would stand out by {ratio_words(worst.ratio)}"
    )
    other = _better(sight, worst, GOOD) or "a lighter paint with a dark ink"
    remedy = f'use white film (process = "waterslide-white"), or {other}'
    return Finding("ink-vanishes", "warning", message, remedy, sight.layout.face.side, worst.at)


def _weak(sight: Sight, items: Sequence[_Shown], code: str, severity: Severity, least: float) -> Finding:
    worst = items[0]
    over = ", in the tenth of the ground that reads worst" if sight.layout.face.arts else ""
    message = (
        f"{several([item.name for item in items])} would stand out by {ratio_words(worst.ratio)} only{over}; "
        f"{least:g} : 1 is {'the least' if least == LEAST else 'good'} for a sure reading"
    )
    ways = [_better(sight, worst, GOOD)]
    if sight.layout.face.arts:
        bare = luminance(sight.light(coded(sight.layout.face.ground or sight.bare)))
        helps = contrast(luminance(sight.light(coded(worst.ink))), bare) >= least and not sight.finish.halo
        ways.append("bare ground round it: [finish] halo = 0.6" if helps else "calmer artwork there")
    remedy = "use " + (" or ".join(filter(None, ways)) or "a lighter paint or ground, or white film")
    return Finding(code, severity, message, remedy, sight.layout.face.side, worst.at)


def _better(sight: Sight, item: _Shown, least: float) -> str:
    """Advice that names the nearest darker or lighter tone of an ink with enough contrast; empty when there is none.

    Over artwork, light lettering stays light and dark lettering dark: the rest of it stands well as it is.
    """
    if sight.finish.film.bits == 1:
        return ""
    start, below = coded(item.ink), np.asarray(item.below)
    ways = {"darker": 0.0, "lighter": 1.0}
    if sight.layout.face.arts:
        del ways["darker" if luminance(sight.light(start)) > below else "lighter"]
    for share in np.linspace(0.0, 1.0, 129)[1:]:
        for word, end in ways.items():
            tone = np.round((start + (end - start) * share) * 255) / 255
            if contrast(luminance(sight.light(tone)), below) >= least:
                ink = "#" + "".join(f"{round(part * 255):02x}" for part in tone)
                return f'a {word} ink: "{ink}" would stand out enough'
    return ""


def inks_alike(sight: Sight) -> Iterator[Finding]:
    """Two inks that most eyes tell apart should not look alike to a colour-blind one.

    Machado, Oliveira and Fernandes's model (2009) at full severity, CIEDE2000 for the distance.
    """
    if sight.finish.film.bits == 1:
        return
    inks = dict.fromkeys(item.ink for item in _shown(sight.layout))
    light = {ink: sight.light(coded(ink)) for ink in inks}
    for one, other in combinations(inks, 2):
        if difference(lab(light[one]), lab(light[other])) < DIFFERENT:
            continue
        apart = {
            kind: difference(lab(as_seen_with(kind, light[one])), lab(as_seen_with(kind, light[other])))
            for kind in KINDS
        }
        kind = min(apart, key=lambda kind: apart[kind])
        if apart[kind] < ALIKE:
            message = f"the inks {one} and {other} look much alike with {kind} (CIEDE2000 {apart[kind]:.1f})"
            remedy = "make one of them darker, or tell the two kinds of lettering apart by size or cut as well"
            yield Finding("inks-alike", "note", message, remedy, sight.layout.face.side)


def ground_unlike_paint(sight: Sight) -> Iterator[Finding]:
    """A ground on white film ends at the film's edge, where the paint goes on: CIEDE2000 tells whether it shows."""
    ground = sight.layout.face.ground
    if sight.finish.film.look != "white" or ground is None:
        return
    far = apart(ground, sight.paint)
    if far >= UNLIKE:
        message = (
            f"the ground {ground} does not match the paint {sight.paint} (CIEDE2000 {far:.1f}; from {UNLIKE:g} on it "
            f"shows), so the {sight.layout.face.side} face stands apart from the rounded edges and the walls"
        )
        remedy = f'leave it if that is meant; else use ground = "{sight.paint}", or paint the box in {ground}'
        yield Finding("ground-unlike-paint", "note", message, remedy, sight.layout.face.side)
