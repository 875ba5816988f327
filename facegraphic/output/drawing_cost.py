"""What drawing an SVG costs, counted in steps while it is recorded: what cairo is asked for, and not what is written.

How a drawing's units, styles, viewports and uses are meant is CairoSVG's to say; here only what comes of them is seen,
as large as it is on the drawing. Steps and their weights: stock/limits.toml.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from facegraphic.errors import Problem, UserError
from facegraphic.job.drawing_weight import CROSSINGS, crossings
from facegraphic.job.drawn import MOST_WORK, Spot, Work
from facegraphic.output.cairo_paths import Box, Line, all_around, clip_boxes, is_rectangle, line_of, on_device, stretch
from facegraphic.output.engine import cairo
from facegraphic.stock.limits import step

FEW = 20  # steps that need not be counted more nearly
MEND = {
    "painted area": "have fewer large shapes over each other, and fewer large gradients with fewer stops",
    "long lines": "have fewer of them across the page",
    "strokes that overlap": "make them thinner, or their paths of fewer, longer pieces",
    "dashes": "make them longer",
    "clip paths": "have fewer shapes cut by them, or simpler ones",
    "groups with an opacity": "give it to their shapes, or flatten them",
}
KINDS = tuple(MEND)
PAINT, CLIP, GROUP = KINDS.index("painted area"), KINDS.index("clip paths"), KINDS.index("groups with an opacity")


class _Clips(NamedTuple):
    """The clips in force: how many that are no rectangles, the boxes of all their pieces on the drawing, the points
    that they come to, and how many of their pieces cross.
    """

    many: int = 0
    boxes: tuple[Box, ...] = ()
    points: int = 0
    crossed: int = 0


class _Painted(NamedTuple):
    """One thing painted: its kind, its box on the drawing, the most that it covers of that, and steps a usual face."""

    kind: int
    box: Box
    covered: float
    weight: float


@dataclass
class Cost:
    """What one drawing of some width and height comes to: `read` before it is drawn, by kind whatever its size is, and
    all that is painted, which counts by its area where it is drawn.
    """

    name: str
    width: float = 1.0
    height: float = 1.0
    read: int = 0
    steps: dict[str, float] = field(default_factory=lambda: dict.fromkeys(MEND, 0.0))
    painted: list[_Painted] = field(default_factory=list)
    clips: list[_Clips] = field(default_factory=lambda: [_Clips()])
    groups: list[Box | None] = field(default_factory=list)  # what each open one holds so far
    group: Box | None = None  # what the last one held that was closed

    @property
    def side(self) -> float:
        """How long the side of a square is that is as large as the drawing."""
        return math.sqrt(self.width * self.height)

    def work(self, spot: Spot) -> Work:
        """The steps of the drawing in a place."""
        drawn = self._drawn(spot)
        by_kind = {kind: self.steps[kind] + drawn[number] for number, kind in enumerate(KINDS)}
        most = max(by_kind, key=lambda kind: by_kind[kind])
        fixed = self.read + sum(self.steps.values())
        return Work(int(min(fixed, 1e12)), int(min(drawn.sum(), 1e12)), most, MEND[most])

    def _drawn(self, spot: Spot) -> NDArray[np.float64]:
        """Steps by kind of all that is painted in a place, as far as it is seen."""
        if not self.painted:
            return np.zeros(len(KINDS))
        boxes = np.array([one.box for one in self.painted])
        across = np.array([self.width, self.height] * 2)
        seen = np.array(spot.seen) * across
        size = np.minimum(boxes[:, 2:], seen[2:]) - np.maximum(boxes[:, :2], seen[:2])
        area = np.minimum(size.clip(0).prod(axis=1), [one.covered for one in self.painted])
        weights = area / (self.width * self.height) * spot.faces * [one.weight for one in self.painted]
        return np.bincount([one.kind for one in self.painted], weights, len(KINDS)).astype(np.float64)

    def add(self, kind: str, steps: float) -> None:
        """Count some steps. UserError once there are more than are taken anywhere."""
        self.steps[kind] += steps if steps == steps else math.inf
        if self.read + sum(self.steps.values()) > MOST_WORK:
            worst = self.work(Spot()).most
            what = "the artwork holds more than can be drawn: "
            what += f"it comes to over {MOST_WORK} steps, most of it by its {worst}"
            raise UserError(Problem(what, MEND[worst], self.name))

    def drawn(self, context: Any, stroke: bool) -> None:
        """Count what a path costs that is about to be filled or stroked."""
        source = context.get_source()
        if isinstance(source, cairo().SolidPattern) and source.get_rgba()[3] == 0:
            return
        longest, times = stretch(context)
        line = line_of(context, math.hypot(self.width, self.height) / longest if longest else 0.0)
        if not line.boxes:
            return
        covered, reach = line.area, 0.0
        if stroke:
            wide = context.get_line_width()
            covered, reach = _stroke(context, line, wide)
            self._stroked(context, line, wide * longest / self.side)
        box = self._seen(context, all_around(line.boxes, reach))
        if box is None:
            return
        self._paint(PAINT, box, covered * times, _of(source))
        self.add("long lines", (step("curves") * line.curved + step("lines") * line.straight) * longest / self.side)
        self._clipped(box)

    def _paint(self, kind: int, box: Box, covered: float, weight: float) -> None:
        deep = 1 + step("deep") * len(self.groups) / 100
        self.painted.append(_Painted(kind, box, covered, weight * deep))
        if self.groups:
            self.groups[-1] = _both(self.groups[-1], box)

    def _stroked(self, context: Any, line: Line, share: float) -> None:
        """Strokes that overlap themselves, and dashes, wherever they lie: cairo makes them before it looks.

        `share` is how wide they are beside the drawing's side.
        """
        wide = context.get_line_width()
        dashes = context.get_dash()[0]
        period = 2 * sum(dashes) / len(dashes) if dashes else 0.0
        dense = 1 + wide / period if period else 1.0
        if period:
            self.add("dashes", line.long / period * dense / step("dashes"))
        # Pieces that are longer than the stroke is wide were counted where they cross, when the drawing was read.
        short = sum(max(box[2] - box[0], box[3] - box[1]) < wide for box in line.boxes) / len(line.boxes)
        most = len(line.boxes) ** 2 / 2
        times = (short + dense * dense - 1) / CROSSINGS
        met = crossings(line.boxes, wide / 2, 0) if most * times > FEW else most
        self.add("strokes that overlap", met * times + len(line.boxes) * _corners(context, share))

    def filled(self, context: Any) -> None:
        """Count what is painted all over the clip: a group that has been closed, or else whatever is the source."""
        source = context.get_source()
        is_group = isinstance(source, cairo().SurfacePattern)
        box = self.group if is_group else self._seen(context, context.clip_extents())
        if box:
            self._paint(GROUP if is_group else PAINT, box, math.inf, step("area-group") if is_group else _of(source))
            self._clipped(box)

    def clipped(self, context: Any) -> None:
        """Count a clip among those in force."""
        boxes, points = clip_boxes(context)
        if not is_rectangle(boxes):
            before = self.clips[-1]
            together = (*before.boxes, *boxes)
            crossed = crossings(list(together), 0.0, 0) if len(together) > 1 else 0
            self.clips[-1] = _Clips(before.many + 1, together, before.points + points, crossed)

    def _clipped(self, box: Box) -> None:
        """The clips in force are applied anew to all that is drawn, and written again for it by SVG and PDF."""
        clips = self.clips[-1]
        if clips.many:
            self.add("clip paths", clips.points / step("clip") + clips.crossed / CROSSINGS)
            weight = clips.many * step("clip-area") + clips.points / step("clip-points")
            self._paint(CLIP, box, math.inf, weight)

    def begun(self) -> None:
        """A group: all in it is drawn apart, and again for each group about it."""
        self.groups.append(None)
        self.clips.append(self.clips[-1])
        self.add("groups with an opacity", step("group") * len(self.groups))

    def ended(self) -> None:
        self.clips.pop()
        self.group = self.groups.pop()

    def _seen(self, context: Any, box: Box) -> Box | None:
        """What of a box lies on the drawing and in the clip, in the drawing's units; None for nothing."""
        corners = (on_device(context, box), on_device(context, context.clip_extents()), (0, 0, self.width, self.height))
        x0, y0, x1, y1 = (
            side(part) for side, part in zip((max, max, min, min), zip(*corners, strict=True), strict=True)
        )
        if not all(map(math.isfinite, (x0, y0, x1, y1))):
            return (0.0, 0.0, self.width, self.height)
        return (x0, y0, x1, y1) if x0 < x1 and y0 < y1 else None


