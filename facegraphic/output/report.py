"""``report.json``: what was made of a job, for other programs. Lengths are mm, never mirrored."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from facegraphic import __version__
from facegraphic.drill.measured import fit_record
from facegraphic.errors import Finding
from facegraphic.job.model import Job, Printer
from facegraphic.layout.model import FaceLayout, Legend


@dataclass(frozen=True)
class Output:
    """A file that was written.

    `size_mm` is for pages, `size_px` is for rasters, `centre_px` (where the face centre falls) for those of one face.
    """

    file: str
    kind: str
    side: str | None
    mirrored: bool
    dpi: int | None
    size_mm: tuple[float, float] | None
    size_px: tuple[int, int] | None = None
    centre_px: tuple[float, float] | None = None


def report(job: Job, layouts: Sequence[FaceLayout], outputs: Sequence[Output], findings: Sequence[Finding]) -> str:
    """The report as JSON text, keys in a fixed order."""
    data = {
        "facegraphic": __version__,
        "job": job.file,
        "title": job.title,
        "process": job.finish.film.name,
        "mirrored": job.finish.mirrored,
        "box": {"name": job.box.name, "size": list(job.box.size), "lies": [_r(job.across), _r(job.deep)]},
        "printer": _printer(job.printer) if job.printer else None,
        "faces": [_face(layout) for layout in layouts],
        "outputs": [_output(output) for output in outputs],
        "findings": [finding_record(finding) for finding in findings],
    }
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def _printer(printer: Printer) -> dict[str, Any]:
    """What every file is scaled by, across and up; an output's `size_mm` and pixels are those of the scaled file."""
    return {
        "name": printer.name,
        "measured": [printer.across, printer.up],
        "scale": [round(factor, 8) for factor in printer.scale],
    }


def finding_record(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": finding.severity,
        "side": finding.side or None,
        "at": [_r(length) for length in finding.at] if finding.at else None,
        "message": finding.message,
        "remedy": finding.remedy,
    }


def _face(layout: FaceLayout) -> dict[str, Any]:
    return {
        "side": layout.face.side,
        "size": [_r(length) for length in layout.face.outline.size],
        "holes": [
            {
                "id": placed.hole.id,
                "x": _r(placed.hole.x),
                "y": _r(placed.hole.y),
                "d": _r(placed.hole.d),
                "planned": [_r(length) for length in placed.hole.planned] if placed.hole.planned else None,
                "part": placed.part,
                "cover": _r(placed.cover),
            }
            for placed in layout.holes
        ],
        "measured": fit_record(layout.face.fit) if layout.face.fit else None,
        "legends": [_legend(legend) for legend in layout.legends],
        "layout": {"cost": _r(layout.proof.cost), "proved": layout.proof.proved} if layout.proof else None,
    }


def _legend(legend: Legend) -> dict[str, Any]:
    x, y = legend.box.centre
    return {
        "text": legend.text,
        "hole": legend.hole,
        "role": legend.role,
        "place": legend.place,
        "x": _r(x),
        "y": _r(y),
        "w": _r(legend.box.width),
        "h": _r(legend.box.height),
        "angle": legend.angle,
        "cap": _r(legend.block.cap),
    }


def _output(output: Output) -> dict[str, Any]:
    record: dict[str, Any] = {
        "file": output.file,
        "kind": output.kind,
        "side": output.side,
        "mirrored": output.mirrored,
        "dpi": output.dpi,
    }
    if output.size_mm:
        record["size_mm"] = [_r(length) for length in output.size_mm]
    if output.size_px:
        record["size_px"] = list(output.size_px)
    if output.centre_px:
        record["centre_px"] = list(output.centre_px)
    return record


def _r(value: float) -> float:
    """A length to the micron and no minus zero."""
    return round(value, 4) + 0.0
