"""Pictures come in upright and in sRGB; drawings with their natural size."""

import io
import random
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from helpers.jobs import WAVES, chunk, good, lay, png_file, svg
from helpers.runs import run_here, tree
from PIL import Image, ImageCms

from facegraphic.job.drawings import looks_like_svg, read_drawing
from facegraphic.job.image import Picture
from facegraphic.job.pictures import read_picture

Pixels = np.ndarray[Any, Any]
# Six colours that tell every turn and flip of a picture apart.
STORED = np.array(
    [[[255, 0, 0], [0, 255, 0], [0, 0, 255]], [[255, 255, 0], [0, 255, 255], [255, 0, 255]]], dtype=np.uint8
)


def saved(image: Image.Image, kind: str, **options: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


def rgba(picture: Picture) -> Pixels:
    return np.frombuffer(picture.pixels, np.uint8).reshape(picture.height, picture.width, 4)


def rgb(picture: Picture) -> Pixels:
    return rgba(picture)[..., :3]


# Exif (CIPA DC-008), tag 0x0112: where the stored 0th row and 0th column stand in the upright picture.
ORIENTATIONS = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


@pytest.mark.parametrize("orientation", ORIENTATIONS)
@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_a_picture_is_turned_upright(orientation: int, kind: str) -> None:
    sides = ORIENTATIONS[orientation]
    expected = STORED if sides[0] in ("top", "bottom") else STORED.transpose(1, 0, 2)
    if "bottom" in sides:
        expected = expected[::-1]
    if "right" in sides:
        expected = expected[:, ::-1]
    exif = Image.Exif()
    exif[0x0112] = orientation
    picture = read_picture(saved(Image.fromarray(STORED), kind, exif=exif))
    assert np.array_equal(rgb(picture), expected)


def test_a_photo_on_its_side_is_turned_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6
    tall = Image.new("RGB", (64, 32), (20, 40, 60))
    tall.paste((220, 200, 180), (0, 0, 32, 32))  # its left half, which stands on top once upright
    picture = read_picture(saved(tall, "JPEG", exif=exif, quality=95))
    assert (picture.width, picture.height) == (32, 64)
    assert rgb(picture)[8, 16].tolist() == pytest.approx([220, 200, 180], abs=3)
    assert rgb(picture)[56, 16].tolist() == pytest.approx([20, 40, 60], abs=3)


# The sRGB primaries and white adapted to D50, as in every sRGB profile (ICC, sRGB profile primaries).
D50 = (0.9642, 1.0, 0.8249)
RED, GREEN, BLUE = (0.43607, 0.22249, 0.01392), (0.38515, 0.71687, 0.09708), (0.14307, 0.06061, 0.71410)


def linear_profile(red: Any = RED, green: Any = GREEN, blue: Any = BLUE) -> bytes:
    """A display profile of linear light, written by hand from the ICC specification (ICC.1, version 2)."""

    def xyz(values: Any) -> bytes:
        return b"XYZ \0\0\0\0" + b"".join(struct.pack(">i", round(value * 65536)) for value in values)

    text = b"linear\0"
    name = b"desc\0\0\0\0" + struct.pack(">I", len(text)) + text + bytes(78 + 1)
    straight = b"curv\0\0\0\0\0\0\0\0"
    tags = {b"desc": name, b"cprt": b"text\0\0\0\0none\0", b"wtpt": xyz(D50)}
    tags |= {b"rXYZ": xyz(red), b"gXYZ": xyz(green), b"bXYZ": xyz(blue)}
    tags |= {b"rTRC": straight, b"gTRC": straight, b"bTRC": straight}
    at = 128 + 4 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for kind, data in tags.items():
        table += kind + struct.pack(">II", at + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(">I4sI4s4s4s", at + len(body), b"\0\0\0\0", 0x02400000, b"mntr", b"RGB ", b"XYZ ")
    head += bytes(12) + b"acsp" + bytes(28) + xyz(D50)[8:]
    return head.ljust(128, b"\0") + table + body


def encoded(linear: float) -> float:
    """sRGB encoding: 12.92 l up to 0.0031308, else 1.055 l^(1/2.4) - 0.055 (IEC 61966-2-1)."""
    return 255 * (12.92 * linear if linear <= 0.0031308 else 1.055 * linear ** (1 / 2.4) - 0.055)


COLOURS = np.array([[[0, 0, 0], [255, 255, 255], [64, 64, 64], [128, 20, 200], [10, 240, 90], [255, 0, 0]]], np.uint8)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_an_embedded_profile_is_converted_to_srgb(kind: str) -> None:
    picture = read_picture(saved(Image.fromarray(COLOURS), kind, icc_profile=linear_profile()))
    expected = [[[encoded(value / 255) for value in pixel] for pixel in row] for row in COLOURS.tolist()]
    assert rgb(picture).astype(float) == pytest.approx(np.array(expected), abs=2)


def test_the_primaries_of_a_profile_are_obeyed() -> None:
    swapped = linear_profile(red=BLUE, blue=RED)
    picture = read_picture(saved(Image.fromarray(COLOURS), "PNG", icc_profile=swapped))
    expected = [[[encoded(value / 255) for value in pixel[::-1]] for pixel in row] for row in COLOURS.tolist()]
    assert rgb(picture).astype(float) == pytest.approx(np.array(expected), abs=2)


def test_conversion_agrees_with_the_colour_engine_called_by_hand() -> None:
    profile = linear_profile()
    image = Image.fromarray(np.random.default_rng(3).integers(0, 256, (20, 20, 3), dtype=np.uint8))
    picture = read_picture(saved(image, "PNG", icc_profile=profile))
    engine = ImageCms.buildTransform(
        ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB"), "RGB", "RGB"
    )
    by_hand = ImageCms.applyTransform(image, engine)
    assert by_hand is not None
    assert np.array_equal(rgb(picture), np.asarray(by_hand))
    assert not np.array_equal(rgb(picture), np.asarray(image))


def test_transparency_goes_through_a_profile_unchanged() -> None:
    layered = np.concatenate([COLOURS, np.array([[[0], [255], [1], [128], [77], [200]]], np.uint8)], axis=2)
    picture = read_picture(saved(Image.fromarray(layered), "PNG", icc_profile=linear_profile()))
    assert rgba(picture)[..., 3].tolist() == [[0, 255, 1, 128, 77, 200]]
    assert rgb(picture)[0, 2].tolist() == pytest.approx([encoded(64 / 255)] * 3, abs=2)


def test_a_damaged_profile_leaves_the_values_as_they_are() -> None:
    picture = read_picture(saved(Image.fromarray(COLOURS), "PNG", icc_profile=b"no profile at all"))
    assert np.array_equal(rgb(picture), COLOURS)


@pytest.mark.parametrize(
    ("inks", "colour"),
    [((255, 0, 0, 0), (0, 255, 255)), ((0, 255, 0, 0), (255, 0, 255)), ((0, 0, 255, 0), (255, 255, 0)),
     ((0, 0, 0, 255), (0, 0, 0)), ((0, 0, 0, 0), (255, 255, 255))],
)  # fmt: skip
def test_a_photo_in_printing_inks_is_turned_to_light(inks: tuple[int, ...], colour: tuple[int, ...]) -> None:
    """Without a profile C, M, Y and K take away red, green, blue and all (the plain reading of the four inks)."""
    picture = read_picture(saved(Image.new("CMYK", (16, 16), inks), "JPEG", quality=95))
    assert rgb(picture)[8, 8].tolist() == pytest.approx(colour, abs=4)


@pytest.mark.parametrize("kind", ["PNG", "TIFF"])
def test_sixteen_grey_bits_are_scaled_and_not_cut_off(kind: str) -> None:
    grey = np.array([[0, 257 * 50, 257 * 100, 257 * 200, 65535]], np.uint16)
    picture = read_picture(saved(Image.fromarray(grey), kind))
    assert rgba(picture).tolist() == [[[value, value, value, 255] for value in (0, 50, 100, 200, 255)]]


@pytest.mark.parametrize(("colour", "pixel"), [(2, (1000, 30000, 65535)), (6, (1000, 30000, 65535, 32896))])
def test_sixteen_bits_a_channel_are_scaled(colour: int, pixel: tuple[int, ...]) -> None:
    row = b"\0" + struct.pack(f">{len(pixel)}H", *pixel)
    picture = read_picture(png_file(1, 1, 16, colour, zlib.compress(row)))
    expected = [value / 257 for value in pixel] + [255] * (4 - len(pixel))
    assert rgba(picture)[0, 0].tolist() == pytest.approx(expected, abs=1)


def test_a_palette_with_transparency() -> None:
    palette = chunk(b"PLTE", bytes([10, 20, 30, 200, 100, 50, 0, 255, 0])) + chunk(b"tRNS", bytes([0, 128]))
    picture = read_picture(png_file(3, 1, 8, 3, zlib.compress(b"\0\x00\x01\x02"), palette))
    assert rgba(picture).tolist() == [[[10, 20, 30, 0], [200, 100, 50, 128], [0, 255, 0, 255]]]


def test_one_colour_meant_as_nothing() -> None:
    key = chunk(b"tRNS", struct.pack(">HHH", 1, 2, 3))
    picture = read_picture(png_file(2, 1, 8, 2, zlib.compress(b"\0\x01\x02\x03\x09\x08\x07"), key))
    assert rgba(picture)[..., 3].tolist() == [[0, 255]]


def test_grey_with_transparency_and_plain_black_and_white() -> None:
    grey = read_picture(saved(Image.fromarray(np.array([[[90, 0], [160, 200]]], np.uint8), "LA"), "PNG"))
    assert rgba(grey).tolist() == [[[90, 90, 90, 0], [160, 160, 160, 200]]]
    bits = read_picture(png_file(2, 1, 1, 0, zlib.compress(b"\0\x40")))
    assert rgba(bits).tolist() == [[[0, 0, 0, 255], [255, 255, 255, 255]]]


def test_a_picture_is_300_pixels_to_the_inch_large() -> None:
    assert read_picture(saved(Image.new("RGB", (600, 150)), "PNG")).size == pytest.approx((50.8, 12.7))


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "TIFF"])
def test_damaged_pictures_give_pixels_or_a_message(kind: str) -> None:
    """Bytes changed at random: whatever goes wrong inside, only ValueError comes out, and no warning."""
    chance = random.Random(7)
    whole = saved(Image.fromarray(STORED).resize((24, 16)), kind)
    refused = 0
    for _ in range(300):
        data = bytearray(whole)
        for _ in range(chance.choice((1, 2, 5))):
            data[chance.randrange(len(data))] = chance.randrange(256)
        try:
            picture = read_picture(bytes(data[: chance.randrange(1, 2 * len(data))]))
        except ValueError:
            refused += 1
        else:
            assert len(picture.pixels) == picture.width * picture.height * 4
    assert refused > 30