def _both(one: Box | None, other: Box) -> Box:
    if one is None:
        return other
    return min(one[0], other[0]), min(one[1], other[1]), max(one[2], other[2]), max(one[3], other[3])


def _of(source: Any) -> float:
    """Steps of a usual face of a paint; more with the stops that a gradient is looked up among."""
    engine = cairo()
    if not isinstance(source, engine.Gradient):
        return step("area-plain") if isinstance(source, engine.SolidPattern) else step("area-linear")
    area = step("area-radial" if isinstance(source, engine.RadialGradient) else "area-linear")
    stops = len(source.get_color_stops())
    steps = area + stops * stops / step("stops")
    if source.get_extend() in (engine.EXTEND_REPEAT, engine.EXTEND_REFLECT):
        steps += area * step("again-area") / 100 + stops * step("again-stop")
    return steps


def _stroke(context: Any, line: Line, wide: float) -> tuple[float, float]:
    """The most that a stroke covers, and how far it may reach from its path: by its caps, and the tips of its joins."""
    many = len(line.boxes)
    pointed = many > 1 and context.get_line_join() == cairo().LINE_JOIN_MITER
    tip = max(2.0, context.get_miter_limit() if pointed else 0.0)  # a square cap reaches less than a tip of 2
    return wide * line.long + wide * wide * (many + 1) * tip / 2, wide / 2 * tip


def _corners(context: Any, share: float) -> float:
    """Steps of a round join or cap, which has the more corners the wider it is.

    `share` is how wide the stroke is beside the drawing's side.
    """
    engine = cairo()
    joins, caps = context.get_line_join(), context.get_line_cap()
    is_round = joins == engine.LINE_JOIN_ROUND or caps == engine.LINE_CAP_ROUND
    return step("rounds") * math.sqrt(share) if is_round else 0.0


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

        def pop_group_to_source(self) -> None:
            super().pop_group_to_source()
            cost.ended()

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
            cost.filled(self)
            super().paint()

        def paint_with_alpha(self, alpha: float) -> None:
            cost.filled(self)
            super().paint_with_alpha(alpha)

    for name in _uncounted():
        setattr(Counting, name, _refusing(name))
    return Counting


def _uncounted() -> Iterator[str]:
    """What CairoSVG asks for only by elements that no checked drawing has: it must not slip in unweighed."""
    yield from ("mask", "mask_surface", "show_text", "show_glyphs", "text_path", "stroke_preserve", "clip_preserve")
    yield from ("push_group_with_content", "pop_group", "set_source_surface", "show_page", "copy_page")


def _refusing(name: str) -> Any:
    def refuse(*_: Any) -> None:
        raise ValueError(f"it asks for {name}, which nothing weighs")

    return refuse
