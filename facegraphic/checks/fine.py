"""Rules about what is too small: for the process, measured on the true outlines, and for the eye."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.checks.told import several
from facegraphic.errors import Finding
from facegraphic.film.colour import coded, luminance, to_linear
from facegraphic.geometry.crowds import near
from facegraphic.geometry.path import Path, Point
from facegraphic.geometry.regions import region
from facegraphic.job.model import Finish
from facegraphic.layout.ground import mark_owner
from facegraphic.layout.model import FaceLayout
from facegraphic.stock.limits import limit

# What a limit takes away counts when it is as large as this many squares of the limit's width. Opening also takes the
# corners of strokes (0.05 of a square each), and closing fills the crotch of an acute angle (1.2 squares at 18°, the
# sharpest in W, M and N of the fonts that come along); neither is a fine stroke or gap.
LEAST = 1.5
SPECK = 0.1  # squares: a whole dot or counter is told when it goes, however small, but for specks below this
HELD = 0.96  # of a limit is taken to hold, so that what is drawn at the limit does, its outline cut to chords
STEPS = 5  # of halving, to find how fine a stroke is: to 1/32 of the limit
QUARTER = 4  # segments to a quarter turn when outlines are grown and shrunk
KNEELING, STANDING = 700.0, 1600.0  # mm from the eye to the box on the floor (common practice)
ARCMIN = 15.0  # the least for labels: NUREG-0700 Rev 3, 11.4.1.5-1, which prefers 20
MANY = 300  # points of an outline, below which it takes next to nothing to measure
PART = 120  # pairs that a part of lettering by itself, a letter or a speck, costs as much as
MOST_NEAR = limit("face-near")

Takes = Callable[[BaseGeometry, float], bool]


def fine_strokes(area: BaseGeometry, limit: float) -> bool:
    """Whether a region has strokes or dots finer than `limit` mm: what morphological opening takes away."""
    radius = limit / 2 * HELD
    parts = shapely.get_parts(area)
    cores = shapely.buffer(parts, -radius, quad_segs=QUARTER)
    if any(shapely.is_empty(cores) & (shapely.area(parts) > SPECK * limit**2)):
        return True
    opened = shapely.buffer(cores, radius, quad_segs=QUARTER)
    least = LEAST * limit**2
    return any(
        whole.area - held.area > least and _largest(whole.difference(held)) > least
        for whole, held in zip(parts, opened, strict=True)
    )


def fine_gaps(area: BaseGeometry, limit: float) -> bool:
    """Whether a region has gaps or counters finer than `limit` mm: what morphological closing fills."""
    radius = limit / 2 * HELD
    counters = [shapely.Polygon(ring) for part in shapely.get_parts(area) for ring in part.interiors]
    if any(c.area > SPECK * limit**2 and c.buffer(-radius, quad_segs=QUARTER).is_empty for c in counters):
        return True
    closed = area.buffer(radius, quad_segs=QUARTER).buffer(-radius, quad_segs=QUARTER)
    least = LEAST * limit**2
    return bool(closed.area - area.area > least and _largest(closed.difference(area)) > least)


def _largest(area: BaseGeometry) -> float:
    return float(max(shapely.area(shapely.get_parts(area)), default=0.0))


def finest(area: BaseGeometry, limit: float, takes: Takes) -> float:
    """The width in mm, up to `limit`, that a region's strokes (or gaps) just have; 0 if under 1/32 of it."""
    held, lost = 0.0, limit
    for _ in range(STEPS):
        middle = (held + lost) / 2
        held, lost = (held, middle) if takes(area, middle) else (middle, lost)
    return held


@dataclass(frozen=True)
class _Drawn:
    """Lettering (`cap` mm high) or all marks of one owner (0), with the finest stroke and gap that will hold."""

    name: str
    path: Path
    rule: str
    cap: float
    stroke: float
    gap: float

    @property
    def at(self) -> Point:
        return self.path.bounds.centre

    @property
    def shape(self) -> Path:
        """The outline wherever it stands, so that a figure drawn at every knob is measured once."""
        if "shape" not in self.path.kept:
            x, y = self.at
            segments = self.path.moved(-x, -y).segments
            self.path.kept["shape"] = Path(tuple([(op, *[round(v, 4) for v in c]) for op, *c in segments]))
        shape: Path = self.path.kept["shape"]
        return shape


def _drawn(layout: FaceLayout, finish: Finish) -> list[_Drawn]:
    """All that is lettered or ruled on a face. What is lighter than its ground is bare film: the limits change over."""
    film, ground = finish.film, layout.face.ground

    def limits(ink: str) -> tuple[float, float]:
        light = ground is not None and luminance(to_linear(coded(ink))) > luminance(to_linear(coded(ground)))
        return (film.line_reversed, film.gap_reversed) if light else (film.line, film.gap)

    found = [_Drawn(i.name, i.path, "nonzero", i.block.cap, *limits(i.ink)) for i in layout.legends if i.path]
    for owner, ink in dict.fromkeys((mark_owner(mark), mark.ink) for mark in layout.marks):
        paths = [mark.path for mark in layout.marks if (mark_owner(mark), mark.ink) == (owner, ink)]
        found.append(_Drawn(owner, Path.joined(paths), "evenodd", 0.0, *limits(ink)))
    return found


@lru_cache(maxsize=512)
def _held(shape: Path, rule: str, limit: float, takes: Takes) -> float:
    """The width that strokes or gaps of a shape have when they are finer than a limit, else the limit."""
    area = region(shape, rule)
    return finest(area, limit, takes) if takes(area, limit) else limit


