"""Read typed values out of parsed TOML, gathering every problem with its line and key path instead of stopping."""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from PIL import ImageColor

from facegraphic.errors import Problem, UserError, meant, nearest
from facegraphic.job.lines import KeyPath
from facegraphic.stock.limits import limit
from facegraphic.units import parse_length

T = TypeVar("T")
MOST_PROBLEMS = limit("job-problems")
LONGEST_TEXT, LONGEST_LABEL = limit("text-length"), limit("label-length")
LONGEST_MM = float(limit("longest"))
_REQUIRED: Any = object()


@dataclass
class Notes:
    """The problems of one file so far, and where its keys stand."""

    file: str
    lines: Mapping[KeyPath, int]
    problems: list[Problem] = field(default_factory=list)

    def add(self, path: KeyPath, what: str, mend: str = "") -> None:
        """Note a problem. UserError with all there are when there is no end of them."""
        if len(self.problems) >= MOST_PROBLEMS:
            more = Problem("and more problems like these", "mend these first", self.file)
            raise UserError((*self.problems, more))
        self.problems.append(Problem(what, mend, self.file, self.line(path), key_text(path)))

    def line(self, path: KeyPath) -> int | None:
        """The line of a key, else of the nearest table round it."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def key_text(path: KeyPath) -> str:
    """Write a key path as in ``face[0].control[1].part``."""
    text = ""
    for part in path:
        part = part if isinstance(part, int) or len(part) <= 60 else f"{part[:57]}..."
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def shown(value: object) -> str:
    """A value as the file has it, cut short."""
    value = value[:60] if isinstance(value, str | list) else value
    text = f'"{value}"' if isinstance(value, str) else str(value).lower() if isinstance(value, bool) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


class Table:
    """One TOML table being read: ask for every key it may have, then call `close` to report the others."""

    def __init__(self, notes: Notes, path: KeyPath, data: object) -> None:
        self.notes = notes
        self.path = path
        self.known: set[str] = set()
        self.data: Mapping[str, Any] = {}
        if isinstance(data, dict):
            self.data = data
        else:
            notes.add(path, f"{shown(data)} is not a table", "write it as a table, as in the README's job file")

    def problem(self, key: str, what: str, mend: str = "") -> None:
        self.notes.add((*self.path, key), what, mend)

    def has(self, key: str) -> bool:
        self.known.add(key)
        return key in self.data

    def value(self, key: str, default: T, read: Callable[[Any], T]) -> T:
        """Read one key through `read`, whose ValueError becomes a problem; the default then stands in.

        With REQUIRED as default a missing key is a problem too, and None stands in.
        """
        if not self.has(key):
            if default is _REQUIRED:
                self.notes.add(self.path, f'"{key}" is missing', f"add {key} = ...")
                return None  # type: ignore[return-value]
            return default
        try:
            return read(self.data[key])
        except ValueError as error:
            self.problem(key, f"{shown(self.data[key])} cannot stand here", str(error))
            return None if default is _REQUIRED else default  # type: ignore[return-value]

    def text(self, key: str, default: str = "", most: int = LONGEST_TEXT) -> str:
        return self.value(key, default, lambda value: _text(value, most))

    def flag(self, key: str, default: bool | None) -> bool | None:
        return self.value(key, default, _flag)

    def length(self, key: str, default: float = 0.0, low: float = 0.0, high: float = LONGEST_MM) -> float:
        return self.value(key, default, lambda value: within(parse_length(value), low, high))

    def number(self, key: str, default: float, low: float, high: float, unit: str = "") -> float:
        return self.value(key, default, lambda value: within(finite(value), low, high, unit))

    def whole(self, key: str, default: int, low: int, high: int) -> int:
        return self.value(key, default, lambda value: _whole(value, low, high))

    def colour(self, key: str, default: str) -> str:
        return self.value(key, default, read_colour)

    def ground(self, key: str, default: str | None) -> str | None:
        """A colour, or "none" for bare film."""
        return self.value(key, default, lambda value: None if value == "none" else read_colour(value))

    def lengths(self, key: str, count: int, default: Any = None, unit: str = "mm", low: float = -LONGEST_MM) -> Any:
        """A list of exactly `count` lengths, as a tuple of mm."""

        def read(value: Any) -> tuple[float, ...]:
            if not isinstance(value, list) or len(value) != count:
                raise ValueError(f"a list of {count} lengths is wanted, as in [{', '.join(['12.5'] * count)}]")
            return tuple(within(parse_length(item, unit), low, LONGEST_MM) for item in value)

        return self.value(key, default, read)

    def choice(self, key: str, default: str, names: Iterable[str]) -> Any:
        """A text that must be one of some names."""
        if not self.has(key):
            if default is _REQUIRED:
                self.notes.add(self.path, f'"{key}" is missing', f"add {key} = ...; {nearest('', names)}")
                return ""
            return default
        value = self.data[key]
        if not isinstance(value, str) or value not in names:
            self.problem(key, f"{shown(value)} is not known here", nearest(str(value), names))
            return "" if default is _REQUIRED else default
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        return self.value(key, (), _texts)

    def tables(self, key: str, most: int = 0) -> list["Table"]:
        """An array of tables, of which there may be `most` (0: any number); empty when absent."""
        if not self.has(key):
            return []
        value = self.data[key]
        if not isinstance(value, list):
            header = ".".join(part for part in (*self.path, key) if isinstance(part, str))
            self.problem(key, f"{shown(value)} is not a list of tables", f"write [[{header}]]")
            return []
        if most and len(value) > most:
            self.problem(key, f"{len(value)} tables", f"at most {most} are read; is this the right file?")
            value = value[:most]
        return [Table(self.notes, (*self.path, key, i), item) for i, item in enumerate(value)]

    def table(self, key: str) -> "Table":
        """A table of its own; empty when absent."""
        return Table(self.notes, (*self.path, key), self.data[key] if self.has(key) else {})

    def close(self) -> None:
        for key in self.data:
            if key not in self.known:
                self.problem(key, "this key is not known here", nearest(key, self.known))


REQUIRED = _REQUIRED


def within(value: float, low: float, high: float, unit: str = "mm") -> float:
    if not low <= value <= high:
        raise ValueError(f"it must lie between {low:g} and {high:g} {unit}".rstrip())
    return value


def read_clear(table: Table, default: float | None) -> float | None:
    """How far round a hole's edge to knock out the art, in mm; None where it is to be chosen."""

    def read(value: Any) -> float | None:
        if isinstance(value, str) and not any(c.isdigit() for c in value):
            if value != "auto":
                raise ValueError('write mm round the hole\'s edge, or "auto"')
            return None
        return within(parse_length(value), -20.0, 20.0)

    return table.value("clear", default, read)


