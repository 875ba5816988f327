"""Change one value in the text of a job file and nothing else in it: comments, order, spacing, line ends all stay.

tomlkit writes the value. Where it goes is looked up here, since tomlkit puts a new key below the comment that stands
over the next table, ends its line with a bare line feed in a file that has CRLF, and adds a final newline to one
without.
"""

import copy
import tomllib
from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from facegraphic.errors import Problem, UserError, brief
from facegraphic.job.lines import KeyPath, Pair, Spans, key_spans
from facegraphic.job.reader import key_text

# What a page may change of a job: each name's place in the file.
SETTINGS: Mapping[str, KeyPath] = {
    "paint": ("box", "paint"),
    "ink": ("finish", "ink"),
    "process": ("finish", "process"),
    "paper": ("sheet", "paper"),
}


def edited(text: str, path: KeyPath, value: Any) -> str:
    """The text of a job file with the value at a key path put in or replaced, checked to differ only there.

    UserError if the file is laid out so that this cannot be done. The text must be valid TOML.
    """
    before = tomllib.loads(text)
    spans = key_spans(text)
    written = _written(value)
    known = path in spans.pairs
    after = _replaced(text, spans, path, value) if known else _added(text, spans, path, written)
    wanted = _with(before, path, value)
    try:
        right = wanted is not None and after is not None and _same(tomllib.loads(after), wanted)
    except (tomllib.TOMLDecodeError, ValueError):
        right = False
    if not right or after is None:
        mend = f"write {key_text(path)} = {written} in it by hand"
        raise UserError(Problem("this file is laid out so that the change cannot be written into it", mend))
    return after


def key_path(key: str) -> KeyPath:
    """The path of a table that `key_text` has written, as in ``face[0].control[1]``; its names are bare keys."""
    path: list[str | int] = []
    for part in key.split("."):
        name, _, numbers = part.partition("[")
        path += [name, *(int(number) for number in numbers.rstrip("]").split("][") if number)]
    return tuple(path)


def tidy(length: float) -> int | float:
    """A length as people write it: hundredths of a millimetre, whole numbers without a point."""
    rounded = round(length, 2) + 0.0
    return int(rounded) if rounded == int(rounded) else rounded


def _written(value: Any) -> str:
    try:
        return str(tomlkit.item(value).as_string())
    except (TOMLKitError, ValueError, TypeError) as error:
        raise UserError(Problem(f"this cannot be written as TOML: {brief(error)}", "give a text or numbers")) from None


def _replaced(text: str, spans: Spans, path: KeyPath, value: Any) -> str:
    """The text with another value at a path; of a list, item by item, so that what stands among these stays."""
    pair = spans.pairs[path]
    if isinstance(value, list) and (*path, len(value) - 1) in spans.pairs and (*path, len(value)) not in spans.pairs:
        for number in reversed(range(len(value))):
            text = _replaced(text, spans, (*path, number), value[number])
        return text
    return text[: pair.value] + _written(value) + text[pair.end :]


def _added(text: str, spans: Spans, path: KeyPath, written: str) -> str | None:
    """The text with a key more; None where it has no place."""
    table, key = path[:-1], str(path[-1])
    own = [pair for pair in spans.pairs.values() if pair.table == table]
    if table in spans.braces:
        return _in_braces(text, spans.braces[table], own, f"{key} = {written}")
    if table in spans.heads or not table:
        head = spans.heads.get(table, 0)
        return _line_after(text, max(own, key=_end, default=Pair(table, head, head, head)), f"{key} = {written}")
    dotted = [pair for where, pair in spans.pairs.items() if where[: len(table)] == table]
    if dotted:
        return _beside(text, spans, max(dotted, key=_end), table, f"{key} = {written}")
    return _new_table(text, spans, table, f"{key} = {written}")


def _beside(text: str, spans: Spans, pair: Pair, table: KeyPath, line: str) -> str | None:
    """A key of a table that only dotted keys make, after the last of these."""
    names = table[len(pair.table) :]
    if not names or not all(isinstance(name, str) and name.isidentifier() for name in names):
        return None
    line = ".".join([*map(str, names), line])
    if pair.table in spans.braces:
        return _in_braces(text, spans.braces[pair.table], [pair], line)
    return _line_after(text, pair, line)


def _end(pair: Pair) -> int:
    return pair.end


def _in_braces(text: str, opening: int, own: list[Pair], line: str) -> str:
    if not own:
        return text[: opening + 1] + f" {line} " + text[opening + 1 :].lstrip(" ")
    end = max(pair.end for pair in own)
    return f"{text[:end]}, {line}{text[end:]}"


def _line_after(text: str, pair: Pair, line: str) -> str:
    """The text with a line more below a pair, indented as that is."""
    before = text[text.rfind("\n", 0, pair.start) + 1 : pair.start]
    indent = before[: len(before) - len(before.lstrip(" \t"))]
    end = text.find("\n", pair.end)
    end = len(text) if end < 0 else end - (text[end - 1] == "\r")
    own = next((ending for ending in ("\r\n", "\n") if text.startswith(ending, end)), _newline(text))
    return f"{text[:end]}{own}{indent}{line}{text[end:]}"


def _new_table(text: str, spans: Spans, table: KeyPath, line: str) -> str | None:
    """A table of its own, below [box] or the last key that stands above all tables."""
    if len(table) != 1 or any(where[:1] == table for where in spans.heads):
        return None
    tops = [pair for pair in spans.pairs.values() if pair.table == ()]
    boxes = [pair for pair in spans.pairs.values() if pair.table == ("box",)] if ("box",) in spans.heads else []
    if not (boxes or tops):
        return None
    newline = _newline(text)
    last = max(boxes or tops, key=_end)
    return _line_after(text, Pair((), last.end, last.end, last.end), f"{newline}[{table[0]}]{newline}{line}")


def _newline(text: str) -> str:
    first = text.find("\n")
    return "\r\n" if first > 0 and text[first - 1] == "\r" else "\n"


def _with(data: Mapping[str, Any], path: KeyPath, value: Any) -> Any:
    """What the file should say then; None if the path leads through what is no table."""
    changed: Any = copy.deepcopy(data)
    here = changed
    try:
        for part in path[:-1]:
            here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
        here[path[-1]] = value
    except (TypeError, AttributeError, LookupError):
        return None
    return changed


def _same(one: Any, other: Any) -> bool:
    """Whether two values are the same, down to their types: 1 is neither 1.0 nor true."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    return type(one) is type(other) and repr(one) == repr(other)
