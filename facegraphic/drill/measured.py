"""Measured holes beside planned ones: laid on each other, told as a table for people and as records for programs."""

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any, Protocol

import numpy as np

from facegraphic.drill.fit import Fit, Spot, Terms, fit_holes
from facegraphic.drill.similarity import Similarity, best_similarity
from facegraphic.units import format_number

COLUMNS = ("id", "x", "y", "d", "roundness", "ux", "uy", "ud")

FAR = 2.5  # mm: half of what a hole may be off and still be taken for the same


class Row(Protocol):
    """A measured hole: figures in mm."""

    @property
    def id(self) -> str: ...
    @property
    def x(self) -> float: ...
    @property
    def y(self) -> float: ...
    @property
    def d(self) -> float: ...


def spots(rows: Iterable[Row]) -> list[Spot]:
    return [Spot(row.id, row.x, row.y, row.d) for row in rows]


def lay(planned: Sequence[Spot], measured: Sequence[Spot], free: bool = False) -> Fit | None:
    """Measured holes on planned ones, both round the face's centre: as measured, but for quarter turns and mirroring.

    With `free` they may lie anywhere, for measurements that know nothing of the face's outline. None when fewer than
    two agree, or fewer than half of what could, or most are so far off that it may be chance.
    """
    fit = fit_holes(planned, measured, Terms(in_place=not free))
    could = min(len(planned), len(measured))
    if fit is None or len(fit.pairs) < min(2, could) or 2 * len(fit.pairs) < could:
        return None
    distances = sorted(pair.distance for pair in fit.pairs)
    return fit if distances[len(distances) // 2] <= FAR else None


def best_fit(fit: Fit) -> Similarity:
    """The similarity between the pairs that are not out of place: what it would take to lie best."""

    good = [pair for pair in fit.pairs if not pair.outlier] or list(fit.pairs)
    source = np.array([(pair.planned.x, pair.planned.y) for pair in good])
    target = np.array([(pair.measured.x, pair.measured.y) for pair in good])
    return best_similarity(source, target, None, len(good) > 2, fit.mirrored)


def as_table(holes: Iterable[Any]) -> str:
    """Holes as CSV in mm, measured ones to the micron; a job's drill table can be read from it."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    holes = list(holes)
    measured = all(hasattr(hole, "ux") for hole in holes)
    columns, places = (COLUMNS, 3) if measured and holes else (COLUMNS[:4], 4)
    writer.writerow(columns)
    for hole in holes:
        writer.writerow([hole.id, *(format_number(getattr(hole, name), places) for name in columns[1:])])
    return out.getvalue()


def as_records(holes: Iterable[Any]) -> list[dict[str, Any]]:
    """The same for JSON."""
    return [
        {name: hole.id if name == "id" else round(getattr(hole, name), 4) for name in COLUMNS if hasattr(hole, name)}
        for hole in holes
    ]


def fit_record(fit: Fit) -> dict[str, Any]:
    """A fit for JSON; `off` is from planned to measured on the face, `at` the measured place there."""
    best = best_fit(fit)
    return {
        "mirrored": fit.mirrored,
        "turned": fit.turned,
        "ambiguous": list(fit.ambiguous),
        "lean": round(_lean(best), 4),
        "scale": round(best.scale, 6),
        "shift": [round(length, 4) + 0.0 for length in best.shift],
        "rms": round(fit.rms, 4),
        "holes": [
            {
                "id": pair.planned.id,
                "measured": pair.measured.id,
                "planned": [pair.planned.x, pair.planned.y, pair.planned.d],
                "at": [round(length, 4) + 0.0 for length in pair.back],
                "off": [round(length, 4) + 0.0 for length in pair.off],
                "distance": round(pair.distance, 4),
                "d": round(pair.measured.d, 4),
                "outlier": pair.outlier,
            }
            for pair in fit.pairs
        ],
        "missing": [spot.id for spot in fit.missing],
        "extra": [spot.id for spot in fit.extra],
    }


def fit_lines(fit: Fit) -> list[str]:
    """A fit for people: a line a hole, then what is amiss, then how the holes lie as a whole."""
    lines = [
        f"{'hole':<12} {'measured':<9} {'x':>8} {'y':>8} {'d':>7} {'off x':>7} {'off y':>7} {'off':>6} {'d off':>6}"
    ]
    for pair in fit.pairs:
        figures = (*pair.back, pair.measured.d, *pair.off, pair.distance, pair.measured.d - pair.planned.d)
        widths = (8, 8, 7, 7, 7, 6, 6)
        cells = " ".join(f"{figure + 0.0:>{width}.2f}" for figure, width in zip(figures, widths, strict=True))
        mark = "  out of place" if pair.outlier else ""
        lines.append(f"{pair.planned.id:<12} {pair.measured.id:<9} {cells}{mark}".replace("-0.00", " 0.00"))
    lines += [f"{spot.id:<12} not found; planned at {spot.x:.2f}, {spot.y:.2f}" for spot in fit.missing]
    lines += [f"{'':<12} {spot.id:<9} not planned; {spot.d:.2f} mm across" for spot in fit.extra]
    best = best_fit(fit)
    x, y = best.shift
    lies = [f"turned by {fit.turned}° against the clock" if fit.turned else "", "mirrored" if fit.mirrored else ""]
    lines.append(f"as measured: {', '.join(filter(None, lies)) or 'neither turned nor mirrored'}; {fit.rms:.2f} mm rms")
    lean = f"lean {_lean(best):.2f}°" if len(fit.pairs) > 1 else "lean not known"
    lines.append(f"best fit: scale {best.scale:.4f}, {lean}, shift {x:.2f}, {y:.2f} mm".replace("-0.00", "0.00"))
    if fit.ambiguous:
        lines.append(f"as good: {', '.join(fit.ambiguous)}")
    return lines


def _lean(motion: Similarity) -> float:
    return (motion.angle + 45) % 90 - 45