def read_colour(value: Any) -> str:
    """A colour as #rrggbb from any CSS hex form or name. ValueError for others."""
    if isinstance(value, str):
        try:
            channels: tuple[int, ...] = ImageColor.getrgb(value)
        except ValueError:
            channels = ()
        if len(channels) == 4:
            raise ValueError("a colour here has no transparency: write it with six figures, as in #22505c")
        if channels and max(channels) <= 255:
            return "#" + "".join(f"{channel:02x}" for channel in channels)
    told = 'a colour is written as "#22505c" or by its CSS name'
    near = meant(value, ImageColor.colormap) if isinstance(value, str) else ""
    raise ValueError(f"{told}; {near}" if near else told)


def _text(value: Any, most: int) -> str:
    if not isinstance(value, str):
        raise ValueError("a text in quotes is wanted")
    if len(value) > most:
        raise ValueError(f"the text is {len(value)} characters long; at most {most} fit here")
    bad = next((c for c in value if (ord(c) < 32 and c != "\n") or 0x7F <= ord(c) < 0xA0), None)
    if bad is not None:
        raise ValueError(f"the text holds the control character U+{ord(bad):04X}; take it out")
    return value


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise ValueError('a list of texts is wanted, as in ["LOW", "HIGH"]')
    return tuple(_text(item, LONGEST_LABEL) for item in value)


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false is wanted, without quotes")
    return value


def finite(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
        raise ValueError("a finite number is wanted")
    return float(value)


def _whole(value: Any, low: int, high: int) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise ValueError("a whole number is wanted")
    if not low <= value <= high:
        raise ValueError(f"it must lie between {low} and {high}")
    return value
