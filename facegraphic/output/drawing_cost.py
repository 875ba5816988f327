"""What drawing an SVG costs, counted in steps while it is recorded: what cairo is asked for, and not what is written.

How a drawing's units, styles, viewports and uses are meant is CairoSVG's to say; here only what comes of them is seen,
as large as it is on the drawing. Steps and their weights: stock/limits.toml.
"""

import itertools
import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from facegraphic.errors import Problem, UserError
from facegraphic.job.drawing_weight import CROSSINGS, FEW, crossings
from facegraphic.output.engine import cairo
from facegraphic.stock.limits import limit, step

MOST_WORK = limit("art-work")
LONGEST = 2.0  # a page counts as no longer than twice its width: of a longer one less is seen where it covers a face
WEIGH = {name: step(name) for name in (
    "area-plain",
    "area-linear", "area-radial", "stops", "curves", "lines", "dashes", "group", "clip", "clip-area", "clip-points"
)}  # fmt: skip
MEND = {
    "painted area": "have fewer large shapes over each other, and fewer large gradients with fewer stops",
    "long lines": "have fewer of them across the page",
    "strokes that overlap": "make them thinner, or their paths of fewer, longer pieces",
    "dashes": "make them longer",
    "clip paths": "have fewer shapes cut by them, or simpler ones",
    "groups with an opacity": "give it to their shapes, or flatten them",
}
Box = tuple[float, float, float, float]


class _Line(NamedTuple):
    """A path as it is asked for, in its own units: the boxes of its pieces with their control points, and how long they
    are together; how much of that is straight or curved, no piece longer than can be seen; and the most that it covers.
    """

    boxes: list[Box]
    long: float
    straight: float
    curved: float
    area: float


@dataclass
class _Clip:
    """The clips in force: how many that are no rectangles, and the points of all of them."""

    many: int = 0
    points: int = 0


@dataclass
class Cost:
    """The steps of one drawing of some width and height, by what they come from."""

    name: str
    width: float
    height: float
    read: int = 0
    steps: dict[str, float] = field(default_factory=lambda: dict.fromkeys(MEND, 0.0))
    clips: list[_Clip] = field(default_factory=lambda: [_Clip()])
    groups: int = 0

    @property
    def page(self) -> float:
        return min(self.width * self.height, LONGEST * min(self.width, self.height) ** 2)

    @property
    def whole(self) -> int:
        return self.read + int(min(sum(self.steps.values()), 1e12))

    def add(self, kind: str, steps: float) -> None:
        """Count some steps. UserError once there are more than are taken."""
        self.steps[kind] += steps if steps == steps else math.inf
        if self.read + sum(self.steps.values()) > MOST_WORK:
            worst = max(self.steps, key=lambda kind: self.steps[kind])
            what = "the artwork holds more than can be drawn: "
            what += f"it comes to over {MOST_WORK} steps, most of it by its {worst}"
            raise UserError(Problem(what, MEND[worst], self.name))

    def drawn(self, context: Any, stroke: bool) -> None:
        """Count what a path costs that is about to be filled or stroked."""
        source = context.get_source()
        if isinstance(source, cairo().SolidPattern) and source.get_rgba()[3] == 0:
            return
        by = _stretch(context)
        line = _line(context, math.hypot(self.width, self.height) / by if by else 0.0)
        if not line.boxes:
            return
        wide = context.get_line_width() if stroke else 0.0
        share = self._share(context, _grown(_around(line.boxes), wide / 2))
        if stroke:
            self._stroked(context, line, wide)
        if not share:
            return
        covered = wide * line.long if stroke else line.area
        self.add("painted area", min(share, covered * by * by / self.page) * _of(source))
        side = math.sqrt(self.page) / by
        self.add("long lines", (WEIGH["curves"] * line.curved + WEIGH["lines"] * line.straight) / side)
        self._clipped(share)

    def _stroked(self, context: Any, line: _Line, wide: float) -> None:
        """Strokes that overlap themselves, and dashes, wherever they lie: cairo makes them before it looks."""
        dashes = context.get_dash()[0]
        period = 2 * sum(dashes) / len(dashes) if dashes else 0.0
        dense = 1 + wide / period if period else 1.0
        if period:
            self.add("dashes", line.long / period * dense / WEIGH["dashes"])
        if len(line.boxes) > FEW or (period and len(line.boxes) > 1):
            # Pieces that are longer than the stroke is wide were counted where they cross, when the drawing was read.
            short = sum(max(box[2] - box[0], box[3] - box[1]) < wide for box in line.boxes) / len(line.boxes)
            met = crossings(line.boxes, wide / 2)
            self.add("strokes that overlap", met * (short + dense * dense - 1) / CROSSINGS)

    def painted(self, context: Any) -> None:
        """Count what is painted all over the clip."""
        share = self._share(context, context.clip_extents())
        self.add("painted area", share * _of(context.get_source()))
        self._clipped(share)

    def clipped(self, context: Any) -> None:
        line = _line(context, math.inf)
        if not _is_rectangle(line):
            self.clips[-1] = _Clip(self.clips[-1].many + 1, self.clips[-1].points + len(line.boxes))

    def _clipped(self, share: float) -> None:
        """The clips in force are applied anew to all that is drawn, and written again for it by SVG and PDF."""
        clip = self.clips[-1]
        points = clip.points / WEIGH["clip"] + share * clip.points / WEIGH["clip-points"]
        self.add("clip paths", points + share * clip.many * WEIGH["clip-area"])

    def begun(self) -> None:
        """A group: all in it is drawn apart, and again for each group about it."""
        self.groups += 1
        self.add("groups with an opacity", WEIGH["group"] * self.groups)

    def _share(self, context: Any, box: Box) -> float:
        """What a box takes of the page, as far as it is not clipped."""
        left, top, right, bottom = _on_device(context, box)
        clip = _on_device(context, context.clip_extents())
        wide = min(right, clip[2], self.width) - max(left, clip[0], 0.0)
        high = min(bottom, clip[3], self.height) - max(top, clip[1], 0.0)
        return wide * high / self.page if wide > 0 and high > 0 else 0.0


