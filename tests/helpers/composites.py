"""Finished faces put together from the files alone: the art as PNG, the masks as SVG, and the paint.

Nothing here calls the program but to make those files. Pictures are RGB bytes, rows from the top; light is linear sRGB
(IEC 61966-2-1).
"""

import io
import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import resvg_py
import skimage.color
from ezdxf import bbox
from PIL import Image, ImageColor, ImageOps
from samples import FOLDER, Made, made_of, prepared_once

from facegraphic.pipeline.preparing import Prepared, Wishes

MM = 25.4
DPI = 200
METAL, FILLED = "#c8c8c8", "#232527"
MARGIN = 2.0  # mm round the cut lines in a mask's SVG
OVER = 4  # pixels of a mask to one of the picture, each way

Array = np.ndarray[Any, Any]


def job_with(folder: Path, name: str, process: str, more: str = "") -> Path:
    """An example as another process prints it, with more lines in its [finish], beside its files."""
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    text = re.sub(r'(?m)^process = ".*"$', f'process = "{process}"\n{more}', text, count=1)
    for file in FOLDER.iterdir():
        if file.is_file() and file.suffix != ".toml":
            (folder / file.name).write_bytes(file.read_bytes())
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def to_light(picture: Array) -> Array:
    """Coded bytes to linear light: straight up to 0.04045, then ((c + 0.055) / 1.055)^2.4 (IEC 61966-2-1)."""
    share = np.asarray(picture, float) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def to_bytes(light: Array) -> Array:
    light = np.clip(light, 0, 1)
    coded = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.rint(coded * 255).astype(np.uint8)


def flat_colour(ink: str) -> Array:
    return np.array(ImageColor.getrgb(ink), np.uint8)


def printed(data: bytes, mirrored: bool, size: tuple[int, int], dpi: int = DPI) -> Image.Image:
    """A face's PNG turned over if it is mirrored, and the part of it round its middle that a picture of `size` pixels
    at `DPI` shows; each pixel is the mean of the print's pixels under it.
    """
    page = Image.open(io.BytesIO(data))
    page = page.convert("L" if page.mode == "1" else "RGB")
    page = ImageOps.mirror(page) if mirrored else page
    page = ImageOps.expand(page, 20, "white")
    half = [count * dpi / DPI / 2 for count in size]
    x, y = page.width / 2, page.height / 2
    part = (x - half[0], y - half[1], x + half[0], y + half[1])
    return page.resize(size, Image.Resampling.BOX, box=part)


@dataclass(frozen=True)
class Work:
    """A job's files, and the job file as plain data."""

    made: Made
    data: dict[str, Any]

    @property
    def process(self) -> str:
        return str(self.made.report["process"])

    @property
    def paint(self) -> str:
        return str(self.data["box"].get("paint", METAL))

    @property
    def sides(self) -> list[str]:
        return [face["side"] for face in self.data["face"]]


def seen_and_made(path: Path, dpi: int, mirrored: bool | None = None) -> tuple[Prepared, Work]:
    """A job prepared, for its looks, and the files made of it: to lay it out takes longest, so that is done once."""
    wishes = Wishes(("svg", "png"), ("art", "masks"), dpi, mirrored)
    prepared = prepared_once(path, wishes)
    return prepared, Work(made_of(prepared, wishes), tomllib.loads(path.read_text(encoding="utf-8")))


def coat_paint(coat: dict[str, Any]) -> str | None:
    """A coat's colour; a grey where a primer names none, none where a coat is clear."""
    return None if coat.get("kind") == "clear" else coat.get("paint", "#8d9093")


def sprayed(work: Work, side: str, number: int, size: tuple[int, int]) -> Array:
    """A face painted coat by coat through the masks that were written: paint lands where no mask lies.

    Each mask is drawn by resvg, many pixels to one of the picture, so that edges are as soft as they should be.
    """
    fine = (size[0] * OVER, size[1] * OVER)
    face = Image.new("RGB", fine, work.paint)
    for count, coat in enumerate(work.data.get("coat", [])[:number], 1):
        where = coat.get("side", work.sides)
        paint = coat_paint(coat)
        if paint is None or side not in ([where] if isinstance(where, str) else where):
            continue
        face.paste(paint, (0, 0), _bare(work, f"mask-{side}-{count}", fine))
    return np.asarray(face.resize(size, Image.Resampling.BOX))


