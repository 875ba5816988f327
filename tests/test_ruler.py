"""The printer test page: bars of 100 mm, ladders of the widths they name, a mirror test that reads back."""

import io
import os
import re
import subprocess
from pathlib import Path

import numpy as np
import pytest
from eyes import Grey, pdf_pages_mm, pdf_picture, png_grey, svg_picture
from helpers.debian import debian_program
from helpers.runs import run_here
from PIL import Image

from facegraphic.film.ladders import CAPS, WIDTHS
from facegraphic.film.ruler import papers_for_ruler
from facegraphic.stock.tables import papers

FORMATS = ("svg", "png", "pdf")
DPI = 600
PX = DPI / 25.4


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    folder = tmp_path_factory.mktemp("ruler")
    ran = run_here("ruler", "--out", folder)
    assert ran.status == 0, ran.err
    assert ran.out.splitlines() == [str(folder / f"ruler.{kind}") for kind in FORMATS]
    return {path.suffix[1:]: path.read_bytes() for path in folder.iterdir()}


def box_of(svg: str, id: str) -> tuple[float, float, float, float]:
    """Left, top, right, bottom in mm of a path of straight lines."""
    path = re.search(rf'<path d="([^"]*)"[^>]*id="{re.escape(id)}"', svg)
    assert path, id
    figures = [float(figure) for figure in re.findall(r"-?[0-9.]+", path[1])]
    xs, ys = figures[::2], figures[1::2]
    return min(xs), min(ys), max(xs), max(ys)


def test_bars_are_100_mm_between_the_middles_of_their_end_ticks(page: dict[str, bytes]) -> None:
    svg = page["svg"].decode("utf-8")
    left, top, right, bottom = box_of(svg, "bar-across")
    thick = bottom - top
    assert right - left - thick == pytest.approx(100, abs=1e-3)
    left, top, right, bottom = box_of(svg, "bar-up")
    assert bottom - top - thick == pytest.approx(100, abs=1e-3)


def test_ticks_of_the_printed_bars_stand_a_millimetre_apart(page: dict[str, bytes]) -> None:
    """Read from the pixels, 1.5 mm outside each bar, where even the shortest tick is dark."""
    grey = png_grey(page["png"])
    svg = page["svg"].decode("utf-8")
    left, top, right, bottom = box_of(svg, "bar-across")
    row = grey[round(((top + bottom) / 2 + 1.5) * PX), round((left - 1) * PX) : round((right + 1) * PX)]
    left, top, right, bottom = box_of(svg, "bar-up")
    column = grey[round((top - 1) * PX) : round((bottom + 1) * PX), round(((left + right) / 2 - 1.5) * PX)]
    for line in (row, column):
        ticks = middles(line)
        assert len(ticks) == 101
        assert np.diff(ticks) / PX == pytest.approx(np.ones(100), abs=0.05)
        assert (ticks[-1] - ticks[0]) / PX == pytest.approx(100, abs=0.03)


def middles(line: Grey) -> list[float]:
    """Where each dark run of a line of pixels has its middle, by darkness."""
    dark = line < 250
    edges = np.flatnonzero(np.diff(np.concatenate(([0], dark.astype(np.int8), [0]))))
    found = []
    for start, end in zip(edges[::2], edges[1::2], strict=True):
        weight = 255.0 - line[start:end]
        found.append(float((np.arange(start, end) * weight).sum() / weight.sum()) + 0.5)
    return found


@pytest.mark.parametrize("way", ["", "reversed-"])
@pytest.mark.parametrize("width", WIDTHS)
def test_each_line_and_gap_is_as_wide_as_it_says(page: dict[str, bytes], width: float, way: str) -> None:
    svg = page["svg"].decode("utf-8")
    line = [sizes(ring) for ring in rings(svg, f"{way}line-{width:g}")]
    assert sorted(round(min(size), 3) for size in line) == [pytest.approx(width, abs=2e-3)] * 2
    uprights, levels = (rings(svg, f"{way}gap-{width:g}")[start::2] for start in (0, 1))
    xs = sorted(x for ring in uprights for x in (min(p[0] for p in ring), max(p[0] for p in ring)))
    ys = sorted(y for ring in levels for y in (min(p[1] for p in ring), max(p[1] for p in ring)))
    assert xs[2] - xs[1] == pytest.approx(width, abs=2e-3)
    assert ys[2] - ys[1] == pytest.approx(width, abs=2e-3)


def rings(svg: str, id: str) -> list[list[tuple[float, float]]]:
    path = re.search(rf'<path d="([^"]*)"[^>]*id="{re.escape(id)}"', svg)
    assert path, id
    texts = [part for part in path[1].split("Z") if part.strip()]
    figures = [[float(figure) for figure in re.findall(r"-?[0-9.]+", text)] for text in texts]
    return [list(zip(row[::2], row[1::2], strict=True)) for row in figures]


def sizes(ring: list[tuple[float, float]]) -> tuple[float, float]:
    xs, ys = zip(*ring, strict=True)
    return max(xs) - min(xs), max(ys) - min(ys)


def test_the_ladders_reach_over_the_range_asked_for() -> None:
    assert (WIDTHS[0], WIDTHS[-1], list(WIDTHS) == sorted(WIDTHS)) == (0.05, 1.0, True)
    assert list(CAPS) == sorted(CAPS)


def test_reversed_rows_are_bare_on_black(page: dict[str, bytes]) -> None:
    grey = png_grey(page["png"])
    svg = page["svg"].decode("utf-8")
    for id, inside in (("line-1", 0), ("reversed-line-1", 255)):
        xs, ys = zip(*rings(svg, id)[0], strict=True)
        x, y = round((min(xs) + max(xs)) / 2 * PX), round((min(ys) + max(ys)) / 2 * PX)
        assert grey[y, x] == inside
        assert grey[y, x - round(1.0 * PX)] == 255 - inside


