"""Measured holes in a job and against one: the art follows the holes, and what is amiss is told."""

import csv
import io
import json
import math
from pathlib import Path

import pytest
from eyes import crosses, png_grey
from helpers.jobs import lay
from helpers.runs import Ran, run_here

PLAN = [("rate", -15, 32, 7.5), ("tone", 15, 32, 7.5), ("lamp", 4, 8, 5.1), ("foot", 0, -36, 12.2)]
JOB = """\
title = "Bell Buoy"

[box]
stock = "112x60x31"
orientation = "portrait"

[finish]
dpi = 100

[[face]]
side = "top"
drill = "holes.csv"
measured = "scan.csv"

[[face.control]]
hole = "rate"
part = "pot-16"
label = "RATE"

[[face.control]]
hole = "tone"
part = "pot-16"
label = "TONE"
"""
Holes = list[tuple[str, float, float, float]]


def table(holes: Holes) -> str:
    out = io.StringIO()
    csv.writer(out).writerows(
        [("id", "x", "y", "d"), *((id, *(f"{figure:.6f}" for figure in rest)) for id, *rest in holes)]
    )
    return out.getvalue()


def moved(turn: float = 0.0, mirrored: bool = False, shift: tuple[float, float] = (0, 0), scale: float = 1.0) -> Holes:
    """The plan as a scan would show it, its ids lost."""
    t = math.radians(turn)
    c, s = scale * math.cos(t), scale * math.sin(t)
    found = []
    for number, (_, x, y, d) in enumerate(PLAN, 1):
        x = -x if mirrored else x
        found.append((f"h{number}", c * x - s * y + shift[0], s * x + c * y + shift[1], d))
    return found


def folder(tmp_path: Path, holes: Holes, job: str = JOB) -> Path:
    return lay(tmp_path, job, {"holes.csv": table([*PLAN]), "scan.csv": table(holes)})


def made(job: Path) -> dict[str, object]:
    assert run_here("make", job, "--only", "art", "--format", "svg", "--quiet").status == 0
    report: dict[str, object] = json.loads((job.parent / "job-out" / "report.json").read_text("utf-8"))
    return report


def found(job: Path) -> dict[str, dict[str, object]]:
    ran = run_here("check", job, "--json")
    return {finding["code"]: finding for finding in json.loads(ran.out)[str(job)]}


def with_change(number: int, x: float = 0, y: float = 0, d: float = 0) -> Holes:
    holes = moved()
    id, old_x, old_y, old_d = holes[number]
    holes[number] = (id, old_x + x, old_y + y, old_d + d)
    return holes


def test_a_panel_that_lies_alike_two_ways_is_told(tmp_path: Path) -> None:
    """Two like holes on the axis fit turned by half a turn as well; four of which one stands aside fit one way only."""
    job = JOB.split("[[face.control]]")[0]
    alike = [("rate", 0.0, 30.0, 7.5), ("foot", 0.0, -30.0, 7.5)]
    for name, plan, told in (("alike", alike, True), ("unlike", PLAN, False)):
        scan = [(f"h{number}", x, y, d) for number, (_, x, y, d) in enumerate(plan, 1)]
        path = lay(tmp_path / name, job, {"holes.csv": table([*plan]), "scan.csv": table([*scan])})
        assert ("scan-ambiguous" in found(path)) is told


