"""Fonts that a stranger may have made to do harm, or that are merely rough: refused, or judged, in little time."""

import io
import itertools
import math
import os
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from helpers.jobs import good, lay
from helpers.runs import run_apart, run_here
from shapely.geometry import LineString
from shapely.strtree import STRtree

from facegraphic.checks import fine
from facegraphic.errors import UserError
from facegraphic.geometry.crowds import crossing
from facegraphic.geometry.path import Path as Outline
from facegraphic.job.files import read_file
from facegraphic.lettering import text
from facegraphic.lettering.library import load_named
from facegraphic.lettering.text import Style
from facegraphic.stock.limits import limit

LIMITED = "import resource; resource.setrlimit(resource.RLIMIT_CPU, (10, 10))\n"
Ring = list[tuple[float, float]]
BOX: Ring = [(50, 0), (50, 700), (450, 700), (450, 0)]


def font_file(a: list[Ring], features: str = "") -> bytes:
    """A font whose A has these outlines, and whose other capitals are plain boxes."""
    names = [".notdef", *(chr(code) for code in range(65, 91))]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(name): name for name in names[1:]})
    glyphs = {}
    for name in names:
        pen = TTGlyphPen(None)
        for first, *rest in a if name == "A" else [BOX]:
            pen.moveTo(first)
            for point in rest:
                pen.lineTo(point)
            pen.closePath()
        glyphs[name] = pen.glyph()
    builder.setupGlyf(glyphs)
    builder.setupHorizontalMetrics(dict.fromkeys(names, (500, 50)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Buoy", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    if features:
        addOpenTypeFeaturesFromString(builder.font, features)
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def tangle(count: int) -> Ring:
    dice = random.Random(2)
    return [(dice.randint(0, 500), dice.randint(0, 700)) for _ in range(count)]


def comb(count: int) -> Ring:
    """A disc with fine teeth all round."""
    turns = [(350 - 50 * (i % 2), -2 * math.pi * i / count) for i in range(count)]
    return [(round(350 + r * math.cos(turn)), round(350 + r * math.sin(turn))) for r, turn in turns]


def job(folder: Path, font: bytes, label: str = "AAAAAAH") -> Path:
    text = good('process = "waterslide-clear"', 'process = "waterslide-clear"\nfont = "buoy.ttf"')
    return lay(
        folder, text.replace('label = "RATE"', f'label = "{label}"').replace("{title}", "BELL"), {"buoy.ttf": font}
    )


GROWTH = "".join(f"lookup l{i} {{ sub A by A A A A A A A A A A; }} l{i};\n" for i in range(30))
CCMP = f"{GROWTH}feature ccmp {{ {' '.join(f'lookup l{i};' for i in range(30))} }} ccmp;"


@pytest.mark.parametrize(
    ("font", "says"),
    [
        (lambda: font_file([BOX], CCMP), "too many glyphs"),
        (lambda: font_file([tangle(5000)]), "more than 4000 segments"),
        (lambda: font_file([tangle(3900)]), "cross too often"),
        (lambda: font_file([tangle(700)]), "cross too often"),
        (lambda: font_file([tangle(70)]), ""),
        (lambda: font_file([comb(1000)]), "cross too often"),
    ],
    ids=["growth", "segments", "tangle", "small tangle", "taken", "comb"],
)
def test_a_font_is_refused_or_judged_in_little_time(tmp_path: Path, font: Callable[[], bytes], says: str) -> None:
    job(tmp_path, font())
    ran = run_apart("check", "job.toml", cwd=tmp_path, before=LIMITED)
    assert ran.status in (0, 1), ran.err[-400:]
    assert says in ran.err + ran.out
    assert "fault" not in ran.err


def test_a_line_of_many_rough_letters_is_refused(tmp_path: Path) -> None:
    squares = [(20 * (i % 20), 30 * (i // 20)) for i in range(150)]
    rough: list[Ring] = [[(x, y), (x, y + 25), (x + 15, y + 25), (x + 15, y)] for x, y in squares]
    ran = run_here("check", job(tmp_path, font_file(rough), "A" * 60))
    assert ran.status == 1
    assert "too many outlines" in ran.err or "too crowded outlines" in ran.err
    assert "cross too often" not in ran.err


def test_what_thins_out_or_closes_is_told_without_a_width(tmp_path: Path) -> None:
    """A tangle whose lines cut each other into triangles of every size."""
    ran = run_here("check", job(tmp_path, font_file([tangle(70)]), "AAAAAAH"))
    assert "thin out to nothing where they are finest" in ran.out
    assert "close to nothing where they are finest" in ran.out
    assert "no height mends that" in ran.out


def test_outlines_too_rough_to_measure_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = job(tmp_path, font_file([comb(400)]), "AAAAAAH")
    assert "outlines-rough" not in run_here("check", path).out
    monkeypatch.setattr(fine, "MOST_NEAR", 120 * 20)  # twenty letters without any of their own
    fine._crowd.cache_clear()
    assert 'strokes of "AAAAAAH" of rate are not measured' in run_here("check", path).out
    fine._crowd.cache_clear()


def test_crossings_are_counted_as_a_tree_of_lines_counts_them() -> None:
    """shapely's own tree over the segments' boxes: pairs that meet, less those of neighbours."""
    ring = tangle(120)
    path = Outline((("M", *ring[0]), *(("L", *point) for point in ring[1:]), ("Z",)))
    lines = [LineString(pair).envelope for pair in itertools.pairwise(ring)]
    one, other = STRtree(lines).query(lines)
    wanted = sum(abs(int(a) - int(b)) > 1 for a, b in zip(one, other, strict=True)) / 2
    assert abs(crossing(path, 10**6) - wanted) <= len(ring)  # the place it begins at is a piece by itself
    assert crossing(path, 10) > 10


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no FIFOs on Windows")
@pytest.mark.parametrize("kind", ["fifo", "endless"])
def test_a_specimen_of_no_ordinary_file_is_refused_at_once(tmp_path: Path, kind: str) -> None:
    if kind == "fifo":
        os.mkfifo(tmp_path / "buoy.ttf")
    else:
        (tmp_path / "buoy.ttf").symlink_to("/dev/zero")
    ran = run_apart("fonts", "--specimen", "buoy.ttf", cwd=tmp_path, before=LIMITED)
    assert ran.status == 1
    assert "not an ordinary file" in ran.err
    assert [path.name for path in tmp_path.iterdir()] == ["buoy.ttf"]


def test_a_specimen_of_too_large_a_file_is_refused(tmp_path: Path) -> None:
    with (tmp_path / "buoy.ttf").open("wb") as file:
        file.truncate(limit("font-bytes") + 1)
    ran = run_here("fonts", "--specimen", tmp_path / "buoy.ttf")
    assert ran.status == 1
    assert "bytes, more than" in ran.err


def test_a_file_that_grows_is_read_no_further_than_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "a").write_bytes(bytes(11))
    real = Path.stat
    monkeypatch.setattr(Path, "stat", lambda self, **more: os.stat_result((*real(self, **more)[:6], 0, 0, 0, 0)))
    assert read_file(tmp_path / "a", 11) == bytes(11)
    with pytest.raises(UserError, match="more than 10 are not read"):
        read_file(tmp_path / "a", 10)


@pytest.mark.parametrize("tracking", [0.0, -1.0, -2.6])
@pytest.mark.parametrize("words", ["RATE", "Depth, 10 to 47 Hz", "AVATAR To Wáy ÅÉ"])
def test_glyphs_told_apart_are_as_crowded_as_their_line(
    words: str, tracking: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever the most is that a line may have: it is refused where its outlines, counted as one, have more."""
    style = Style(load_named("tagstrip-bold"), 3.0, tracking)
    monkeypatch.setattr(text, "_check_outlines", lambda *given: None)
    line = text._set_line.__wrapped__(words, style)
    monkeypatch.undo()
    monkeypatch.setattr(text, "MANY", 0)
    pairs = crossing(line.at(0, 0), 10**9)
    for most in (pairs, pairs - 1, pairs // 2):
        monkeypatch.setattr(text, "MOST_CROSSINGS", most)
        text._span.cache_clear()
        if most < pairs:
            with pytest.raises(UserError, match="too crowded outlines"):
                text._check_outlines(line, words, style)
        else:
            text._check_outlines(line, words, style)
    text._span.cache_clear()


def test_letters_of_countless_specks_are_not_measured(tmp_path: Path) -> None:
    places = [(30 * (i % 20), 30 * (i // 20)) for i in range(400)]
    specks: list[Ring] = [[(x, y), (x, y + 9), (x + 9, y + 9), (x + 9, y)] for x, y in places]
    assert (
        'strokes of "AAAAAAAAA" of rate are not measured'
        in run_here("check", job(tmp_path, font_file(specks), "AAAAAAAAA")).out
    )
