"""Round things among DXF entities, after whatever their blocks do to them."""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from ezdxf.lldxf.const import DXFError
from ezdxf.math import Vec2, Vec3, bulge_to_arc

from facegraphic.drill.dxf_space import Placed, Source, Told
from facegraphic.drill.rounds import Arc, Round, arc_through, circle_through, farthest, polygon_circle, radius, sane
from facegraphic.geometry.path import Point

CIRCLES = "draw holes as circles"
SLOT = "a face has round holes only: keep legends off it yourself, or add holes for it"
# What a closed line is that makes no circle, and whether that may have been meant as a hole.
OUTLINES = (
    ("a closed outline that is no circle, left out", False),
    ("a slot (a closed outline with two round ends), left out", True),
)
POLYGON = "a polygon of many sides, taken for a circle through its corners"
STEPS = 12  # points along an arc or between corners of a polyline
FULL = 2 * math.pi


class FarOut(Exception):
    """Figures that cannot be meant; the text says how far out they are."""


@dataclass(frozen=True)
class Found:
    circle: Round
    layer: str
    source: Source


@dataclass
class Shapes:
    """What was found so far: circles, arcs by layer with where each stands, and what was left out."""

    circles: list[Found] = field(default_factory=list)
    arcs: dict[str, list[tuple[Arc, Source]]] = field(default_factory=dict)
    told: Told = field(default_factory=dict)
    faults: list[tuple[str, Source]] = field(default_factory=list)

    def tell(self, what: str, mend: str, source: Source, lost: bool = True) -> None:
        self.told.setdefault((what, mend, lost), []).append(source)

    def take(self, placed: Placed) -> None:
        reader = READERS.get(placed.entity.dxftype())
        if reader is None:
            return
        try:
            reader(self, placed)
        except FarOut as error:
            self.faults.append((f"a {placed.entity.dxftype()} {error}", placed.source))
        except (DXFError, ValueError, TypeError, ArithmeticError, LookupError, AttributeError):
            # ezdxf lets entities through that miss figures, or have endless ones.
            self.faults.append((f"a {placed.entity.dxftype()} without sound figures", placed.source))

    def circle(self, placed: Placed) -> None:
        entity = placed.entity
        r = entity.dxf.radius
        if not (r > 0 and entity.dxf.hasattr("radius") and entity.dxf.hasattr("center")):
            raise ValueError("ezdxf would take 1 for a radius that is missing")
        ocs = entity.ocs()
        axes = (ocs.to_wcs(Vec3(r, 0, 0)), ocs.to_wcs(Vec3(0, r, 0)))
        self.round(placed, ocs.to_wcs(entity.dxf.center), *axes)

    def round(self, placed: Placed, centre: Vec3, u: Vec3, v: Vec3) -> None:
        """A whole circle or ellipse, by its middle and two radius vectors."""
        matrix = placed.matrix
        at = _flat(matrix.transform(centre))
        u2, v2 = (_flat(matrix.transform_direction(axis)) for axis in (u, v))
        if not sane(at, u2, v2):
            raise FarOut(farthest(at, u2, v2))
        r = radius(u2, v2)
        if r is None:
            self.tell("an ellipse, or a circle stretched or tilted to one, left out", CIRCLES, placed.source)
        else:
            self.circles.append(Found(Round(at, r), placed.layer, placed.source))

    def arc(self, placed: Placed) -> None:
        entity = placed.entity
        ocs, centre, r = entity.ocs(), entity.dxf.center, entity.dxf.radius
        if not (r > 0 and entity.dxf.hasattr("radius")):
            raise ValueError("no radius")
        start = math.radians(entity.dxf.start_angle)
        sweep = (math.radians(entity.dxf.end_angle) - start) % FULL
        if sweep < 1e-9:
            self.circle(placed)
            return
        turns = [start + sweep * step / STEPS for step in range(STEPS + 1)]
        points = [ocs.to_wcs(centre + Vec3(r * math.cos(turn), r * math.sin(turn), 0)) for turn in turns]
        self.bend(placed, self.points(placed, points))

    def ellipse(self, placed: Placed) -> None:
        entity = placed.entity
        start, end = entity.dxf.start_param, entity.dxf.end_param
        if (end - start) % FULL > 1e-6 and (start - end) % FULL > 1e-6:
            params = [start + ((end - start) % FULL) * step / STEPS for step in range(STEPS + 1)]
            self.bend(placed, self.points(placed, list(entity.vertices(params))))
            return
        self.round(placed, Vec3(entity.dxf.center), Vec3(entity.dxf.major_axis), Vec3(entity.minor_axis))

    def spline(self, placed: Placed) -> None:
        """Drawing programs write circles as splines, whole or in quarters."""
        points = self.points(placed, list(placed.entity.construction_tool().approximate(4 * STEPS)))
        self.ring(placed, points, closed=math.dist(points[0], points[-1]) < 1e-3, curved=True)

    def polyline(self, placed: Placed) -> None:
        entity = placed.entity
        light = entity.dxftype() == "LWPOLYLINE"
        if not light and not (entity.is_2d_polyline or entity.is_3d_polyline):
            return
        if light:
            # Plain floats: where those of NumPy overflow, it warns on stderr.
            corners = [(Vec2(x, y), float(bulge)) for x, y, bulge in entity.get_points("xyb")]
            height = entity.dxf.elevation
        else:
            corners = [(Vec2(v.dxf.location), v.dxf.get("bulge", 0.0)) for v in entity.vertices]
            height = 0.0
        closed = bool(entity.closed if light else entity.is_closed)
        if len(corners) < 2:
            return
        if corners[0][0].isclose(corners[-1][0]) and not closed:
            corners, closed = corners[:-1], True
        flat = _along(corners, closed, any(bulge for _, bulge in corners))
        ocs = entity.ocs()
        points = self.points(placed, [ocs.to_wcs(Vec3(x, y, height)) for x, y in flat])
        bulges = [bulge for _, bulge in corners]
        slot = sorted(abs(bulge) > 0.99 for bulge in bulges) == [0, 0, 1, 1]
        self.ring(placed, points, closed, any(bulges), OUTLINES[slot])

    def ring(
        self, placed: Placed, points: list[Point], closed: bool, curved: bool, outline: tuple[str, bool] = OUTLINES[0]
    ) -> None:
        """A line through points: a circle if it closes to one, else perhaps a part of one; else told as an outline."""
        if closed:
            found = circle_through(points) if curved else polygon_circle(points)
            if found is None:
                self.tell(outline[0], SLOT if outline[1] else CIRCLES, placed.source, outline[1])
                return
            self.circles.append(Found(found, placed.layer, placed.source))
            if not curved:
                self.tell(POLYGON, CIRCLES, placed.source, lost=False)
        elif curved:
            self.bend(placed, points, tell=False)

    def bend(self, placed: Placed, points: list[Point], tell: bool = True) -> None:
        """A line through points that may be a part of a circle."""
        arc = arc_through(points)
        if arc is not None:
            self.arcs.setdefault(placed.layer, []).append((arc, placed.source))
        elif tell:
            self.tell("an arc stretched out of round, left out", CIRCLES, placed.source)

    def points(self, placed: Placed, points: list[Vec3]) -> list[Point]:
        found = [_flat(point) for point in placed.matrix.transform_vertices(points)]
        if not sane(*found):
            raise FarOut(farthest(*found))
        return found

    def point(self, placed: Placed) -> None:
        self.tell("a point, which has no diameter, left out", CIRCLES, placed.source)


