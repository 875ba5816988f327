"""The white plate of a service print: what it covers, where it is drawn in, and how it leaves, read back by others."""

import io
import json
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pikepdf
import pypdfium2
import pytest
from eyes import difference, pdf_picture, png_colour, png_depth, png_grey, svg_picture
from helpers.jobs import lay, svg
from PIL import Image
from samples import FOLDER

from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.stock.tables import films

Mask = np.ndarray[Any, np.dtype[np.bool_]]
DPI = 1200
SCALE = DPI / 25.4
CHOKE = films()["service-print"].choke
JOB = """\
title = "KELP"
[box]
stock = "93x39x31"
orientation = "portrait"
[finish]
process = "service-print"
ink = "#203060"
font = "tagstrip-bold"
{finish}
[[face]]
side = "top"
hole = [{{ id = "foot", at = [0, -28], d = 12.2 }}]
[[face.text]]
text = "KELP"
at = [0, 10]
height = {height}
{art}
"""
ART = '[[face.art]]\nfile = "{}"\nsize = [16, 20]\nat = [2, 5]\nfit = "stretch"\n'
DISC = svg('<circle cx="15" cy="15" r="12" fill="#c04020"/>')
DRAWN = {
    "lettering": ("", ""),
    "ground": ('ground = "#e0d040"', ""),
    "art": ("", ART.format("disc.svg")),
    "picture": ("halo = 0.6", ART.format("photo.png")),
    "full": ('holes = "clear"', '[[face.art]]\nfile = "photo.png"\n'),
}


