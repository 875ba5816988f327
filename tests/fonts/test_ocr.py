"""Legibility: a reading program reads every cut at label size.

Method: lines of plain words and figure groups that between them hold every letter in both
cases and every figure are drawn with capitals 2.5 mm high, at 600 dpi in grey and at 300 dpi
in black and white without grey levels.  Tesseract reads each page as one block of text.  The
rate is one less the least number of character changes that turn its text into the original,
over the number of characters, spaces left out.
"""

from __future__ import annotations

import os
import string
import subprocess
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from pathlib import Path

import pytest
from font_measure import BUILT, differences
from PIL import Image, ImageDraw, ImageFont

LINES = (
    "RATE DEPTH LEVEL VOLUME",
    "WAVE MIX BOOST FUZZ KEY",
    "GAIN JACK QUIET CHORUS",
    "Rate Depth Level Volume Tone",
    "Wave Mix Boost Fuzz Key",
    "Gain Jack Quiet Chorus",
    "Xylophone Zither Output Input",
    "Echo Noise Speed Shape Peak",
    "wave mix boost fuzz key gain",
    "jack quiet chorus depth level",
    "10 20 35 47 68 90 120 430",
)
CAP_MM = 2.5
CAP_PER_EM = 0.7


def page(path: Path, dpi: int, mode: str) -> bytes:
    """Draw the lines as a PNG; mode "L" is grey, "1" black and white."""
    em = CAP_MM / 25.4 * dpi / CAP_PER_EM
    font = ImageFont.truetype(str(path), em)
    step, margin = round(1.7 * em), round(1.5 * em)
    width = max(round(font.getlength(line)) for line in LINES) + 2 * margin
    image = Image.new(mode, (width, step * len(LINES) + 2 * margin), 1 if mode == "1" else 255)
    draw = ImageDraw.Draw(image)
    for index, line in enumerate(LINES):
        draw.text((margin, margin + index * step), line, font=font, fill=0)
    stream = BytesIO()
    image.save(stream, "PNG", dpi=(dpi, dpi))
    return stream.getvalue()


def read(program: str, image: bytes) -> str:
    """Return what tesseract reads, without spaces."""
    command = [program, "stdin", "stdout", "--psm", "6", "-l", "eng"]
    environment = os.environ | {"OMP_THREAD_LIMIT": "1"}
    done = subprocess.run(command, input=image, capture_output=True, check=True, env=environment)
    return "".join(done.stdout.decode("utf-8").split())


def rate(found: str) -> float:
    """Return the share of characters read rightly."""
    wanted = "".join("".join(LINES).split())
    return 1 - differences(found, wanted) / len(wanted)


@pytest.mark.parametrize(("dpi", "mode", "least"), [(600, "L", 0.99), (300, "1", 0.97)])
def test_every_cut_is_read(tesseract: str, dpi: int, mode: str, least: float) -> None:
    paths = sorted(BUILT.glob("*-*.ttf"))
    with ThreadPoolExecutor() as pool:
        texts = pool.map(lambda path: read(tesseract, page(path, dpi, mode)), paths)
    rates = {path.stem: round(rate(text), 4) for path, text in zip(paths, texts, strict=True)}
    assert {stem: r for stem, r in rates.items() if r < least} == {}


def test_the_specimen_holds_every_letter_and_figure() -> None:
    assert set("".join(LINES)) >= set(string.ascii_letters + string.digits)


def test_misreading_is_counted() -> None:
    right = "".join("".join(LINES).split())
    assert rate(right) == 1
    assert rate(right.replace("R", "K").replace("0", "")) < 0.97
    assert differences("abc", "abd") == differences("abc", "ab") == differences("ab", "abc") == 1
