"""Tesseract reads every label of four letters and more back; from mirrored art only once it is flipped."""

import re
import shutil
import subprocess
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from eyes import png_grey
from PIL import Image, ImageOps
from samples import JOBS, made

DPI = 600
SCALE = DPI / 25.4
MARGIN_MM = 1.0


@pytest.fixture(scope="session")
def tesseract() -> str:
    import os

    program = shutil.which("tesseract")
    if program is None:
        reason = "tesseract (Debian package tesseract-ocr) is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return program


def labels(job: str) -> list[tuple[str, dict[str, Any]]]:
    """Every straight legend with a word of four letters or more, with its side."""
    report = made(job, DPI, False, formats="png", kinds="art").report
    return [
        (face["side"], legend)
        for face in report["faces"]
        for legend in face["legends"]
        if len(re.sub(r"[^A-Za-z]", "", legend["text"])) >= 4
    ]


def crop(job: str, side: str, legend: dict[str, Any], mirrored: bool) -> Image.Image:
    """The legend's box cut out of the art as it is printed, dark on light."""
    work = made(job, DPI, mirrored, formats="png", kinds="art")
    record = next(output for output in work.outputs("art", "png") if output["side"] == side)
    cx, cy = record["centre_px"]
    x = cx + (-1 if mirrored else 1) * legend["x"] * SCALE
    y = cy - legend["y"] * SCALE
    half_w, half_h = (legend["w"] / 2 + MARGIN_MM) * SCALE, (legend["h"] / 2 + MARGIN_MM) * SCALE
    picture = Image.fromarray(grey_of(job, side, mirrored))
    cut = picture.crop((round(x - half_w), round(y - half_h), round(x + half_w), round(y + half_h)))
    if np.median(np.asarray(cut)) < 128:
        cut = ImageOps.invert(cut)
    return ImageOps.expand(ImageOps.autocontrast(cut), 40, "white")


@cache
def grey_of(job: str, side: str, mirrored: bool) -> Any:
    return png_grey(made(job, DPI, mirrored, formats="png", kinds="art").files[f"{side}-art.png"])


def read(program: str, picture: Image.Image, folder: Path) -> str:
    """What tesseract makes of one line."""
    path = folder / "line.png"
    picture.save(path, dpi=(DPI, DPI))
    done = subprocess.run(
        [program, str(path), "-", "--psm", "7"],
        check=True,
        capture_output=True,
        text=True,
        timeout=60,
        env={"OMP_THREAD_LIMIT": "1"},
    )
    return letters(done.stdout)


def letters(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.lower())


@pytest.mark.parametrize("job", JOBS)
def test_every_label_reads_back(tesseract: str, tmp_path: Path, job: str) -> None:
    found = labels(job)
    assert found
    misread = [
        (legend["text"], seen)
        for side, legend in found
        if (seen := read(tesseract, crop(job, side, legend, False), tmp_path)) != letters(legend["text"])
    ]
    assert misread == []


@pytest.mark.parametrize("job", JOBS)
def test_mirrored_art_reads_only_once_flipped(tesseract: str, tmp_path: Path, job: str) -> None:
    for side, legend in labels(job):
        printed = crop(job, side, legend, True)
        assert read(tesseract, printed, tmp_path) != letters(legend["text"])
        assert read(tesseract, ImageOps.mirror(printed), tmp_path) == letters(legend["text"])
