"""Inputs of up to 4 MB, large in the ways that their formats permit: what slows a reader down is no accident of bytes.

One case in two hundred of the long run is made so. The short run takes one of each way (`test_short.py`).
"""

import io
import math
import re
import struct
import zlib
from collections.abc import Callable
from itertools import count, islice

from PIL import Image

from .mutate import Choices, Maker

MOST = 4_000_000  # bytes
SIZES = (60_000, 500_000, 1_500_000, MOST)
_INTEGER = re.compile(rb"\d+")
_VALUE = re.compile(rb"\"([^\"]*)\"|[-+]?\d+(?:\.\d+)?|[A-Za-z_][\w-]*")
_NESTS = (
    (b"[", b"]"), (b"{", b"}"), (b"(", b")"), (b'{"a":', b"}"), (b"[[a]]\n", b""), (b"a.", b"b=1\n"),
    (b"<g>", b"</g>"), (b'<g opacity=".5">', b"</g>"), (b"<svg>", b"</svg>"), (b"  0\nBLOCK\n", b"  0\nENDBLK\n"),
)  # fmt: skip
_BLANKS = (b" ", b"\n", b"\r\n", b"\t", b"\0", b"#", b";", b"-", b",", b"<!-- -->", b"a = 1\n", b"\xc3\xa9", b'"')

Grown = Callable[[Choices, bytes], bytes]


def grown(maker: Maker, *ways: Grown) -> Maker:
    """A maker whose inputs are seldom made large, in one of some ways."""

    def make(choices: Choices) -> bytes:
        data = maker(choices)
        return choices.of(ways)(choices, data)[:MOST] if choices.seldom() else data

    return make


def many_lines(choices: Choices, data: bytes) -> bytes:
    """Some lines (or tags) again and again, with the same figures or with others each time."""
    cut = b"\n" if data.count(b"\n") > 3 else b">"
    lines = data.split(cut)
    start = choices.upto(len(lines) - 1)
    piece = cut.join(lines[start : start + 1 + choices.upto(11)]) + cut
    times = choices.of(SIZES) // len(piece)
    if choices.upto(1):
        body = piece * times
    else:  # with a figure that differs: ids and names that are all the same are soon refused
        body = b"".join(piece.replace(b"1", b"%d" % number) for number in range(times))
    return cut.join(lines[:start]) + cut + body + cut.join(lines[start:])


def long_value(choices: Choices, data: bytes) -> bytes:
    """A figure, name or quoted text that goes on and on, as it is or with its figures ever larger."""
    found = list(_VALUE.finditer(data))
    if not found:
        return data
    match = found[choices.upto(len(found) - 1)]
    number = 1 if match[1] is not None else 0
    start, end = match.span(number)
    piece = (match[number] or b"1") + choices.of((b"", b" ", b",", b";", b"\n"))
    times = choices.of(SIZES) // len(piece)
    if choices.upto(1):
        return data[:start] + piece * times + data[end:]
    parts = (_INTEGER.sub(b"%d" % turn, piece) for turn in count())
    return data[:start] + b"".join(islice(parts, min(times, 100_000))) + data[end:]


def deep(choices: Choices, data: bytes) -> bytes:
    """What can hold its like, thousands of times within itself; closed again, or not."""
    opens, closes = choices.of(_NESTS)
    at = choices.upto(len(data))
    times = choices.of((30, 90, 300, 1500, 100_000))
    return data[:at] + opens * times + (closes * times if choices.upto(1) else b"") + data[at:]


