"""Colours, fine strokes, artwork's pixels and edges, metal: for each finding a job that has it and one that hasn't."""

import io
import re
import time
from pathlib import Path

import cv2
import numpy as np
import pytest
import shapely
from helpers.jobs import lay, svg
from helpers.runs import run_here
from PIL import Image
from samples import FOLDER, JOBS
from skimage.color import deltaE_ciede2000, rgb2lab

from facegraphic.checks.fine import fine_gaps, fine_strokes, finest
from facegraphic.checks.job import check
from facegraphic.checks.told import several
from facegraphic.errors import Finding
from facegraphic.film.grounds import apart
from facegraphic.geometry.regions import region
from facegraphic.job.load import load_job
from facegraphic.job.pictures import read_picture
from facegraphic.layout.face import lay_out
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style, set_block
from facegraphic.output.png import render
from facegraphic.pipeline.preparing import prepare
from facegraphic.stock.tables import films

HEAD = (
    '[box]\nstock = "93x39x31"\norientation = "landscape"\npaint = "{paint}"\n'
    '[finish]\nprocess = "{process}"\n{finish}\n[[face]]\nside = "top"\n'
)


def job(body: str, process: str = "adhesive-label", paint: str = "#ffffff", finish: str = "") -> str:
    return HEAD.format(process=process, paint=paint, finish=finish) + body


def text(ink: str = "#000000", height: float = 3, words: str = "HULL", at: str = "[0, 0]") -> str:
    return f'[[face.text]]\ntext = "{words}"\nheight = {height}\nat = {at}\nink = "{ink}"\n'


def lettered(
    font: str, height: float, words: str = "HULL 38", process: str = "waterslide-clear", more: str = ""
) -> str:
    return job(text(height=height, words=words), process, finish=f'font = "{font}"\n{more}')


def art(file: str, size: tuple[float, float], at: str = "[0, 0]", more: str = "") -> str:
    return f'[[face.art]]\nfile = "{file}"\nsize = [{size[0]}, {size[1]}]\nat = {at}\nfit = "stretch"\n{more}'


def coat(paint: str, more: str = "") -> str:
    return f'[[coat]]\npaint = "{paint}"\n{more}'


def band(paint: str, y: float) -> str:
    return coat(paint, f'[[coat.shape]]\nshape = "band"\nat = [0, {y}]\nwidth = 8\n')


def holes(*rows: tuple[float, float, float]) -> str:
    return "".join(f'[[face.hole]]\nid = "h{i}"\nat = [{x}, {y}]\nd = {d}\n' for i, (x, y, d) in enumerate(rows))


def barred(wide: float) -> bytes:
    """Black all over, with a white bar of some width across the middle of the face."""
    return svg(
        f'<rect width="93" height="39"/><rect x="{46.5 - wide / 2}" y="0" width="{wide}" height="39" fill="#fff"/>',
        head='<svg xmlns="http://www.w3.org/2000/svg" width="93mm" height="39mm" viewBox="0 0 93 39">',
    )


