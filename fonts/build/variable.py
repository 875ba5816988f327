"""The upright weights as one variable font with a continuous weight axis.

The pen is drawn along the same skeletons at three widths, point for point alike, and without
joining the strokes; overlaps stay and are marked as the format wants it.
"""

from __future__ import annotations

from dataclasses import replace

from fontTools import varLib
from fontTools.designspaceLib import AxisDescriptor, DesignSpaceDocument, InstanceDescriptor, SourceDescriptor
from fontTools.otlLib.builder import buildStatTable
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from fontTools.ttLib.tables._g_l_y_f import Glyph as GlyfGlyph
from fontTools.ttLib.tables._g_l_y_f import flagOverlapSimple

from fonts.build.assemble import font, glyph_name, pin_dates
from fonts.build.design import FAMILY, UPRIGHT_CUTS, Cut
from fonts.build.expand import expand
from fonts.build.face import Face, make
from fonts.build.outline import Spline, quadratic
from fonts.build.source import Library

_DEFAULT = 1  # index of the regular cut among the upright ones


def _glyf(splines: list[Spline], shift: int) -> GlyfGlyph:
    pen = TTGlyphPen(None)
    for start, pieces in splines:
        pen.moveTo((start[0] + shift, start[1]))
        for piece in pieces:
            moved = [(x + shift, y) for x, y in piece]
            pen.lineTo(moved[0]) if len(piece) == 1 else pen.qCurveTo(*moved)
        pen.closePath()
    glyph = pen.glyph()
    if splines:
        glyph.flags[0] |= flagOverlapSimple
    return glyph


def _same_pairs(faces: list[Face]) -> list[Face]:
    """Give all faces the same kerning pairs, so that their tables can be merged."""
    pairs = sorted({pair for face in faces for pair in face.kerning})
    glyphs = sorted({pair for face in faces for pair in face.exceptions})
    return [
        replace(
            face,
            kerning={pair: face.kerning.get(pair, 0) for pair in pairs},
            exceptions={pair: face.kern(pair) for pair in glyphs},
        )
        for face in faces
    ]


def _masters(library: Library) -> list[TTFont]:
    faces = _same_pairs([make(library, cut) for cut in UPRIGHT_CUTS])
    glyphs: list[dict[str, GlyfGlyph]] = [{} for _ in faces]
    for name in faces[0].outlines:
        contours = [
            [c for shape in library.draw(name, face.cut).shapes for c in expand(shape, face.cut.pen)] for face in faces
        ]
        for index, splines in enumerate(quadratic(contours)):
            glyphs[index][glyph_name(name)] = _glyf(splines, faces[index].outlines[name].shift)
    return [font(library, face, drawn) for face, drawn in zip(faces, glyphs, strict=True)]


def _designspace(masters: list[TTFont]) -> DesignSpaceDocument:
    document = DesignSpaceDocument()
    weights = [cut.weight for cut in UPRIGHT_CUTS]
    document.addAxis(
        AxisDescriptor(tag="wght", name="Weight", minimum=weights[0], default=weights[_DEFAULT], maximum=weights[-1])
    )
    for cut, master in zip(UPRIGHT_CUTS, masters, strict=True):
        document.addSource(SourceDescriptor(name=cut.style, font=master, location={"Weight": cut.weight}))
        document.addInstance(
            InstanceDescriptor(familyName=FAMILY, styleName=cut.style, location={"Weight": cut.weight})
        )
    return document


def variable_font(library: Library) -> TTFont:
    """Build the variable font."""
    built, _, _ = varLib.build(_designspace(_masters(library)))
    values = [_stat_value(cut) for cut in UPRIGHT_CUTS]
    buildStatTable(built, [{"tag": "wght", "name": "Weight", "values": values}])
    pin_dates(built)
    return built


def _stat_value(cut: Cut) -> dict[str, object]:
    elidable = 0x2 if cut.style == "Regular" else 0
    return {"value": cut.weight, "name": cut.style, "flags": elidable}
