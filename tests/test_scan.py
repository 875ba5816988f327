"""Holes measured in rendered scans and photos, whose truth is known: how true, how sure, and what is refused.

The pictures are made by tests/helpers/scans.py, which shares nothing with the program. Larger studies:
tests/benchmarks/scans.py.
"""

import io
import json
import math
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import cv2
import numpy as np
import pytest
from eyes import pdf_picture, svg_picture
from helpers.jobs import png_file
from helpers.runs import run_apart, run_here
from helpers.scans import Ell, Look, Rendered, TrueHole, random_holes, render, through
from helpers.studies import AIMS, KINDS, Errors, errors, hough_errors, look_of, measured, picture, rms
from helpers.warps import warped
from PIL import Image, ImageDraw
from skimage.measure import CircleModel, EllipseModel, find_contours

from facegraphic.drill.scan.card import find_card, survey_by_card
from facegraphic.drill.scan.limits import MOST_PIXELS
from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import survey
from facegraphic.drill.scan.vision import carry
from facegraphic.drill.table import read_table
from facegraphic.errors import UserError
from facegraphic.job.scans import scan_dpi, scan_pixels

SMALL = (62.0, 38.5)
HOLES = [TrueHole(-20, 8, 7.5), TrueHole(4, 7, 6.3), TrueHole(19, -9, 12.2), TrueHole(-11, -9, 5.1)]
PLAIN = Look(dpi=200, margin=8, lean=1.5)


@cache
def plain() -> Rendered:
    return render(HOLES, SMALL, PLAIN, 1)


BOXES = [(93.0, 38.5), (112.4, 60.5)]
COUNTS = {"150": 2, "300": 3, "600": 1, "photo": 2}  # of tests/benchmarks/scans.py, a small share


@cache
def study(kind: str) -> tuple[list[Errors], list[Errors]]:
    """Errors of the program and of Hough circles, on pictures of both renderers."""
    ours, hough = [], []
    for number in range(COUNTS[kind]):
        size = SMALL if kind == "600" else BOXES[number % 2]
        shot = picture(kind, SEEDS[kind] + number, size)
        ours.append(errors(shot.holes, measured(shot)))
        hough.append(hough_errors(shot))
    return ours, hough


SEEDS = {"150": 0, "300": 1, "600": 2, "photo": 2}


@pytest.mark.parametrize("kind", KINDS)
def test_holes_are_found_where_they_are(kind: str) -> None:
    # Wanted: place within 0.03 mm RMS at 300 dpi and 0.10 mm in a photo of 3000 pixels; no hole missed, none made up.
    found, _ = study(kind)
    place, across = AIMS[kind]
    assert sum(e.missed for e in found) == 0
    assert sum(e.false for e in found) == 0
    assert rms(np.concatenate([e.place for e in found])) <= place
    assert max(max(e.across) for e in found) <= across


def test_the_stated_uncertainty_covers_the_error() -> None:
    shares = np.concatenate([e.shares for kind in KINDS for e in study(kind)[0]])
    assert len(shares) > 100
    assert np.mean(shares <= 2) > 0.93  # twice a standard uncertainty: about 95 %
    assert np.median(shares) > 0.05  # and it is not boundless either


def test_places_are_truer_than_those_of_hough_circles() -> None:
    # OpenCV's circles on the same pictures, although it is given the true outline and the flattened face.
    ours, hough = ([e for kind in KINDS for e in study(kind)[which]] for which in (0, 1))
    found = [np.concatenate([e.place for e in each]) for each in (ours, hough)]
    assert len(found[1]) > 0.8 * len(found[0])  # it does find most of them: the comparison is a fair one
    assert rms(found[0]) < 0.5 * rms(found[1])
    assert sum(e.missed + e.false for e in ours) <= sum(e.missed + e.false for e in hough)


