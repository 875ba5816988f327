"""True size and place, over every example × format × mirrored: read back by OpenCV, resvg, pdfium, and by hand."""

import math
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from typing import Any

import cv2
import numpy as np
import pytest
from eyes import Cross, crosses, pdf_pages_mm, png_colour, png_depth, png_grey, png_picture, png_resolution
from samples import JOBS, WAYS, Made, job_data, job_holes, made, marks_on_sheet, sides

from facegraphic.film.mirror import MIRROR, as_printed
from facegraphic.geometry.path import IDENTITY
from facegraphic.scene.scene import Fill, Group, walk
from facegraphic.stock.tables import films

DPIS = (300, 600, 1200)
# PNG pHYs by resolution, pixels to the metre: bytes read back from Pillow 13, and the PNG guide for 600 dpi.
PHYS = {300: 11811, 600: 23622, 1200: 47244}
MM_PER_INCH = 25.4


def art(job: str, dpi: int, mirrored: bool) -> Made:
    return made(job, dpi, mirrored, formats="png", kinds="art")


def expected(record: dict[str, Any], job: str, dpi: int) -> list[tuple[float, float]]:
    """Where the job's own figures put each hole in a picture, in pixels from the upper left corner."""
    (cx, cy), way = record["centre_px"], -1 if record["mirrored"] else 1
    scale = dpi / MM_PER_INCH
    return [(cx + way * hole.x * scale, cy - hole.y * scale) for hole in job_holes(job, record["side"])]


def worst(found: list[Cross], wanted: list[tuple[float, float]]) -> float:
    """The largest distance of a wanted place to the nearest cross found."""
    return max(min(math.dist((cross.x, cross.y), place) for cross in found) for place in wanted)


@pytest.mark.parametrize("mirrored", WAYS)
@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize("job", JOBS)
def test_hole_marks_stand_within_half_a_pixel(job: str, dpi: int, mirrored: bool) -> None:
    work = art(job, dpi, mirrored)
    for record in work.outputs("art", "png"):
        found = crosses(png_grey(work.files[record["file"]]), dpi)
        wanted = expected(record, job, dpi)
        assert len(found) == len(wanted)
        assert worst(found, wanted) < 0.5


def test_a_mark_out_of_place_is_seen() -> None:
    work = art("slow-ferry", 300, False)
    record = work.outputs("art", "png")[0]
    grey = png_grey(work.files[record["file"]])
    wanted = expected(record, "slow-ferry", 300)
    assert worst(crosses(np.roll(grey, 1, axis=1), 300), wanted) > 0.5
    assert worst(crosses(grey[:, ::-1].copy(), 300), wanted) > 0.5


@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize("job", JOBS)
def test_pixels_resolution_and_millimetres_agree(job: str, dpi: int) -> None:
    work = art(job, dpi, False)
    for record in work.outputs("art", "png"):
        data = work.files[record["file"]]
        resolution = png_resolution(data)
        assert (resolution.across, resolution.down, resolution.unit) == (PHYS[dpi], PHYS[dpi], 1)
        assert list(png_picture(data).size) == record["size_px"]
        for pixels, length in zip(record["size_px"], record["size_mm"], strict=True):
            assert abs(pixels - length * dpi / MM_PER_INCH) <= 0.5 + 1e-6
        assert record["centre_px"] == [side / 2 for side in record["size_px"]]


@pytest.mark.parametrize("job", JOBS)
def test_toner_is_one_bit_and_all_else_is_colour(job: str) -> None:
    work = art(job, 300, False)
    bits = films()[job_data(job)["finish"]["process"]].bits
    for record in work.outputs("art", "png"):
        assert png_depth(work.files[record["file"]]) == ((1, 0) if bits == 1 else (8, 2))


def test_the_examples_show_three_processes() -> None:
    assert len({job_data(job)["finish"]["process"] for job in JOBS}) >= 3


@pytest.mark.parametrize("mirrored", WAYS)
@pytest.mark.parametrize("job", JOBS)
def test_pages_have_the_size_they_state(job: str, mirrored: bool) -> None:
    work = made(job, 300, mirrored)
    for kind in ("art", "sheet"):
        for record in work.outputs(kind, "svg"):
            assert svg_size(work.files[record["file"]]) == pytest.approx(record["size_mm"] * 2, abs=0.01)
        for record in work.outputs(kind, "pdf"):
            assert pdf_pages_mm(work.files[record["file"]])[0] == pytest.approx(record["size_mm"], abs=0.01)
    # ISO 216: A4 is 210 x 297 mm.
    assert work.outputs("sheet", "pdf")[0]["size_mm"] == [210, 297]