def counting(base: type[Any], cost: Cost) -> type[Any]:
    """A class of cairo contexts that tell a cost of whatever they are asked for."""

    class Counting(base):  # type: ignore[misc]
        def save(self) -> None:
            super().save()
            cost.clips.append(cost.clips[-1])

        def restore(self) -> None:
            super().restore()
            cost.clips.pop()

        def push_group(self) -> None:
            cost.begun()
            super().push_group()
            cost.clips.append(cost.clips[-1])

        def pop_group_to_source(self) -> None:
            super().pop_group_to_source()
            cost.clips.pop()
            cost.groups -= 1

        def clip(self) -> None:
            cost.clipped(self)
            super().clip()

        def fill(self) -> None:
            cost.drawn(self, stroke=False)
            super().fill()

        def fill_preserve(self) -> None:
            cost.drawn(self, stroke=False)
            super().fill_preserve()

        def stroke(self) -> None:
            cost.drawn(self, stroke=True)
            super().stroke()

        def paint(self) -> None:
            cost.painted(self)
            super().paint()

        def paint_with_alpha(self, alpha: float) -> None:
            cost.painted(self)
            super().paint_with_alpha(alpha)

    return Counting


def _of(source: Any) -> float:
    """Steps of a page of a paint; more with the stops that a gradient is looked up among."""
    engine = cairo()
    if isinstance(source, engine.SolidPattern):
        return WEIGH["area-plain"]
    stops = len(source.get_color_stops()) ** 2 / WEIGH["stops"] if isinstance(source, engine.Gradient) else 0
    return stops + WEIGH["area-radial" if isinstance(source, engine.RadialGradient) else "area-linear"]


def _line(context: Any, most: float) -> _Line:
    boxes: list[Box] = []
    long = straight = curved = area = 0.0
    here = start = (0.0, 0.0)
    for kind, points in context.copy_path():
        if not kind:
            here = start = points
            continue
        ends = points or start
        corners = [here, *zip(ends[::2], ends[1::2], strict=True)]
        xs, ys = zip(*corners, strict=True)
        boxes.append((min(xs), min(ys), max(xs), max(ys)))
        piece = 0.0
        for (x0, y0), (x1, y1) in itertools.pairwise(corners):
            piece += math.hypot(x1 - x0, y1 - y0)
            # All that a path runs round lies in the triangles over its pieces, from where it began.
            area += abs((x0 - start[0]) * (y1 - start[1]) - (x1 - start[0]) * (y0 - start[1])) / 2
        long += piece
        if len(corners) > 2:
            curved += min(piece, most)
        else:
            straight += min(piece, most)
        here = corners[-1]
    return _Line(boxes, long, straight, curved, area)


def _around(boxes: list[Box]) -> Box:
    lefts, tops, rights, bottoms = zip(*boxes, strict=True)
    return min(lefts), min(tops), max(rights), max(bottoms)


def _grown(box: Box, by: float) -> Box:
    return box[0] - by, box[1] - by, box[2] + by, box[3] + by


def _corners(context: Any, box: Box) -> Iterator[tuple[float, float]]:
    for x in box[::2]:
        for y in box[1::2]:
            yield context.user_to_device(x, y)


def _on_device(context: Any, box: Box) -> Box:
    xs, ys = zip(*_corners(context, box), strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def _stretch(context: Any) -> float:
    """How many times lengths grow from a path's own units to the drawing's, at most."""
    return max(math.hypot(*context.user_to_device_distance(1, 0)), math.hypot(*context.user_to_device_distance(0, 1)))


def _is_rectangle(line: _Line) -> bool:
    """Whether a path is an upright rectangle, or nothing, which costs a clip nothing."""
    flat = all(left == right or top == bottom for left, top, right, bottom in line.boxes)
    return flat and len(line.boxes) <= 5