# SVG 2 and CSS Values and Units: one user unit is 1 px, 1/96 in; a missing or relative side follows the viewBox.
PX = 25.4 / 96
SIZES = [
    ('width="30mm" height="20mm" viewBox="0 0 3 2"', (30, 20)),
    ('width="30mm" height="20mm"', (30, 20)),
    ('width="3cm" height="1in"', (30, 25.4)),
    ('width="96" height="48"', (25.4, 12.7)),
    ('width="96px" height="36pt"', (25.4, 12.7)),
    ('width="6pc" height="1.5in"', (25.4, 38.1)),
    ('viewBox="0 0 96 192"', (25.4, 50.8)),
    ('viewBox="-5,-5, 96 192"', (25.4, 50.8)),
    ('width="100%" height="100%" viewBox="0 0 96 192"', (25.4, 50.8)),
    ('width="40mm" viewBox="0 0 4 1"', (40, 10)),
    ('width="100%" height="10mm" viewBox="0 0 4 1"', (40, 10)),
    ('width="10" height="10" viewBox="0 0 100 100"', (10 * PX, 10 * PX)),
]


@pytest.mark.parametrize(("attributes", "size"), SIZES, ids=[attributes for attributes, _ in SIZES])
def test_a_drawing_has_the_size_that_it_states(attributes: str, size: tuple[float, float]) -> None:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>'
    assert read_drawing(svg("", head)).size == pytest.approx(size)