@lru_cache(maxsize=512)
def _crowd(shape: Path, rule: str, limit: float) -> int:
    """How much measuring a shape takes: pairs of pieces of its outlines within a limit, where there are many pieces.

    So do its parts by themselves, but for the marks of a scale, which are as plain as can be.
    """
    parts = shapely.get_parts(region(shape, rule))
    rough = [part for part in parts if shapely.get_num_coordinates(part) > MANY]
    plain = rule == "evenodd" and not rough
    return near(shapely.MultiPolygon(rough), limit, MOST_NEAR) + (0 if plain else PART * len(parts))


def strokes_too_fine(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Strokes finer than the process's line break up or wash off: measured on the outlines (films table)."""
    yield from _too_fine(layout, finish, fine_strokes)


def gaps_too_fine(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Gaps and counters finer than the process's gap fill in (films table)."""
    yield from _too_fine(layout, finish, fine_gaps)


def _too_fine(layout: FaceLayout, finish: Finish, takes: Takes) -> Iterator[Finding]:
    """One finding for all of a height, with the height at which the finest of them would hold."""
    strokes = takes is fine_strokes
    found: dict[tuple[float, float], list[tuple[float, _Drawn]]] = {}
    left, unmeasured = MOST_NEAR, []
    for item in _drawn(layout, finish):
        limit = item.stroke if strokes else item.gap
        crowd = _crowd(item.shape, item.rule, limit)
        if crowd > left:
            unmeasured.append(item)
            continue
        left -= crowd
        width = _held(item.shape, item.rule, limit, takes)
        if width < limit:
            found.setdefault((item.cap, limit), []).append((width, item))
    for (cap, limit), items in found.items():
        width, worst = min(items, key=lambda pair: pair[0])
        code = "strokes-too-fine" if strokes else "gaps-too-fine"
        names = several([item.name for _, item in items])
        are = f"are {_below(width, limit)} mm wide" if width else f"{'thin out' if strokes else 'close'} to nothing"
        message = f"{'strokes' if strokes else 'gaps'} of {names} {are} where they are finest; "
        message += f"{finish.film.name} holds {limit:g} mm"
        remedy = _wider(cap, limit / width if width else math.inf, "heavier" if strokes else "lighter", finish)
        yield Finding(code, "warning", message, remedy, layout.face.side, worst.at)
    if unmeasured:
        names = several([item.name for item in unmeasured])
        message = f"{'strokes' if strokes else 'gaps'} of {names} are not measured: the outlines are too rough for it"
        remedy = "print a piece to try, or take a plainer font"
        yield Finding("outlines-rough", "warning", message, remedy, layout.face.side, unmeasured[0].at)


def _wider(cap: float, times: float, cut: str, finish: Finish) -> str:
    """How to make what is too fine so many times as wide, which no size does where nothing is left."""
    if times == math.inf:
        return "take another font: no height mends that" if cap else "make them wider or farther apart"
    high = max(cap * times, finish.least_text)  # one height that mends what is too small as well
    higher = f"set it {_up(high)} mm high or more instead of {cap:g} mm, or in a {cut} cut"
    return higher if cap else f"make it {times:.1f} times as wide"


def _below(width: float, limit: float) -> str:
    """A width under a limit with as many places as show that it is under it, two at least.

    >>> _below(0.121, 0.15), _below(0.147, 0.15), _below(0.14996, 0.15)
    ('0.12', '0.147', '0.14996')
    """
    places = 2
    while places < 8 and float(f"{width:.{places}f}") >= limit > width:
        places += 1
    return f"{width:.{places}f}"


def _up(height: float) -> str:
    """A height rounded up to tenths."""
    return f"{math.ceil(height * 10 - 1e-6) / 10:g}"


def readable(distance: float, arcmin: float) -> float:
    """The height that fills an angle at a distance, in the distance's unit (NUREG-0700 Rev 2, 1.3.1-4)."""
    return 2 * distance * math.tan(math.radians(arcmin / 60) / 2)


def small_to_read(layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """Lettering under 15 arcmin is hard to read: kneeling at the box, 0.7 m, and standing over it, 1.6 m.

    NUREG-0700 Rev 3, 11.4.1.5-1. Its rounder factor, distance × 0.004, would be 13.75 arcmin. A note, once a job.
    """
    near, far = readable(KNEELING, ARCMIN), readable(STANDING, ARCMIN)
    caps = [legend.block.cap for layout in layouts for legend in layout.legends if legend.path]
    small = [cap for cap in caps if cap < far]
    if small:
        message = f"{_count(small, caps)} under the {far:.1f} mm that read well standing, 1.6 m away"
        if smaller := sum(cap < near for cap in caps):
            some = "and" if len(caps) == 1 else "all of them" if smaller == len(small) else f"{smaller} of them"
            message += f", {some} under the {near:.1f} mm that read well kneeling, 0.7 m away"
        remedy = f"set what must be read at a glance {_up(near)} mm high, or {_up(far)} mm for standing"
        sides = {layout.face.side for layout in layouts if any(legend.path for legend in layout.legends)}
        yield Finding("small-to-read", "note", message, remedy, sides.pop() if len(sides) == 1 else "")


def _count(some: Sequence[float], whole: Sequence[float]) -> str:
    if len(whole) == 1:
        return "the one piece of lettering is"
    return f"{len(some)} of {len(whole)} pieces of lettering {'is' if len(some) == 1 else 'are'}"
