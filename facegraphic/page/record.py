"""The state of a job as the page is told it: JSON-ready records. Lengths are mm, y up, but for the outlines' paths."""

import re
from pathlib import Path
from typing import Any

from fontTools.misc.transform import Transform

from facegraphic.film.gang import Gang
from facegraphic.job.model import Job
from facegraphic.layout.model import FaceLayout, Legend, PlacedHole
from facegraphic.masks.cut import body_paint
from facegraphic.output.made import kept_json
from facegraphic.output.report import finding_record, sheet_records
from facegraphic.page.answers import problem_record
from facegraphic.page.bench import Bench
from facegraphic.page.state import Shown, State
from facegraphic.preview.packed import worn
from facegraphic.preview.tones import material
from facegraphic.stock.tables import films, papers
from facegraphic.units import format_number

_PLAIN = re.compile(r"[A-Za-z0-9_][A-Za-z0-9_.-]*")  # of all files that are made
_DOWN = Transform(1, 0, 0, -1, 0, 0)


def jobs_record(benches: tuple[Bench, ...], read_only: bool) -> dict[str, Any]:
    return {"jobs": [_job(bench) for bench in benches], "read_only": read_only}


def _job(bench: Bench) -> dict[str, Any]:
    shown = bench.state.shown
    title = shown.prepared.job.title if shown else ""
    return {"name": bench.name, "title": title or bench.name, "ok": shown is not None and not bench.state.problems}


def state_record(bench: Bench, state: State) -> dict[str, Any]:
    """All that the page shows of a job, but for its pictures."""
    shown, judged = state.shown, state.judged
    job = shown.prepared.job if shown else None
    return {
        "name": bench.name,
        "file": bench.path.name,
        "title": (job.title if job else "") or bench.name,
        "version": state.version,
        "error": [problem_record(problem) for problem in state.problems] or None,
        "settings": _settings(job) if job else None,
        "choices": _choices(),
        "can_undo": bool(state.history.past) and not state.problems,
        "can_redo": bool(state.history.future) and not state.problems,
        "faces": [_face(layout, shown) for layout in shown.prepared.layouts] if shown else [],
        "findings": [{**finding_record(found), "index": n} for n, found in enumerate(judged.findings)],
        "findings_version": judged.version,
        "model": f"model?v={shown.body}" if shown else None,
        "preview": f"preview.png?v={shown.newest}" if shown else None,
        "coats": len(job.coats) if job else 0,
        "shells": _shells(job) if job else [],
        "sheets": [record for gang in judged.gangs for record in _sheets(gang, judged.version)],
        "outputs": outputs(bench.folder),
    }


def _settings(job: Job) -> dict[str, str]:
    finish = job.finish
    return {"paint": job.paint, "ink": finish.ink, "process": finish.film.name, "paper": job.sheet.paper.name}


def _choices() -> dict[str, Any]:
    return {
        "process": [{"name": film.name, "title": film.title} for film in films().values()],
        "paper": list(papers()),
    }


def _shells(job: Job) -> list[dict[str, Any]]:
    """What the box's edges and bare sides wear after each coat, the bare box first; nothing without coats."""
    steps = range(len(job.coats) + 1) if job.coats else ()
    return [worn(material("paint", body_paint(job, number))) for number in steps]


def _face(layout: FaceLayout, shown: Shown) -> dict[str, Any]:
    face = layout.face
    nudges = {control.hole: control.nudge for control in face.controls}
    return {
        "side": face.side,
        "size": [_r(length) for length in face.outline.size],
        "outline": face.outline.path.transformed(_DOWN).to_d(lambda value: format_number(value, 3)),
        "picture": f"face/{face.side}.png?v={shown.stamps[face.side]}",
        "legends": [_legend(legend, nudges.get(legend.hole or "", (0.0, 0.0))) for legend in layout.legends],
        "holes": [_hole(placed) for placed in layout.holes],
    }


def _legend(legend: Legend, nudge: tuple[float, float]) -> dict[str, Any]:
    """A legend; the key is what a nudge of it names it by, null for what cannot be nudged."""
    x, y = legend.box.centre
    own = legend.role == "label" and legend.hole is not None
    return {
        "key": f"control:{legend.hole}" if own else None,
        "text": legend.text,
        "hole": legend.hole,
        "role": legend.role,
        "x": _r(x),
        "y": _r(y),
        "w": _r(legend.box.width),
        "h": _r(legend.box.height),
        "angle": legend.angle,
        "nudge": [_r(length) for length in nudge] if own else [0.0, 0.0],
    }


def _hole(placed: PlacedHole) -> dict[str, Any]:
    hole = placed.hole
    return {
        "id": hole.id,
        "x": _r(hole.x),
        "y": _r(hole.y),
        "d": _r(hole.d),
        "cover": _r(placed.cover),
        "part": placed.part,
    }


def _sheets(gang: Gang, version: int) -> list[dict[str, Any]]:
    """Sheets as the report has them, with their pictures."""
    return [
        {
            **record,
            "file": record["sheet"],
            "picture": f"sheet/{number}.png?v={version}",
            "used_mm2": round(record["film_cm2"] * 100, 1),
            "size": list(gang.sheet.paper.size),
        }
        for number, record in enumerate(sheet_records(gang))
    ]


def outputs(folder: Path) -> list[dict[str, str]]:
    """The files of the last make that are still there, as its report names them."""
    try:
        named = [str(output["file"]) for output in kept_json(folder / "report.json")["outputs"]]
    except (KeyError, TypeError):
        return []
    there = [name for name in (*named, "report.json") if made_file(folder, name)]
    return [{"file": name, "href": f"made/{name}"} for name in dict.fromkeys(there)]


def made_file(folder: Path, name: str) -> Path | None:
    """A file right in a folder, by its plain name; None for anything else, and for links that lead elsewhere."""
    if not _PLAIN.fullmatch(name):
        return None
    path = folder / name
    try:
        inside = path.resolve().is_relative_to(folder.resolve()) and not folder.is_symlink()
        return path if inside and path.is_file() else None
    except OSError:
        return None


def _r(value: float) -> float:
    """A length to the micron and no minus zero."""
    return round(value, 4) + 0.0