@pytest.mark.parametrize(
    ("attributes", "says"),
    [("", "states no size"), ('width="100%" height="100%"', "states no size"), ('width="3mm"', "states no size"),
     ('width="0" height="3"', "nothing or absurd"), ('width="-3" height="3"', "nothing or absurd"),
     ('viewBox="0 0 0 9"', "no area"), ('viewBox="0 0 nan 9"', "no area"), ('viewBox="inf 0 9 9"', "no area"),
     ('viewBox="0 0 9"', "not four numbers"), ('width="wide" height="3"', '"wide" is not a length')],
)  # fmt: skip
def test_a_drawing_without_a_usable_size_is_refused(attributes: str, says: str) -> None:
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {attributes}>'
    with pytest.raises(ValueError, match=says):
        read_drawing(svg("", head))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_a_drawing_in_any_unicode_is_one(encoding: str) -> None:
    """XML 1.0, 4.3.3: every reader takes UTF-8 and UTF-16, the latter by its mark; without one it must be declared."""
    declared = "utf-16" if encoding.startswith("utf-16") else "utf-8"
    text = f'<?xml version="1.0" encoding="{declared}"?>' + svg('<circle r="3" id="Ä"/>').decode()
    mark = {"utf-16-le": b"\xff\xfe", "utf-16-be": b"\xfe\xff"}.get(encoding, b"")
    data = mark + text.encode(encoding)
    assert looks_like_svg(data)
    assert read_drawing(data).svg == read_drawing(svg('<circle r="3" id="Ä"/>')).svg


