"""A small good job with its files, and ways to spoil it."""

import struct
import zlib
from collections.abc import Mapping
from pathlib import Path

# Artwork and nothing else.
ART_JOB = """
[box]
stock = "112x60x31"
[finish]
process = "waterslide-white"
dpi = 600
[[face]]
side = "top"
hole = [{ id = "a", at = [0, 30], d = 7.5 }]
[[face.art]]
file = "waves.svg"
"""

GOOD = """\
title = "Bell Buoy"

[box]
stock = "112x60x31"
orientation = "portrait"
paint = "#22505c"

[finish]
process = "waterslide-clear"
ink = "#141414"
bleed = 2.0
dpi = 150

[[face]]
side = "top"
drill = "holes.csv"

[[face.control]]
hole = "rate"
part = "pot-16"
knob = "round-16"
label = "RATE"
scale = { from = 0, to = 10, step = 1 }

[[face.text]]
text = "{title}"
at = [0, 5]

[[face.art]]
file = "waves.svg"
opacity = 0.5

[sheet]
paper = "A4"
"""
HOLES = "id,x,y,d\nrate,-12,32,7.5\nfoot,0,-36,12.2\n"
SVG_HEAD = (
    '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    ' width="30mm" height="30mm" viewBox="0 0 30 30">'
)


def svg(body: str, head: str = SVG_HEAD, before: str = "") -> bytes:
    """A drawing of 30 × 30 mm round some elements."""
    return f"{before}{head}{body}</svg>".encode()


WAVES = svg('<path d="M0 10 Q 15 0 30 10 V 20 H 0 Z" fill="#336677"/>')


def good(old: str = "", new: str = "") -> str:
    """The good job with one passage changed; the passage must be there."""
    assert GOOD.count(old) == 1 or not old
    return GOOD.replace(old, new) if old else GOOD


def lay(folder: Path, job: str | bytes, files: Mapping[str, str | bytes] | None = None) -> Path:
    """Write job.toml and its files into a folder: the good ones, but for those given."""
    folder.mkdir(parents=True, exist_ok=True)
    contents = {"holes.csv": HOLES, "waves.svg": WAVES, **(files or {}), "job.toml": job}
    for name, content in contents.items():
        (folder / name).write_bytes(content.encode("utf-8") if isinstance(content, str) else content)
    return folder / "job.toml"


def png_file(width: int, height: int, bits: int, colour: int, pixels: bytes, extra: bytes = b"") -> bytes:
    """A PNG written by hand from already compressed rows (PNG specification: signature, IHDR, IDAT, IEND)."""
    header = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + extra + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def blank_png(side: int) -> bytes:
    """A white-and-nothing square of one bit a pixel: whole and valid, yet tiny on disk."""
    packer = zlib.compressobj(1)
    row = bytes(1 + (side + 7) // 8)
    block = row * 100
    parts = [packer.compress(block) for _ in range(side // 100)]
    parts.append(packer.compress(row * (side % 100)))
    return png_file(side, side, 1, 0, b"".join(parts) + packer.flush())