def photo() -> bytes:
    out = io.BytesIO()
    Image.linear_gradient("L").point(lambda value: value * 3 // 4).convert("RGB").save(out, "PNG")
    return out.getvalue()


def files_of(folder: Path, kind: str, dpi: int = DPI, height: float = 6.0, more: str = "") -> dict[str, bytes]:
    finish, art = DRAWN[kind]
    text = JOB.format(finish=f"{finish}\n{more}", art=art, height=height)
    wishes = Wishes(("svg", "png", "pdf"), ("art", "steps"), dpi)
    return make(prepare(lay(folder, text, {"disc.svg": DISC, "photo.png": photo()}), wishes), wishes)


def colour_and_white(files: dict[str, bytes]) -> tuple[Mask, Mask]:
    """Pixels with colour on them, and those of the white plate, which is black."""
    colour = (png_colour(files["top-colour.png"]) < 250).any(axis=2)
    return colour, png_grey(files["top-white.png"]) < 128


@pytest.mark.parametrize("kind", ["lettering", "art"])
def test_white_lies_under_the_colour_and_is_drawn_in_by_the_choke(tmp_path: Path, kind: str) -> None:
    """Distances by OpenCV: no white within the choke of bare stock, and white wherever colour is further in."""
    colour, white = colour_and_white(files_of(tmp_path, kind))
    inside = cv2.distanceTransform(colour.astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    assert not (white & ~colour).any()
    assert inside[white].min() > CHOKE * SCALE - 1.5
    assert white[inside > CHOKE * SCALE + 3].all()
    assert 0 < white.sum() < colour.sum()


def test_a_choke_of_its_own_and_none(tmp_path: Path) -> None:
    areas = [colour_and_white(files_of(tmp_path / c, "art", 600, 6.0, f"choke = {c}"))[1].sum() for c in ("0", "0.2")]
    colour, white = colour_and_white(files_of(tmp_path / "none", "art", 600, 6.0, "choke = 0"))
    assert areas[0] > areas[1]
    edges = (white != colour).mean()
    assert edges < 0.01


@pytest.mark.parametrize("kind", ["ground", "full"])
def test_white_runs_on_with_the_colour_where_the_knife_ends_both(tmp_path: Path, kind: str) -> None:
    """Prepress draws a white in at bare stock only; at the bleed's outer edge there is none (common practice)."""
    colour, white = colour_and_white(files_of(tmp_path, kind, 600))
    high, wide = white.shape
    assert white[high // 2, [0, -1]].all()
    assert white[[0, -1], wide // 2].all()
    if kind == "full":
        hole = (high // 2 + round(28 * 600 / 25.4), wide // 2)
        assert not white[hole]
        # From the cleared hole outwards: bare, then colour, then white a choke further.
        row, bare = colour[hole[0], wide // 2 :], white[hole[0], wide // 2 :]
        assert (int(bare.argmax()) - int(row.argmax())) / (600 / 25.4) == pytest.approx(CHOKE, abs=1.6 * 25.4 / 600)


def test_a_halo_is_bare_of_white_too(tmp_path: Path) -> None:
    colour, white = colour_and_white(files_of(tmp_path, "picture", 600))
    grown = cv2.dilate(colour.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    assert not (white & ~grown).any()


def test_fine_strokes_keep_a_line_of_white(tmp_path: Path) -> None:
    """Capitals of 2 mm in the light cut have strokes of 0.14 mm, finer than twice the choke of 0.1 mm."""
    text = JOB.format(finish="", art="", height=2.0).replace("tagstrip-bold", "tagstrip-light")
    wishes = Wishes(("png",), ("art",), 2400)
    prepared = prepare(lay(tmp_path / "light", text), wishes)
    files = make(prepared, wishes)
    assert "white-beside-strokes" in {finding.code for finding in prepared.findings}
    colour, white = colour_and_white(files)
    letters = cv2.connectedComponents(colour.astype(np.uint8))[1]
    share = np.bincount(letters.ravel(), white.ravel()) / np.bincount(letters.ravel())
    assert (share[1:] > 0.3).all()
    assert not (white & ~(cv2.dilate(colour.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0)).any()


def test_broad_strokes_are_no_finding(tmp_path: Path) -> None:
    text = JOB.format(finish="", art="", height=6.0)
    assert "white-beside-strokes" not in {finding.code for finding in prepare(lay(tmp_path, text)).findings}


@pytest.mark.parametrize("kind", DRAWN)
def test_the_three_formats_of_every_file_agree(tmp_path: Path, kind: str) -> None:
    files = files_of(tmp_path, kind, 300)
    for stem in ("top-art", "top-colour", "top-white"):
        png = png_colour(files[f"{stem}.png"])
        size = (png.shape[1], png.shape[0])
        for other in (svg_picture(files[f"{stem}.svg"], size, 300), pdf_picture(files[f"{stem}.pdf"], size)):
            found = difference(png, other)
            # A white plate under artwork is made of pixels, and a page is a part of one wider or narrower than its
            # PNG: along the plate's edges a pixel may fall to either side.
            assert found.mean < 1.5, (stem, found)
            assert found.share < (3e-4 if stem == "top-white" else 5e-5), (stem, found)


def test_layers_of_the_pdf_by_name(tmp_path: Path) -> None:
    """Optional content groups (ISO 32000-1, 8.11), read by pikepdf; hidden by name they are gone for pdfium."""
    pdf = files_of(tmp_path, "art", 300)["top-art.pdf"]
    with pikepdf.open(io.BytesIO(pdf)) as document:
        groups = document.Root.OCProperties.OCGs
        assert [str(group.Name) for group in groups] == ["white", "colour", "marks"]
        assert len(document.pages) == 1
        document.Root.OCProperties.D.OFF = pikepdf.Array([groups[1], groups[2]])
        out = io.BytesIO()
        document.save(out)
    shown = pypdfium2.PdfDocument(pdf)[0].render(scale=2).to_numpy()
    hidden = pypdfium2.PdfDocument(out.getvalue())[0].render(scale=2).to_numpy()
    assert (shown < 200).any()
    assert (hidden > 250).all()  # white alone, on white


def test_layers_of_the_svg_by_name(tmp_path: Path) -> None:
    text = files_of(tmp_path, "art", 300)["top-art.svg"].decode("utf-8")
    places = [text.index(f"<title>{name}</title>") for name in ("white", "colour", "marks")]
    assert places == sorted(places)


def test_plates_are_in_the_report_and_the_white_one_has_one_bit(tmp_path: Path) -> None:
    files = files_of(tmp_path, "art", 300)
    outputs = {record["file"]: record for record in json.loads(files["report.json"])["outputs"]}
    art, colour, white = (outputs[f"top-{name}.png"] for name in ("art", "colour", "white"))
    assert (colour["kind"], white["kind"]) == ("colour-plate", "white-plate")
    for record in (colour, white):
        assert {key: record[key] for key in ("side", "size_px", "centre_px", "mirrored")} == {
            key: art[key] for key in ("side", "size_px", "centre_px", "mirrored")
        }
    assert png_depth(files["top-white.png"]) == (1, 0)
    assert "`top-white.pdf`" in files["steps.md"].decode("utf-8")


def test_the_same_bytes_again_and_no_plates_elsewhere(tmp_path: Path) -> None:
    assert files_of(tmp_path / "a", "picture", 150) == files_of(tmp_path / "b", "picture", 150)
    wishes = Wishes(("svg",), ("art",), 150)
    assert "top-white.svg" not in make(prepare(FOLDER / "slow-ferry.toml", wishes), wishes)
