"""One cut of the family, glyph by glyph: outline, advance, side bearings, kerning."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
import pathops

from fonts.build import spacing
from fonts.build.design import GRID, LETTER_GAP, Cut
from fonts.build.expand import expand
from fonts.build.notation import Shape
from fonts.build.outline import polygon, quadratic, rings, unite
from fonts.build.source import Glyph, Library, SourceError
from fonts.build.stencil import bridge

# Space kept between an accent that is wider than its letter and the edge of the advance.
_MARK_MARGIN = round(0.4 * GRID)
# Ink of accented neighbours keeps this distance: marks have no area to balance, they must only not touch.
_MARK_CLEAR = 0.62 * LETTER_GAP
Pair = tuple[str, str]
_FIGURES = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


@dataclass(frozen=True)
class Outline:
    """A finished glyph.

    :ivar path: overlap-free outline, font units, not yet moved.
    :ivar shift: by how much the outline moves right so that the left side bearing is right.
    :ivar advance: font units.
    :ivar profile: edges of the body without marks, ``None`` for a blank.
    :ivar whole: edges of all of it, marks included, ``None`` for a blank.
    """

    path: pathops.Path
    shift: int
    advance: int
    profile: spacing.Profile | None
    whole: spacing.Profile | None = None


@dataclass(frozen=True)
class Face:
    """All glyphs of a cut and the kerning between groups of them.

    :ivar groups: members of each kerning group, by the name of its first glyph.
    :ivar kerning: (left group, right group) to font units.
    :ivar exceptions: (left glyph, right glyph) to font units, where marks need another value than their groups.
    """

    cut: Cut
    outlines: Mapping[str, Outline]
    groups: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    kerning: Mapping[Pair, int] = field(default_factory=dict)
    exceptions: Mapping[Pair, int] = field(default_factory=dict)

    @cached_property
    def group_of(self) -> Mapping[str, str]:
        """The kerning group of every glyph that has one."""
        return {name: key for key, names in self.groups.items() for name in names}

    def kern(self, pair: Pair) -> int:
        """Return the kerning of two glyphs, font units."""
        group = self.group_of
        return self.exceptions.get(pair, self.kerning.get((group.get(pair[0], ""), group.get(pair[1], "")), 0))


def _united(shapes: tuple[Shape, ...], pen: float) -> pathops.Path:
    contours = [contour for shape in shapes for contour in expand(shape, pen)]
    return unite(quadratic([contours])[0])


def _bearings(glyph: Glyph, library: Library, body: spacing.Profile, figure_width: float) -> tuple[int, int]:
    rule = library.base(glyph).spacing if library.is_accented(glyph) else glyph.spacing
    half = LETTER_GAP // 2
    if rule == "optical":
        return spacing.bearings(body)
    if rule == "figure":
        # Centred in the common advance, which leaves the widest figure a letter gap.
        spare = figure_width + 0.75 * LETTER_GAP - (body.x_max - body.x_min)
        return round(spare / 2), round(spare) - round(spare / 2)
    return half, half


def _outline(glyph: Glyph, library: Library, cut: Cut, figure_width: float) -> Outline:
    if glyph.advance is not None:
        return Outline(pathops.Path(), 0, round(glyph.advance * GRID), None)
    drawing = library.draw(glyph.name, cut)
    path = _united(drawing.shapes, cut.pen)
    half = cut.pen * GRID / 2
    whole = spacing.profile(rings(path), 0, half)
    height = spacing.band_height(library.base(glyph).zone)
    body = spacing.profile(rings(_united(drawing.shapes[: drawing.body], cut.pen)), height, half)
    left, right = _bearings(glyph, library, body, figure_width)
    # An accent may stand out over its letter, but not into the neighbour.
    left = max(left, _MARK_MARGIN + round(body.x_min - whole.x_min)) if whole.x_min < body.x_min else left
    right = max(right, _MARK_MARGIN + round(whole.x_max - body.x_max)) if whole.x_max > body.x_max else right
    if cut.bridge:
        try:
            path = bridge(path, drawing.bridges, cut.bridge)
        except ValueError as error:
            raise SourceError(f"{glyph.name}: {error}") from error
    shift = left - round(body.x_min)
    return Outline(path, shift, round(body.x_max) + shift + right, body, whole)


def _figure_width(library: Library, cut: Cut) -> float:
    bounds = [polygon(_united(library.draw(name, cut).shapes, cut.pen)).bounds for name in _FIGURES]
    return max(float(round(x1) - round(x0)) for x0, _, x1, _ in bounds)


def _groups(library: Library, outlines: Mapping[str, Outline]) -> dict[str, tuple[str, ...]]:
    """Gather the glyphs that kern alike: a letter and all its accented forms."""
    members: dict[str, list[str]] = {}
    for name in outlines:
        glyph = library.glyphs[name]
        accented = library.is_accented(glyph)
        if accented or glyph.spacing in ("optical", "point"):
            members.setdefault(library.base(glyph).name if accented else name, []).append(name)
    return {key: tuple(names) for key, names in members.items()}


def _kerning(library: Library, outlines: Mapping[str, Outline], keys: list[str]) -> dict[Pair, int]:
    is_point = np.array([library.glyphs[key].spacing == "point" for key in keys])
    edges = [(outlines[key], profile) for key in keys if (profile := outlines[key].profile) is not None]
    rights = [profile for _, profile in edges]
    before = np.array([outline.shift + profile.x_min for outline, profile in edges])
    kerning = {}
    for index, (outline, profile) in enumerate(edges):
        after = outline.advance - outline.shift - profile.x_max
        values = spacing.kern(profile, rights, before + after, is_point | is_point[index])
        for second, value in enumerate(values):
            if value and not (is_point[index] and is_point[second]):
                kerning[keys[index], keys[second]] = value
    return kerning


def _is_letter(glyph: Glyph) -> bool:
    return any(chr(code).isalpha() for code in glyph.codes)


def _exceptions(library: Library, face: Face) -> dict[Pair, int]:
    """Return the kerning of pairs whose marks would come too near to each other or to the neighbouring letter."""
    names = [name for name, outline in face.outlines.items() if outline.whole and _is_letter(library.glyphs[name])]
    wholes = [whole for name in names if (whole := face.outlines[name].whole)]
    marked = np.array([name not in face.group_of or library.is_accented(library.glyphs[name]) for name in names])
    before = np.array([face.outlines[n].shift + w.x_min for n, w in zip(names, wholes, strict=True)])
    found = {}
    for first, (name, whole) in enumerate(zip(names, wholes, strict=True)):
        outline = face.outlines[name]
        kerned = np.array([face.kern((name, other)) for other in names])
        between = outline.advance - outline.shift - whole.x_max + before + kerned
        short = _MARK_CLEAR - between - spacing.nearest(whole, wholes)
        for second in np.flatnonzero((short > 0) & (marked | marked[first])).tolist():
            found[name, names[second]] = int(kerned[second] + 2 * np.ceil(short[second] / 2))
    return found


def make(library: Library, cut: Cut) -> Face:
    """Draw every glyph of the sources in one cut, space it and kern it."""
    if not library.by_code:
        raise SourceError("no glyphs")
    width = _figure_width(library, cut)
    outlines = {
        name: _outline(glyph, library, cut, width)
        for name, glyph in library.glyphs.items()
        if glyph.codes or name == ".notdef"
    }
    groups = _groups(library, outlines)
    face = Face(cut, outlines, groups, _kerning(library, outlines, list(groups)))
    return replace(face, exceptions=_exceptions(library, face))
