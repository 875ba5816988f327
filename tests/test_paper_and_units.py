"""Paper, units, raster size: published figures, each with its source."""

import math

import pytest
from eyes import Resolution, png_resolution
from helpers.debian import debian_font

from facegraphic.lettering.font import Font
from facegraphic.lettering.text import Style, set_block
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import pixel_size, png_bytes
from facegraphic.scene.scene import Scene
from facegraphic.stock.tables import bits, boxes, films, knobs, papers, parts
from facegraphic.units import MM_PER_UNIT, POINTS_PER_MM, parse_length


@pytest.mark.parametrize(
    ("name", "size"),
    [
        # ISO 216 (tables of it): A3 297x420, A4 210x297, A5 148x210, A6 105x148, B4 250x353, B5 176x250.
        ("A3", (297, 420)),
        ("A4", (210, 297)),
        ("A5", (148, 210)),
        ("A6", (105, 148)),
        ("B4", (250, 353)),
        ("B5", (176, 250)),
        # CSS Paged Media 3 page sizes: letter 8.5x11 in, legal 8.5x14 in, ledger 11x17 in; arithmetic.
        ("Letter", (215.9, 279.4)),
        ("Legal", (215.9, 355.6)),
        ("Ledger", (279.4, 431.8)),
    ],
)
def test_paper_sizes(name: str, size: tuple[float, float]) -> None:
    assert papers()[name].size == pytest.approx(size)


def test_a_sizes_halve_with_rounding_down_from_a0() -> None:
    # ISO 216: A0 is 841 x 1189 mm, and each size is the half of the one before, rounded down.
    size = (841, 1189)
    for number in range(1, 7):
        size = (size[1] // 2, size[0])
        if number >= 3:
            assert papers()[f"A{number}"].size == size


def test_css_units() -> None:
    # CSS Values and Units: 1 in = 2.54 cm = 96 px = 72 pt = 6 pc. 1 mm = 3.7795276 px = 2.8346457 pt (arithmetic).
    assert [parse_length(text) for text in ("1 in", "96 px", "72 pt", "6 pc", "2.54 cm")] == pytest.approx([25.4] * 5)
    assert 1 / MM_PER_UNIT["px"] == pytest.approx(3.7795276, abs=1e-7)
    assert pytest.approx(2.8346457, abs=1e-7) == POINTS_PER_MM


@pytest.mark.parametrize(
    ("paper", "dpi", "pixels"),
    [
        # Arithmetic: A4 and Letter as rasters.
        ("A4", 300, (2480, 3508)),
        ("A4", 600, (4961, 7016)),
        ("Letter", 300, (2550, 3300)),
        ("Letter", 600, (5100, 6600)),
        ("Letter", 1200, (10200, 13200)),
    ],
)
def test_raster_sizes(paper: str, dpi: int, pixels: tuple[int, int]) -> None:
    assert pixel_size(Scene(*papers()[paper].size, ()), dpi) == pixels


@pytest.mark.parametrize(
    ("dpi", "per_metre"),
    # PNG pHYs, unit byte 1 (metre), one inch exactly 0.0254 m (PNG specification; the PNG guide for 600 dpi).
    [(72, 2835), (96, 3780), (150, 5906), (300, 11811), (360, 14173), (600, 23622), (1200, 47244), (2400, 94488)],
)
def test_phys(dpi: int, per_metre: int) -> None:
    assert png_resolution(png_bytes(Scene(2, 1, ()), dpi)) == Resolution(per_metre, per_metre, 1)


def test_an_a4_page_in_points() -> None:
    # Arithmetic: A4 is 595.2756 x 841.8898 pt; ISO 32000: the default unit is 1/72 inch.
    text = pdf_bytes(Scene(210, 297, ())).decode("latin-1")
    assert "UserUnit" not in text
    box = text.split("/MediaBox [")[1].split("]")[0].split()
    assert [float(figure) for figure in box] == pytest.approx([0, 0, 595.2756, 841.8898], abs=1e-3)


@pytest.mark.parametrize(
    ("package", "file", "share"),
    [
        # Read from the fonts with fontTools: DejaVu Sans 1493/2048, Liberation Sans 1409/2048 of the em.
        ("fonts-dejavu-core", "truetype/dejavu/DejaVuSans.ttf", 1493 / 2048),
        ("fonts-liberation", "truetype/liberation/LiberationSans-Regular.ttf", 1409 / 2048),
        ("fonts-osifont", "truetype/osifont/osifont.ttf", 1510 / 2048),
    ],
)
def test_capital_heights_of_outside_fonts(package: str, file: str, share: float) -> None:
    font = Font("outside", debian_font(package, file).read_bytes())
    assert font.cap_height / font.units_per_em == pytest.approx(share, abs=1e-3)
    assert set_block("H", Style(font, 3.258)).ink.height == pytest.approx(3.258, abs=1e-6)


def test_bits_by_64ths_of_an_inch() -> None:
    # A drill chart: all 64ths, mm = inches x 25.4 exactly; 3/8 is 9.525, 11/32 is 8.73125, 25/64 is 9.921875.
    for name, diameter in {"3/8 in": 9.525, "11/32 in": 8.73125, "25/64 in": 9.921875, "1/4 in": 6.35}.items():
        assert bits()[name].diameter == pytest.approx(diameter, abs=1e-12)


def test_sockets_and_24_mm_pots_have_the_3_8_32_thread() -> None:
    # Drill and tap chart: 3/8-32 thread is 9.525 mm, close clearance hole 9.804 mm, free 10.084 mm.
    for name in ("socket-6.35", "pot-24", "rotary-switch"):
        assert parts()[name].thread == 9.525
        assert parts()[name].hole == pytest.approx(9.804, abs=0.1)


def test_the_socket_with_its_nut_outside_wants_the_larger_hole() -> None:
    # Common practice.
    assert parts()["dc-outside"].hole > parts()["dc-inside"].hole


def test_parts_fit_their_holes() -> None:
    assert len(parts()) >= 14
    for part in parts().values():
        assert part.hole >= part.thread > 0
        assert part.nut == 0 or part.nut > part.hole
        assert part.washer == 0 or part.washer > part.hole
        assert part.seat >= part.hole
        assert not math.isnan(part.depth)


def test_every_row_says_where_it_comes_from() -> None:
    for table in (boxes, parts, knobs, films, papers, bits):
        assert table()
        for row in table().values():
            assert row.source.strip()


def test_boxes_are_named_by_size() -> None:
    # Four die-cast sizes are usual, and two larger ones (common practice); names are rounded millimetres.
    assert len(boxes()) == 6
    for name, box in boxes().items():
        assert [abs(a - b) < 1 for a, b in zip(map(float, name.split("x")), box.size, strict=True)] == [True] * 3
