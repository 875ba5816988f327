"""Mutations that know the grain of a file: lines and words of texts, chunks of PNG, tables of fonts, else bytes.

Every choice is asked of a `Choices`: of Hypothesis, whose failing inputs shrink towards the example they came from
(short run), or of a seeded random generator, which is ten times as fast (long run).
"""

import random
import re
import struct
import zlib
from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

from hypothesis import strategies as st

T = TypeVar("T")


class Choices(Protocol):
    """Where the mutations' choices come from."""

    def of(self, things: Sequence[T]) -> T: ...

    def upto(self, most: int) -> int:
        """A whole number from 0 to `most`, both included."""

    def junk(self, least: int, most: int) -> bytes: ...

    def seldom(self) -> bool:
        """Whether to do what costs much: in one of two hundred cases of the long run, and never in the short one."""


class Drawn:
    """Choices drawn by Hypothesis."""

    def __init__(self, draw: Callable[[Any], Any]) -> None:
        self.draw = draw

    def of(self, things: Sequence[T]) -> T:
        return things[self.upto(len(things) - 1)]

    def upto(self, most: int) -> int:
        return int(self.draw(st.integers(0, most)))

    def junk(self, least: int, most: int) -> bytes:
        return bytes(self.draw(st.binary(min_size=least, max_size=most)))

    def seldom(self) -> bool:
        return False


class Rolled:
    """Choices by a random generator; the same seed gives the same input on any machine."""

    def __init__(self, seed: str) -> None:
        self.random = random.Random(seed)

    def of(self, things: Sequence[T]) -> T:
        return things[int(self.random.random() * len(things))]

    def upto(self, most: int) -> int:
        return int(self.random.random() * (most + 1))

    def junk(self, least: int, most: int) -> bytes:
        return self.random.randbytes(least + self.upto(most - least))

    def seldom(self) -> bool:
        return self.upto(SELDOM - 1) == 0


Maker = Callable[[Choices], bytes]


def drawn(make: Maker) -> st.SearchStrategy[bytes]:
    """A maker of inputs as a Hypothesis strategy."""

    @st.composite
    def strategy(draw: Callable[[Any], Any]) -> bytes:
        return make(Drawn(draw))

    return strategy()


MOST_BYTES = 400_000
SELDOM = 200  # cases, of which one does what costs much
NUMBERS = (
    b"0", b"-0", b"1", b"-1", b"1e-9", b"1e9", b"1e308", b"-1e308", b"1e999", b"nan", b"inf", b"-inf", b"0x7fffffff",
    b"2147483648", b"-2147483649", b"65536", b"99999999999999999999", b".5", b"1.", b"1..2", b"--1", b"1e", b"0.1mm",
    b"9" * 400, b"3/0 in", b"1/3 in", b"1,5", b"", b"\xd9\xa3", b"1_000", b"100%", b"1em",
)  # fmt: skip
PIECES = (
    b"\0", b"\xff", b"\xef\xbb\xbf", b"\xff\xfe", b"\n", b"\r", b"\t", b'"', b"'", b'"""', b"#", b";", b"(", b")", b"[",
    b"]",
    b"{", b"}", b"<", b">", b"&", b"&amp;", b"&#0;", b"&#x110000;", b"%", b"\\", b"=", b",",
    b"\xc3\xa9", b"\xe2\x80\xae",
    b"\xed\xa0\x80", b"\xf0\x9f\x9a\xa2", b"A" * 300, b" " * 300,
)  # fmt: skip
_NUMBER = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?")
_WORD = re.compile(rb"[A-Za-z_][\w-]*")
_STRING = re.compile(rb"\"[^\"\n]*\"")
_UNITS = {b"number": _NUMBER, b"word": _WORD, b"string": _STRING}


def texts(seeds: Sequence[bytes], words: Sequence[bytes]) -> Maker:
    """Texts like the seeds: `words` are what the format's grammar knows, put in place of others."""

    def make(choices: Choices) -> bytes:
        data = choices.of(seeds)
        for _ in range(choices.upto(5)):
            data = _mutated_text(choices, data, seeds, words)[:MOST_BYTES]
        return data

    return make


def binaries(seeds: Sequence[bytes], packed: bool = True) -> Maker:
    """Binary files like the seeds; where `packed`, PNG chunks and font tables are taken apart and rebuilt."""

    def make(choices: Choices) -> bytes:
        data = choices.of(seeds)
        for _ in range(choices.upto(5)):
            if packed and data.startswith(b"\x89PNG") and choices.upto(2):
                data = _png(choices, data)
            elif packed and data[:4] in (b"\0\1\0\0", b"OTTO") and choices.upto(2):
                data = _font(choices, data, seeds)
            else:
                data = _mutated_bytes(choices, data, seeds)
        return data[:MOST_BYTES]

    return make


def either(*ways: Maker) -> Maker:
    return lambda choices: choices.of(ways)(choices)


def _at(choices: Choices, data: bytes) -> int:
    return choices.upto(len(data))