def png(colours: int, side: int = 60) -> bytes:
    """A picture with so many greys."""
    rows = np.arange(side * side, dtype=np.uint32).reshape(side, side) % colours * (255 // max(1, colours - 1))
    out = io.BytesIO()
    Image.fromarray(rows.astype(np.uint8)).save(out, "PNG")
    return out.getvalue()


FILES = {
    "wide-bar.svg": barred(1.5),
    "thin-bar.svg": barred(0.2),
    "grey.svg": svg('<rect width="30" height="30" fill="#959595"/>'),
    "darker.svg": svg('<rect width="30" height="30" fill="#949494"/>'),
    "photo.png": png(9),
    "line.png": png(2),
    "flat.png": png(1),
}


def size_of_face() -> tuple[float, float]:
    """Width and height of the top of the box in `HEAD`."""
    from facegraphic.stock.faces import face_outline
    from facegraphic.stock.tables import boxes

    box = boxes()["93x39x31"]
    return face_outline(box, "top", box.size[0], box.size[1]).size


WIDE, HIGH = size_of_face()
BLEED = 2.0
TWO = text("#b04a3a", at="[0, 8]") + text("{}", at="[0, -8]")
CASES = [
    # code, severity, a job that has it, one that just hasn't
    # Clear film: the same tone but lighter or darker than the paint; and enough of a difference.
    ("ink-vanishes", "warning", job(text("#5a5a5a"), "waterslide-clear", "#595959"),
     job(text("#585858"), "waterslide-clear", "#595959")),
    ("ink-vanishes", "warning", job(text("#ffffff"), "waterslide-clear", "#101418"),
     job(text("#ffffff"), "waterslide-white", "#101418")),
    ("ink-vanishes", "warning", job(text("#ffffff"), "waterslide-reversed", "#101418"),
     job(text("#ffffff"), "service-print", "#101418")),
    # #959595 on white is the first grey under 3 : 1, #777777 the first under 4.5 : 1 (WCAG 2.2, several pages).
    ("contrast-low", "warning", job(text("#959595")), job(text("#949494"))),
    ("contrast-modest", "note", job(text("#777777")), job(text("#767676"))),
    ("contrast-modest", "note", job(text("#777777", 4.4)), job(text("#777777", 4.5))),
    ("contrast-low", "warning", job(text("#ffffff"), "service-print", "#959595"),
     job(text("#ffffff"), "service-print", "#949494")),
    ("contrast-low", "warning", job(text("#ffffff"), "adhesive-label", finish='ground = "#959595"'),
     job(text("#ffffff"), "adhesive-label", finish='ground = "#949494"')),
    # Black toner on dark paint: 0.0998 of light on #595959 is 2.998 : 1, #5a5a5a 3.04 : 1.
    ("contrast-low", "warning", job(text(), "toner-transfer", "#595959"), job(text(), "toner-transfer", "#5a5a5a")),
    # The same on coats, whatever the bare box is: over everything, in a band under the lettering or beside it; and
    # lettering that is sprayed as well is no ground.
    ("contrast-low", "warning", job(text(), "toner-transfer") + coat("#595959"),
     job(text(), "toner-transfer", "#000000") + coat("#5a5a5a")),
    ("contrast-low", "warning", job(text(), "toner-transfer") + coat("#ffffff") + band("#595959", 0),
     job(text(), "toner-transfer") + coat("#595959") + band("#5a5a5a", 0) + band("#595959", 12)),
    ("contrast-low", "warning", job(text(), "toner-transfer") + band("#595959", 0),
     job(text(), "toner-transfer") + coat("#000000", 'where = "legends"\nmask = "adhesive"\n')),
    ("ink-vanishes", "warning", job(text("#5a5a5a"), "waterslide-clear", "#ffffff") + coat("#595959"),
     job(text("#585858"), "waterslide-clear", "#000000") + coat("#595959")),
    ("ground-unlike-paint", "note", job(text(), "waterslide-white", finish='ground = "#ffffff"') + coat("#c0d0e0"),
     job(text(), "waterslide-white", "#000000", 'ground = "#c0d0e0"') + coat("#c0d0e0")),
    # Over artwork: its colour, and how much of it is in the way.
    ("contrast-low", "warning", job(text("#ffffff") + art("grey.svg", (60, 30))),
     job(text("#ffffff") + art("darker.svg", (60, 30)))),
    ("contrast-low", "warning", job(text("#ffffff") + art("wide-bar.svg", (93, 39))),
     job(text("#ffffff") + art("thin-bar.svg", (93, 39)))),
    ("contrast-low", "warning", job(text("#ffffff") + art("wide-bar.svg", (93, 39))),
     job(text("#ffffff") + art("wide-bar.svg", (93, 39)), finish='halo = 0.6\nground = "#000000"')),
    ("strokes-too-fine", "warning", lettered("tagstrip-light", 2, process="toner-resist"),
     lettered("tagstrip-bold", 2.8)),
    ("strokes-too-fine", "warning", lettered("tagstrip-light", 2.0), lettered("tagstrip-light", 2.1)),
    # Dark on light it holds; the same lettering out of a dark ground is bare film, which fills in sooner.
    ("strokes-too-fine", "warning",
     job(text("#ffffff", 2.0), finish='font = "tagstrip-light"\nground = "#000000"'),
     job(text("#000000", 2.0), finish='font = "tagstrip-light"\nground = "#ffffff"')),
    ("gaps-too-fine", "warning", lettered("tagstrip-bold", 2.9, "reaches", "toner-resist"),
     lettered("tagstrip-bold", 3.0, "reaches", "toner-resist")),
    # 15 arcmin at 1.6 m are 6.981 mm (NUREG-0700).
    ("small-to-read", "note", job(text(height=6.9)), job(text(height=7.0))),
    # 60 pixels on 5.08 mm are 300 to the inch, on 1.27 mm 1200.
    ("picture-coarse", "warning", job(art("photo.png", (5.2, 5.2))), job(art("photo.png", (5.08, 5.08)))),
    ("picture-coarse", "warning", job(art("photo.png", (5.2, 5.0))), job(art("flat.png", (5.2, 5.2)))),
    ("picture-coarse", "warning", job(art("line.png", (1.3, 1.3))), job(art("line.png", (1.27, 1.27)))),
    # Toner shows a picture in cells of its gap, 0.25 mm: 101.6 to the inch.
    ("picture-coarse", "warning", job(art("photo.png", (15.1, 15.1)), "toner-transfer"),
     job(art("photo.png", (15, 15)), "toner-transfer")),
    ("art-short-of-bleed", "warning", job(art("grey.svg", (WIDE, HIGH))),
     job(art("grey.svg", (WIDE + 2 * BLEED, HIGH + 2 * BLEED)))),
    ("art-short-of-bleed", "warning", job(art("grey.svg", (WIDE + 2 * BLEED, 10), f"[0, {HIGH / 2 - 5}]")),
     job(art("grey.svg", (WIDE + 2 * BLEED, 10), f"[0, {HIGH / 2 - 7.5}]"))),
    # A strip left bare inside the edge; a rim as wide as the margin is meant, and so is a small picture anywhere.
    ("art-short-of-bleed", "warning", job(art("grey.svg", (WIDE + 2 * BLEED, HIGH - 2))),
     job(art("grey.svg", (WIDE - 5, HIGH - 5)))),
    ("art-short-of-bleed", "warning", job(art("grey.svg", (WIDE - 4, HIGH - 4))),
     job(art("grey.svg", (20, 10), f"[0, {HIGH / 2 - 6}]"))),
    ("art-short-of-bleed", "warning", job(art("grey.svg", (20, 10), f"[{WIDE / 2 - 9}, 0]")),
     job(art("grey.svg", (20, 10), f"[{WIDE / 2 - 8}, 0]"))),
    ("holes-close", "warning", job(holes((-4, 0, 6.1), (4, 0, 6))), job(holes((-4, 0, 6), (4, 0, 6)))),
    ("hole-near-edge", "warning", job(holes((0, HIGH / 2 - 4.9, 6))), job(holes((0, HIGH / 2 - 5, 6)))),
    # Two greys 3.0 apart on the lightness scale near the middle are CIEDE2000 2.9 to 3.1 apart (scikit-image, below).
    ("ground-unlike-paint", "note", job("", paint="#777777", finish='ground = "#7f7f7f"'),
     job("", paint="#777777", finish='ground = "#7d7d7d"')),
    ("ground-unlike-paint", "note", job("", "waterslide-white", "#e8e2d0", 'ground = "#173f4a"'),
     job("", "waterslide-white", "#e8e2d0")),
    ("ground-unlike-paint", "note", job("", "waterslide-white", "#e8e2d0", 'ground = "#173f4a"'),
     job("", "service-print", "#e8e2d0", 'ground = "#173f4a"')),
    ("inks-alike", "note", job(TWO.format("#6f7a2c")), job(TWO.format("#3f4616"))),
]  # fmt: skip


def findings(folder: Path, text: str) -> list[Finding]:
    return list(prepare(lay(folder, text, FILES)).findings)


@pytest.mark.parametrize(("code", "severity", "bad", "good"), CASES)
def test_the_fault_is_found_and_its_absence_too(tmp_path: Path, code: str, severity: str, bad: str, good: str) -> None:
    told = [finding for finding in findings(tmp_path / "bad", bad) if finding.code == code]
    assert [finding.severity for finding in told] == [severity]
    assert told[0].message
    assert told[0].remedy
    assert code not in {finding.code for finding in findings(tmp_path / "good", good)}


@pytest.mark.parametrize("process", ["adhesive-label", "waterslide-reversed"])
@pytest.mark.parametrize(("at", "told"), [((20, 8), True), ((-20, 8), False), ((20, -8), False), ((-20, -8), False)])
def test_artwork_is_looked_at_where_lettering_stands(
    tmp_path: Path, process: str, at: tuple[float, float], told: bool
) -> None:
    """Black in the upper right quarter only, under black lettering: the process that mirrors its print too."""
    body = text(at=str(list(at))) + art("black.svg", (46, 20), "[23, 10]")
    path = lay(tmp_path, job(body, process), {"black.svg": svg('<rect width="30" height="30"/>')})
    assert ("contrast-low" in {finding.code for finding in prepare(path).findings}) is told


@pytest.mark.parametrize("name", JOBS)
def test_the_examples_have_nothing_but_notes(name: str) -> None:
    assert {finding.severity for finding in prepare(FOLDER / f"{name}.toml").findings} <= {"note"}


def test_one_note_a_job_says_what_is_small(tmp_path: Path) -> None:
    body = text(height=3, at="[0, 12]") + text(height=3.1, at="[0, 0]") + text(height=7, at="[0, -12]")
    said = [finding for finding in findings(tmp_path, job(body)) if finding.code == "small-to-read"]
    assert len(said) == 1
    assert "2 of 3 pieces" in said[0].message
    assert "1 of them under the 3.1 mm" in said[0].message


@pytest.mark.parametrize(
    ("process", "paint", "ink"),
    [
        ("adhesive-label", "#ffffff", "#a5a5a5"),
        ("adhesive-label", "#ffffff", "#f08030"),
        ("waterslide-clear", "#e6dcc3", "#a0b0d0"),
        ("service-print", "#173f4a", "#405060"),
    ],
)
def test_the_ink_that_is_named_does_it(tmp_path: Path, process: str, paint: str, ink: str) -> None:
    said = next(f for f in findings(tmp_path / "a", job(text(ink), process, paint)) if f.code == "contrast-low")
    named = re.search(r'"(#[0-9a-f]{6})"', said.remedy)
    assert named
    after = {finding.code for finding in findings(tmp_path / "b", job(text(named[1]), process, paint))}
    assert not after & {"contrast-low", "contrast-modest", "ink-vanishes"}


@pytest.mark.parametrize(
    ("font", "height", "words", "process", "code"),
    [
        ("tagstrip-light", 2.0, "HULL 38", "toner-resist", "strokes-too-fine"),
        ("tagstrip-light", 1.6, "Wake & M", "waterslide-clear", "strokes-too-fine"),
        ("tagstrip-regular", 2.0, "RATE", "toner-resist", "strokes-too-fine"),
        ("tagstrip-bold", 2.0, "reaches", "toner-resist", "gaps-too-fine"),
    ],
)
def test_the_height_that_is_named_does_it_and_no_more(
    tmp_path: Path, font: str, height: float, words: str, process: str, code: str
) -> None:
    first = next(f for f in findings(tmp_path / "a", lettered(font, height, words, process)) if f.code == code)
    named = re.search(r"set it ([\d.]+) mm high", first.remedy)
    assert named
    after = findings(tmp_path / "b", lettered(font, float(named[1]), words, process))
    assert code not in {finding.code for finding in after}
    less = findings(tmp_path / "c", lettered(font, round(float(named[1]) * 0.93, 2), words, process))
    assert code in {finding.code for finding in less}


@pytest.mark.parametrize(
    ("limits", "font", "code", "told"),
    [
        ("", "tagstrip-regular", "strokes-too-fine", False),
        ("line = 0.4", "tagstrip-regular", "strokes-too-fine", True),
        ("line-reversed = 0.4", "tagstrip-regular", "strokes-too-fine", False),
        ("gap = 1.0", "tagstrip-bold", "gaps-too-fine", True),
        ("gap-reversed = 1.0", "tagstrip-bold", "gaps-too-fine", False),
        ("text = 3.1", "tagstrip-regular", "text-too-small", True),
        ("text = 2.9", "tagstrip-regular", "text-too-small", False),
    ],
)
def test_limits_of_ones_own_go_before_the_stock(tmp_path: Path, limits: str, font: str, code: str, told: bool) -> None:
    """What the test page shows that a printer holds: strokes of 3 mm capitals are 0.3 mm (ISO 3098 type B: a tenth)."""
    body = lettered(font, 3.0) + (f"[limits]\n{limits}\n" if limits else "")
    assert (code in {finding.code for finding in findings(tmp_path, body)}) is told


@pytest.mark.parametrize(
    ("limits", "said"),
    [("lines = 0.2", 'did you mean "line"'), ("line = 0", "between 0.02 and"), ('gap = "x"', "limits.gap")],
)
def test_limits_that_cannot_be_are_told(tmp_path: Path, limits: str, said: str) -> None:
    ran = run_here("check", lay(tmp_path, f"{job('')}[limits]\n{limits}\n"))
    assert (ran.status, said in ran.err) == (1, True), ran.err


@pytest.mark.parametrize("height", [0.7, 0.8, 0.9, 1.0])
def test_a_width_told_as_too_fine_reads_as_finer(tmp_path: Path, height: float) -> None:
    """And the height that is named also is one at which the process holds lettering at all."""
    told = findings(tmp_path, lettered("tagstrip-bold", height, "Fog Horn", "waterslide-white"))
    said = [finding for finding in told if finding.code in ("strokes-too-fine", "gaps-too-fine")]
    assert said
    for finding in said:
        width, limit = (float(figure) for figure in re.findall(r"([\d.]+) mm", finding.message))
        assert width < limit
        assert "set it 1.5 mm high" in finding.remedy


@pytest.mark.parametrize(("one", "other"), [("#777777", "#7f7f7f"), ("#777777", "#7d7d7d"), ("#e8e2d0", "#173f4a")])
def test_ground_and_paint_are_as_far_apart_as_a_library_says(one: str, other: str) -> None:
    """scikit-image's rgb2lab and CIEDE2000."""
    rows = [np.array([int(tone[i : i + 2], 16) / 255 for i in (1, 3, 5)]) for tone in (one, other)]
    wanted = float(deltaE_ciede2000(*(rgb2lab(row) for row in rows)))
    assert apart(one, other) == pytest.approx(wanted, abs=0.02)


@pytest.mark.parametrize("font", ["tagstrip-bold", "tagstrip-regular", "barlow-condensed-semibold"])
def test_round_ends_corners_and_crotches_raise_no_alarm(font: str) -> None:
    """Every letter at a size whose strokes hold: nothing is told, whatever the shape of its ends."""
    film = films()["waterslide-clear"]
    for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZcfjklrstvwxyz0123456789+−×÷":
        area = region(set_block(letter, Style(load_named(font), 3.6)).path)
        assert not fine_strokes(area, film.line), letter
        assert not fine_gaps(area, film.gap), letter


def test_openings_agree_with_opencv_s() -> None:
    """The same strokes by OpenCV's morphology on a raster of 0.01 mm: what it opens away is what is told here."""
    kernel = {w: cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (round(w * 100) | 1,) * 2) for w in (0.15, 0.25, 0.4)}
    counted = 0
    for font in ("tagstrip-light", "tagstrip-bold"):
        for letter in "EHLTO8":
            path = set_block(letter, Style(load_named(font), 2.8)).path
            canvas = np.zeros((500, 500), np.uint8)
            rings = [np.round((np.array(ring) + 2.5) * 100 * 16).astype(np.int32) for ring in path.rings()]
            cv2.fillPoly(canvas, rings, 255, shift=4)
            for width, disc in kernel.items():
                lost = canvas.astype(bool) & ~cv2.morphologyEx(canvas, cv2.MORPH_OPEN, disc).astype(bool)
                share = lost.sum() / 1e4 / width**2
                if share < 0.7 or share > 4:  # far from the limit, so that pixels cannot decide
                    counted += 1
                    assert fine_strokes(region(path), width) == (share > 1), (font, letter, width)
    assert counted > 25


