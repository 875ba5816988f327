"""What the fuzzing starts from: the project's own examples, and small files that general libraries wrote."""

import io
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import ezdxf.layouts
from fontTools import subset
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.t2CharStringPen import T2CharStringPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont
from PIL import Image, ImageCms

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
BUILT = ROOT / "fonts" / "built"

CSV = (
    "id,x,y,d\nrate,-12,32,7.5\nfoot,0,-36,12.2\n",
    "id;x (mm);y (mm);dia\nrate;-12,5;32,25;7,5\nfoot;0;-36;12,2\n",
    'x\ty\td\tunit\n1\t2\t3/8 in\tmm\n0.5\t1.5\t.3\tin\n"7"\t1e1\t5.5\tmm\n',
    "sep=;\nhole;x;y;d;ux;uy;ud;roundness\n1;0;0;5;.1;.1;.1;.02\n# told\n",
)
NC = (
    "M48\nMETRIC,TZ,000.000\nT1C7.5\nT2C3.2\n%\nG05\nT1\nX10.0Y20.0\nX-5Y7\nR3X2.5\nT2\nX0Y0G85X5Y0\nM30\n",
    "M48\nINCH,LZ\n;FILE_FORMAT=2:4\nT01C0.0320F200S65\n%\nG90\nT01\nX0125Y025\nG91\nX01Y01\nG93X1Y1\nX02\nM00\nM30\n",
    "%\nM72\nT1C.125\nG00X1Y1\nM15\nG01X2Y1\nG02X3Y1A1.\nM16\nG05\nX1Y2\nN12 X3Y4\nM97,AB\nX0Y0\nM30\n%\n",
    "; Holesize 1. = 35.0 Tolerance = +0/-0 PLATED MILS Quantity = 2\nM48\nINCH,00.0000\n%\nT1\nX00350000Y0001\nM30\n",
)
SVG_HOLES = (
    b'<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" viewBox="0 0 100 60">'
    b'<circle id="a" cx="10" cy="10" r="3.5"/><ellipse cx="20" cy="10" rx="3" ry="3"/>'
    b'<g transform="translate(5 5) rotate(30)"><rect x="1" y="1" width="6" height="6" rx="3"/></g>'
    b'<path d="M30 10 a3 3 0 1 0 6 0 a3 3 0 1 0 -6 0 Z"/><polygon points="1,1 2,1 2,2 1,2"/></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    b' xmlns:ed="http://example.org/editor" width="4in" height="3in">'
    b'<defs><symbol id="s" viewBox="0 0 2 2"><circle cx="1" cy="1" r="1"/></symbol></defs>'
    b'<g ed:label="DRILL" ed:groupmode="layer"><use xlink:href="#s" x="9" y="9" width="20" height="20"/>'
    b'<use href="#s" width="9" height="9" transform="matrix(1 0 0 1 50 50)"/></g>'
    b'<svg x="5" y="5" width="50%" height="50%" viewBox="0 0 9 9"><path d="M0 0C1 0 2 1 2 2S1 4 0 4"/></svg></svg>',
)
SVG_ART = (
    b'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 40 40">'
    b"<style>.a{fill:url(#g);stroke:#123}#r{opacity:.5}g rect{fill:red}</style>"
    b'<defs><linearGradient id="g"><stop offset="0" stop-color="#fff"/><stop offset="1" stop-opacity=".5"/>'
    b'</linearGradient><radialGradient id="h" href="#g" cx="5" fx="4" spreadMethod="reflect"/>'
    b'<clipPath id="c"><circle cx="20" cy="20" r="19"/></clipPath>'
    b'<marker id="m" viewBox="0 0 2 2" markerWidth="2" markerHeight="2" orient="auto">'
    b'<path d="M0 0L2 1L0 2Z"/></marker>'
    b'</defs><g clip-path="url(#c)" opacity="0.5"><rect id="r" class="a" width="30" height="10" rx="2"/>'
    b'<path d="M1 1h5v5H1Z m10 10l5 5q1 1 2 0t3 0a4 3 20 0 1 5 5" stroke="#000" stroke-dasharray="1 2"/></g>'
    b'<polyline points="0,0 5,5 10,0" marker-mid="url(#m)" fill="none" stroke="url(#h)" stroke-width="2%"/>'
    b'<g id="u"><line x2="3" y2="3" stroke="red"/></g><use xlink:href="#u" x="9" transform="scale(2) skewX(9)"/></svg>',
    b'<svg xmlns="http://www.w3.org/2000/svg" width="30mm" height="30mm"><switch><g systemLanguage="en">'
    b'<ellipse cx="9" cy="9" rx="5" ry="3" style="fill:#f80;fill-rule:evenodd"/></g></switch>'
    b'<symbol id="s" viewBox="0 0 9 9"><path d="M0 0C1,2-3.5.5 4 4S9 9 1 1z"/></symbol><use href="#s"/></svg>',
)


