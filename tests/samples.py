"""The example jobs: what their files say, read here afresh, and what the program makes of them, made once each."""

import csv
import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from facegraphic.job.load import load_job
from facegraphic.job.model import Face, Finish
from facegraphic.layout.face import Arranged, arrange, settle
from facegraphic.layout.model import FaceLayout
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare_job

FOLDER = Path(__file__).parents[1] / "examples"
JOBS = tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))
WAYS = (False, True)
DPI = 300


@dataclass(frozen=True)
class Made:
    """Files by name, with the report read."""

    files: dict[str, bytes]
    report: dict[str, Any]

    def outputs(self, kind: str, ending: str) -> list[dict[str, Any]]:
        return [o for o in self.report["outputs"] if o["kind"] == kind and o["file"].endswith("." + ending)]

    def face(self, side: str) -> dict[str, Any]:
        return next(face for face in self.report["faces"] if face["side"] == side)


@cache
def made(name: str, dpi: int, mirrored: bool | None, formats: str = "svg,png,pdf", kinds: str = "art,sheet") -> Made:
    """Every file of an example; each call with the same arguments is worked out once in a process."""
    return made_at(FOLDER / f"{name}.toml", dpi, mirrored, formats, kinds)


def made_at(path: Path, dpi: int, mirrored: bool | None, formats: str, kinds: str) -> Made:
    """Every file of a job, wherever it is."""
    wishes = Wishes(tuple(formats.split(",")), tuple(kinds.split(",")), dpi, mirrored)
    return made_of(prepared_once(path, wishes), wishes)


PLACED: list[tuple[tuple[Face, Finish, dict[str, str]], Arranged]] = []


def prepared_once(path: Path, wishes: Wishes) -> Prepared:
    """A job prepared as `prepare` does it, but for faces that were placed before: to place labels takes longest.

    Neither a print's dpi nor its way round has a part in that, which tests/test_repeatable.py holds.
    """
    return prepare_job(load_job(path), wishes, _place)


def _place(face: Face, finish: Finish, earlier: Mapping[str, str] | None = None) -> FaceLayout:
    key = (face, replace(finish, dpi=DPI, mirrored=False), dict(earlier or {}))
    found = next((arranged for known, arranged in PLACED if known == key), None)
    if found is None:
        found = arrange(*key)
        PLACED[:] = [(key, found), *PLACED[:39]]
    return settle(found, face, finish)


def made_of(prepared: Prepared, wishes: Wishes) -> Made:
    """Every file of a job that has been prepared for the same wishes."""
    files = make(prepared, wishes)
    return Made(files, json.loads(files["report.json"]))


@cache
def job_data(name: str) -> dict[str, Any]:
    """A job file as plain data."""
    return tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class PlainHole:
    id: str
    x: float
    y: float
    d: float


def job_holes(name: str, side: str) -> list[PlainHole]:
    """The holes of a face from the job and its CSV file alone; only figures round the centre are understood."""
    face = job_face(name, side)
    if face.get("origin", "centre") != "centre" or face.get("y", "up") != "up":
        raise ValueError("this reader knows figures round the centre, y up, only")
    if "drill" in face:
        with (FOLDER / face["drill"]).open(encoding="utf-8", newline="") as file:
            return [PlainHole(r["id"], float(r["x"]), float(r["y"]), float(r["d"])) for r in csv.DictReader(file)]
    return [PlainHole(h["id"], float(h["at"][0]), float(h["at"][1]), float(h["d"])) for h in face["hole"]]


def job_face(name: str, side: str) -> dict[str, Any]:
    face: dict[str, Any] = next(face for face in job_data(name)["face"] if face["side"] == side)
    return face


def sides(name: str) -> list[str]:
    return [face["side"] for face in job_data(name)["face"]]


def marks_on_sheet(piece: dict[str, Any], job: str, mirrored: bool) -> list[tuple[float, float]]:
    """Where the marks of a packed face's holes must be, in mm right and down from the paper's upper left corner."""
    places = []
    for hole in job_holes(job, piece["side"]):
        x, y = (-hole.x if mirrored else hole.x), hole.y
        right, up = (-y, x) if piece["turned"] else (x, y)  # a quarter turn to the left
        places.append((piece["x"] + right, piece["y"] - up))
    return places