def _bare(work: Work, stem: str, size: tuple[int, int]) -> Image.Image:
    """Where a mask leaves a face open, white on black; all of it where there is no mask."""
    if f"{stem}.svg" not in work.made.files:
        return Image.new("L", size, 255)
    return _open(work.made.files[f"{stem}.svg"], work.made.files[f"{stem}.dxf"], size)


@lru_cache(maxsize=16)  # every coat is looked at on those below it, so each mask is asked for again and again
def _open(svg: bytes, dxf: bytes, size: tuple[int, int]) -> Image.Image:
    """What a mask as written leaves open.

    The SVG's page ends `MARGIN` past its lines; where these lie on the face the DXF says, which counts from its middle.
    """
    document = ezdxf.read(io.StringIO(dxf.decode("utf-8")))
    lines = bbox.extents(document.modelspace())
    scale = DPI * OVER / MM
    left, top = lines.extmin.x - MARGIN, lines.extmax.y + MARGIN
    view = (-size[0] / 2 / scale - left, top - size[1] / 2 / scale, size[0] / scale, size[1] / scale)
    paths = " ".join(re.findall(r' d="([^"]*)"', svg.decode("utf-8")))
    drawn = resvg_py.svg_to_bytes(
        svg_string=f'<svg xmlns="http://www.w3.org/2000/svg" width="{size[0]}" height="{size[1]}"'
        f' viewBox="{" ".join(map(str, view))}"><path fill-rule="evenodd" d="{paths}"/></svg>',
        background="#ffffff",
    )
    return Image.open(io.BytesIO(bytes(drawn))).convert("L")


def composite(work: Work, side: str, under: Array, dpi: int = DPI) -> Array:
    """A face's print laid on its paint, as each process is: worked out from what was written."""
    size = (under.shape[1], under.shape[0])
    mirrored = bool(work.made.report["mirrored"])

    def page(plate: str) -> Array:
        return np.asarray(printed(work.made.files[f"{side}-{plate}.png"], mirrored, size, dpi), float)

    if work.process in ("waterslide-white", "adhesive-label"):
        return np.rint(page("art")).astype(np.uint8)  # opaque stock: what is printed is what is seen
    below = to_light(under)
    if work.process in ("waterslide-clear", "waterslide-reversed"):
        return to_bytes(to_light(page("art")) * below)  # inks only darken: W3C Compositing's multiply, in light
    if work.process == "service-print":
        white = (1 - page("white") / 255)[..., None]
        return to_bytes(to_light(page("colour")) * (white + (1 - white) * below))
    bare = (page("art") / 255)[..., None]
    if work.process == "toner-transfer":
        return to_bytes((bare * below ** (1 / 1.7)) ** 1.7)  # Yule and Nielsen's model; toner itself gives no light
    return to_bytes(_relief(work, below, bare))


def _relief(work: Work, below: Array, bare: Array) -> Array:
    """Metal that stays, hollows that are filled: with the paint, or near black on a box of bare metal; the step between
    them is lighter where it looks to the upper left, and darker where it looks away.
    """
    metal = to_light(flat_colour(METAL))
    if "coat" not in work.data and max(abs(flat_colour(work.paint).astype(int) - flat_colour(METAL))) < 16:
        below = to_light(flat_colour(FILLED))
    high = np.pad(1 - bare[..., 0], 1, mode="edge")
    rise = high[2:, 2:] - high[:-2, :-2]
    return (below * bare + metal * (1 - bare)) * (1 + 0.35 * rise[..., None])


def alike(one: Array, other: Array, counted: Array | None = None) -> float:
    """The share of pixels whose colours differ by no more than 1 (CIEDE2000, by scikit-image)."""
    counted = np.ones(one.shape[:2], bool) if counted is None else counted
    unlike = counted & (one != other).any(axis=-1)
    here, there = (skimage.color.rgb2lab(picture[unlike][None]) for picture in (one, other))
    return 1 - float((skimage.color.deltaE_ciede2000(here, there) > 1).sum()) / float(counted.sum())