def _mutated_text(choices: Choices, data: bytes, seeds: Sequence[bytes], words: Sequence[bytes]) -> bytes:
    way = choices.upto(9)
    if way <= 3:
        kind = choices.of((b"number", b"number", b"word", b"string"))
        new = choices.of(NUMBERS if kind == b"number" else words)
        return _replaced(choices, data, _UNITS[kind], new)
    if way <= 6:
        return _lines(choices, data, seeds, way)
    if way == 7:
        at = _at(choices, data)
        return data[:at] + choices.of((*PIECES, *words)) + data[at:]
    if way == 8:
        start = _at(choices, data)
        piece = data[start : start + 1 + choices.upto(60 - 1)]
        return data[:start] + piece * choices.of((0, 2, 3, 50, 1000)) + data[start + len(piece) :]
    return data[: _at(choices, data)] if choices.upto(1) else _mutated_bytes(choices, data, seeds)


def _replaced(choices: Choices, data: bytes, unit: re.Pattern[bytes], new: bytes) -> bytes:
    found = list(unit.finditer(data))
    if not found:
        return data + new
    match = found[choices.upto(len(found) - 1)]
    return data[: match.start()] + new + data[match.end() :]


def _lines(choices: Choices, data: bytes, seeds: Sequence[bytes], way: int) -> bytes:
    """Lines (or tags) taken out, doubled, moved, or taken from another file."""
    cut = b"\n" if data.count(b"\n") > 3 else b">"
    lines = data.split(cut)
    one, other = (choices.upto(len(lines) - 1) for _ in range(2))
    if way == 4:
        first, last = min(one, other), max(one, other)
        lines[first:last] = [] if choices.upto(1) else lines[first:last] * 2
    elif way == 5:
        lines[one], lines[other] = lines[other], lines[one]
    else:
        strange = choices.of(seeds).split(cut)
        start = choices.upto(len(strange) - 1)
        lines[one:one] = strange[start : start + 1 + choices.upto(8 - 1)]
    return cut.join(lines)


def _mutated_bytes(choices: Choices, data: bytes, seeds: Sequence[bytes]) -> bytes:
    at = _at(choices, data)
    way = choices.upto(5)
    if way == 0:
        return data[:at] + choices.junk(0, 8) + data[at:]
    if way == 1:
        new = choices.junk(1, 4)
        return data[:at] + new + data[at + len(new) :]
    if way == 2:
        new = struct.pack(choices.of(("<H", ">H", "<I", ">I", "<q", "<d")), choices.of((0, 1, 255, 32767)))
        return data[:at] + new + data[at + len(new) :]
    if way == 3:
        new = choices.of((b"\xff\xff", b"\xff\xff\xff\xff", b"\x80\0", b"\x7f\xff\xff\xff", b"\0\0\0\0"))
        return data[:at] + new + data[at + len(new) :]
    if way == 4:
        return data[:at] + data[at + 1 + choices.upto(50 - 1) :]
    strange = choices.of(seeds)
    return data[:at] + strange[_at(choices, strange) :]


def _png(choices: Choices, data: bytes) -> bytes:
    """One chunk of a PNG changed, inside its packing too, and its checksum made right again."""
    chunks = list(_chunks(data))
    if not chunks:
        return data
    number = choices.upto(len(chunks) - 1)
    kind, body = chunks[number]
    way = choices.upto(4)
    if way == 0:
        chunks.insert(choices.upto(len(chunks)), (kind, body))
    elif way == 1:
        kind = choices.of((b"IHDR", b"PLTE", b"tRNS", b"iCCP", b"zTXt", b"eXIf", b"pHYs", b"gAMA", b"fcTL"))
        chunks[number] = (kind, body)
    elif way == 2:
        unpacked = _mutated_bytes(choices, _inflated(body), [body])
        chunks[number] = (kind, zlib.compress(unpacked))
    elif way == 3:
        junk = zlib.compress(b"\0" * choices.of((10, 10**5, 2 * 10**6)))
        chunks.insert(1, (choices.of((b"iCCP", b"zTXt")), b"a\0\0" + junk))
    else:
        chunks[number] = (kind, _mutated_bytes(choices, body, [body]))
    packed = (
        struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body)) for kind, body in chunks
    )
    return data[:8] + b"".join(packed)


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    at, found = 8, []
    while at + 12 <= len(data):
        size = struct.unpack(">I", data[at : at + 4])[0]
        found.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + size]))
        at += 12 + size
    return found


def _inflated(body: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(body, 100_000)
    except zlib.error:
        return body


def _font(choices: Choices, data: bytes, seeds: Sequence[bytes]) -> bytes:
    """One table of a font changed within its bounds, or its row in the directory."""
    count = (len(data) - 12) // 16
    if count < 1 or not (told := struct.unpack(">H", data[4:6])[0]):
        return data
    count = min(told, count)
    row = 12 + 16 * choices.upto(count - 1)
    if choices.upto(4) == 0:
        return (
            data[:row] + _mutated_bytes(choices, data[row : row + 16], seeds)[:16].ljust(16, b"\0") + data[row + 16 :]
        )
    start, size = struct.unpack(">II", data[row + 8 : row + 16])
    end = min(start + size, len(data))
    changed = _mutated_bytes(choices, data[start:end], seeds)[: max(end - start, 0)]
    return data[:start] + changed.ljust(max(end - start, 0), b"\0") + data[end:]
