"""SVG by resvg and PDF by pdfium show what the PNG shows.

Stated difference: the mean absolute difference stays below 1.5 of 255, and fewer than 0.005 % of the pixels are strays,
that is more than 64 away from everything the other picture shows within one pixel. Edges are drawn softer or harder by
each rasteriser, so single pixels along them may differ; anything moved by a fifth of a millimetre may not.
"""

import io
import re

import numpy as np
import pytest
from eyes import Grey, difference, pdf_picture, png_colour, svg_picture
from PIL import Image
from samples import FOLDER, JOBS, WAYS, made

from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare

DPI = 300
MEAN = 1.5
STRAYS = 5e-5


def agree(a: Grey, b: Grey) -> bool:
    found = difference(a, b)
    return found.mean < MEAN and found.share < STRAYS


@pytest.mark.parametrize("mirrored", WAYS)
@pytest.mark.parametrize("job", JOBS)
def test_svg_and_pdf_show_what_the_png_shows(job: str, mirrored: bool) -> None:
    work = made(job, DPI, mirrored)
    for record in (*work.outputs("art", "png"), *work.outputs("sheet", "png")):
        stem, size = record["file"].removesuffix(".png"), tuple(record["size_px"])
        png = png_colour(work.files[f"{stem}.png"])
        for other in (
            svg_picture(work.files[f"{stem}.svg"], size, DPI),
            pdf_picture(work.files[f"{stem}.pdf"], size),
        ):
            assert agree(png, other), difference(png, other)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('hole = "n-rate"\n', 'hole = "n-rate"\nnudge = [0.2, 0]\n'),
        ('label = "DEPTH"', 'label = "DEPT"'),
        ('label = "TIME"', 'label = ""'),
        ("at = [-41, 20]", "at = [-41.2, 20]"),
    ],
)
def test_a_planted_change_is_seen(tmp_path: object, old: str, new: str) -> None:
    from pathlib import Path

    assert isinstance(tmp_path, Path)
    text = (FOLDER / "two-piers.toml").read_text(encoding="utf-8")
    assert old in text
    path = tmp_path / "changed.toml"
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    wishes = Wishes(("png",), ("art",), DPI)
    changed = png_colour(make(prepare(path, wishes), wishes)["top-art.png"])
    right = png_colour(made("two-piers", DPI, False).files["top-art.png"])
    assert agree(right, right)
    assert not agree(right, changed)


def smallest_legend(job: str) -> str:
    """The id of a face's legend with the shortest outline, the one most easily lost."""
    text = made(job, DPI, False).files["top-art.svg"].decode("utf-8")
    legends = text.split('<g id="top-legends">')[1].split("</g>")[0]
    found = re.findall(r'<path d="([^"]*)"[^>]*id="([^"]*)"', legends)
    return min(found, key=lambda item: len(item[0]))[1]


@pytest.mark.parametrize("change", ['transform="translate(0.2 0)"', 'visibility="hidden"'])
@pytest.mark.parametrize("job", JOBS)
def test_a_fault_of_one_small_legend_in_the_svg_is_seen(job: str, change: str) -> None:
    """Moved by a fifth of a millimetre, or missing."""
    work = made(job, DPI, False)
    png = png_colour(work.files["top-art.png"])
    size = (png.shape[1], png.shape[0])
    svg = work.files["top-art.svg"].decode("utf-8")
    id = smallest_legend(job)
    assert svg.count(f'id="{id}"') == 1
    wrong = svg.replace(f'id="{id}"', f'id="{id}" {change}')
    assert not agree(png, svg_picture(wrong.encode("utf-8"), size, DPI))


@pytest.mark.parametrize("job", JOBS)
def test_a_mirrored_file_is_seen(job: str) -> None:
    png = png_colour(made(job, DPI, False).files["top-art.png"])
    size = (png.shape[1], png.shape[0])
    turned = made(job, DPI, True)
    assert not agree(png, svg_picture(turned.files["top-art.svg"], size, DPI))
    assert not agree(png, pdf_picture(turned.files["top-art.pdf"], size))


@pytest.mark.parametrize("job", JOBS)
def test_another_scale_and_a_mirror_are_seen(job: str) -> None:
    png = png_colour(made(job, DPI, False).files["top-art.png"])
    height, width = png.shape[:2]
    larger = Image.fromarray(png).resize((round(width * 1.005), round(height * 1.005)), Image.Resampling.BICUBIC)
    assert not agree(png, np.asarray(larger.crop((0, 0, width, height))))
    rolled = np.roll(png, 3, axis=0)
    assert not agree(png, rolled)


def test_sizes_are_compared_first() -> None:
    with pytest.raises(ValueError, match="sizes differ"):
        difference(np.zeros((2, 3), np.uint8), np.zeros((3, 2), np.uint8))


def test_pictures_and_drawings_agree_too(tmp_path: object) -> None:
    """Pixels with clear parts, tiles, opacity and a turned drawing, in colour and in toner."""
    from pathlib import Path

    from helpers.jobs import WAVES

    assert isinstance(tmp_path, Path)
    out = io.BytesIO()
    ramp = Image.linear_gradient("L").convert("RGB")
    ramp.putalpha(Image.radial_gradient("L"))
    ramp.save(out, "PNG")
    (tmp_path / "ramp.png").write_bytes(out.getvalue())
    (tmp_path / "waves.svg").write_bytes(WAVES)
    art = '[[face.art]]\nfile = "{}"\n{}\n'
    for process in ("adhesive-label", "toner-resist"):
        job = f'[box]\nstock = "93x39x31"\n[finish]\nprocess = "{process}"\n[[face]]\nside = "top"\n'
        job += art.format("ramp.png", 'fit = "tile"\ntile = 15\nopacity = 0.6')
        job += art.format("waves.svg", "size = [20, 20]\nat = [10, 0]\nangle = 30")
        (tmp_path / "job.toml").write_text(job, encoding="utf-8")
        wishes = Wishes(("svg", "png", "pdf"), ("art",), DPI, False)
        files = make(prepare(tmp_path / "job.toml", wishes), wishes)
        png = png_colour(files["top-art.png"])
        size = (png.shape[1], png.shape[0])
        # A screen of dots is all edges: each pixel may differ there, the tone over a millimetre may not.
        if process == "toner-resist":
            for other in (svg_picture(files["top-art.svg"], size, DPI), pdf_picture(files["top-art.pdf"], size)):
                assert np.abs(tone(png) - tone(other)).max() < 26
        else:
            assert difference(png, svg_picture(files["top-art.svg"], size, DPI)).mean < MEAN
            assert difference(png, pdf_picture(files["top-art.pdf"], size)).mean < MEAN


def tone(picture: Grey) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """Mean grey over squares of 2 mm."""
    side = round(2 / 25.4 * DPI)
    grey = picture.mean(axis=2)
    rows, columns = grey.shape[0] // side, grey.shape[1] // side
    return grey[: rows * side, : columns * side].reshape(rows, side, columns, side).mean(axis=(1, 3))
