"""Screens of processes without greys: tone, dots and gaps that hold, clearings, rulings; measured on the files."""

import io
import math
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from eyes import png_grey
from helpers.jobs import lay, svg
from helpers.runs import run_here
from PIL import Image

from facegraphic.film.cleaning import cleaned
from facegraphic.film.gang import lay_gangs
from facegraphic.film.round_dots import Lattice, in_round_dots
from facegraphic.film.screen import bayer, diffused, ordered
from facegraphic.output.png import png_bytes
from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.stock.tables import films

Mask = np.ndarray[Any, np.dtype[np.bool_]]
SCREENS = ("diffusion", "ordered", "dots")
MM_PER_INCH = 25.4
JOB = """\
title = "KELP DRIER"
[box]
stock = "93x39x31"
orientation = "portrait"
[finish]
process = "{process}"
{finish}
[[face]]
side = "top"
hole = [{{ id = "heat", at = [0, 25], d = 7.5 }}, {{ id = "foot", at = [0, -28], d = 12.2 }}]
[[face.control]]
hole = "heat"
part = "pot-16"
knob = "round-16"
label = "HEAT"
scale = {{ from = 0, to = 10, step = 1 }}
[[face.text]]
text = "{{title}}"
at = [0, -10]
height = 3.6
{art}
"""
PHOTO = '[[face.art]]\nfile = "photo.png"\nscreen = "{}"\n{}\n'


