"""PNGs drawn in bands hold what a page drawn whole holds, are well-formed, and need no more for a longer page.

The whole page is drawn here straight on one cairo surface. Black and white must be the same bit for bit. In colour all
but artwork must be the same; within artwork pixman reckons gradients and pictures in fixed point from where a band
begins, which may turn out a level or two apart (and a pixel at an edge, rarely, a few more).
"""

import io
import subprocess
import sys
import threading
import zlib
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import cairocffi
import cv2
import numpy as np
import PIL.Image
import pytest
from eyes import png_depth, png_picture
from fontTools.misc.transform import Transform
from hypothesis import given, settings
from hypothesis import strategies as st
from samples import FOLDER, JOBS

from facegraphic.film.face import art_scene
from facegraphic.film.gang import lay_gangs
from facegraphic.geometry.path import Box, Path
from facegraphic.geometry.shapes import disc
from facegraphic.job.image import Drawing, Picture
from facegraphic.output import bands, png_chunks
from facegraphic.output.paint import coloured_parts, paint
from facegraphic.output.png import pixel_size, pixels_bytes, png_bytes, render, write_png
from facegraphic.pipeline.preparing import Wishes, prepare
from facegraphic.scene.scene import Fill, Group, Image, Scene, Stencil

MM_PER_INCH = 25.4
LEVELS = 2  # that artwork may be apart
RARELY = 1e-5  # share of pixels that may be further apart


@cache
def scenes(job: str) -> tuple[Scene, ...]:
    """Every page of an example."""
    ready = prepare(FOLDER / f"{job}.toml", Wishes())
    arts = [art_scene(piece, ready.job.finish.film.bits) for piece in ready.pieces]
    return (*arts, *(page.scene for gang in lay_gangs([(ready.job, ready.pieces)]) for page in gang.pages))


def whole(scene: Scene, dpi: int) -> np.ndarray:
    """A page on one surface, as rows of red, green and blue."""
    width, height = pixel_size(scene, dpi)
    surface = cairocffi.ImageSurface(cairocffi.FORMAT_RGB24, width, height)
    context = cairocffi.Context(surface)
    context.set_source_rgb(1, 1, 1)
    context.paint()
    paint(context, scene, dpi / MM_PER_INCH, (width / 2, height / 2))
    surface.flush()
    rows = np.frombuffer(surface.get_data(), np.uint8).reshape(height, -1)[:, : 4 * width]
    return rows.reshape(height, width, 4)[:, :, 2::-1].astype(np.int16)


def artwork(scene: Scene, dpi: int, shape: tuple[int, ...]) -> np.ndarray:
    """Which pixels artwork may touch."""
    touched = np.zeros(shape[:2], bool)
    scale = dpi / MM_PER_INCH
    for box in coloured_parts(scene):
        x0, x1 = (round(x * scale + shape[1] / 2) for x in (box.x0, box.x1))
        y0, y1 = (round(shape[0] / 2 - y * scale) for y in (box.y1, box.y0))
        touched[max(0, y0 - 2) : y1 + 3, max(0, x0 - 2) : x1 + 3] = True
    return touched


def same(scene: Scene, dpi: int, drawn: np.ndarray) -> bool:
    """Whether a picture of a scene holds what the page drawn whole holds."""
    page = whole(scene, dpi)
    if scene.bits == 1:
        return np.array_equal(drawn, page[:, :, 0] >= 128)
    apart = np.abs(drawn.astype(np.int16) - page).max(axis=2)
    art = artwork(scene, dpi, page.shape)
    return not apart[~art].any() and (apart > LEVELS).mean() < RARELY and apart.max() < 24


@pytest.mark.parametrize("dpi", [150, 600])
@pytest.mark.parametrize("job", JOBS)
def test_bands_hold_what_the_page_holds(job: str, dpi: int) -> None:
    for scene in scenes(job):
        drawn = np.asarray(render(scene, dpi))
        assert same(scene, dpi, drawn)
        assert len(drawn) > bands.rows_of(drawn.shape[1])  # or no band but the first was tried
        assert np.array_equal(np.asarray(png_picture(png_bytes(scene, dpi))), drawn)


