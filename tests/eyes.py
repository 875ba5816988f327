"""Other eyes than the program's own: rasterisers for SVG and PDF, PNG chunks read by hand, marks found by OpenCV.

Pictures are numpy arrays, rows from the top: grey as floats or bytes (0 black, 255 white), colour as RGB bytes.
A pixel's place is its centre: column 0 stands at 0.5.
"""

import io
import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import pypdfium2
import pypdfium2.raw as pdfium
import resvg_py
from PIL import Image

MM_PER_INCH = 25.4
Grey = np.ndarray[Any, np.dtype[np.uint8]]


@dataclass(frozen=True)
class Resolution:
    """What a pHYs chunk says: pixels per unit across and down, and the unit (1: metre)."""

    across: int
    down: int
    unit: int


def png_chunks(data: bytes) -> Iterator[tuple[str, bytes]]:
    """Every chunk of a PNG in file order; ValueError for a bad signature or checksum (PNG specification, 5.2-5.3)."""
    if data[:8] != b"\x89PNG\r\n\x1a\n":
        raise ValueError("not a PNG")
    at = 8
    while at < len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (sum_,) = struct.unpack(">I", data[at + 8 + length : at + 12 + length])
        if zlib.crc32(kind + body) != sum_:
            raise ValueError(f"bad checksum in {kind!r}")
        yield kind.decode("ascii"), body
        at += 12 + length


def png_resolution(data: bytes) -> Resolution:
    """The pHYs chunk, which must stand before the pixels."""
    for kind, body in png_chunks(data):
        if kind == "pHYs":
            return Resolution(*struct.unpack(">IIB", body))
        if kind == "IDAT":
            break
    raise ValueError("no pHYs before the pixels")


def png_depth(data: bytes) -> tuple[int, int]:
    """Bit depth and colour type (0 grey, 2 RGB) from IHDR."""
    body = dict(png_chunks(data))["IHDR"]
    return body[8], body[9]


def png_picture(data: bytes) -> Image.Image:
    """A PNG as a picture, loaded."""
    picture = Image.open(io.BytesIO(data))
    picture.load()
    return picture


def png_grey(data: bytes) -> Grey:
    return np.asarray(png_picture(data).convert("L"))


def png_colour(data: bytes) -> Grey:
    return np.asarray(png_picture(data).convert("RGB"))