PRINTERS = (
    b"",
    b'# Printers.\n[printer."office laser"]\nacross = 99.2\nup = 100.4  # measured twice\n\n[printer.attic]\n'
    b'across = "3.94 in"\nup = "101mm"\n',
    b'printer = { attic = { across = 99, up = 101 }, "second floor" = { across = "10 cm", up = 100 } }\n',
    b"[printer]\nattic.across = 99\nattic.up = 100.5\n[printer.cellar]\nup = 1e2\nacross = 0x63\n",
)


def csv() -> tuple[bytes, ...]:
    return tuple(text.encode() for text in CSV)


def nc() -> tuple[bytes, ...]:
    return tuple(text.encode() for text in NC)


@cache
def jobs() -> tuple[bytes, ...]:
    return tuple(path.read_bytes() for path in sorted(EXAMPLES.glob("*.toml")))


@cache
def job_files() -> dict[str, bytes]:
    """What the examples' jobs name."""
    return {path.name: path.read_bytes() for path in EXAMPLES.iterdir() if path.suffix in (".csv", ".svg")}


@cache
def art() -> tuple[bytes, ...]:
    return (*SVG_ART, *(data for name, data in job_files().items() if name.endswith(".svg")))


@cache
def drawings() -> tuple[bytes, ...]:
    """DXF as ezdxf writes it, cut down to what readers need, in ASCII and binary."""
    found = []
    for version in ("R12", "R2000"):
        document = ezdxf.new(version, units=4)
        block = document.blocks.new("HOLE")
        block.add_circle((0, 0), 3.5)
        document.layers.add("OFF").off()
        _draw(document.modelspace(), version)
        text, binary = io.StringIO(), io.BytesIO()
        document.write(text)
        found.append(text.getvalue().encode("utf-8"))
        document.write(binary, fmt="bin")
        found.append(binary.getvalue())
    bare = "  0\nSECTION\n  2\nHEADER\n  9\n$INSUNITS\n 70\n     4\n  0\nENDSEC\n  0\nSECTION\n  2\nENTITIES\n"
    round_ = "  0\nCIRCLE\n  8\nDRILL\n 10\n5.0\n 20\n6.0\n 40\n3.5\n"
    return (*found, f"{bare}{round_}{round_.replace('5.0', '9')}  0\nENDSEC\n  0\nEOF\n".encode())


def _draw(space: Any, version: str) -> None:
    space.add_circle((5, 5), 3)
    space.add_arc((20, 20), 4, 0, 180)
    space.add_arc((20, 20), 4, 180, 360)
    space.add_blockref("HOLE", (9, 9), {"row_count": 2, "row_spacing": 10, "xscale": 2, "yscale": 2, "rotation": 30})
    space.add_circle((1, 1), 2, {"layer": "OFF"})
    space.add_polyline2d([(0, 0, 1), (6, 0, 1)], format="xyb", close=True)
    if version != "R12":
        space.add_lwpolyline([(0, 0, 1), (8, 0, 1)], format="xyb", close=True)
        space.add_ellipse((3, 3), (4, 0), 1.0)
        space.add_spline([(0, 0), (3, 3), (6, 0)])
        space.add_open_spline([(0, 0), (3, 3), (6, 0), (9, 9)])


