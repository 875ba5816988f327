"""Specimen pages: any font by name or file, on A4, and what they show reads back."""

import io
from pathlib import Path

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest
from helpers.debian import debian_font
from helpers.runs import run_here
from PIL import Image

from facegraphic.lettering.library import named_fonts, symbols


def test_a_page_shows_every_size_and_symbol(tmp_path: Path) -> None:
    ran = run_here("fonts", "--specimen", "tagstrip-bold", "--out", str(tmp_path))
    assert ran.status == 0, ran.err
    names = {file.name for file in tmp_path.iterdir()}
    assert names == {f"tagstrip-bold-specimen.{kind}" for kind in ("svg", "png", "pdf")}
    # ISO 216: A4 is 210 x 297 mm.
    page = pdfium.PdfDocument(tmp_path / "tagstrip-bold-specimen.pdf")[0]
    assert tuple(side * 25.4 / 72 for side in page.get_size()) == pytest.approx((210, 297), abs=0.01)
    drawn = (tmp_path / "tagstrip-bold-specimen.svg").read_text("utf-8")
    assert drawn.count("<path") > len(symbols()) + 7
    picture = Image.open(io.BytesIO((tmp_path / "tagstrip-bold-specimen.png").read_bytes()))
    dark = sum(picture.convert("L").resize((210, 297)).histogram()[:128])
    assert dark > 1000  # the reversed panel and the large sizes


def test_a_font_file_can_be_shown(tmp_path: Path) -> None:
    file = debian_font("fonts-dejavu-core", "truetype/dejavu/DejaVuSans.ttf")
    ran = run_here("fonts", "--specimen", str(file), "--out", str(tmp_path))
    assert ran.status == 0, ran.err
    assert (tmp_path / "DejaVuSans-specimen.pdf").is_file()


@pytest.mark.parametrize(
    ("name", "status", "said"),
    [
        ("tagstrip-blod", 2, 'did you mean "tagstrip-bold"?'),
        ("missing.ttf", 1, "there is no such file"),
        ("false.ttf", 1, "cannot be used as a font"),
    ],
)
def test_what_is_no_font_is_told(tmp_path: Path, name: str, status: int, said: str) -> None:
    (tmp_path / "false.ttf").write_bytes(b"not a font")
    asked = str(tmp_path / name) if name.endswith(".ttf") else name
    ran = run_here("fonts", "--specimen", asked, "--out", str(tmp_path / "out"))
    assert (ran.status, said in ran.err) == (status, True), ran.err
    assert not (tmp_path / "out").exists()
    assert asked not in named_fonts()


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    """The page in grey, 600 pixels to the inch."""
    folder = tmp_path_factory.mktemp("page")
    assert run_here("fonts", "--specimen", "tagstrip-bold", "--out", str(folder)).status == 0
    return np.asarray(Image.open(folder / "tagstrip-bold-specimen.png").convert("L"))


def parts_of(ink: np.ndarray) -> list[tuple[int, int, int, int]]:
    """Left, top, width and height of every connected part (OpenCV)."""
    _, _, stats, _ = cv2.connectedComponentsWithStats(ink.astype(np.uint8), connectivity=8)
    return [tuple(map(int, row[:4])) for row in stats[1:]]  # type: ignore[misc]


def test_the_reversed_panel_is_dark_with_light_letters_of_four_heights(page: np.ndarray) -> None:
    dot = 25.4 / 600
    x, y, width, height = max(parts_of(page < 128), key=lambda part: part[2] * part[3])
    assert (width * dot, height * dot) == pytest.approx((182, 11), abs=0.2)
    inside = page[y + 20 : y + height - 20, x + 60 : x + width - 60]
    letters = parts_of(inside > 128)
    heights = sorted({round(h * dot, 1) for _, _, w, h in letters if w * dot > 0.5})
    for cap in (1.8, 2.5, 3.5, 5.0):
        assert any(abs(found - cap) <= 0.1 for found in heights), cap


def test_the_first_lines_have_the_standards_heights(page: np.ndarray) -> None:
    # ISO 3098-0: nominal heights 1.8, 2.5, 3.5, 5, 7, 10 and 14 mm (from memory).
    dot = 25.4 / 600
    heights = {round(h * dot, 1) for x, y, w, h in parts_of(page < 128) if 20 < x * dot < 30 and y * dot < 110}
    for cap in (1.8, 2.5, 3.5, 5.0, 7.0, 10.0, 14.0):
        assert any(abs(found - cap) <= 0.1 for found in heights), cap