def test_what_editors_add_for_themselves_is_dropped() -> None:
    extra = '<metadata><x xmlns="urn:x"/></metadata><y xmlns="urn:y" href="http://canary.invalid"/><title>buoy</title>'
    head = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:e="urn:e" width="9mm" height="9mm" e:zoom="3">'
    kept = read_drawing(svg(f'{extra}<path d="M0 0H9" e:label="http://canary.invalid"/>', head)).svg
    assert b"canary" not in kept
    assert b"urn:" not in kept
    assert b'd="M0 0H9"' in kept


@pytest.mark.parametrize(
    ("name", "data"),
    [("art.svg", WAVES), ("art.png", saved(Image.fromarray(STORED), "PNG")),
     ("art.jpg", saved(Image.fromarray(STORED), "JPEG")), ("art.tif", saved(Image.fromarray(STORED), "TIFF")),
     ("misnamed.txt", saved(Image.fromarray(STORED), "PNG"))],
)  # fmt: skip
def test_every_kind_of_art_is_made_of(name: str, data: bytes, tmp_path: Path) -> None:
    job = lay(tmp_path, good('"waves.svg"', f'"{name}"'), {name: data})
    ran = run_here("make", job, "--only", "art")
    assert ran.status == 0, ran.err
    assert set(tree(tmp_path / "job-out")) == {
        "report.json", "top-art.svg", "top-art.png", "top-art.pdf"
    }  # fmt: skip


def test_what_makes_a_drawing_unfit_is_told_with_where_it_stands() -> None:
    lines = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 50 50">',
        '<defs><filter id="glow"/><pattern id="dots"/></defs>',
        '<g id="sea" filter="url(#glow)">',
        '  <text id="name"',
        '    x="3" y="3">SEA</text> <text x="3" y="9">SEA</text></g>',
        '<rect style="mix-blend-mode:multiply" width="3" height="3" fill="url(#dots)"/>',
        '<rect onload="a; b" width="3" height="3"/>',
        "</svg>",
    ]
    with pytest.raises(ValueError, match="it holds") as told:
        read_drawing("\n".join(lines).encode())
    assert str(told.value).removeprefix("it holds ").split("; and ") == [
        'a filter (line 3, id "sea"); turn its effect into paths, or export the drawing as PNG',
        'a pattern fill (line 2, id "dots"); turn it into paths (pattern to objects)',
        'text (line 4, id "name", and 1 more); turn it into paths (object to path), so that no font is needed',
        "the style mix-blend-mode, which cannot be printed from here (line 6); turn its effect into paths",
        "a script (onload) (line 7); take it out",
    ]
