"""Scans and photos of drilled faces, their pixels changed: what is done to a picture's file is refused early."""

import io
import zlib
from functools import cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

from facegraphic.drill.scan.card import survey_by_card
from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import Survey, survey
from facegraphic.film.card import card
from facegraphic.film.measured import measured_scene
from facegraphic.job.scans import looks_like_picture, scan_dpi, scan_pixels
from facegraphic.output.png import png_bytes, render
from facegraphic.stock.tables import papers

from .mutate import Choices, Maker

DPI = 90
FACE = (60.0, 40.0)  # mm
Pixels = NDArray[np.uint8]
HOLES = ((-18, 8, 7.5), (0, 8, 7.5), (18, 8, 7.5), (-9, -9, 12.2), (14, -9, 5.1))


def read_scan(data: bytes) -> object:
    """A scan measured in one of the ways that there are, and the picture of what was found drawn."""
    if not looks_like_picture(data):
        return None
    pixels, tag = scan_pixels(data, "scan"), scan_dpi(data)
    way = zlib.crc32(data) % 4  # any will do, but the same each time
    if way == 3:
        found = survey_by_card(pixels)
    elif way == 2:
        found = survey(pixels, dpi=DPI)
    else:
        found = survey(pixels, Size(*FACE, top=FACE[0] - 4 if way else None), tag=tag)
    _sound(found)
    return png_bytes(measured_scene(pixels if found.view is None else found.view, found), 40)


def _sound(found: Survey) -> None:
    for hole in found.holes:
        figures = (hole.x, hole.y, hole.d, hole.roundness, hole.ux, hole.uy, hole.ud)
        if not (np.isfinite(figures).all() and hole.d > 0 and min(figures[3:]) >= 0):
            raise AssertionError(f"an unsound hole came out: {hole}")


def _scan() -> Image.Image:
    """A dark face with light holes on a light ground."""
    per_mm = DPI / 25.4
    size = (round(80 * per_mm), round(60 * per_mm))
    image = Image.new("RGB", size, (235, 232, 228))
    pen = ImageDraw.Draw(image)
    middle = (size[0] / 2, size[1] / 2)

    def box(x: float, y: float, w: float, h: float) -> list[float]:
        across, down = middle[0] + x * per_mm, middle[1] - y * per_mm
        return [across - w / 2 * per_mm, down - h / 2 * per_mm, across + w / 2 * per_mm, down + h / 2 * per_mm]

    pen.rounded_rectangle(box(0, 0, *FACE), 2 * per_mm, (70, 82, 96))
    for x, y, d in HOLES:
        pen.ellipse(box(x, y, d, d), (240, 240, 240))
    return image.filter(ImageFilter.GaussianBlur(0.8))


@cache
def pictures() -> tuple[Pixels, ...]:
    """A scan, the same seen askew, and one with a card round it."""
    flat = _scan()
    wide, high = flat.size
    askew = flat.transform(
        flat.size, Image.Transform.QUAD, (0, 0, 9, high, wide, high - 14, wide - 12, 5), Image.Resampling.BICUBIC
    )
    page = render(card(papers()["A4"]), DPI).convert("RGB")
    page = page.crop(page.convert("L").point(lambda value: 255 - value).getbbox())
    page.paste(flat.crop((20, 15, wide - 20, high - 15)), (90, 10))
    return tuple(np.asarray(image) for image in (flat, askew, page))


def saved(pixels: Pixels, form: str = "PNG", dpi: int = DPI) -> bytes:
    out = io.BytesIO()
    options = {"compress_level": 1} if form == "PNG" else {}
    Image.fromarray(pixels).save(out, form, dpi=(dpi, dpi), **options)
    return out.getvalue()


def scans() -> Maker:
    """Pictures whose pixels are changed a few times."""

    def make(choices: Choices) -> bytes:
        pixels = choices.of(pictures())
        for _ in range(choices.upto(4)):
            pixels = _changed(choices, pixels)
        if choices.seldom():
            pixels = np.kron(pixels, np.ones((choices.of((4, 9)),) * 2 + (1,), np.uint8))
        return saved(pixels, choices.of(("PNG", "PNG", "PNG", "JPEG", "TIFF")), choices.of((DPI, 1, 72, 300, 60_000)))

    return make


def _changed(choices: Choices, pixels: Pixels) -> Pixels:
    way = choices.upto(9)
    if way == 0:  # noise
        noise = np.random.default_rng(choices.upto(999)).normal(0, choices.of((1, 8, 40, 200)), pixels.shape)
        return np.clip(pixels + noise, 0, 255).astype(np.uint8)
    if way == 1:  # other levels
        table = np.linspace(choices.of((0, 120, 255)), choices.of((0, 126, 255)), 256)
        return table.astype(np.uint8)[pixels]
    if way == 2:
        image = Image.fromarray(pixels).filter(ImageFilter.GaussianBlur(choices.of((1, 2, 6, 30))))
        return np.asarray(image)
    if way == 3:
        return _drawn_on(choices, pixels)
    if way == 4:  # cut, to next to nothing too
        high, wide = pixels.shape[:2]
        x, y = choices.upto(wide - 1), choices.upto(high - 1)
        return np.ascontiguousarray(pixels[y:, x:] if choices.upto(1) else pixels[: y + 1, : x + 1])
    if way == 5:
        return np.ascontiguousarray(np.rot90(pixels, choices.upto(3))[:, :: choices.of((1, -1))])
    if way == 6:  # seen askew, or through a lens that is none
        image = Image.fromarray(pixels)
        quad = [edge + choices.of((0, -60, -9, 9, 60)) for edge in _corners(image)]
        return np.asarray(image.transform(image.size, Image.Transform.QUAD, quad, Image.Resampling.BILINEAR))
    if way == 7:  # put together with another
        other = choices.of(pictures())
        rows, columns = (min(a, b) for a, b in zip(pixels.shape[:2], other.shape[:2], strict=True))
        mixed = pixels.copy()
        part = mixed[:rows, :columns]
        part[:] = (
            part // 2 + other[:rows, :columns] // 2 if choices.upto(1) else np.maximum(part, other[:rows, :columns])
        )
        return mixed
    if way == 8:
        return np.ascontiguousarray(pixels[:: choices.of((1, 2, 3)), :: choices.of((1, 2, 5))])
    return np.tile(pixels, (choices.of((1, 2)), choices.of((1, 2, 3)), 1))


def _corners(image: Image.Image) -> tuple[int, ...]:
    wide, high = image.size
    return (0, 0, 0, high, wide, high, wide, 0)


def _drawn_on(choices: Choices, pixels: Pixels) -> Pixels:
    """Discs, rings, bars and hatching in any grey."""
    image = Image.fromarray(pixels)
    pen = ImageDraw.Draw(image)
    for _ in range(1 + choices.upto(8)):
        x, y = choices.upto(image.width), choices.upto(image.height)
        wide, high = choices.of((1, 3, 14, 30, 90, 400)), choices.of((1, 3, 14, 30, 90, 400))
        ink, box = (choices.upto(255),) * 3, (x, y, x + wide, y + high)
        way = choices.upto(3)
        if way == 0:
            pen.ellipse(box, ink)
        elif way == 1:
            pen.rectangle(box, ink)
        elif way == 2:
            pen.ellipse((x, y, x + wide, y + wide), None, ink, 1 + wide // 9)
        else:
            for step in range(0, 300, 3 + choices.upto(9)):
                pen.line((x + step, y, x + step, y + high), ink)
    return np.asarray(image)