def test_widths_are_measured() -> None:
    """A plus of bars 0.2 mm wide, a ring 0.12 mm wide, a slot of 0.3 mm, a dot of 0.5 mm: within 1/32 of the limit."""
    bar = shapely.box(-2, -0.1, 2, 0.1).union(shapely.box(-0.1, -2, 0.1, 2))
    ring = shapely.Point(0, 0).buffer(1, 64).difference(shapely.Point(0, 0).buffer(0.88, 64))
    slot = shapely.box(-2, -2, 2, 2).difference(shapely.box(-1, -0.15, 1, 0.15))
    for area, takes, width in ((bar, fine_strokes, 0.2), (ring, fine_strokes, 0.12), (slot, fine_gaps, 0.3)):
        assert not takes(area, width)
        assert takes(area, width + 0.02)
        assert finest(area, 0.4, takes) == pytest.approx(width, abs=0.025)
    dot = shapely.Point(0, 0).buffer(0.25, 32)
    assert not fine_strokes(dot, 0.5)
    assert fine_strokes(dot, 0.53)
    assert fine_gaps(shapely.box(-2, -2, 2, 2).difference(dot), 0.53)


def test_a_tapering_point_is_no_fine_stroke_but_a_thin_tail_is() -> None:
    point = shapely.Polygon([(-1, 0), (1, 0), (0, 3)])
    assert not fine_strokes(point, 0.2)
    assert fine_strokes(point.union(shapely.box(-0.05, 2.5, 0.05, 4)), 0.2)


