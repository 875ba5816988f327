"""Read the skeleton sources and put glyphs together for one cut.

A glyph is a set of strokes, or a base with parts added to it (accents, small figures).  Both
come from TOML files whose format ``fonts/README.md`` describes.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from fonts.build.design import Cut, Zone
from fonts.build.expand import bury_ends
from fonts.build.notation import Disc, Shape, Stroke, parse

SOURCE = Path(__file__).resolve().parent.parent / "source"
_PART = re.compile(r"(?P<name>[\w.-]+)(\*(?P<scale>[\d.]+))?(@(?P<dx>-?[\d.]+),(?P<dy>-?[\d.]+))?")
# Small figures are drawn with a lighter pen, yet heavier than plain scaling would make it.
_SMALL_PEN = 0.74
_MARKS = (Zone.ABOVE, Zone.BELOW)


class SourceError(ValueError):
    """A skeleton source that cannot be used."""


@dataclass(frozen=True, slots=True)
class Part:
    """A glyph used inside another: scaled, then moved by ``shift`` (grid units)."""

    name: str
    scale: float = 1.0
    shift: complex | None = None


@dataclass(frozen=True, slots=True)
class Glyph:
    """One glyph as the source tells it.

    :ivar codes: Unicode code points, may be empty for parts.
    :ivar spacing: rule for the side bearings: ``optical`` for letters, ``figure`` for equal
        advances, ``fixed``, ``point`` (fixed, but kerned), ``part`` (not a glyph of its own).
    :ivar bridges: stencil openings as (x, lowest y, highest y, side) in grid units; side 0
        centres the slot on x, 1 sets it right beside the stem at x, -1 left beside it.
    :ivar top: where a mark above stands, x and outer height; ``bottom`` likewise below.
    :ivar advance: of a blank, grid units.
    """

    name: str
    codes: tuple[int, ...]
    zone: Zone
    spacing: str
    shapes: tuple[Shape, ...] = ()
    parts: tuple[Part, ...] = ()
    bridges: tuple[tuple[float, float, float, int], ...] = ()
    top: complex | None = None
    bottom: complex | None = None
    advance: float | None = None


@dataclass(frozen=True, slots=True)
class Drawing:
    """A glyph's skeleton in the proportions of one cut, grid units.

    :ivar body: how many of the shapes make the body that is spaced; the rest are marks.
    :ivar bridges: stencil openings as (x, low, high).
    """

    shapes: tuple[Shape, ...]
    body: int
    bridges: tuple[tuple[float, float, float], ...]


def _points(shapes: tuple[Shape, ...]) -> Iterator[complex]:
    for shape in shapes:
        if isinstance(shape, Disc):
            yield shape.centre
        else:
            for piece in shape.segments:
                yield from (piece.point(i / 8) for i in range(9))


def _moved(shape: Shape, scale: float, shift: complex) -> Shape:
    moved = shape.mapped(lambda p: p * scale + shift)
    if scale == 1.0:
        return moved
    if isinstance(moved, Stroke):
        return replace(moved, pen=moved.pen * _SMALL_PEN)
    return replace(moved, radius=moved.radius * scale, pens=moved.pens * _SMALL_PEN)


def _codes(entry: Mapping[str, Any]) -> tuple[int, ...]:
    if "char" in entry:
        return tuple(ord(c) for c in entry["char"])
    found = entry.get("code", [])
    return (found,) if isinstance(found, int) else tuple(found)


def _part(text: str) -> Part:
    match = _PART.fullmatch(text)
    if match is None:
        raise SourceError(f"cannot read the part {text!r}")
    shift = complex(float(match["dx"]), float(match["dy"])) if match["dx"] else None
    return Part(match["name"], float(match["scale"] or 1), shift)


def _glyph(name: str, entry: Mapping[str, Any], defaults: Mapping[str, Any]) -> Glyph:
    merged = {"zone": "fixed", "spacing": "fixed", **defaults, **entry}
    unknown = set(merged) - _KEYS
    if unknown:
        raise SourceError(f"{name}: unknown keys {sorted(unknown)}")
    shapes = bury_ends(tuple(parse(text) for text in entry.get("strokes", ())))
    return Glyph(
        name=name,
        codes=_codes(entry),
        zone=Zone(merged["zone"]),
        spacing=merged["spacing"],
        shapes=shapes,
        parts=tuple(_part(word) for word in entry.get("parts", "").split()),
        bridges=tuple((b[0], b[1], b[2], b[3] if len(b) > 3 else 0) for b in entry.get("bridges", ())),
        top=complex(*entry["top"]) if "top" in entry else None,
        bottom=complex(*entry["bottom"]) if "bottom" in entry else None,
        advance=entry.get("advance"),
    )


_KEYS = {
    "char", "code", "zone", "spacing", "strokes", "parts", "bridges", "top", "bottom",
    "meaning", "source", "advance",
}  # fmt: skip


@dataclass(frozen=True)
class Library:
    """All glyphs of the sources, by name."""

    glyphs: Mapping[str, Glyph]

    @cached_property
    def by_code(self) -> dict[int, str]:
        """Glyph name of every code point; a code given twice is an error."""
        found: dict[int, str] = {}
        for glyph in self.glyphs.values():
            for code in glyph.codes:
                if code in found:
                    raise SourceError(f"U+{code:04X} is both {found[code]} and {glyph.name}")
                found[code] = glyph.name
        return found

    def base(self, glyph: Glyph) -> Glyph:
        """Return the letter under the accents: the first part, or the glyph itself."""
        return self.base(self.glyphs[glyph.parts[0].name]) if glyph.parts else glyph

    def is_accented(self, glyph: Glyph) -> bool:
        """Tell whether a glyph is a letter with nothing but marks above or below added."""
        if self.base(glyph).spacing != "optical" or len(glyph.parts) < 2:
            return False
        return all(self.glyphs[part.name].zone in _MARKS for part in glyph.parts[1:])

    def _anchor(self, glyph: Glyph, cut: Cut, zone: Zone) -> complex:
        """Return where a mark of ``zone`` stands on ``glyph``: x and the outer height."""
        owner = self.base(glyph)
        given = owner.top if zone is Zone.ABOVE else owner.bottom
        points = list(_points(owner.shapes))
        xs, ys = [p.real for p in points], [p.imag for p in points]
        height = (7.0 if max(ys) <= 7 else 10.0) if zone is Zone.ABOVE else 0.0
        spot = given if given is not None else complex((min(xs) + max(xs)) / 2, height)
        return complex(cut.mapping(owner.zone)(spot).real, spot.imag)

    def _place(self, glyph: Glyph, part: Part, cut: Cut, first: bool) -> complex:
        zone = self.glyphs[part.name].zone
        if part.shift is not None:
            return complex(part.shift.real * cut.stretch, part.shift.imag)
        if first or zone not in _MARKS:
            return 0j
        # Marks above are drawn over the lower case, marks below under the baseline.
        spot = self._anchor(self.glyphs[glyph.parts[0].name], cut, zone)
        return spot - 7j if zone is Zone.ABOVE else spot

    def draw(self, name: str, cut: Cut) -> Drawing:
        """Return the skeleton of a glyph in the proportions of ``cut``."""
        glyph = self.glyphs[name]
        mapping = cut.mapping(glyph.zone)
        shapes = tuple(shape.mapped(mapping) for shape in glyph.shapes)
        bridges = []
        for x, low, high, side in glyph.bridges:
            a, b = mapping(complex(x, low)), mapping(complex(x, high))
            bridges.append((a.real + side * (cut.pen + cut.bridge) / 2, a.imag, b.imag))
        body = len(shapes)
        for index, part in enumerate(glyph.parts):
            inner = self.draw(part.name, cut)
            shift = self._place(glyph, part, cut, index == 0)
            shapes += tuple(_moved(s, part.scale, shift) for s in inner.shapes)
            for x, low, high in inner.bridges:
                low, high = (y * part.scale + shift.imag for y in (low, high))
                bridges.append((x * part.scale + shift.real, low, high))
            if index == 0 or self.glyphs[part.name].zone not in _MARKS:
                body = len(shapes)
        return Drawing(shapes, body, tuple(bridges))


def load(folder: Path = SOURCE) -> Library:
    """Read every ``*.toml`` of ``folder``; the order of glyphs is that of names and files.

    :raises SourceError: on a name used twice, an unknown key or an unknown part.
    """
    glyphs: dict[str, Glyph] = {}
    for path in sorted(folder.glob("*.toml")):
        document = tomllib.loads(path.read_text(encoding="utf-8"))
        defaults = document.get("defaults", {})
        for name, entry in document["glyphs"].items():
            if name in glyphs:
                raise SourceError(f"{path.name}: {name} is there already")
            glyphs[name] = _glyph(name, entry, defaults)
    for glyph in glyphs.values():
        for part in glyph.parts:
            if part.name not in glyphs:
                raise SourceError(f"{glyph.name}: no part {part.name}")
    return Library(glyphs)
