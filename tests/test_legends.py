"""No legend touches a hole, a cover, the margin or another legend: on the outlines as they stand in the SVG."""

import re
from pathlib import Path
from typing import Any

import pytest
import shapely
from helpers.jobs import good, lay
from helpers.runs import run_here
from samples import FOLDER, JOBS, Made, job_face, made, sides
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry
from svgelements import Path as SvgPath
from svgelements import Point

from facegraphic.stock.tables import parts


def outlines(work: Made, side: str) -> dict[str, BaseGeometry]:
    """Every legend's filled area by id, in face millimetres, read from the SVG by svgelements."""
    svg = work.files[f"{side}-art.svg"].decode("utf-8")
    group = re.search(rf'<g id="{side}-legends">(.*?)</g>', svg, re.DOTALL)
    assert group
    width, height = work.outputs("art", "svg")[sides_of(work).index(side)]["size_mm"]
    found = {}
    for tag in re.findall(r"<path [^>]*>", group[1]):
        id, data = (re.search(rf' {key}="([^"]*)"', tag) for key in ("id", "d"))
        assert id and data
        found[id[1]] = area(data[1], width, height)
    return found


def sides_of(work: Made) -> list[str]:
    return [output["side"] for output in work.outputs("art", "svg")]


def area(data: str, width: float, height: float) -> BaseGeometry:
    """A path's contours as their union: counters are filled, which makes the test the stricter."""
    rings = []
    for part in SvgPath(data).as_subpaths():
        points = [p for segment in SvgPath(part) for p in segment_points(segment)]
        ring = [(p.x - width / 2, height / 2 - p.y) for p in points]
        if len(ring) > 2:
            rings.append(shapely.Polygon(ring).buffer(0))
    return shapely.union_all(rings)


def segment_points(segment: Any) -> list[Point]:
    if type(segment).__name__ == "CubicBezier":
        return [segment.point(i / 12) for i in range(1, 13)]
    return [segment.end] if segment.end is not None else []


def covers(work: Made, job: str, side: str) -> list[BaseGeometry]:
    """What parts and knobs hide, from the report's covers and the toggles' swing in the stock table."""
    found = []
    for hole in work.face(side)["holes"]:
        found.append(shapely.Point(hole["x"], hole["y"]).buffer(hole["cover"] / 2))
        swing = parts()[hole["part"]].swing if hole["part"] else 0
        if swing:
            line = shapely.LineString([(hole["x"], hole["y"] - swing), (hole["x"], hole["y"] + swing)])
            found.append(line.buffer(1.5))
    return found


def faults(work: Made, job: str, side: str, margin: float = 2.5) -> list[str]:
    """What is wrong with the legends of a face."""
    legends = outlines(work, side)
    hidden = covers(work, job, side)
    width, height = work.face(side)["size"]
    inside = shapely.box(-width / 2, -height / 2, width / 2, height / 2).buffer(-margin)
    wrong = [f"{id} is hidden" for id, own in legends.items() if any(own.intersects(cover) for cover in hidden)]
    wrong += [f"{id} is over the margin" for id, own in legends.items() if not inside.contains(own)]
    names = sorted(legends)
    wrong += [f"{a} meets {b}" for i, a in enumerate(names) for b in names[:i] if legends[a].distance(legends[b]) < 0.1]
    return wrong


@pytest.mark.parametrize("job", JOBS)
def test_legends_stand_clear(job: str) -> None:
    work = made(job, 300, False)
    for side in sides(job):
        assert len(outlines(work, side)) == len(work.face(side)["legends"]) > 0
        assert faults(work, job, side) == []


@pytest.mark.parametrize("job", JOBS)
def test_legends_stand_clear_of_scales_and_frames(job: str) -> None:
    work = made(job, 300, False)
    for side in sides(job):
        marks, legends = ruled(work, side), outlines(work, side)
        assert bool(marks) == (side == "top")
        assert near(legends, marks) == []


def near(legends: dict[str, BaseGeometry], marks: list[BaseGeometry]) -> list[str]:
    """Legends that come closer than 0.2 mm to a mark."""
    return [id for id, own in legends.items() if any(own.distance(mark) < 0.2 for mark in marks)]


def ruled(work: Made, side: str) -> list[BaseGeometry]:
    """The marks of scales, and the lines of frames without what they enclose."""
    svg = work.files[f"{side}-art.svg"].decode("utf-8")
    inner = svg.split(f'<g id="{side}-marks"')[1].split(f'<g id="{side}-legends"')[0]
    width, height = work.outputs("art", "svg")[sides_of(work).index(side)]["size_mm"]
    found: list[BaseGeometry] = []
    for data in re.findall(r' d="([^"]*)"', inner):
        shape = area(data, width, height)
        for part in getattr(shape, "geoms", [shape]):
            # Larger than any tick or dot, it is a frame: its line is its contour, whether or not a title breaks it.
            found.append(part.exterior if part.area > 20 else part)
    return found


def test_a_legend_on_a_mark_is_seen() -> None:
    work = made("two-piers", 300, False)
    legends, marks = outlines(work, "top"), ruled(work, "top")
    onto_marks = {id: translate(own, yoff=-4) for id, own in legends.items()}
    assert {"top-label-n-rate-rate", "top-position-order-n-s"} <= set(near(onto_marks, marks))


@pytest.mark.parametrize("job", JOBS)
def test_the_report_gives_each_legends_ink_box(job: str) -> None:
    work = made(job, 300, False)
    for side in sides(job):
        boxes = [tuple(own.bounds) for own in outlines(work, side).values()]
        for legend in work.face(side)["legends"]:
            box = (
                legend["x"] - legend["w"] / 2,
                legend["y"] - legend["h"] / 2,
                legend["x"] + legend["w"] / 2,
                legend["y"] + legend["h"] / 2,
            )
            assert any(box == pytest.approx(other, abs=0.01) for other in boxes), legend["text"]


@pytest.mark.parametrize("job", JOBS)
def test_every_label_of_the_job_is_there(job: str) -> None:
    work = made(job, 300, False)
    for side in sides(job):
        wanted = [control["label"] for control in job_face(job, side).get("control", []) if "label" in control]
        wanted += [text for control in job_face(job, side).get("control", []) for text in control.get("positions", [])]
        there = [legend["text"] for legend in work.face(side)["legends"]]
        assert set(wanted) <= set(there)


def test_a_planted_fault_is_seen() -> None:
    work = made("two-piers", 300, False)
    assert any("margin" in fault for fault in faults(work, "two-piers", "top", margin=20))
    larger = Made(work.files, {**work.report, "faces": [grown(face) for face in work.report["faces"]]})
    assert any("hidden" in fault for fault in faults(larger, "two-piers", "top"))


def grown(face: dict[str, Any]) -> dict[str, Any]:
    return {**face, "holes": [{**hole, "cover": hole["cover"] + 6} for hole in face["holes"]]}


@pytest.mark.parametrize("nudge", ["[0, 6]", "[0, 14]"])
def test_a_legend_pushed_under_a_knob_stops_the_work(tmp_path: Path, nudge: str) -> None:
    ran = run_here("make", lay(tmp_path, good('label = "RATE"', f'label = "RATE"\nnudge = {nudge}')))
    assert ran.status == 1
    assert "RATE" in ran.err
    assert not (tmp_path / "job-out").exists()


def test_examples_are_those_of_the_readme() -> None:
    assert {f"{job}.toml" for job in JOBS} == {path.name for path in FOLDER.glob("*.toml")}
    assert len(JOBS) == 4
