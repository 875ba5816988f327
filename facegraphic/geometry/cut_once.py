"""Edges that several shapes share, cut once: a knife that runs twice along one line tears the film or lifts it."""

from collections.abc import Iterable, Sequence

import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import linemerge, nearest_points, unary_union

from facegraphic.geometry.arcs import contours
from facegraphic.geometry.fit_curves import fitted_line
from facegraphic.geometry.path import FLATNESS_MM, Path

REACH_MM = 0.05  # lines nearer than this are one cut; twice what fits may stray, and less than a knife is thick
LEAST = 10.0  # times the reach: shorter runs side by side are crossings


def cut_once(paths: Sequence[Path], reach: float = REACH_MM) -> list[Path]:
    """Contours of paths (mm) with what runs along an earlier one left out.

    Contours without a shared edge come back as they were. Of the others the rest is open lines (no "Z") whose ends
    touch the cut that they had in common, curves fitted again.

    :param reach: how near two lines must run, mm, to count as one
    """
    kept: list[Path] = []
    lines: list[LineString] = []
    for contour in (contour for path in paths for contour in contours(path)):
        for ring in contour.rings(FLATNESS_MM):
            line = LineString([*ring, ring[0]])
            doubled = _doubled(line, lines, reach)
            if doubled.is_empty:
                kept.append(contour)
                lines.append(line)
                continue
            rest = _parts(line.difference(doubled))
            joined = [_extended(part, lines, reach) for part in rest if part.length > 2 * reach]
            kept += [fitted_line(part) for part in joined]
            lines += joined
    return kept


def _doubled(line: LineString, others: Iterable[LineString], reach: float) -> BaseGeometry:
    """The strip along a line where others run beside it."""
    near = [other for other in others if other.distance(line) <= reach]
    beside = line.intersection(unary_union(near).buffer(reach)) if near else LineString()
    runs = [run for run in _parts(beside) if run.length > LEAST * reach]
    return unary_union([run.buffer(reach / 2, cap_style="flat") for run in runs])


def _parts(lines: BaseGeometry) -> list[LineString]:
    """The lines of any geometry, those that meet end to end as one."""
    found = [part for part in shapely.get_parts(lines) if isinstance(part, LineString) and not part.is_empty]
    return list(shapely.get_parts(linemerge(found))) if found else []


def _extended(line: LineString, others: Sequence[LineString], reach: float) -> LineString:
    """A line whose ends touch the nearest of the others, where those are near."""
    points = list(line.coords)
    ends = []
    for end in (Point(points[0]), Point(points[-1])):
        near = [nearest_points(other, end)[0] for other in others if other.distance(end) < 4 * reach]
        ends.append([min(near, key=end.distance).coords[0]] if near else [])
    return LineString([*ends[0], *points, *ends[1]])