def padded(choices: Choices, data: bytes) -> bytes:
    at = choices.upto(len(data))
    blank = choices.of(_BLANKS)
    return data[:at] + blank * (choices.of(SIZES) // len(blank)) + data[at:]


def doubled(choices: Choices, data: bytes) -> bytes:
    """A whole file behind itself."""
    return data * max(1, choices.of(SIZES) // max(1, len(data)))


TEXTS: tuple[Grown, ...] = (many_lines, many_lines, long_value, long_value, deep, padded, doubled)


def rows(choices: Choices, _: bytes) -> bytes:
    """A hole table as long as it can be."""
    many = choices.of((10_000, 10_001, 50_000, 150_000))
    d = choices.of((b"5", b"0.001", b"199", b"3/8 in"))
    return b"id,x,y,d\n" + b"".join(b"h%d,%d,%d,%s\n" % (n, n % 100 * 7, n // 100 * 7, d) for n in range(many))


def crowded(choices: Choices, _: bytes) -> bytes:
    """A job of a large face with a great many holes, controls, texts and long words, as many as are let in and more."""
    many = ((20, 200, 1999, 2100), (3, 30, 60, 200), (0, 15, 200))
    holes, controls, others = (choices.of(numbers) for numbers in many)
    word = choices.of(("A", "MULTIPLY", "W" * 200, "LONG WORDS " * 18, "\u00c9\u0416\u05d0"))
    scale = choices.of(("", "scale = { from = 0, to = 120, step = 1 }", 'positions = ["ONE", "TWO", "THREE"]'))
    text = '[box]\nsize = [580, 590, 60]\n[finish]\nprocess = "waterslide-clear"\n[[face]]\nside = "top"\nhole = ['
    text += ",\n".join(
        f'{{ id = "h{n}", at = [{n % 45 * 12 - 264}, {n // 45 * 12 - 276}], d = 3 }}' for n in range(holes)
    )
    text += "]\n"
    for n in range(controls):
        text += f'[[face.control]]\nhole = "h{n * 7 % holes}"\npart = "pot-9"\nlabel = "{word} {n}"\n{scale}\n'
    place = choices.of(('"auto"', "[0, 0]", "[100.5, -90]"))
    text += f'[[face.text]]\ntext = "{word}\\n{word}"\nat = {place}\n' * others
    return text.encode()


def drilled(choices: Choices, _: bytes) -> bytes:
    """NC drill files of many tools, hits, repeated patterns or routed cuts."""
    many = choices.of((900, 10_000, 60_000, 200_000))
    tools = b"".join(b"T%dC%d.5\n" % (n, n % 9 + 1) for n in range(1, 1 + choices.of((1, 900, 1001))))
    hit = choices.of((b"X%dY%d\n", b"X%dY%dG85X5Y5\n", b"R%dX1Y%d\n", b"T%d\nX%d\n", b"G00X%dY%d\nM15\nG01X9\nM16\n"))
    hits = b"".join(hit % (n % 700, n % 501) for n in range(many))
    return b"M48\nMETRIC,TZ,000.000\n" + tools + b"%\nG05\nT1\n" + hits + b"M30\n"


def laughing(choices: Choices, _: bytes) -> bytes:
    """A DXF whose blocks hold the one before twice and more, or entities with a great many corners."""
    deep_, twice = choices.of((3, 12, 31, 40)), choices.of((1, 2, 10))
    text = "0\nSECTION\n2\nBLOCKS\n0\nBLOCK\n2\nB0\n10\n0\n20\n0\n0\nCIRCLE\n8\n0\n10\n0\n20\n0\n40\n2\n0\nENDBLK\n"
    for n in range(1, deep_):
        held = f"0\nINSERT\n2\nB{n - 1}\n10\n{n}\n20\n0\n70\n{choices.of((1, 2, 300))}\n44\n8\n" * twice
        text += f"0\nBLOCK\n2\nB{n}\n10\n0\n20\n0\n{held}0\nENDBLK\n"
    text += f"0\nENDSEC\n0\nSECTION\n2\nENTITIES\n0\nINSERT\n2\nB{deep_ - 1}\n10\n0\n20\n0\n"
    corners = choices.of((3, 5000, 60_000))
    text += f"0\nLWPOLYLINE\n100\nAcDbEntity\n8\n0\n100\nAcDbPolyline\n90\n{corners}\n70\n1\n"
    text += "".join(f"10\n{math.cos(n)}\n20\n{math.sin(n)}\n" for n in range(corners))
    head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n"
    return f"{head}{text}0\nENDSEC\n0\nEOF\n".encode()


_SHAPES = (
    '<circle cx="{0}" cy="{1}" r="3"/>', '<rect id="r{2}" x="{0}" width="9" height="{1}" rx="2"/>',
    '<path d="M{0} {1}h5v5z"/>', '<path d="M0 {0}A9 {1} 30 1 0 40 {1}" stroke="#000" stroke-width="3"/>',
    '<use href="#u" x="{0}" y="{1}"/>', '<g opacity=".5"><line x2="{0}" y2="{1}" stroke="red"/></g>',
    '<g clip-path="url(#c)"><circle cx="{0}" cy="{1}" r="9"/></g>', '<rect width="{0}" height="{1}" fill="url(#g)"/>',
    '<polyline points="0,0 {0},{1} 9,9" marker-mid="url(#m)" stroke="#123" stroke-dasharray="1 .1"/>',
)  # fmt: skip
_RUNS = (
    "L{0} {1}",
    "l{0}-{1}",
    "h{0}v{1}",
    "C{0} 0 0 {1} {1} {0}",
    "a{0} {1} 9 0 1 5 5",
    "q{0} 1 {1} 2t3 0",
    "M{0} {1}z",
)
_DEFS = (
    '<defs><clipPath id="c"><circle cx="20" cy="20" r="19"/></clipPath><linearGradient id="g"><stop offset="0"/>'
    '<stop offset="1" stop-color="#fff"/></linearGradient><marker id="m" markerWidth="2" markerHeight="2">'
    '<path d="M0 0L2 1L0 2Z"/></marker><g id="u"><path d="M0 0h3v3z"/></g></defs>'
)


def drawn(choices: Choices, _: bytes) -> bytes:
    """An SVG of a great many shapes, of one path without end, of uses of uses, or of style rules."""
    way, many = choices.upto(4), choices.of((400, 3000, 25_000, 60_000))
    pairs = [(n * 37 % 41, n * 23 % 39, n) for n in range(many)]
    if way <= 1:
        shape = choices.of(_SHAPES)
        body = "".join(shape.format(*pair) for pair in pairs)
    elif way == 2:
        run = choices.of(_RUNS)
        wide = choices.of(("", ' stroke="#000"', ' fill="none" stroke="#000" stroke-width="4" stroke-dasharray=".1"'))
        body = f'<path d="M0 0{"".join(run.format(*pair) for pair in pairs)}"{wide}/>'
    elif way == 3:
        uses, deep_ = choices.of((1, 2, 10)), choices.of((4, 16, 60))
        body = '<g id="u0"><circle r="3"/></g>'
        for number in range(1, deep_):
            held = f'<use href="#u{number - 1}"/>' * uses
            body += f'<g id="u{number}">{held}</g>'
    else:
        rule = choices.of(
            (".a{2}{{fill:red}}", "g g g #a{2}{{x:y}}", "a>b+c~d:not(.e{2}){{fill:red}}", "*{{fill:#{2}}}")
        )
        body = f"<style>{''.join(rule.format(*pair) for pair in pairs)}</style>{_SHAPES[0].format(9, 9) * 300}"
    head = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 40 40">'
    return f"{head}{_DEFS}{body}</svg>".encode()


def wide_png(choices: Choices, _: bytes) -> bytes:
    """A PNG of a great many pixels, flat or noisy, plain or interlaced, told in its header truly or not."""
    colour, deep_ = choices.of(((0, 1), (0, 8), (0, 16), (2, 8), (3, 8), (6, 8), (6, 16)))
    width, height = choices.of(((4800, 4900), (24_000_000, 1), (1, 20_000), (1900, 1900), (60_000, 60_000), (700, 700)))
    row = 1 + -(-width * deep_ * {0: 1, 2: 3, 3: 1, 6: 4}[colour] // 8)
    packer = zlib.compressobj(1)
    noise = choices.junk(1000, 1000) if choices.upto(1) else b"\0" * 1000
    line = b"\0" + (noise * (row // 1000 + 1))[: row - 1]
    told = min(height, max(1, 100_000_000 // row))  # a packed row of noise is as long as it was
    packed = b"".join(packer.compress(line) for _ in range(told)) + packer.flush()
    extra = _chunk(b"PLTE", bytes(range(30)) * 8) if colour == 3 else b""
    extra += _chunk(b"tEXt", b"a\0" + b"b" * 900_000) if choices.upto(3) == 0 else b""
    head = struct.pack(">IIBBBBB", width, height, deep_, colour, 0, 0, choices.of((0, 0, 0, 1)))
    parts = [packed[at : at + 8192] for at in range(0, len(packed), 8192)] if choices.upto(1) else [packed]
    body = b"".join(_chunk(b"IDAT", part) for part in parts)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + extra + body + _chunk(b"IEND", b"")


def _chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def wide_picture(choices: Choices, _: bytes) -> bytes:
    """A JPEG or TIFF of many pixels, scans, strips or pages."""
    side = choices.of((900, 1800, 3000))
    mode = choices.of(("L", "RGB", "CMYK", "1"))
    grey = Image.frombytes("L", (100, 100), choices.junk(10_000, 10_000)).resize((side, side), Image.Resampling.NEAREST)
    image, out = grey.convert(mode), io.BytesIO()
    if choices.upto(1) and mode != "1":
        image.save(out, "JPEG", quality=choices.of((20, 95)), progressive=bool(choices.upto(1)))
        data = out.getvalue()
        scan = data.rfind(b"\xff\xda")
        return data[:-2] + data[scan:-2] * choices.of((0, 0, 50, 70)) + data[-2:]
    packing = choices.of(("raw", "tiff_lzw", "tiff_adobe_deflate", "packbits"))
    pages = [image.resize((9, 9))] * choices.of((0, 0, 500))
    image.save(out, "TIFF", compression=packing, save_all=True, append_images=pages, strip_size=choices.of((1, 65_536)))
    return out.getvalue()