def test_a_band_out_of_place_is_seen() -> None:
    for scene in (scenes("kelp-drier")[0], scenes("slow-ferry")[0]):
        drawn = np.asarray(render(scene, 300)).copy()
        assert same(scene, 300, drawn)
        drawn[128:256] = drawn[127:255].copy()
        assert not same(scene, 300, drawn)


def test_examples_are_drawn_both_ways() -> None:
    """As coverage and in colour, so that both are tried above."""
    assert [len(list(coloured_parts(scenes(job)[0]))) > 0 for job in ("kelp-drier", "slow-ferry")] == [True, True]
    assert {scene.bits for job in JOBS for scene in scenes(job)} == {1, 24}


@st.composite
def black_and_white(draw: st.DrawFn) -> Scene:
    """Discs and stencils, black and white over each other, turned, in clips."""
    length, across = st.floats(-9, 9), st.floats(0.1, 16)
    items: list[Fill | Image | Group] = []
    for _ in range(draw(st.integers(1, 6))):
        ink = draw(st.sampled_from(["#000000", "#ffffff"]))
        item: Fill | Image | Group = Fill(disc((draw(length), draw(length)), draw(across)), ink)
        if draw(st.booleans()):
            bits = draw(st.binary(min_size=12, max_size=12))
            place = Transform(
                draw(across), draw(length) / 9, draw(length) / 9, draw(across), draw(length), draw(length)
            )
            item = Image(Stencil(13, 6, bits, ink), place)
        if draw(st.booleans()):
            turn = Transform().rotate(draw(st.floats(0, 6)))
            item = Group((item,), transform=turn, clip=disc((draw(length), draw(length)), draw(across)))
        items.append(item)
    return Scene(20, 18, tuple(items), 1)


@settings(max_examples=60, deadline=None)
@given(black_and_white())
def test_coverage_is_what_colour_shows(scene: Scene) -> None:
    """In the same bands: on a page drawn whole a sample on the edge of a turned stencil's dot may fall either way."""
    assert not list(coloured_parts(scene))
    in_colour = np.asarray(render(replace(scene, bits=24), 300))[:, :, 0] >= 128
    assert np.array_equal(np.asarray(render(scene, 300)), in_colour)


SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 4 4"><path fill="#fff" d="M1 1h2v2h-2z"/></svg>'


@pytest.mark.parametrize("opacity", [1.0, 0.4])
def test_white_in_drawings_and_what_shines_through_is_drawn_in_colour(opacity: float) -> None:
    ground = Fill(Path((("M", -9, -9), ("L", 9, -9), ("L", 9, 9), ("L", -9, 9), ("Z",))), "#000000")
    grey = Picture(1, 1, bytes((200, 200, 200, 255)))
    square = Transform(8, 0, 0, 8, -4, -4)
    for content in (Drawing(SVG, (4, 4)), grey):
        shown = Group((Image(content, square),), opacity=opacity)
        scene = Scene(20, 20, (ground, shown, Fill(disc((0.0, 0.0), 2.0), "#000000")), 1)
        assert list(coloured_parts(scene)) == [Box(-4, -4, 4, 4)]
        assert same(scene, 600, np.asarray(render(scene, 600)))


def test_another_ink_in_black_and_white_is_a_fault() -> None:
    with pytest.raises(ValueError, match="#ff0000"):
        render(Scene(5, 5, (Fill(disc((0.0, 0.0), 2.0), "#ff0000"),), 1), 72)


def test_threads_and_the_size_of_bands_leave_no_trace(monkeypatch: pytest.MonkeyPatch) -> None:
    for job in ("kelp-drier", "slow-ferry"):
        scene = scenes(job)[0]
        data, drawn = png_bytes(scene, 600), np.asarray(render(scene, 600)).astype(np.int16)
        with monkeypatch.context() as patch:
            patch.setattr(png_chunks, "THREADS", 1)
            assert png_bytes(scene, 600) == data
            patch.setattr(png_chunks, "THREADS", 5)
            assert png_bytes(scene, 600) == data
            patch.setattr(bands, "MOST_ROWS", 37)
            other = np.abs(np.asarray(render(scene, 600)).astype(np.int16) - drawn)
            assert other.max() == 0 if scene.bits == 1 else (other > LEVELS).mean() < RARELY


def chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Kind and content of every chunk, sums checked (ISO/IEC 15948, 5.3)."""
    assert data[:8] == bytes((137, 80, 78, 71, 13, 10, 26, 10))
    at = 8
    while at < len(data):
        length = int.from_bytes(data[at : at + 4])
        kind, content = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert int.from_bytes(data[at + 8 + length : at + 12 + length]) == zlib.crc32(kind + content)
        yield kind, content
        at += 12 + length


@pytest.mark.parametrize(("job", "depth", "row"), [("kelp-drier", (1, 0), 1 / 8), ("slow-ferry", (8, 2), 3)])
def test_files_are_well_formed(job: str, depth: tuple[int, int], row: float) -> None:
    scene = scenes(job)[0]
    data = png_bytes(scene, 1200)
    kinds, contents = zip(*chunks(data), strict=True)
    assert kinds[:2] == (b"IHDR", b"pHYs") and kinds[-1] == b"IEND" and set(kinds[2:-1]) == {b"IDAT"}
    assert png_depth(data) == depth
    width, height = pixel_size(scene, 1200)
    unpacker = zlib.decompressobj()
    rows = unpacker.decompress(b"".join(contents[2:-1]))
    assert unpacker.eof and not unpacker.unused_data  # the stream ends, and its Adler-32 holds
    assert len(rows) == height * (1 + -(-int(width * row * 8) // 8))
    # Read by OpenCV (libpng): what Pillow reads.
    read = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    assert np.array_equal(read[:, :, ::-1], np.asarray(png_picture(data).convert("RGB")))


def test_the_smallest_page_is_a_file_too() -> None:
    for bits in (1, 24):
        assert np.asarray(png_picture(png_bytes(Scene(0.01, 0.01, (), bits), 72)).convert("L")).tolist() == [[255]]


class Full(io.BytesIO):
    """A disk that fills up."""

    def write(self, data: object) -> int:
        if self.tell() > 100:
            raise OSError(28, "No space left on device")
        return super().write(data)  # type: ignore[arg-type]


def test_a_full_disk_is_told_and_ends_all_threads() -> None:
    before = threading.active_count()
    with pytest.raises(OSError, match="No space"):
        write_png(scenes("slow-ferry")[0], 600, Full())
    assert threading.active_count() == before


PEAK = """
import resource, sys
from facegraphic.output.png import write_png
from facegraphic.scene.scene import Scene, Fill
from facegraphic.geometry.path import Path
width, height, dpi, bits = map(int, sys.argv[1:])
bars = [Fill(Path((("M", -90, y), ("L", 90, y), ("L", 80, y + 9), ("Z",))), "#000000") for y in range(-140, 140, 12)]
with open("/dev/null", "wb") as out:
    write_png(Scene(width, height, tuple(bars), bits), dpi, out)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def peak(*figures: int) -> int:
    words = [sys.executable, "-c", PEAK, *map(str, figures)]
    return int(subprocess.run(words, check=True, capture_output=True, text=True, timeout=300).stdout)


@pytest.mark.skipif(sys.platform == "win32", reason="peak memory is asked of Unix")
@pytest.mark.parametrize("shape", [(1, 1, 3), (300, 1, 3), (129, 1700, 3)])
def test_views_read_back(shape: tuple[int, int, int]) -> None:
    pixels = np.random.default_rng(5).integers(0, 256, shape, np.uint8)
    for dpi in (None, 254):
        with PIL.Image.open(io.BytesIO(pixels_bytes(pixels, dpi))) as picture:
            assert np.array_equal(np.asarray(picture), pixels)
            assert ("dpi" in picture.info) == bool(dpi)


@pytest.mark.parametrize("bits", [1, 24])
def test_memory_knows_no_length(bits: int) -> None:
    """A page four times as long: in colour it would be a quarter of a gigabyte more, in bits 13 MB."""
    assert peak(210, 1188, 600, bits) < 1.05 * peak(210, 297, 600, bits)
    assert peak(210, 297, 2400, bits) < 1.3 * peak(210, 297, 600, bits)
