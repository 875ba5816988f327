"""TOML that strangers may have written: read with the lines of its keys, or refused with all that is wrong."""

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from facegraphic.errors import Problem, UserError
from facegraphic.job.depth import check_depth
from facegraphic.job.lines import KeyPath, key_lines
from facegraphic.job.reader import Notes
from facegraphic.job.slips import slip


def parsed(text: str, name: str) -> tuple[Mapping[str, Any], Notes]:
    """What a text says, and where to note what is wrong with it. UserError under a file's name for what is no TOML."""
    data = _parse(text, name)
    notes = Notes(name, key_lines(text))
    for place in _huge_integers(data):
        notes.add(place, "an integer beyond 64 bits, which TOML does not hold", "shorten it")
    if notes.problems:
        raise UserError(notes.problems)
    return data, notes


def _parse(text: str, name: str) -> Mapping[str, Any]:
    check_depth(text, name)
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = slip(str(error), text)
        raise UserError(Problem(f"not valid TOML: {found.what}", found.mend, name, found.line)) from None
    except RecursionError:
        raise UserError(Problem("lists or tables nested too deeply", "flatten them", name)) from None
    except ValueError:
        # The parser lets Python's own complaint through for integers of thousands of digits.
        raise UserError(Problem("not valid TOML: an integer beyond 64 bits", "shorten it", name)) from None


def _huge_integers(data: Mapping[str, Any]) -> Iterator[KeyPath]:
    """The key paths of integers that TOML 1.0 says a parser must refuse; the standard one takes them."""
    waiting: list[tuple[KeyPath, Any]] = [((), data)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict):
            waiting += [((*path, key), inner) for key, inner in value.items()]
        elif isinstance(value, list):
            waiting += [((*path, number), inner) for number, inner in enumerate(value)]
        elif isinstance(value, int) and not -(2**63) <= value < 2**63:
            yield path