def svg_size(svg: bytes) -> list[float]:
    """Width and height in mm, then those of the viewBox, which must begin at 0 0."""
    text = svg.decode("utf-8")
    head = re.search(r"<svg[^>]*>", text)
    assert head
    size = [float(re.search(rf' {name}="([0-9.]+)mm"', head[0])[1]) for name in ("width", "height")]  # type: ignore[index]
    box = re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', head[0])
    assert box
    return [*size, float(box[1]), float(box[2])]


@pytest.mark.parametrize("job", JOBS)
def test_art_is_the_face_and_its_bleed(job: str) -> None:
    work = art(job, 300, False)
    finish = job_data(job)["finish"]
    bleed = finish.get("bleed", films()[finish["process"]].bleed)
    for record in work.outputs("art", "png"):
        face = work.face(record["side"])["size"]
        assert record["size_mm"] == pytest.approx([side + 2 * bleed for side in face], abs=1e-3)


@pytest.mark.parametrize("dpi", DPIS)
@pytest.mark.parametrize("job", JOBS)
def test_mirrored_art_flipped_is_the_unmirrored_art(job: str, dpi: int) -> None:
    plain, turned = art(job, dpi, False), art(job, dpi, True)
    for side in sides(job):
        a = png_colour(plain.files[f"{side}-art.png"])
        b = np.ascontiguousarray(png_colour(turned.files[f"{side}-art.png"])[:, ::-1])
        apart, own = (cv2.absdiff(a, other).max(axis=2) > 64 for other in (b, np.ascontiguousarray(a[:, ::-1])))
        assert apart.mean() < 2e-4
        assert apart.sum() < own.sum() / 20


def test_mirrored_twice_is_identity() -> None:
    shape = Fill(made_path(), "#000000")
    twice = as_printed(as_printed(Group((shape,), "a"), True), True)
    fills = [(item, transform) for item, transform in walk((twice,)) if isinstance(item, Fill)]
    assert [transform for _, transform in fills] == [IDENTITY]
    assert MIRROR.transform(MIRROR) == IDENTITY


def made_path() -> Any:
    from facegraphic.geometry.shapes import cross

    return cross((3.0, 4.0), 2.0, 0.5)


@pytest.mark.parametrize("mirrored", WAYS)
@pytest.mark.parametrize("job", JOBS)
def test_hole_marks_stand_true_on_the_sheets(job: str, mirrored: bool) -> None:
    """Wherever a face has been packed, turned or not: its marks stand where report and job say, and no others do."""
    work, px = made(job, 300, mirrored), 300 / MM_PER_INCH
    for sheet in work.report["sheets"]:
        found = crosses(png_grey(work.files[f"{sheet['sheet']}.png"]), 300)
        wanted = [place for piece in sheet["pieces"] for place in marks_on_sheet(piece, job, mirrored)]
        assert len(found) == len(wanted)
        for x, y in wanted:
            assert min(math.dist((cross.x, cross.y), (x * px, y * px)) for cross in found) < 1.0


@pytest.mark.parametrize("job", JOBS)
def test_the_sheets_bars_are_100_mm_long(job: str) -> None:
    """Of the note's plain rectangles, four corners each, the longest is the measuring bar; so is that up the page."""
    svg = made(job, 300, False).files["sheet-1.svg"].decode("utf-8")
    for group, axis in (("note", 0), ("upright-bar", 1)):
        inside = svg.split(f'<g id="{group}">')[1].split("</g>")[0]
        pairs = [re.findall(r"[ML](-?[0-9.]+) (-?[0-9.]+)", path) for path in re.findall(r' d="([^"]*)"', inside)]
        spans = [[float(pair[axis]) for pair in corners] for corners in pairs if len(corners) == 4]
        assert max(max(span) - min(span) for span in spans) == pytest.approx(100, abs=1e-3)


def paths(node: ET.Element) -> Iterator[tuple[str, list[float]]]:
    """Operators and figures of every path in an SVG's order; not what is defined only: artwork has units of its own."""
    for child in node:
        kind = child.tag.rpartition("}")[2]
        if kind == "path":
            d = child.attrib["d"]
            yield re.sub(r"[^A-Z]", "", d), [float(figure) for figure in re.findall(r"-?[0-9.]+", d)]
        elif kind != "defs":
            yield from paths(child)


@pytest.mark.parametrize("job", JOBS)
def test_svg_coordinates_mirror_exactly(job: str) -> None:
    """Every path of the page, to the file's own fourth place."""
    plain, turned = (made(job, 300, way) for way in WAYS)
    for record in plain.outputs("art", "svg"):
        width = record["size_mm"][0]
        both = [list(paths(ET.fromstring(work.files[record["file"]]))) for work in (plain, turned)]
        assert len(both[0]) == len(both[1]) > 10
        for (ops, a), (other_ops, b) in zip(*both, strict=True):
            assert ops == other_ops
            assert a[1::2] == b[1::2]
            assert np.abs(width - np.array(b[::2]) - np.array(a[::2])).max() <= 2e-4