def test_both_renderers_make_the_same_picture() -> None:
    # One counts what each pixel covers, the other draws with OpenCV and warps: they agree but for the finest steps.
    for look in (replace(PLAIN, noise=0), replace(PLAIN, noise=0, tilt=(14.0, -9.0))):
        one, other = render(HOLES, SMALL, look, 1).pixels, warped(HOLES, SMALL, look, 1).pixels
        apart = np.abs(one.astype(int) - other.astype(int))
        assert np.median(apart) <= 1
        assert np.mean(apart > 12) < 0.002
        moved = np.abs(one.astype(int) - np.roll(other, 1, 1).astype(int))
        assert np.mean(moved > 12) > 0.005  # a pixel aside would show


@pytest.mark.parametrize("seed", [0, 2, 4])
def test_dirty_scans_at_150_dpi_are_read_and_less_sure(seed: int) -> None:
    size = BOXES[0]
    look = replace(look_of("150", seed, size), blur=1.4)
    found = survey(render(random_holes(seed, size), size, look, seed).pixels, Size(*size))
    told = errors(tuple(random_holes(seed, size)), found)
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.1
    assert min(hole.ux for hole in found.holes) > 0.008  # at 300 dpi a standard uncertainty is some 0.005 mm


def test_a_shadow_of_the_faces_own_brightness_is_told_by_its_colour() -> None:
    # A red face on brown wood: where the box's shadow lies, both are as bright as each other, side by side.
    look = Look((0.40, 0.03, 0.02), (0.35, 0.25, 0.15), (0.01,) * 3, dpi=300, margin=16, lean=-12.5, shadow=0.48,
                tilt=(-25.0, 0.0), distance=430.0, jpeg=88, noise=3.0)  # fmt: skip
    told = errors(tuple(HOLES), survey(render(HOLES, SMALL, look, 3).pixels, Size(*SMALL)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.05


def test_another_librarys_circles_agree() -> None:
    # scikit-image finds the contour at half of the light, and fits a circle and an ellipse to it.
    shot = plain()
    light = (np.asarray(shot.pixels, float).mean(2) / 255) ** 2.2
    found = survey(shot.pixels, Size(*SMALL))
    back = np.linalg.inv(shot.to_pixels)
    level = (light[5, 5] + np.percentile(light, 60)) / 2
    contours = [through(back, contour[:, ::-1]) for contour in find_contours(light, level)]
    for hole in found.holes:
        near = [c for c in contours if len(c) > 50 and np.hypot(*(c.mean(0) - (hole.x, hole.y))) < 1]
        assert len(near) == 1
        circle = CircleModel.from_estimate(near[0])
        assert [*circle.center, 2 * circle.radius] == pytest.approx([hole.x, hole.y, hole.d], abs=0.03)
        ellipse = EllipseModel.from_estimate(near[0])
        assert list(ellipse.center) == pytest.approx([hole.x, hole.y], abs=0.03)


def test_roundness_tells_an_oval_and_a_three_cornered_hole() -> None:
    holes = [TrueHole(-20, 0, 8), TrueHole(0, 0, 8, oval=0.4), TrueHole(20, 0, 8, lobes=0.1)]
    found = survey(render(holes, SMALL, replace(PLAIN, dpi=300), 2).pixels, Size(*SMALL)).holes
    # An oval's rim strays from its circle by half of longest less shortest diameter, peak to valley.
    assert [hole.roundness for hole in found] == pytest.approx([0.0, 0.2, 0.2], abs=0.03)
    assert [hole.d for hole in found] == pytest.approx([8, 8, 8], abs=0.02)


def test_ids_run_in_rows_from_the_upper_left() -> None:
    found = survey(plain().pixels, Size(*SMALL)).holes
    assert [hole.id for hole in found] == ["h1", "h2", "h3", "h4"]
    assert [(round(hole.x), round(hole.y)) for hole in found] == [(-20, 8), (4, 7), (-11, -9), (19, -9)]


def test_dots_to_the_inch_are_enough_with_an_outline() -> None:
    found = survey(plain().pixels, dpi=200)
    assert found.frame.origin == "outline"
    assert found.frame.size == pytest.approx(SMALL, abs=0.03)
    told = errors(plain().holes, found)
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.03


def test_without_an_outline_places_count_from_the_pictures_middle() -> None:
    look = Look(dpi=200, margin=-6, corner=0.1)  # the scan shows the middle of the face only
    holes = [TrueHole(-12, 6, 7.5), TrueHole(9, -5, 6.3)]
    shot = render(holes, SMALL, look, 3)
    found = survey(shot.pixels, dpi=200)
    assert found.frame.origin == "picture"
    (x, y), scale = through(shot.to_pixels, np.zeros((1, 2)))[0], 25.4 / 200
    wide, high = shot.pixels.shape[1], shot.pixels.shape[0]
    off = ((x - (wide - 1) / 2) * scale, -(y - (high - 1) / 2) * scale)
    where = [(hole.x - off[0], hole.y - off[1]) for hole in found.holes]
    assert where == [pytest.approx((-12, 6), abs=0.02), pytest.approx((9, -5), abs=0.02)]


def test_a_size_that_lies_the_other_way_is_turned_with_the_picture() -> None:
    found = survey(plain().pixels, Size(SMALL[1], SMALL[0]))
    assert "the other way" in found.notes[0]
    assert max(errors(plain().holes, found).place) < 0.03


SEEN = (92.4, 50.0)  # 1.848 to 1
SPREAD = [TrueHole(-34, 15, 7.5), TrueHole(0, 14, 6.3), TrueHole(34, -14, 12.2), TrueHole(-16, -13, 5.1)]


@cache
def tilted(tilt: tuple[float, float]) -> Rendered:
    return render(SPREAD, SEEN, Look(dpi=200, lean=2, tilt=tilt, margin=10), 1)


# How far off a height may be without a word, when it is told, and when it is refused, as shares.
FLAT = (0.003, 0.01, 0.025)
TILTED = (0.005, 0.025, 0.09)


@pytest.mark.parametrize(
    ("tilt", "shares"),
    [((0.0, 0.0), FLAT), ((14.0, -9.0), TILTED), ((8.0, 0.0), TILTED), ((0.0, 12.0), TILTED), ((20.0, 10.0), TILTED)],
)
def test_a_size_that_cannot_be_is_told_with_both_ratios(tilt: tuple[float, float], shares: tuple[float, ...]) -> None:
    pixels = tilted(tilt).pixels
    silent, noted, refused = shares
    for sign in (-1, 1):
        assert survey(pixels, Size(SEEN[0], SEEN[1] * (1 + sign * silent))).notes == ()
        (note,) = survey(pixels, Size(SEEN[0], SEEN[1] * (1 + sign * noted))).notes
        seen, given = re.findall(r"(\d\.\d{3}) to 1", note)
        assert float(seen) == pytest.approx(1.848, rel=0.01)
        assert float(given) == pytest.approx(1.848 / (1 + sign * noted), abs=0.001)
        with pytest.raises(UserError, match="check --size") as error:
            survey(pixels, Size(SEEN[0], SEEN[1] * (1 + sign * refused)))
        seen, given = re.findall(r"(\d\.\d{3}) to 1", error.value.problems[0].what)
        assert float(seen) == pytest.approx(1.848, rel=0.015)
        assert float(given) == pytest.approx(1.848 / (1 + sign * refused), abs=0.001)


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (14.0, -9.0), (8.0, 0.0), (3.0, 1.0)])
@pytest.mark.parametrize("size", [(119.5, 94.0), (92.6, 38.5), (92.4, 62.0), (62.0, 38.5)])
def test_another_boxs_size_is_never_taken_for_missing_holes(
    tilt: tuple[float, float], size: tuple[float, float]
) -> None:
    with pytest.raises(UserError, match=r"^the outline is \d\.\d+ to 1, the size given"):
        survey(tilted(tilt).pixels, Size(*size))


