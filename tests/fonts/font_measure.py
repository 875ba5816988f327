"""Measure font files without the builder: areas, counters, proportions, reading errors."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import shapely
import uharfbuzz
from fontTools.pens.basePen import BasePen
from fontTools.ttLib import TTFont
from shapely.geometry.base import BaseGeometry

ROOT = Path(__file__).resolve().parents[2]
BUILT = ROOT / "fonts" / "built"
CHORDS = 8
# How much of its four points each place along a curve takes (Bernstein's polynomials).
PLACES = [(number / CHORDS, 1 - number / CHORDS) for number in range(1, CHORDS + 1)]
STEPS = [(s**3, 3 * s * s * t, 3 * s * t * t, t**3) for t, s in PLACES]


class _FlattenPen(BasePen):  # type: ignore[misc]
    """Collects closed polygons; curves become CHORDS straight pieces."""

    def __init__(self, glyph_set: object) -> None:
        super().__init__(glyph_set)
        self.rings: list[list[tuple[float, float]]] = []

    def _moveTo(self, pt: tuple[float, float]) -> None:
        self.rings.append([pt])

    def _lineTo(self, pt: tuple[float, float]) -> None:
        self.rings[-1].append(pt)

    def _curveToOne(self, *points: tuple[float, float]) -> None:
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = self.rings[-1][-1], *points
        self.rings[-1] += [
            (a * ax + b * bx + c * cx + d * dx, a * ay + b * by + c * cy + d * dy) for a, b, c, d in STEPS
        ]


def area(font: TTFont, name: str) -> BaseGeometry:
    """Return the filled area of a glyph, in font units."""
    return _area(font.getGlyphSet(), name)


def _area(glyphs: Any, name: str) -> BaseGeometry:
    pen = _FlattenPen(glyphs)
    glyphs[name].draw(pen)
    filled: BaseGeometry = shapely.Polygon()
    for ring in pen.rings:
        if len(ring) > 2:
            # Contours of a finished font do not cross: inside out and outside in alternate.
            loop = shapely.Polygon(ring)
            filled = filled.symmetric_difference(loop if loop.is_valid else loop.buffer(0))
    return filled


def areas_of(font: TTFont) -> dict[str, BaseGeometry]:
    """Return the filled areas of all glyphs, by glyph name."""
    glyphs = font.getGlyphSet()
    return {name: _area(glyphs, name) for name in font.getGlyphOrder()}


@cache
def areas(path: Path) -> dict[str, BaseGeometry]:
    """Return the filled areas of all glyphs of a file, by glyph name."""
    with TTFont(path) as font:
        return areas_of(font)


def counters(shape: BaseGeometry) -> int:
    """Return how many closed counters an area has."""
    parts = getattr(shape, "geoms", [shape])
    return sum(len(part.interiors) for part in parts if isinstance(part, shapely.Polygon))


def counter_table(path: Path, characters: str) -> dict[str, int]:
    """Return the closed counters of those characters of the font that have any."""
    with TTFont(path) as font:
        names = font.getBestCmap()
        found = {c: counters(area(font, names[ord(c)])) for c in characters if ord(c) in names}
    return {c: n for c, n in found.items() if n}


@dataclass(frozen=True)
class Shaper:
    """HarfBuzz over one font file."""

    face: uharfbuzz.Face

    @classmethod
    def open(cls, path: Path) -> Shaper:
        return cls(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(path))))

    def advances(self, text: str, variations: dict[str, float] | None = None) -> list[int]:
        """Return the advance of every glyph of ``text``, font units."""
        font = uharfbuzz.Font(self.face)
        font.set_variations(variations or {})
        buffer = uharfbuzz.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        uharfbuzz.shape(font, buffer)
        return [position.x_advance for position in buffer.glyph_positions]


@dataclass(frozen=True)
class Proportions:
    """What ISO 3098-0 lays down, measured in font units."""

    cap: float
    stem: float
    x_height: float
    descender: float
    letter_gap: float
    word_gap: float


def _gap(path: Path, text: str) -> float:
    """Return the empty distance between the first and the last glyph of a text as shaped."""
    with TTFont(path) as font:
        names = font.getBestCmap()
        first, last = (area(font, names[ord(c)]).bounds for c in (text[0], text[-1]))
    return float(sum(Shaper.open(path).advances(text)[:-1]) + last[0] - first[2])


def proportions(path: Path) -> Proportions:
    """Measure a font file the way the standard does, over all and edge to edge."""
    with TTFont(path) as font:
        names = font.getBestCmap()
        bounds = {c: area(font, names[ord(c)]).bounds for c in "HIxp"}
    return Proportions(
        cap=bounds["H"][3] - bounds["H"][1],
        stem=bounds["I"][2] - bounds["I"][0],
        x_height=bounds["x"][3],
        descender=-bounds["p"][1],
        letter_gap=_gap(path, "HH"),
        word_gap=_gap(path, "I I"),
    )


def differences(found: str, wanted: str) -> int:
    """Return the least number of single-character changes between two texts (Levenshtein)."""
    row = list(range(len(wanted) + 1))
    for i, a in enumerate(found, 1):
        previous, row[0] = row[0], i
        for j, b in enumerate(wanted, 1):
            previous, row[j] = row[j], min(row[j] + 1, row[j - 1] + 1, previous + (a != b))
    return row[-1]
