"""A font file's directory, looked through first: what there is no use in opening, and what is damaged.

The layout of the directory and the sums are OpenType's (ISO/IEC 14496-22, "Organization of an OpenType font").
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from facegraphic.stock.limits import limit

MOST_TABLES, MOST_CHARACTERS_BYTES = limit("font-tables"), limit("font-characters-bytes")
DRAWN = ("cmap", "glyf", "loca", "hmtx", "CFF ", "CFF2")  # what letters come from, and how they stand


class FontError(ValueError):
    """The bytes are not a font that can be used; the message says why."""


class Row(NamedTuple):
    """One table: its name, the sum of its words, where it begins and how many bytes it has."""

    tag: str
    sum: int
    at: int
    size: int


def rows(data: bytes) -> Iterator[Row]:
    """The rows of a directory; of a collection's first font. FontError where there is none."""
    start = 0
    if data[:4] == b"ttcf":
        if len(data) < 16:
            raise FontError("the file is cut short")
        start = int.from_bytes(data[12:16])
    count = int.from_bytes(data[start + 4 : start + 6])
    if not 0 < count <= MOST_TABLES or len(data) < start + 12 + 16 * count:
        raise FontError(f"its directory is damaged: {count} tables")
    for row in range(start + 12, start + 12 + 16 * count, 16):
        words = [int.from_bytes(data[at : at + 4]) for at in (row + 4, row + 8, row + 12)]
        yield Row(data[row : row + 4].decode("latin-1"), *words)


def check_tables(data: bytes) -> None:
    """FontError for what is no font with outlines."""
    if data[:4] not in (b"\0\1\0\0", b"OTTO", b"true", b"ttcf"):
        raise FontError("not a TTF or OTF file")
    sizes: dict[str, int] = {}
    for row in rows(data):
        sizes[row.tag] = row.size
        if row.at + row.size > len(data):
            raise FontError(f"the file is cut short: its table {row.tag!r} ends beyond it")
    if not sizes.keys() & {"glyf", "CFF ", "CFF2"}:
        raise FontError("it has no outlines (perhaps bitmaps only)")
    if sizes.get("cmap", 0) > MOST_CHARACTERS_BYTES:
        raise FontError(f"its table of characters has more than {MOST_CHARACTERS_BYTES} bytes")


def damaged(data: bytes) -> tuple[str, ...]:
    """The tables that letters come from whose words no longer add up to what the directory says."""
    found = (row for row in rows(data) if row.tag in DRAWN)
    return tuple(row.tag.strip() for row in found if _sum(data[row.at : row.at + row.size]) != row.sum)


def _sum(table: bytes) -> int:
    words = np.frombuffer(table + bytes(-len(table) % 4), ">u4")
    return int(words.sum(dtype=np.uint64)) & 0xFFFFFFFF