def test_a_wrong_size_is_told_before_holes_are_looked_for() -> None:
    bare = render([], SMALL, PLAIN, 1).pixels
    with pytest.raises(UserError, match="the outline is"):
        survey(bare, Size(SMALL[0], SMALL[1] * 1.1))


@pytest.mark.parametrize(("kind", "options"), [("PNG", {}), ("JPEG", {"quality": 97}), ("TIFF", {})])
def test_the_files_own_dots_to_the_inch_are_compared(kind: str, options: dict[str, int], tmp_path: Path) -> None:
    # PNG writes whole dots to the metre, JFIF whole dots to the inch: both far finer than what is told.
    for dpi, told in ((200, False), (201, False), (204, True), (185, True), (72, False), (None, False)):
        file = tmp_path / f"scan.{kind.lower()}"
        tag = {} if dpi is None else {"dpi": (dpi, dpi)}
        Image.fromarray(plain().pixels).save(file, kind, **options, **tag)
        assert scan_dpi(file.read_bytes()) == (None if dpi is None else pytest.approx(dpi, abs=0.05))
        ran = run_here("holes", file, "--size", "62x38.5")
        assert ran.status == 0
        assert (f"by the file's own {dpi} dpi the outline is" in ran.err) == told
    Image.fromarray(plain().pixels).save(tmp_path / "far.png", dpi=(200, 200))
    ran = run_here("holes", tmp_path / "far.png", "--size", "66.96x41.58")  # the right shape, 8 % too large
    assert "200 dpi the outline is 62 × 38.5 mm, the size given 67 × 41.6" in ran.err