READERS: dict[str, Callable[[Shapes, Placed], None]] = {
    "CIRCLE": Shapes.circle,
    "ARC": Shapes.arc,
    "ELLIPSE": Shapes.ellipse,
    "SPLINE": Shapes.spline,
    "LWPOLYLINE": Shapes.polyline,
    "POLYLINE": Shapes.polyline,
    "POINT": Shapes.point,
}


def _flat(point: Any) -> Point:
    return (float(point[0]), float(point[1]))


def _along(corners: list[tuple[Vec2, float]], closed: bool, curved: bool) -> list[Point]:
    """Corners, and points on the arcs between them; in a curved line also on its straights: a flat side is no arc."""
    following = corners[1:] + corners[:1] if closed else corners[1:]
    points = [_flat(corners[0][0])]
    for (start, bulge), (end, _) in zip(corners, following, strict=False):
        if bulge and not start.isclose(end):
            centre, a, b, r = bulge_to_arc(start, end, bulge)
            sweep = (b - a) % FULL
            steps = [a + sweep * step / STEPS for step in range(1, STEPS)]
            if bulge < 0:
                steps.reverse()
            points += [(centre.x + r * math.cos(turn), centre.y + r * math.sin(turn)) for turn in steps]
        elif curved and not start.isclose(end):
            points.append(_flat(start.lerp(end)))
        points.append(_flat(end))
    return points[:-1] if closed else points
