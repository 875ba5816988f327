"""Write a face as a TrueType file, the same bytes every time."""

from __future__ import annotations

from io import BytesIO

from fontTools.feaLib.builder import addOpenTypeFeaturesFromString
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont, newTable
from fontTools.ttLib.tables._g_l_y_f import Glyph as GlyfGlyph

from fonts.build.design import ASCENT, CAP, DESCENT, GRID, UNITS_PER_EM, X_HEIGHT, Cut
from fonts.build.face import Face, Outline
from fonts.build.outline import draw
from fonts.build.source import Library

VERSION = "1.000"
# Seconds since 1904 of 2024-01-01: a fixed date keeps the files reproducible.
_DATE = 3786912000


def glyph_name(name: str) -> str:
    """Return the name inside the font file, where a hyphen is not allowed."""
    return name.replace("-", "_")


def _glyf(outline: Outline) -> GlyfGlyph:
    pen = TTGlyphPen(None)
    draw(outline.path, pen, outline.shift)
    return pen.glyph(dropImpliedOnCurves=True)


def names(cut: Cut) -> dict[str, str]:
    """Return the name table strings of a cut."""
    full = f"{cut.family} {cut.style}"
    plain = cut.style in ("Regular", "Bold")
    found = {
        "copyright": "Part of the facegraphic project, same licence as the project (MIT)",
        "familyName": cut.family if plain else full,
        "styleName": cut.style if plain else "Regular",
        "uniqueFontIdentifier": f"{VERSION};{cut.file_stem}",
        "fullName": full,
        "version": f"Version {VERSION}",
        "psName": cut.file_stem,
        "description": "Stroke lettering after the proportions of ISO 3098-0, type B",
        "licenseDescription": "MIT, as the facegraphic project",
    }
    if not plain:
        found |= {"typographicFamily": cut.family, "typographicSubfamily": cut.style}
    return found


def feature_text(face: Face) -> str:
    """Return the kerning of a face in the feature file language."""
    if not face.kerning:
        return ""
    lines = ["languagesystem DFLT dflt;", "languagesystem latn dflt;"]
    for side, index in (("L", 0), ("R", 1)):
        for key in sorted({pair[index] for pair in face.kerning}):
            members = " ".join(glyph_name(m) for m in face.groups[key])
            lines.append(f"@{side}_{glyph_name(key)} = [{members}];")
    lines.append("feature kern {")
    for (first, second), value in sorted(face.exceptions.items()):
        lines.append(f"  pos {glyph_name(first)} {glyph_name(second)} {value};")
    for (first, second), value in sorted(face.kerning.items()):
        lines.append(f"  pos @L_{glyph_name(first)} @R_{glyph_name(second)} {value};")
    lines.append("} kern;")
    return "\n".join(lines)


def _order(library: Library, face: Face) -> list[str]:
    rest = sorted((n for n in face.outlines if n != ".notdef"), key=lambda n: min(library.glyphs[n].codes))
    return [".notdef", *rest]


def _style_tables(builder: FontBuilder, cut: Cut) -> None:
    bold = cut.style == "Bold"
    builder.setupHorizontalHeader(ascent=ASCENT, descent=DESCENT, lineGap=0)
    builder.setupNameTable(names(cut), mac=False)
    builder.setupOS2(
        version=4,
        sTypoAscender=ASCENT,
        sTypoDescender=DESCENT,
        sTypoLineGap=0,
        usWinAscent=ASCENT,
        usWinDescent=-DESCENT,
        sCapHeight=CAP,
        sxHeight=X_HEIGHT,
        usWeightClass=cut.weight,
        usWidthClass=3 if cut.stretch < 1 else 5,
        # bit 7: use the typographic metrics; bit 5 bold or bit 6 regular
        fsSelection=0x80 | (0x20 if bold else 0x40),
        fsType=0,
        achVendID="NONE",
        yStrikeoutPosition=X_HEIGHT // 2,
        yStrikeoutSize=round(cut.pen * GRID),
    )
    builder.setupPost(
        underlinePosition=round(-1.5 * GRID),
        underlineThickness=round(cut.pen * GRID),
        keepGlyphNames=True,
    )
    pin_dates(builder.font)
    head = builder.font["head"]
    head.fontRevision = float(VERSION)
    head.macStyle = 1 if bold else 0
    head.lowestRecPPEM = 8
    gasp = newTable("gasp")
    gasp.version, gasp.gaspRange = 1, {0xFFFF: 0x000F}  # smooth at every size, no grid fitting
    builder.font["gasp"] = gasp


def pin_dates(built: TTFont) -> None:
    """Set the fixed dates, and keep them when the font is saved."""
    built["head"].created = built["head"].modified = _DATE
    built.recalcTimestamp = False


def font(library: Library, face: Face, drawn: dict[str, GlyfGlyph] | None = None) -> TTFont:
    """Assemble the font of a face.

    :param drawn: glyphs to use instead of the face's own outlines, by name in the file.
    """
    order = _order(library, face)
    builder = FontBuilder(UNITS_PER_EM, isTTF=True)
    builder.setupGlyphOrder([glyph_name(name) for name in order])
    builder.setupCharacterMap({code: glyph_name(n) for n in order for code in library.glyphs[n].codes})
    builder.setupGlyf(drawn or {glyph_name(name): _glyf(face.outlines[name]) for name in order})
    glyf = builder.font["glyf"]
    metrics = {}
    for name in order:
        left = getattr(glyf[glyph_name(name)], "xMin", 0)
        metrics[glyph_name(name)] = (face.outlines[name].advance, left)
    builder.setupHorizontalMetrics(metrics)
    _style_tables(builder, face.cut)
    text = feature_text(face)
    if text:
        addOpenTypeFeaturesFromString(builder.font, text)
    return builder.font


def to_bytes(built: TTFont) -> bytes:
    """Serialise a font."""
    stream = BytesIO()
    built.save(stream, reorderTables=True)
    return stream.getvalue()
