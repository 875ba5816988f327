"""PNG files written as their rows come (ISO/IEC 15948): of the picture no more is kept than the rows in hand.

Rows come in bands. Each is packed by itself and ends on a whole byte (RFC 1951, an empty stored block), so that several
threads can pack at a time and the file is the same however many they are.

Packing is zlib-ng's: on the same rows it takes a quarter of zlib's time and less. How they are filtered and packed was
measured on sheets of the examples at 600 and 1200 dpi, and on pictures in each of the screens. Black and white: no
filter and level 6 make the smallest files. Colour: each row less the one above it, since most of a sheet goes on as it
is; beyond level 4 files are a twentieth smaller, for twice the time. Pictures of the box, which are all shades: each
pixel less the one before it.
"""

import struct
from collections import deque
from collections.abc import Callable, Iterable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import IO

import numpy as np
from numpy.typing import NDArray
from zlib_ng import zlib_ng as zlib

from facegraphic.units import MM_PER_INCH

SIGNATURE = b"\x89PNG\r\n\x1a\n"
GREY, RGB = 0, 2  # colour types
NONE, SUB, UP = 0, 1, 2  # row filters
METRE = 1  # unit of pHYs
ADLER = 65_521  # the prime that its sums are taken by
LEAST = 65_536  # bytes of an IDAT, but for the last
THREADS = 2  # that pack while the caller draws
AHEAD = 3  # bands that may wait or be packed
SLOTS = AHEAD + 2  # a band may be overwritten once so many others less one have followed it

Lines = NDArray[np.uint8]


@dataclass(frozen=True)
class Kind:
    """A kind of picture: whether it has one bit a pixel or RGB, the filter of all its rows, the level of packing."""

    one_bit: bool
    filter: int
    level: int


BLACK_AND_WHITE = Kind(True, NONE, 6)
DRAWING = Kind(False, UP, 4)
VIEW = Kind(False, SUB, 6)


@dataclass(frozen=True)
class Header:
    """What stands ahead of the rows: size in pixels, kind, and pixels to the inch where they are true to scale."""

    width: int
    height: int
    kind: Kind
    dpi: int | None


def write_chunks(out: IO[bytes], header: Header, bands: Iterable[Lines], lines_of: Callable[[Lines], Lines]) -> None:
    """Write a PNG into a binary file; bands are some rows each, of which `lines_of` makes the file's: filtered, with
    the filter's number ahead of each.

    That, too, is done by the threads that pack bands while the next are made: see `SLOTS`. What is raised there is
    raised here.
    """
    depth = (1, GREY) if header.kind.one_bit else (8, RGB)
    out.write(SIGNATURE)
    _chunk(out, b"IHDR", struct.pack(">IIBBBBB", header.width, header.height, *depth, 0, 0, 0))
    if header.dpi:
        fine = round(header.dpi * 1000 / MM_PER_INCH)  # whole pixels to the metre
        _chunk(out, b"pHYs", struct.pack(">IIB", fine, fine, METRE))
    waiting: deque[Future[_Packed]] = deque()
    # A stream of zlib (RFC 1950): two bytes ahead, the bands, an empty last block, and a sum of all that was packed.
    ready, total = b"\x78\x5e", zlib.adler32(b"")

    def take() -> None:
        nonlocal ready, total
        band = waiting.popleft().result()
        ready, total = ready + band.data, _joined(total, band)

    with ThreadPoolExecutor(THREADS) as pool:
        for band in bands:
            waiting.append(pool.submit(_packed, band, lines_of, header.kind.level))
            if len(waiting) > AHEAD:
                take()
            if len(ready) >= LEAST:
                _chunk(out, b"IDAT", ready)
                ready = b""
        while waiting:
            take()
    _chunk(out, b"IDAT", ready + b"\x03\x00" + struct.pack(">I", total))
    _chunk(out, b"IEND", b"")


@dataclass(frozen=True)
class _Packed:
    """A band as it stands in the stream, with the Adler-32 and the number of the bytes it was."""

    data: bytes
    total: int
    count: int


def _packed(band: Lines, lines_of: Callable[[Lines], Lines], level: int) -> _Packed:
    lines = lines_of(band)
    packer = zlib.compressobj(level, zlib.DEFLATED, -zlib.MAX_WBITS, zlib.DEF_MEM_LEVEL + 1)
    data = packer.compress(lines.data) + packer.flush(zlib.Z_SYNC_FLUSH)
    return _Packed(data, zlib.adler32(lines.data), lines.nbytes)


def _joined(total: int, more: _Packed) -> int:
    """The Adler-32 of some bytes and a band after them (RFC 1950: the bytes' sum, and the sum of that after each)."""
    low = (total & 0xFFFF) + (more.total & 0xFFFF) - 1
    high = (total >> 16) + (more.total >> 16) + more.count * ((total & 0xFFFF) - 1)
    return high % ADLER << 16 | low % ADLER


def _chunk(out: IO[bytes], kind: bytes, data: bytes) -> None:
    out.write(struct.pack(">I", len(data)) + kind)
    out.write(data)
    out.write(struct.pack(">I", zlib.crc32(data, zlib.crc32(kind))))