def test_art_and_legends_follow_the_measured_hole(tmp_path: Path) -> None:
    planned = made(folder(tmp_path / "a", moved()))
    drilled = made(folder(tmp_path / "b", with_change(0, x=-1.2, y=0.9)))
    (before,), (after,) = planned["faces"], drilled["faces"]  # type: ignore[misc]
    hole = next(hole for hole in after["holes"] if hole["id"] == "rate")
    assert [hole["x"], hole["y"], hole["planned"]] == [-16.2, 32.9, [-15.0, 32.0]]
    assert after["measured"]["holes"][0]["off"] == [-1.2, 0.9]
    label = [next(mark for mark in face["legends"] if mark["text"] == "RATE") for face in (before, after)]
    assert label[1]["x"] - label[0]["x"] == pytest.approx(-1.2, abs=0.01)
    # And on the picture: the cross of each hole, found by OpenCV, stands at the measured middle to half a pixel.
    ran = run_here("make", tmp_path / "b" / "job.toml", "--only", "art", "--format", "png", "--dpi", "300", "--quiet")
    assert ran.status == 0
    out = json.loads((tmp_path / "b" / "job-out" / "report.json").read_text("utf-8"))["outputs"][0]
    marks = crosses(png_grey((tmp_path / "b" / "job-out" / "top-art.png").read_bytes()), 300)
    for x, y in ((-16.2, 32.9), (15, 32), (0, -36)):
        u, v = out["centre_px"][0] + x * 300 / 25.4, out["centre_px"][1] - y * 300 / 25.4
        assert min(math.hypot(mark.x - u, mark.y - v) for mark in marks) < 0.75


@pytest.mark.parametrize(("off", "severity"), [(0.25, None), (0.5, "note"), (1.4, "warning")])
def test_how_far_a_hole_is_off_is_told_by_the_tolerance_classes(off: float, severity: str, tmp_path: Path) -> None:
    # ISO 2768-1, over 30 to 120 mm: 0.3 mm medium, 0.8 mm coarse.
    told = found(folder(tmp_path, with_change(1, x=off))).get("hole-off-plan")
    if severity is None:
        assert told is None
    else:
        assert told is not None
        assert told["severity"] == severity
        assert f"hole tone is {off:.2f} mm off" in str(told["message"])


def test_a_missing_an_unplanned_and_a_wrongly_sized_hole_are_told(tmp_path: Path) -> None:
    holes = [*with_change(1, d=1.2)[:3], ("h9", -20.0, -10.0, 6.0)]  # foot is not drilled, another hole is
    told = found(folder(tmp_path, holes))
    assert "hole foot was not found" in str(told["hole-not-found"]["message"])
    assert told["hole-not-found"]["at"] == [0, -36]
    assert told["hole-not-planned"]["at"] == [-20, -10]
    assert "hole tone measures 8.70 mm" in str(told["hole-other-size"]["message"])
    assert "hole-off-plan" not in told


def test_a_sound_scan_says_nothing(tmp_path: Path) -> None:
    told = found(folder(tmp_path, moved()))
    assert not [code for code in told if code.startswith(("hole-", "scan-"))]


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
@pytest.mark.parametrize("mirrored", [False, True])
def test_turned_and_mirrored_scans_are_set_right(turn: int, mirrored: bool, tmp_path: Path) -> None:
    job = folder(tmp_path, moved(turn, mirrored))
    (face,) = made(job)["faces"]  # type: ignore[misc]
    assert [(h["id"], h["x"], h["y"]) for h in face["holes"]] == [(id, x, y) for id, x, y, _ in PLAN]
    told = found(job).get("scan-turned")
    assert (told is not None) == (turn != 0 or mirrored)
    if told:
        assert ("mirrored" in str(told["message"])) == mirrored
        assert (f"turned by {turn}°" in str(told["message"])) == (turn != 0)


@pytest.mark.parametrize("shift", [(2, False, (40, 12)), (0, False, (3, -3))])
def test_a_scan_of_another_middle_is_refused_with_the_way_out(
    shift: tuple[float, bool, tuple[float, float]], tmp_path: Path
) -> None:
    job = folder(tmp_path, moved(*shift))
    ran = run_here("check", job)
    assert ran.status == 1
    assert "do not lie as planned" in ran.err
    assert 'measured_from = "holes"' in ran.err
    free = folder(tmp_path, moved(*shift), JOB.replace("scan.csv", 'scan.csv"\nmeasured_from = "holes'))
    (face,) = made(free)["faces"]  # type: ignore[misc]
    assert [h["x"] for h in face["holes"]] == pytest.approx([x for _, x, _, _ in PLAN], abs=1e-3)
    assert face["measured"]["lean"] == pytest.approx(shift[0], abs=1e-3)