def svg_picture(svg: bytes, size: tuple[int, int], dpi: int) -> Grey:
    """An SVG in mm by resvg, on white, at `dpi` about its centre, cut or filled up to exactly `size` pixels: RGB."""
    text = svg.decode("utf-8")
    box = re.search(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', text)
    if box is None:
        raise ValueError("no viewBox from 0 0")
    wide, high = (side * MM_PER_INCH / dpi for side in size)
    left, top = (float(box[1]) - wide) / 2, (float(box[2]) - high) / 2
    head = re.sub(r' (width|height)="[^"]*"', "", text[: text.index("<defs")])
    head = re.sub(
        r'viewBox="[^"]*"', f'viewBox="{left} {top} {wide} {high}" width="{size[0]}" height="{size[1]}"', head
    )
    drawn = resvg_py.svg_to_bytes(
        svg_string=head + text[text.index("<defs") :], dpi=96, background="#ffffff", skip_system_fonts=True
    )
    picture = png_colour(bytes(drawn))
    if picture.shape[:2] != (size[1], size[0]):
        raise ValueError(f"resvg drew {picture.shape[:2]}, not {size[::-1]}")
    return picture


def pdf_picture(pdf: bytes, size: tuple[int, int]) -> Grey:
    """The first page of a PDF by pdfium, on white, at exactly `size` pixels: RGB."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0]
    bitmap = pypdfium2.PdfBitmap.new_native(*size, pdfium.FPDFBitmap_BGR)
    bitmap.fill_rect((255, 255, 255, 255), 0, 0, *size)
    pdfium.FPDF_RenderPageBitmap(bitmap, page, 0, 0, *size, 0, 0)
    picture = bitmap.to_numpy()[:, :, ::-1].copy()
    bitmap.close()
    page.close()
    document.close()
    return picture


def pdf_pages_mm(pdf: bytes) -> list[tuple[float, float]]:
    """Every page's width and height in mm (ISO 32000: one unit is 1/72 inch)."""
    document = pypdfium2.PdfDocument(pdf)
    sizes = [tuple(side * MM_PER_INCH / 72 for side in document[i].get_size()) for i in range(len(document))]
    document.close()
    return [(width, height) for width, height in sizes]


@dataclass(frozen=True)
class Cross:
    """A thin upright cross in a picture: its middle and its arm-to-arm length, in pixels."""

    x: float
    y: float
    size: float


def crosses(grey: Grey, dpi: int) -> list[Cross]:
    """Every thin upright black cross of a picture, wherever it stands.

    Candidates are connected dark regions; a cross is as wide as high, at least 1.5 mm, empty but for one line across
    and one line down through its middle. Its middle is the mean of its darkness, its soft rim included.
    """
    dark = (grey < 128).astype(np.uint8)
    count, labels, stats, _ = cv2.connectedComponentsWithStats(dark, connectivity=8)
    found = []
    for label in range(1, count):
        x, y, width, height, area = (int(value) for value in stats[label])
        least = 1.5 * dpi / MM_PER_INCH
        if min(width, height) < least or abs(width - height) > 2 or area > 0.3 * width * height:
            continue
        own = labels[y : y + height, x : x + width] == label
        if _is_cross(own):
            found.append(_measured(grey, own, x, y))
    return found


def _is_cross(own: np.ndarray[Any, Any]) -> bool:
    """Whether a mask is one full row band and one full column band about its middle, and nothing else."""
    full_rows, full_columns = np.flatnonzero(own.mean(axis=1) > 0.9), np.flatnonzero(own.mean(axis=0) > 0.9)
    if not len(full_rows) or not len(full_columns):
        return False
    height, width = own.shape
    middled = abs(full_rows.mean() - (height - 1) / 2) <= 1.5 and abs(full_columns.mean() - (width - 1) / 2) <= 1.5
    rest = own.copy()
    rest[full_rows[0] : full_rows[-1] + 1, :] = False
    rest[:, full_columns[0] : full_columns[-1] + 1] = False
    thin = max(np.ptp(full_rows), np.ptp(full_columns)) + 1 <= 0.15 * width
    # Soft edges darken a few pixels in the four inner corners.
    return bool(middled and thin and rest.sum() <= 0.1 * own.sum())


def _measured(grey: Grey, own: np.ndarray[Any, Any], x: int, y: int) -> Cross:
    """The middle of a cross by its darkness, soft rim included."""
    height, width = own.shape
    near = np.zeros((height + 4, width + 4), np.uint8)
    near[2:-2, 2:-2] = own
    near = cv2.dilate(near, np.ones((3, 3), np.uint8))
    top, left = y - 2, x - 2
    rows, columns = np.nonzero(near)
    inside = (rows + top >= 0) & (rows + top < grey.shape[0]) & (columns + left >= 0) & (columns + left < grey.shape[1])
    rows, columns = rows[inside] + top, columns[inside] + left
    weight = 255.0 - grey[rows, columns]
    middle_x = float((columns * weight).sum() / weight.sum()) + 0.5
    middle_y = float((rows * weight).sum() / weight.sum()) + 0.5
    return Cross(middle_x, middle_y, (width + height) / 2)


@dataclass(frozen=True)
class Difference:
    """How far two pictures differ: `mean` of the absolute difference (of 255), and the `strays`.

    A stray is a pixel more than 64 away from anything that the other picture shows within a pixel of it, either way.
    """

    mean: float
    strays: int
    share: float


def difference(a: Grey, b: Grey) -> Difference:
    """Compare two pictures of the same size (size is compared first; nothing is resampled)."""
    if a.shape != b.shape:
        raise ValueError(f"sizes differ: {a.shape} and {b.shape}")
    apart = np.maximum(_beyond(a, b), _beyond(b, a))
    if apart.ndim == 3:
        apart = apart.max(axis=2)
    strays = int((apart > 64).sum())
    mean = float(cv2.absdiff(a, b).mean())
    return Difference(mean, strays, strays / apart.size)


def _beyond(a: Grey, b: Grey) -> Grey:
    """How far each value of a lies outside the values of b within one pixel."""
    kernel = np.ones((3, 3), np.uint8)
    return np.maximum(cv2.subtract(a, cv2.dilate(b, kernel)), cv2.subtract(cv2.erode(b, kernel), a))