def png(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def fading() -> Image.Image:
    """A photo that fades out towards its edges: scikit-image's camera under a round veil."""
    photo = Image.fromarray(skimage.data.camera()).convert("RGB")
    photo.putalpha(Image.radial_gradient("L").resize(photo.size).point(lambda value: 255 - value))
    return photo


CAMERA, FADING = png(Image.fromarray(skimage.data.camera())), png(fading())


def page(folder: Path, text: str, dpi: int, photo: bytes = CAMERA, kind: str = "art") -> Mask:
    """The black pixels of a job's top face, unmirrored."""
    wishes = Wishes(("png",), (kind,), dpi, False)
    files = make(prepare(lay(folder, text, {"photo.png": photo, "bar.svg": BAR}), wishes), wishes)
    return png_grey(files["top-art.png" if kind == "art" else "sheet-1.png"]) < 128


@cache
def bare_page(process: str, finish: str, dpi: int) -> Mask:
    """The same without a picture: every screen is held against it."""
    with TemporaryDirectory() as folder:
        return page(Path(folder), JOB.format(process=process, finish=finish, art=""), dpi)


BAR = svg('<path d="M2 12H28V18H2Z"/>')


# ---------------------------------------------------------------- tone


def cases() -> dict[str, Any]:
    """Flat greys, scikit-image's camera and Pillow's linear gradient."""
    flat = {f"grey {g}": np.full((64, 64), g, np.uint8) for g in (0, 16, 32, 64, 96, 128, 160, 192, 224, 255)}
    return {**flat, "camera": skimage.data.camera(), "ramp": np.asarray(Image.linear_gradient("L"))}


def screened(kind: str, grey: Any) -> Any:
    """Bare pixels of a picture, one cell a pixel; for round dots 8 × 8 pixels each, cleaned."""
    tone = 1 - np.asarray(grey, np.float64) / 255
    free = np.ones(tone.shape, np.bool_)
    if kind == "dots":
        tone, free = (np.kron(part, np.ones((8, 8), part.dtype)) for part in (tone, free))
        ink = in_round_dots(tone, free, Lattice(24.0, math.radians(45), 5.2, 6.4))
        return ~cleaned(ink, free, (4, 5), True)
    return ~(diffused if kind == "diffusion" else ordered)(tone, free)


@pytest.mark.parametrize("kind", SCREENS)
@pytest.mark.parametrize("case", cases())
def test_the_mean_tone_is_that_of_pillows_dither(kind: str, case: str) -> None:
    """Within 1 % of full scale of Pillow's `convert("1")`, which is Floyd and Steinberg's error diffusion."""
    grey = cases()[case]
    expected = np.asarray(Image.fromarray(grey).convert("1")).mean()
    found = screened(kind, grey).mean()
    assert abs(found - expected) < 0.01
    assert abs(found - grey.mean() / 255) < 0.01


def test_another_tone_is_seen() -> None:
    wrong = np.full((64, 64), 134, np.uint8)
    right = np.asarray(Image.fromarray(np.full((64, 64), 128, np.uint8)).convert("1")).mean()
    assert all(abs(screened(kind, wrong).mean() - right) > 0.01 for kind in SCREENS)


def test_bayers_matrices() -> None:
    """The recursion M(2n) = [[4M, 4M+2], [4M+3, 4M+1]] (Bayer 1973); side 4 as in ImageMagick's o4x4, less 1."""
    assert bayer(2).tolist() == [[0, 2], [3, 1]]
    assert bayer(4).tolist() == [[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]]
    assert bayer(8)[0].tolist() == [0, 32, 8, 40, 2, 34, 10, 42]
    assert sorted(bayer(8).ravel()) == list(range(64))


@pytest.mark.parametrize("grey", range(0, 256, 15))
def test_an_ordered_flat_grey_has_as_many_dots_as_thresholds_below_it(grey: int) -> None:
    """So its error is at most 1/64 (arithmetic)."""
    tone = np.full((64, 64), 1 - grey / 255)
    count = sum((step + 0.5) / 64 < tone[0, 0] for step in range(64))
    assert ordered(tone, np.ones(tone.shape, np.bool_)).sum() == 64 * count


@pytest.mark.parametrize("share", [1 / 4, 1 / 3])
def test_diffusion_draws_no_regular_pattern(share: float) -> None:
    """Plain error diffusion locks into stripes at even shares; here no direction holds much of the power (by FFT)."""
    free = np.ones((256, 256), np.bool_)
    mine = diffused(np.full(free.shape, share), free)
    plain = ~np.asarray(Image.fromarray(np.full(free.shape, round(255 * (1 - share)), np.uint8)).convert("1"))
    assert peak(mine) < peak(plain) / 4


def peak(ink: Mask) -> float:
    """The strongest single frequency of a pattern, as a share of all its power but the mean's."""
    power = np.abs(np.fft.fft2(ink - ink.mean())) ** 2
    return float(power.max() / power.sum())


# ---------------------------------------------------------------- sizes


def discs(diameter: int) -> list[Any]:
    """A disc of some pixels across, a quarter pixel short all round: one about a pixel's middle, one about a corner."""
    found = []
    for side in (diameter, diameter - 1):
        along = np.arange(side) - (side - 1) / 2
        found.append((np.hypot(along[:, None], along) <= diameter / 2 - 0.25).astype(np.uint8))
    return [element for element in found if element.any()]


def lost(mask: Mask, elements: list[Any], outside: bool) -> Mask:
    """What is left of a mask by opening it with any of some structuring elements; beyond the page all is `outside`."""
    wide = max(map(len, elements))
    padded = np.pad(mask, wide, constant_values=outside).astype(np.uint8)
    gone = mask.copy()
    for element in elements:
        # One with an even side has no middle: what shrinks from one corner on has to grow from the other again.
        last = len(element) - 1
        opened = cv2.dilate(cv2.erode(padded, element, anchor=(0, 0)), element, anchor=(last, last))
        gone &= opened[wide:-wide, wide:-wide] == 0
    return gone


def crumbs(mask: Mask, plain: Mask, width: float, outside: bool) -> list[int]:
    """The sizes of what an opening by a disc takes from a mask, but for what it takes of the same face without art.

    The disc is `width` pixels wide, rounded down, less one. A square as wide as a disc loses its four corners, each
    (1 - pi/4)/4 of its area, to it; so much, with a pixel's rounding
    on either side and three more, is no crumb.
    """
    size = max(1, int(width) - 1)
    gone = lost(mask, discs(size), outside) & ~lost(plain, discs(size), outside)
    corner = (1 - math.pi / 4) / 4 * (size + 2) ** 2 + 3
    stats = cv2.connectedComponentsWithStats(gone.astype(np.uint8), connectivity=4)[2]
    return [int(area) for area in stats[1:, cv2.CC_STAT_AREA] if area > corner]


FACES = {
    "halo": ("toner-transfer", "halo = 0.6", "", CAMERA),
    "no halo": ("toner-transfer", "", "", CAMERA),
    "cleared holes": ("toner-transfer", 'holes = "clear"\nhalo = 0.8', "", CAMERA),
    "a region": ("toner-transfer", "halo = 0.5", "size = [24.3, 51.7]\nat = [1.13, 3.07]\nangle = 13", CAMERA),
    "soft edges": ("toner-transfer", "", "size = [30, 60]", FADING),
    "raised": ("toner-resist", 'holes = "clear"', "", CAMERA),
    "sunk": ("toner-resist", 'polarity = "sunk"\nhalo = 0.7', "", CAMERA),
}


SOME = ("halo", "a region", "sunk")  # drawn at 1200 dpi too, which takes its time


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize(
    ("face", "dpi"), [(face, dpi) for dpi in (300, 600, 1200) for face in FACES if dpi < 1200 or face in SOME]
)
def test_no_dot_and_no_gap_is_finer_than_the_process_holds(tmp_path: Path, screen: str, face: str, dpi: int) -> None:
    process, finish, more, photo = FACES[face]
    film = films()[process]
    ink = page(tmp_path / "art", JOB.format(process=process, finish=finish, art=PHOTO.format(screen, more)), dpi, photo)
    plain = bare_page(process, finish, dpi)
    sunk = "sunk" in finish
    black, bare = (film.gap_reversed, film.line_reversed) if sunk else (film.line, film.gap)
    scale = dpi / MM_PER_INCH
    assert 0.02 < (ink ^ plain).mean() < 0.98  # there are dots
    assert crumbs(ink, plain, black * scale, False) == []
    assert crumbs(~ink, ~plain, bare * scale, True) == []


@pytest.mark.parametrize("width", [1, 2])
def test_planted_crumbs_are_seen(width: int) -> None:
    plain = np.zeros((80, 80), np.bool_)
    ink = plain.copy()
    ink[20:40, 20:40] = True
    assert crumbs(ink, plain, 5.9, False) == []
    ink[30 : 30 + width, 40:60] = True
    assert crumbs(ink, plain, 5.9, False) != []
    assert crumbs(ink, ink, 5.9, False) == []


@pytest.mark.parametrize("dpi", [300, 600, 1200])
@pytest.mark.parametrize("screen", ["diffusion", "ordered"])
def test_cells_are_squares_of_whole_pixels(tmp_path: Path, screen: str, dpi: int) -> None:
    """Opened by a square of the process's least gap in whole pixels, ink and bare ground lose nothing."""
    text = JOB.split("hole = ")[0].format(process="toner-transfer", finish="") + PHOTO.format(screen, "")
    ink = page(tmp_path, text, dpi)
    side = math.ceil(films()["toner-transfer"].gap * dpi / MM_PER_INCH)
    inner = np.s_[4 * side : -4 * side, 4 * side : -4 * side]
    for mask in (ink, ~ink):
        assert not lost(mask, [np.ones((side, side), np.uint8)], True)[inner].any()


@pytest.mark.parametrize("screen", SCREENS)
def test_lettering_stands_clear(tmp_path: Path, screen: str) -> None:
    """Dots keep the process's gap from lettering, and the halo's width where there is one."""
    dpi = 1200
    through = 'holes = "through"\n'
    plain = bare_page("toner-transfer", through, dpi)
    for halo, least in (("", films()["toner-transfer"].gap), ("halo = 0.7", 0.7)):
        text = JOB.format(process="toner-transfer", finish=through + halo, art=PHOTO.format(screen, ""))
        dots = page(tmp_path / (halo or "none"), text, dpi) & ~plain
        apart = cv2.distanceTransform((~plain).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        assert dots.any()
        assert apart[dots].min() * MM_PER_INCH / dpi > least - MM_PER_INCH / dpi


@pytest.mark.parametrize("screen", SCREENS)
def test_the_tone_of_a_picture_is_kept_on_the_page(tmp_path: Path, screen: str) -> None:
    """A flat grey, placed and screened: its dots cover the share that it is dark (by counting)."""
    grey = png(Image.new("L", (200, 200), 153))
    text = JOB.split("hole = ")[0].format(process="toner-transfer", finish="")
    ink = page(tmp_path, text + PHOTO.format(screen, 'size = [28, 28]\nfit = "stretch"'), 600, grey)
    high, wide = ink.shape
    half = round(13 * 600 / MM_PER_INCH)
    middle = ink[high // 2 - half : high // 2 + half, wide // 2 - half : wide // 2 + half]
    assert middle.mean() == pytest.approx(0.4, abs=0.012)


def test_a_plain_drawing_stays_sharp_and_dots_keep_off_it(tmp_path: Path) -> None:
    art = PHOTO.format("diffusion", "") + '[[face.art]]\nfile = "bar.svg"\nsize = [20, 20]\nat = [0, 5]\n'
    text = JOB.format(process="toner-transfer", finish="", art=art)
    wishes = Wishes(("svg",), ("art",), 600, False)
    files = make(prepare(lay(tmp_path, text, {"photo.png": CAMERA, "bar.svg": BAR}), wishes), wishes)
    assert files["top-art.svg"].count(b"<image") == 1
    assert b'id="top-art-2-image"' in files["top-art.svg"]
    ink = page(tmp_path / "page", text, 600)
    high, wide = ink.shape
    scale = 600 / MM_PER_INCH
    # The bar is 26/30 of 20 mm wide and 6/30 of it high, round 0, 5.
    left, top = wide / 2 - 20 * 26 / 60 * scale, high / 2 - (5 + 20 * 6 / 60) * scale
    column = round(wide / 2 + 3 * scale)
    assert ink[round(top) + 2, column]
    gap = int(films()["toner-transfer"].gap * scale)
    assert not ink[round(top) - gap : round(top) - 1, round(left) : round(wide / 2)].any()


# ---------------------------------------------------------------- ruling and angle


def strongest(ink: Mask, dpi: int) -> tuple[float, float]:
    """A screen's lines to the inch and its angle (degrees, 0 to 90), from the strongest frequency of a square of it."""
    side = min(ink.shape)
    part = ink[:side, :side] - ink[:side, :side].mean()
    window = np.hanning(side)[:, None] * np.hanning(side)
    power = np.abs(np.fft.rfft2(part * window)) ** 2
    row, column = np.unravel_index(int(power.argmax()), power.shape)
    rows, columns = np.arange(-2, 3) + row, np.clip(np.arange(-2, 3) + column, 0, power.shape[1] - 1)
    near = power[np.ix_(rows % side, columns)]
    up = -float((near.sum(axis=1) * rows).sum() / near.sum())
    up += side if up < -side / 2 else 0
    across = float((near.sum(axis=0) * (np.arange(-2, 3) + column)).sum() / near.sum())
    return math.hypot(up, across) * dpi / side, math.degrees(math.atan2(up, across)) % 90


@pytest.mark.parametrize(("ruling", "angle"), [(20, 45), (25, 15), (12.5, 75), (25, 30)])
def test_ruling_and_angle_are_on_the_page(tmp_path: Path, ruling: float, angle: float) -> None:
    grey = png(Image.new("L", (200, 200), 190))
    text = JOB.split("hole = ")[0].format(process="toner-transfer", finish=f"ruling = {ruling}\nscreen = 'dots'")
    text = text.replace("ruling", f"screen-angle = {angle}\nruling")
    ink = page(tmp_path, text + '[[face.art]]\nfile = "photo.png"\n', 600, grey)
    high = ink.shape[0]
    middle = ink[high // 2 - 400 : high // 2 + 400, 40:840]
    assert strongest(middle, 600) == (pytest.approx(ruling, rel=0.01), pytest.approx(angle, abs=1))


def test_dots_too_light_to_hold_are_left_out_evenly(tmp_path: Path) -> None:
    """A tone of 2 % at 25 lines: dots of the least size, fewer of them, as many in each quarter (by OpenCV)."""
    grey = png(Image.new("L", (200, 200), 250))
    text = JOB.split("hole = ")[0].format(process="toner-transfer", finish="")
    ink = page(tmp_path, text + PHOTO.format("dots", "ruling = 25"), 1200, grey)
    stats = cv2.connectedComponentsWithStats(ink.astype(np.uint8), connectivity=4)
    areas = stats[2][1:, cv2.CC_STAT_AREA] * (MM_PER_INCH / 1200) ** 2
    least = math.pi / 4 * films()["toner-transfer"].line ** 2
    assert np.median(areas) == pytest.approx(least, rel=0.15)
    assert len(areas) < 0.8 * ink.size * (25 / 1200) ** 2
    assert ink.mean() == pytest.approx(5 / 255, abs=0.004)
    high, wide = ink.shape
    centres = stats[3][1:]
    quarters = [((centres[:, 0] < wide / 2) == a) & ((centres[:, 1] < high / 2) == b) for a in (0, 1) for b in (0, 1)]
    counts = [int(quarter.sum()) for quarter in quarters]
    assert max(counts) < 1.25 * min(counts)


def test_a_ruling_as_a_distance(tmp_path: Path) -> None:
    """1.27 mm apart is 20 to the inch (arithmetic)."""
    text = JOB.split("hole = ")[0].format(process="toner-transfer", finish="")
    pages = [
        page(tmp_path / name, text + PHOTO.format("dots", f"ruling = {value}"), 300)
        for name, value in (("a", "20"), ("b", '"1.27 mm"'), ("c", "21"))
    ]
    assert (pages[0] == pages[1]).all()
    assert (pages[0] != pages[2]).any()


@pytest.mark.parametrize(
    ("finish", "art", "said"),
    [
        ("", 'screen = "dots"\nruling = 60', "use ruling = 31 or fewer"),
        ('screen = "dots"\nruling = "0.3 mm"', "", "use ruling = 31 or fewer"),
        ("", 'screen = "round"', '"round" is not known here'),
        ("", "ruling = 20", "only round dots have it"),
        ('screen = "dots"\nruling = 0', "", "between 2 and 300"),
        ('screen = "dots"\nscreen-angle = 900', "", "between -360 and 360"),
    ],
)
def test_a_screen_that_cannot_be_is_told(tmp_path: Path, finish: str, art: str, said: str) -> None:
    text = JOB.format(process="toner-transfer", finish=finish, art=f'[[face.art]]\nfile = "photo.png"\n{art}\n')
    ran = run_here("make", lay(tmp_path, text, {"photo.png": CAMERA}))
    assert (ran.status, said in ran.err) == (1, True), ran.err
    assert "job.toml:" in ran.err


def test_a_process_with_greys_screens_nothing(tmp_path: Path) -> None:
    text = JOB.format(process="adhesive-label", finish='screen = "dots"', art="")
    ran = run_here("check", lay(tmp_path, text))
    assert "prints greys and needs no screen" in ran.err


def test_the_advised_ruling_would_do(tmp_path: Path) -> None:
    text = JOB.format(process="toner-transfer", finish='screen = "dots"\nruling = 31', art="")
    assert run_here("make", lay(tmp_path, text), "--only", "art", "--format", "svg").status == 0


@pytest.mark.parametrize("screen", SCREENS)
def test_sheets_show_the_dots_of_the_art(tmp_path: Path, screen: str) -> None:
    """A sheet at the same resolution has the same dots, pixel for pixel, wherever the face stands on it."""
    text = JOB.format(process="toner-transfer", finish="halo = 0.6", art=PHOTO.format(screen, "size = [30, 30]"))
    art = page(tmp_path, text, 300).astype(np.uint8)
    sheet = page(tmp_path, text, 300, kind="sheet").astype(np.uint8)
    sheet = np.ascontiguousarray(np.rot90(sheet, -1))  # this face lies turned by a quarter to the left
    scale = 300 / MM_PER_INCH
    high, wide = art.shape
    half = round(13 * scale)
    part = art[high // 2 - half : high // 2 + half, wide // 2 - half : wide // 2 + half] * 255
    found = cv2.matchTemplate(sheet * 255, part, cv2.TM_SQDIFF_NORMED)
    _, _, (x, y), _ = cv2.minMaxLoc(found)
    there = sheet[y : y + part.shape[0], x : x + part.shape[1]] * 255
    # Lettering's edges may fall on other pixels there; dots are no edges of paths.
    assert (there != part).mean() < 0.01


def lost_to_squares(mask: Mask, side: int) -> int:
    """How many pixels of black and of bare ground lie in no square of so many pixels (OpenCV)."""
    square = np.ones((side, side), np.uint8)
    both = [one.astype(np.uint8) for one in (mask, ~mask)]
    return sum(int((one > cv2.morphologyEx(one, cv2.MORPH_OPEN, square)).sum()) for one in both)


def test_a_turned_face_keeps_square_cells_at_another_resolution(tmp_path: Path) -> None:
    """Cells of 3 pixels at 300 dpi are squares of 12 on a turned face at 1200 dpi, but for one pixel of rounding."""
    photo = PHOTO.format("ordered", "size = [30, 30]") + "[sheet]\nsize = [118, 75]\n"
    text = JOB.format(process="toner-transfer", finish="dpi = 300", art=photo)
    prepared = prepare(lay(tmp_path, text, {"photo.png": CAMERA, "bar.svg": BAR}))
    [sheet] = [page for gang in lay_gangs([(prepared.job, prepared.pieces)]) for page in gang.pages]
    assert sheet.lying[0].turned
    mask = png_grey(png_bytes(sheet.scene, 1200)) < 128
    (x, y), px = sheet.lying[0].at, 1200 / MM_PER_INCH
    part = mask[round((y - 5) * px) : round((y + 5) * px), round((x - 3) * px) : round((x + 9) * px)]
    assert 0.2 < part.mean() < 0.8
    some = part.size / 200  # what lettering and its clearing lose, which are no cells
    soft = cv2.GaussianBlur(part.astype(np.uint8) * 255, (0, 0), 2.0) > 127
    assert lost_to_squares(part, 11) < some < lost_to_squares(soft, 11)