def test_no_scaling_is_done_to_please_the_plan(tmp_path: Path) -> None:
    (face,) = made(folder(tmp_path, moved(scale=1.01)))["faces"]  # type: ignore[misc]
    assert face["holes"][3]["y"] == pytest.approx(-36.36)
    assert face["measured"]["scale"] == pytest.approx(1.01, abs=1e-6)


def test_holes_off_all_one_way_are_told_as_one(tmp_path: Path) -> None:
    told = found(folder(tmp_path, moved(shift=(0.9, -0.7))))
    assert "1.14 mm off their plan the same way (+0.90, -0.70)" in str(told["scan-shifted"]["message"])
    assert "hole-off-plan" not in told
    assert "scan-scaled" not in told


def test_holes_wider_apart_than_planned_are_told(tmp_path: Path) -> None:
    assert "1.0 % wider apart" in str(found(folder(tmp_path, moved(scale=1.01)))["scan-scaled"]["message"])
    assert "1.0 % closer together" in str(found(folder(tmp_path, moved(scale=0.99)))["scan-scaled"]["message"])
    assert "scan-scaled" not in found(folder(tmp_path, moved(scale=1.003)))


def test_a_missing_table_and_an_unknown_way_are_told(tmp_path: Path) -> None:
    job = folder(tmp_path, moved(), JOB.replace("scan.csv", "skan.csv"))
    assert '"skan.csv": there is no such file' in run_here("check", job).err
    job = folder(tmp_path, moved(), JOB.replace("scan.csv", 'scan.csv"\nmeasured_from = "edge'))
    assert "known are: holes, outline" in run_here("check", job).err


def against(tmp_path: Path, holes: Holes, *words: str) -> Ran:
    job = folder(tmp_path, [*moved()], JOB.replace('measured = "scan.csv"\n', ""))
    (tmp_path / "found.csv").write_text(table(holes), "utf-8")
    return run_here("holes", tmp_path / "found.csv", "--against", job, *words)


def test_against_a_job_each_hole_and_the_fit_are_told(tmp_path: Path) -> None:
    holes = with_change(2, x=2.0)[:3]
    ran = against(tmp_path, [*holes, ("h9", -20.0, -10.0, 6.0)])
    assert ran.status == 0
    lines = ran.out.splitlines()
    assert lines[1].split() == ["rate", "h1", "-15.00", "32.00", "7.50", "0.00", "0.00", "0.00", "0.00"]
    assert lines[3].endswith("out of place")
    assert "foot         not found; planned at 0.00, -36.00" in lines
    assert any("h9" in line and "not planned" in line for line in lines)
    assert "neither turned nor mirrored" in ran.out


def test_against_a_job_as_json(tmp_path: Path) -> None:
    fit = json.loads(against(tmp_path, moved(90, scale=1.004), "--json").out)["fit"]
    assert (fit["turned"], fit["mirrored"], fit["missing"], fit["extra"]) == (90, False, [], [])
    assert fit["scale"] == pytest.approx(1.004, abs=1e-5)
    assert [hole["id"] for hole in fit["holes"]] == ["rate", "tone", "lamp", "foot"]


def test_against_another_jobs_holes_is_refused(tmp_path: Path) -> None:
    ran = against(tmp_path, [("a", 0, 0, 3), ("b", 300, 0, 3), ("c", 0, 500, 3)])
    assert (ran.status, ran.out) == (1, "")
    assert "do not lie as those of the top face" in ran.err
    assert "the job has no back face" in against(tmp_path, moved(), "--side", "back").err
