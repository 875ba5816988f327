"""Find the line, and the place, of every key in a TOML text that a TOML parser has already found valid.

The standard parser gives values without places; this walk gives places without values. It knows just enough of
the grammar to step over strings, comments and brackets, and can be short because the text is known to be good.
"""

import re
import tomllib
from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, field

KeyPath = tuple[str | int, ...]

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}(?!")|\'\'\'.*?\'{3,5}(?!\')|"(?:\\.|[^"\\\n])*"|\'[^\'\n]*\'', re.DOTALL
)
_BLANK = re.compile(r"(?:[ \t\r\n]+|#[^\n]*)*")
_SCALAR = re.compile(r"[^,\]}#\n]+")


@dataclass(frozen=True)
class Pair:
    """A key with its value: where the key begins, and the value begins and ends. `table` is what it is written in, by
    a header or within braces, which a dotted key reaches beyond. An item of an array begins with its value.
    """

    table: KeyPath
    start: int
    value: int
    end: int


@dataclass(frozen=True)
class Spans:
    """Where things stand in a text, by their key paths: pairs, the ends of headers, and the braces of inline tables."""

    pairs: dict[KeyPath, Pair] = field(default_factory=dict)
    heads: dict[KeyPath, int] = field(default_factory=dict)
    braces: dict[KeyPath, int] = field(default_factory=dict)


def key_lines(text: str) -> Mapping[KeyPath, int]:
    """Map each key path, such as ``("face", 0, "control", 1, "part")``, to its line, counted from 1."""
    return _Walk(text).document()


def key_spans(text: str) -> Spans:
    """Where every key, value, header and opening brace stands; offsets count from 0."""
    walk = _Walk(text)
    walk.document()
    return walk.spans


class _Walk:
    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.breaks = [match.start() for match in re.finditer("\n", text)]
        self.lines: dict[KeyPath, int] = {}
        self.counts: dict[KeyPath, int] = {}
        self.spans = Spans()

    def document(self) -> dict[KeyPath, int]:
        table: KeyPath = ()
        while self.blank() < len(self.text):
            if self.text[self.at] == "[":
                table = self.header()
            else:
                self.pair(table)
        return self.lines

    def blank(self) -> int:
        match = _BLANK.match(self.text, self.at)
        self.at = match.end() if match else self.at
        return self.at

    def mark(self, path: KeyPath) -> None:
        """Note where a key stands, and so the first mention of the tables round it."""
        line = bisect_left(self.breaks, self.at) + 1
        while path and path not in self.lines:
            self.lines[path] = line
            path = path[:-1]

    def header(self) -> KeyPath:
        start = self.at
        doubled = self.text.startswith("[[", self.at)
        self.at += 2 if doubled else 1
        names = self.keys()
        self.at += 2 if doubled else 1
        path = self.resolve(names if not doubled else names[:-1])
        if doubled:
            array = (*path, names[-1])
            number = self.counts.get(array, -1) + 1
            self.counts[array] = number
            path = (*array, number)
        end, self.at = self.at, start
        self.mark(path)
        self.at = end
        self.spans.heads[path] = end
        return path

    def resolve(self, names: list[str]) -> KeyPath:
        """A header's names with the index of the newest table put in after each array of tables."""
        path: KeyPath = ()
        for name in names:
            path = (*path, name)
            if path in self.counts:
                path = (*path, self.counts[path])
        return path

    def keys(self) -> list[str]:
        names = []
        while True:
            self.blank()
            if (match := _STRING.match(self.text, self.at)) is not None:
                names.append(tomllib.loads(f"key = {match[0]}")["key"])
            elif (match := _BARE.match(self.text, self.at)) is not None:
                names.append(match[0])
            else:
                raise ValueError("not a key")
            self.at = match.end()
            self.blank()
            if not self.text.startswith(".", self.at):
                return names
            self.at += 1

    def pair(self, table: KeyPath) -> None:
        start = self.at
        path = (*table, *self.keys())
        end, self.at = self.at, start
        self.mark(path)
        self.at = end + 1
        self.blank()
        value = self.at
        self.value(path)
        end = value + len(self.text[value : self.at].rstrip())
        self.spans.pairs[path] = Pair(table, start, value, end)

    def value(self, path: KeyPath) -> None:
        opening = self.text[self.at]
        if opening == "[":
            self.items("]", path)
        elif opening == "{":
            self.spans.braces[path] = self.at
            self.items("}", path)
        else:
            match = _STRING.match(self.text, self.at) or _SCALAR.match(self.text, self.at)
            self.at = match.end() if match else len(self.text)

    def items(self, closing: str, path: KeyPath) -> None:
        self.at += 1
        number = 0
        while self.blank() < len(self.text) and self.text[self.at] != closing:
            if closing == "}":
                self.pair(path)
            else:
                self.mark((*path, number))
                start = self.at
                self.value((*path, number))
                end = start + len(self.text[start : self.at].rstrip())
                self.spans.pairs[(*path, number)] = Pair(path, start, start, end)
            number += 1
            self.blank()
            if self.text.startswith(",", self.at):
                self.at += 1
        self.at += 1