def test_tones_are_counted() -> None:
    assert [read_picture(FILES[f"{name}.png"]).tones for name in ("flat", "line", "photo")] == [1, 2, 3]


def test_many_names_are_cut_short() -> None:
    assert several(["a"]) == "a"
    assert several(["a", "b", "a"]) == "a and b"
    assert several(["a", "b", "c"]) == "a, b and c"
    assert several(["a", "b", "c", "d", "e"]) == "a, b, c and 2 more"


def test_twelve_scaled_pots_are_checked_quickly(tmp_path: Path) -> None:
    rows = holes(*((-42 + 28 * (i % 4), 28 - 28 * (i // 4), 7.5) for i in range(12)))
    body = rows + "".join(
        f'[[face.control]]\nhole = "h{i}"\npart = "pot-16"\nknob = "round-13"\nlabel = "NAME {i}"\n'
        "scale = { from = 0, to = 10, step = 1 }\n"
        for i in range(12)
    )
    text = job(body + '[[face.art]]\nfile = "grey.svg"\n').replace('stock = "93x39x31"', "size = [130, 110, 40]")
    read = load_job(lay(tmp_path, text, FILES))
    layouts = [lay_out(face, read.finish) for face in read.faces]
    assert len(layouts[0].legends) >= 12 * 11
    start = time.process_time()
    check(read, layouts, render)
    assert time.process_time() - start < 2.0  # about 0.7 s on a machine of 2023