@pytest.mark.parametrize("share", range(10, 101, 10))
def test_greys_have_the_tone_they_name(page: dict[str, bytes], share: int) -> None:
    left, top, right, bottom = box_of(page["svg"].decode("utf-8"), f"grey-{share}")
    value = png_grey(page["png"])[round((top + bottom) / 2 * PX), round((left + right) / 2 * PX)]
    assert abs(value - 255 * (1 - share / 100)) <= 1


def read(picture: Grey) -> str:
    out = io.BytesIO()
    Image.fromarray(picture).save(out, "PNG", dpi=(300, 300))
    words = [debian_program("tesseract", "tesseract-ocr"), "stdin", "stdout", "--psm", "6"]
    # Its threads wait for each other by spinning, and one alone is no slower.
    alone = {**os.environ, "OMP_THREAD_LIMIT": "1"}
    done = subprocess.run(words, input=out.getvalue(), capture_output=True, check=True, env=alone)
    return done.stdout.decode("utf-8")


def test_the_mirror_test_reads_right_one_way_each(page: dict[str, bytes]) -> None:
    """By OCR: the left panel as printed, the right one turned over, and neither the other way."""
    grey = png_grey(page["png"])[::2, ::2]
    svg = page["svg"].decode("utf-8")
    panels = {}
    for name in ("straight", "mirrored"):
        group = svg.split(f'<g id="{name}">')[1].split("</g>")[0]
        path = re.search(r'd="([^"]*)"', group)
        assert path
        figures = [float(figure) for figure in re.findall(r"-?[0-9.]+", path[1])]
        left, right, top, bottom = min(figures[::2]), max(figures[::2]), min(figures[1::2]), max(figures[1::2])
        cut = [round(side * PX / 2) for side in (top + 1, bottom - 1, left + 1, right - 1)]
        panels[name] = grey[cut[0] : cut[1], cut[2] : cut[3]]
    straight, mirrored = panels["straight"], panels["mirrored"]
    assert "READS" in read(straight)
    assert "as printed" in read(straight)
    assert "READS" not in read(straight[:, ::-1].copy())
    turned = read(mirrored[:, ::-1].copy())
    assert "READS" in turned
    assert "turned over" in turned
    assert "READS" not in read(mirrored)


def test_the_three_formats_show_one_page(page: dict[str, bytes]) -> None:
    size = (827, 1169)  # A4 at 100 pixels to the inch
    by_svg, by_pdf = svg_picture(page["svg"], size, 100), pdf_picture(page["pdf"], size)
    png = np.asarray(Image.open(io.BytesIO(page["png"])).convert("RGB").resize(size, Image.Resampling.BOX))
    for picture in (by_svg, by_pdf):
        apart = np.abs(picture.astype(int) - png.astype(int)).mean()
        assert apart < 1.5
        assert apart < np.abs(picture[:, ::-1].astype(int) - png.astype(int)).mean() / 10


@pytest.mark.parametrize("paper", papers_for_ruler())
def test_every_paper_that_holds_it_gives_its_own_page(paper: str, tmp_path: Path) -> None:
    assert run_here("ruler", "--paper", paper, "--dpi", "72", "--out", tmp_path).status == 0
    assert pdf_pages_mm((tmp_path / "ruler.pdf").read_bytes()) == [pytest.approx(papers()[paper].size, abs=0.01)]
    grey = png_grey((tmp_path / "ruler.png").read_bytes())
    edge = round(5 * 72 / 25.4)  # most printers leave 4 to 6 mm bare (common practice)
    rim = np.concatenate([grey[:edge].ravel(), grey[-edge:].ravel(), grey[:, :edge].ravel(), grey[:, -edge:].ravel()])
    assert rim.min() == 255
    assert grey.min() == 0


def test_papers_that_hold_it() -> None:
    assert {"A4", "Letter", "A3"} <= set(papers_for_ruler())
    assert not {"A5", "A6"} & set(papers_for_ruler())


def test_a_corrected_page_has_bars_that_come_out_true(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEGRAPHIC_CONFIG", str(tmp_path / "settings"))
    run_here("ruler", "--measured", "99.2", "100.4", "--save", "attic")
    assert run_here("ruler", "--printer", "attic", "--dpi", "72", "--out", tmp_path).status == 0
    svg = (tmp_path / "ruler.svg").read_text("utf-8")
    left, _, right, _ = box_of(svg, "bar-across")
    _, top, _, bottom = box_of(svg, "bar-up")
    # Both bars are longer by their own 0.2 mm of thickness.
    assert (right - left) * 0.992 == pytest.approx(100.2, abs=1e-3)
    assert (bottom - top) * 1.004 == pytest.approx(100.2, abs=1e-3)
    assert pdf_pages_mm((tmp_path / "ruler.pdf").read_bytes()) == [pytest.approx((210, 297), abs=0.01)]


def test_a_page_too_large_for_a_printers_letter_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEGRAPHIC_CONFIG", str(tmp_path / "settings"))
    run_here("ruler", "--measured", "90", "90", "--save", "attic")
    ran = run_here("ruler", "--printer", "attic", "--paper", "Letter", "--out", tmp_path / "out")
    assert (ran.status, "does not fit on Letter" in ran.err, (tmp_path / "out").exists()) == (1, True, False)


def test_the_same_bytes_each_time(page: dict[str, bytes], tmp_path: Path) -> None:
    run_here("ruler", "--out", tmp_path)
    assert {path.suffix[1:]: path.read_bytes() for path in tmp_path.iterdir()} == page