@cache
def fonts() -> tuple[bytes, ...]:
    """A few glyphs of the project's own lettering, the same as CFF with a subroutine, and the variable font."""
    found = []
    for name in ("Tagstrip-Regular.ttf", "Tagstrip[wght].ttf"):
        font = TTFont(BUILT / name)
        options = subset.Options(layout_features=["*"], notdef_outline=True)
        cutter = subset.Subsetter(options)
        cutter.populate(text="HIRATEÉåp09 ")
        cutter.subset(font)
        out = io.BytesIO()
        font.save(out)
        found.append(out.getvalue())
    return (*found, _cff(), _composite())


LETTERS = (".notdef", "H", "I")


def font_builder(ttf: bool, names: Sequence[str] = LETTERS) -> FontBuilder:
    builder = FontBuilder(1000, isTTF=ttf)
    builder.setupGlyphOrder(list(names))
    more = {0x4E00 + number: name for number, name in enumerate(names[len(LETTERS) :])}
    builder.setupCharacterMap({72: "H", 73: "I", **more})
    return builder


def font_bytes(builder: FontBuilder, names: Sequence[str] = LETTERS) -> bytes:
    builder.setupHorizontalMetrics(dict.fromkeys(names, (600, 0)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Buoy", "styleName": "Regular"})
    builder.setupOS2()
    builder.setupPost()
    out = io.BytesIO()
    builder.save(out)
    return out.getvalue()


def _cff() -> bytes:
    builder = font_builder(ttf=False)
    glyphs = {}
    for name, wide in ((".notdef", 500), ("H", 500), ("I", 100)):
        pen = T2CharStringPen(600, None)
        pen.moveTo((50, 0))
        pen.lineTo((50 + wide, 0))
        pen.curveTo((50 + wide, 200), (50 + wide, 400), (50 + wide, 700))
        pen.lineTo((50, 700))
        pen.closePath()
        glyphs[name] = pen.getCharString()
    builder.setupCFF("Buoy", {}, glyphs, {})
    return font_bytes(builder)


def _composite() -> bytes:
    return composite(700)


def composite(top: int) -> bytes:
    """A font whose H is made of two I, which end so high."""
    builder = font_builder(ttf=True)
    glyphs = {}
    for name, wide in ((".notdef", 500), ("I", 100)):
        pen = TTGlyphPen(None)
        pen.moveTo((50, -20))
        pen.lineTo((50 + wide, -20))
        pen.qCurveTo((60 + wide, (top - 20) // 2), (50 + wide, top))
        pen.lineTo((50, top))
        pen.closePath()
        glyphs[name] = pen.glyph()
    pen = TTGlyphPen({"I": None, ".notdef": None})
    pen.addComponent("I", (1, 0, 0, 1, 0, 0))
    pen.addComponent("I", (1, 0.2 if top > 0 else 0, 0, 1, 400, 0))
    glyphs["H"] = pen.glyph()
    builder.setupGlyf(glyphs)
    return font_bytes(builder)


@cache
def pictures() -> tuple[bytes, ...]:
    """Tiny pictures of every kind that is read, with profiles, transparency, turns and packings."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    exif = Image.Exif()
    exif[0x0112] = 6
    found = []
    ramp = Image.linear_gradient("L").resize((7, 5))
    for mode in ("1", "L", "LA", "P", "RGB", "RGBA", "I;16"):
        image = ramp.convert(mode) if mode != "I;16" else Image.new("I;16", (5, 5), 40_000)
        found.append(_saved(image, "PNG", icc_profile=profile if mode == "RGB" else None, exif=exif))
        if mode not in ("LA",):
            for packing in ("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"):
                found.append(_saved(image, "TIFF", compression=packing))
    for mode in ("L", "RGB", "CMYK"):
        found.append(_saved(ramp.convert(mode), "JPEG", exif=exif, icc_profile=profile, progressive=mode == "RGB"))
    found.append(_saved(ramp.convert("1"), "TIFF", compression="group4"))
    found.append(_saved(ramp.convert("RGB"), "TIFF", compression="jpeg"))
    return tuple(found)


def _saved(image: Image.Image, form: str, **options: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **{key: value for key, value in options.items() if value is not None})
    return out.getvalue()