def test_a_photos_tag_tells_nothing() -> None:
    assert survey(tilted((14.0, -9.0)).pixels, Size(*SEEN), tag=300).notes == ()


def test_unequal_or_damaged_tags_are_no_tags() -> None:
    out = io.BytesIO()
    Image.fromarray(plain().pixels).save(out, "PNG", dpi=(200, 100))
    assert scan_dpi(out.getvalue()) is None
    assert scan_dpi(out.getvalue()[:20]) is None
    assert scan_dpi(b"") is None


@pytest.mark.parametrize("tilt", [(0.0, 0.0), (9.0, -7.0)])
def test_a_tapered_face(tilt: tuple[float, float]) -> None:
    # A wall that leans by 2 degrees over 38.5 mm is some 2.7 mm narrower at its top; 5 mm here, to be sure of it.
    shot = render(HOLES, SMALL, replace(PLAIN, top=57.0, dpi=300, tilt=tilt), 4)
    told = errors(tuple(HOLES), survey(shot.pixels, Size(*SMALL, top=57.0)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.03
    try:  # were the taper not told: wrong by far, or refused for its shape
        straight = errors(tuple(HOLES), survey(shot.pixels, Size(*SMALL)))
    except UserError as error:
        assert "the size given" in str(error)
    else:
        assert max(straight.place) > 0.2


def test_light_holes_in_a_dark_face() -> None:
    look = replace(PLAIN, face=(0.02, 0.05, 0.08), ground=(0.8, 0.8, 0.8), hole=(0.8, 0.8, 0.8))
    told = errors(tuple(HOLES), survey(render(HOLES, SMALL, look, 5).pixels, Size(*SMALL)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.03


CARD_LOOK = Look(dpi=200, margin=48, ground=(0.3, 0.2, 0.1), noise=2)
CARD = Ell((-44.0, -32.0), turn=1.5)


@pytest.mark.parametrize(("tilt", "most"), [((0.0, 0.0), 0.03), ((12.0, -8.0), 0.06)])
def test_a_card_beside_the_face_gives_scale_and_perspective(tilt: tuple[float, float], most: float) -> None:
    look = replace(CARD_LOOK, tilt=tilt)
    found = survey_by_card(render(HOLES, SMALL, look, 6, CARD).pixels)
    assert found.frame.origin == "outline"
    assert found.frame.size == pytest.approx(SMALL, abs=0.05)
    told = errors(tuple(HOLES), found)
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < most


def test_a_card_and_no_outline() -> None:
    look = replace(CARD_LOOK, ground=CARD_LOOK.face)
    found = survey_by_card(render(HOLES, SMALL, look, 7, CARD).pixels)
    assert found.frame.origin == "card"
    t = math.radians(CARD.turn)
    back = np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]])
    for hole in HOLES:
        x, y = back @ (np.array([hole.x, hole.y]) - CARD.at)
        assert min(math.hypot(m.x - x, m.y - y) for m in found.holes) < 0.05


def test_a_mirrored_card_is_refused_and_a_missing_one_too() -> None:
    mirrored = render(HOLES, SMALL, CARD_LOOK, 6, CARD).pixels[:, ::-1].copy()
    with pytest.raises(UserError, match="mirrored"):
        survey_by_card(mirrored)
    with pytest.raises(UserError, match="no card is to be seen"):
        survey_by_card(plain().pixels)


def saved(kind: str) -> bytes:
    """The plain scan, written as another kind of file in which it looks the same."""
    image = Image.fromarray(plain().pixels)
    out = io.BytesIO()
    if kind == "exif":
        exif = Image.Exif()
        exif[0x0112] = 6  # to be turned clockwise by 90 degrees (TIFF 6.0, Orientation)
        image.transpose(Image.Transpose.ROTATE_90).save(out, "JPEG", quality=97, exif=exif)
    elif kind == "16 bits":
        Image.fromarray(np.asarray(image.convert("L")).astype(np.uint16) * 257).save(out, "PNG")
    elif kind == "16-bit TIFF":
        Image.fromarray(np.asarray(image.convert("L")).astype(np.uint16) * 257).save(out, "TIFF")
    elif kind == "grey":
        image.convert("L").save(out, "PNG")
    elif kind == "alpha":
        image.putalpha(255)
        array = np.asarray(image).copy()
        array[:5, :5] = 0
        Image.fromarray(array).save(out, "PNG")
    elif kind == "palette":
        image.convert("P", palette=Image.Palette.ADAPTIVE, colors=200).save(out, "PNG")
    else:
        image.convert("CMYK").save(out, "JPEG", quality=97)
    return out.getvalue()


@pytest.mark.parametrize("kind", ["exif", "16 bits", "16-bit TIFF", "grey", "alpha", "palette", "cmyk"])
def test_any_kind_of_file_gives_the_same_holes(kind: str) -> None:
    told = errors(tuple(HOLES), survey(scan_pixels(saved(kind), "scan"), Size(*SMALL)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.04


def test_where_a_shadow_hides_the_edge_nothing_is_guessed() -> None:
    # White paper in shadow has the tone of bare metal: two of the face's edges are then not there to be seen.
    look = Look(dpi=200, face=(0.45,) * 3, ground=(0.9,) * 3, shadow=0.5, margin=8)
    with pytest.raises(UserError, match=r"face|box"):
        survey(render(HOLES, SMALL, look, 1).pixels, Size(*SMALL))


def test_a_face_on_a_striped_cloth_is_found_by_its_edges() -> None:
    shot = plain().pixels.copy()
    outside = np.ones(shot.shape[:2], bool)
    high, wide = outside.shape
    corners = through(plain().to_pixels, np.array([(-31, 19.25), (31, 19.25), (31, -19.25), (-31, -19.25)]))
    x0, y0 = corners.min(0) - 2
    x1, y1 = corners.max(0) + 2
    y, x = np.mgrid[0:high, 0:wide]
    outside = (x < x0) | (x > x1) | (y < y0) | (y > y1)
    stripes = outside & ((x + y) // 12 % 2 == 0)
    shot[stripes] = (150, 60, 40)
    told = errors(plain().holes, survey(shot, Size(*SMALL)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.05


def bad(kind: str) -> np.ndarray:
    shot = plain().pixels
    high, wide = shot.shape[:2]
    if kind == "blank":
        return np.full((500, 700, 3), 200, np.uint8)
    if kind == "tiny":
        return shot[::6, ::6]
    if kind == "blurred":
        return render(HOLES, SMALL, replace(PLAIN, blur=4.5, noise=0.5), 1).pixels
    if kind == "no outline":
        return render(HOLES, SMALL, replace(PLAIN, ground=PLAIN.face), 1).pixels
    if kind == "two boxes":
        return np.concatenate([shot, shot], axis=0)
    if kind == "cut off":
        return shot[:, : round(0.8 * wide)]
    if kind == "no holes":
        return render([], SMALL, PLAIN, 1).pixels
    rng = np.random.default_rng(1)
    if kind == "clouds":
        soft = cv2.GaussianBlur(rng.normal(0, 1, (600, 800)).astype(np.float32), (0, 0), 45)
        return np.clip(120 + 60 * soft / soft.std(), 0, 255).astype(np.uint8)[..., None].repeat(3, 2)
    return rng.integers(0, 255, (high // 2, wide // 2, 3), dtype=np.uint8)


REFUSED = {
    "blank": "blank",
    "tiny": "pixels",
    "blurred": "blurred",
    "no outline": "no box face|two things",
    "two boxes": "two things stand out",
    "cut off": "cut off",
    "no holes": "no hole",
    "noise": "no hole|box",
    "clouds": "no box face",
}


@pytest.mark.parametrize("kind", REFUSED)
def test_a_bad_picture_is_refused_in_plain_words(kind: str) -> None:
    with pytest.raises(UserError, match=REFUSED[kind]) as refused:
        survey(bad(kind), Size(*SMALL))
    assert refused.value.problems[0].mend


def test_a_huge_picture_is_refused_before_it_is_decoded() -> None:
    with pytest.raises(UserError, match="more than 120 million"):
        scan_pixels(png_file(13000, 13000, 1, 0, b"x\x9c"), "scan.png")
    assert MOST_PIXELS == 120_000_000


def test_without_opencv_the_way_to_get_it_is_told(tmp_path: Path) -> None:
    file = f"{tmp_path}/scan.png"
    Image.fromarray(plain().pixels).save(file)
    ran = run_apart("holes", file, "--size", "62x38.5", before="import sys; sys.modules['cv2'] = None")
    assert (ran.status, ran.out) == (1, "")
    assert 'pip install ".[scan]"' in ran.err
    assert "Traceback" not in ran.err


def test_no_other_command_loads_opencv() -> None:
    ran = run_apart("stock", before="import sys, atexit; atexit.register(lambda: print('cv2' in sys.modules))")
    assert ran.out.splitlines()[-1] == "False"


def test_the_table_printed_is_a_drill_table(tmp_path: Path) -> None:
    file = f"{tmp_path}/scan.png"
    Image.fromarray(plain().pixels).save(file)
    ran = run_here("holes", file, "--size", "6.2 cm x 38.5mm", "--picture", f"{tmp_path}/look.png")
    assert ran.status == 0
    assert ran.out.startswith("id,x,y,d,roundness,ux,uy,ud\n")
    holes, problems = read_table(ran.out, "scan.csv")
    assert problems == []
    found = sorted((round(hole.x, 1), round(hole.y, 1), round(hole.d, 1)) for hole in holes)
    assert found == sorted((hole.x, hole.y, hole.d) for hole in HOLES)
    look = np.asarray(Image.open(f"{tmp_path}/look.png").convert("RGB")).astype(int)
    assert ((look[..., 0] > 220) & (look[..., 1] < 60)).sum() > 300  # the rims, drawn in magenta


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["--size", "62x38.5", "--dpi", "200"],
        ["--size", "62"],
        ["--size", "62x38x3"],
        ["--size", "wide x high"],
        ["--dpi", "0"],
        ["--top", "50", "--dpi", "200"],
    ],
)
def test_sizes_that_cannot_be_meant_are_refused(words: list[str], tmp_path: Path) -> None:
    file = f"{tmp_path}/scan.png"
    Image.fromarray(plain().pixels[::3, ::3]).save(file)
    assert run_here("holes", file, *words).status == 2


def test_random_holes_differ_from_picture_to_picture() -> None:
    assert random_holes(1, SMALL) != random_holes(2, SMALL)


def test_bent_sides_are_told() -> None:
    # A lens that pulls the corners in by half a percent (barrel distortion), put on with OpenCV's own model.
    shot = plain().pixels
    high, wide = shot.shape[:2]
    lens = np.array([[wide, 0, wide / 2], [0, wide, high / 2], [0, 0, 1]], np.float32)
    bent = cv2.undistort(shot, lens, np.array([0.12, 0, 0, 0], np.float32))
    assert any("bent" in note for note in survey(bent, Size(*SMALL)).notes)
    straight = cv2.undistort(shot, lens, np.zeros(4, np.float32))
    assert survey(straight, Size(*SMALL)).notes == ()


@pytest.mark.parametrize("kind", ["png", "pdf", "svg"])
def test_the_printed_card_is_the_card_that_is_looked_for(kind: str, tmp_path: Path) -> None:
    ran = run_here("ruler", "--card", "--dpi", "150", "--out", tmp_path)
    assert ran.status == 0
    data = (tmp_path / f"card.{kind}").read_bytes()
    size = (1240, 1754)  # A4 at 150 dots to the inch
    if kind == "png":
        page = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    else:
        page = pdf_picture(data, size) if kind == "pdf" else svg_picture(data, size, 150)
    page = np.ascontiguousarray(page[..., :3], np.uint8)
    frame = find_card(page)
    at = carry(frame.to_pixels, np.array([(0.0, 0.0), (120.0, 0.0), (0.0, 80.0)]))
    assert np.linalg.norm(at[1] - at[0]) * 25.4 / 150 == pytest.approx(120, abs=0.1)
    assert np.linalg.norm(at[2] - at[0]) * 25.4 / 150 == pytest.approx(80, abs=0.1)
    assert frame.doubt < 0.02


def test_a_card_corrected_for_a_printer_is_larger_by_as_much(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("FACEGRAPHIC_CONFIG", str(tmp_path / "settings"))
    run_here("ruler", "--measured", "98", "98", "--save", "attic")
    assert run_here("ruler", "--card", "--printer", "attic", "--dpi", "150", "--out", tmp_path).status == 0
    frame = find_card(np.asarray(Image.open(tmp_path / "card.png").convert("RGB")))
    assert frame.pixels_per_mm((60, 0)) * 25.4 / 150 == pytest.approx(1 / 0.98, abs=0.002)


def test_the_card_takes_no_measurements(tmp_path: Path) -> None:
    assert run_here("ruler", "--card", "--list").status == 2


@pytest.mark.parametrize(("mirrored", "turns"), [(False, 1), (True, 0), (True, 3)])
def test_a_scan_the_other_way_round_is_told_against_a_job(mirrored: bool, turns: int, tmp_path: Path) -> None:
    rows = "".join(f"p{number},{hole.x},{hole.y},{hole.d}\n" for number, hole in enumerate(HOLES))
    (tmp_path / "holes.csv").write_text(f"id,x,y,d\n{rows}", "utf-8")
    job = '[box]\nsize = [64, 40.5, 30]\norientation = "landscape"\n[[face]]\nside = "top"\ndrill = "holes.csv"\n'
    (tmp_path / "job.toml").write_text(job, "utf-8")
    shot = plain().pixels[:, ::-1] if mirrored else plain().pixels
    Image.fromarray(np.rot90(shot, turns)).save(tmp_path / "scan.png")
    words = ["holes", tmp_path / "scan.png", "--size", "62x38.5", "--against", tmp_path / "job.toml", "--json"]
    ran = run_here(*words)
    assert ran.status == 0
    fit = json.loads(ran.out)["fit"]
    assert (fit["mirrored"], fit["turned"], fit["missing"], fit["extra"]) == (mirrored, 90 * turns, [], [])
    assert max(hole["distance"] for hole in fit["holes"]) < 0.03


def test_a_face_with_artwork_on_it_shows_its_holes() -> None:
    # Printed rings, dots and a title on the face, as it looks when the art is on already.
    image = Image.fromarray(plain().pixels)
    draw = ImageDraw.Draw(image)
    for hole in HOLES:
        x, y = through(plain().to_pixels, np.array([(hole.x, hole.y)]))[0].tolist()
        for turn in range(11):
            t = math.radians(120 + 30 * turn)
            r = (hole.d / 2 + 2.2) * 200 / 25.4
            u, v = x + r * math.cos(t), y + r * math.sin(t)
            draw.line([(u, v), (x + 1.2 * r * math.cos(t), y + 1.2 * r * math.sin(t))], fill=(20, 20, 30), width=2)
    x, y = through(plain().to_pixels, np.array([(-8.0, 2.0)]))[0].tolist()
    draw.text((x, y), "BELL BUOY", fill=(10, 30, 60))
    told = errors(plain().holes, survey(np.asarray(image).copy(), Size(*SMALL)))
    assert (told.missed, told.false) == (0, 0)
    assert max(told.place) < 0.03
