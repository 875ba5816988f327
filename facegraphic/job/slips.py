"""What a person has most likely mistyped where a TOML parser gives up, in plain words, and how to mend it.

The parser of the standard library says what it met (its words are the same from Python 3.11 on) and where; what stands
there tells the rest. What a slip is goes by the rules of TOML 1.0.
"""

import re
from collections.abc import Iterator
from typing import NamedTuple

from facegraphic.job.depth import TOKEN

LONGEST_TOLD = 200  # characters of what a parser says, which may hold a whole line
PLAIN = "a line holds key = value, [table] or a remark after #; the README shows such a file"
_PLACE = re.compile(r" \(at (?:end of document|line (\d+), column (\d+))\)$")
_QUOTES = "\u201c\u201d\u201e\u2018\u2019\u00ab\u00bb"


class Slip(NamedTuple):
    """What is wrong, how to mend it, and the line (from 1) if that is known."""

    what: str
    mend: str
    line: int | None


class _Place(NamedTuple):
    """Where the parser gave up: the line's number (None: at the end), what stands before it in the line, and after; the
    first bracket that is still open there, with its line, and that of the first quote of the text that nothing closes.
    """

    line: int | None
    before: str
    rest: str
    opened: tuple[str, int] | None
    quote: int | None


def slip(message: str, text: str) -> Slip:
    """What to tell of a text that the standard parser refused with this message."""
    found = _PLACE.search(message)
    said = message[: found.start()] if found else message
    place = _place(text, *(int(number) if number else None for number in (found.groups() if found else (None, None))))
    for pattern, tell in _SLIPS.items():
        if re.match(pattern, said):
            return next(tell(place), Slip(_short(said), PLAIN, place.line))
    return Slip(_short(said), PLAIN, place.line)


def _short(said: str) -> str:
    return said if len(said) <= LONGEST_TOLD else f"{said[:LONGEST_TOLD]} …"


def _place(text: str, line: int | None = None, column: int | None = None) -> _Place:
    lines = text.split("\n")
    number, at = (line, column - 1) if line and column else (len(lines), len(lines[-1]))
    own = lines[number - 1]
    return _Place(line, own[:at], own[at:], _opened("\n".join([*lines[: number - 1], own[:at]])), _lone_quote(text))


def _opened(text: str) -> tuple[str, int] | None:
    """The first bracket of a text that is not closed in it, with its line."""
    opened: list[tuple[str, int]] = []
    line, seen = 1, 0
    for match in TOKEN.finditer(text):
        line, seen = line + text.count("\n", seen, match.start()), match.start()
        if match[0] in ("[", "{"):
            opened.append((match[0], line))
        elif match[0] in ("]", "}") and opened:
            opened.pop()
    return opened[0] if opened else None


def _lone_quote(text: str) -> int | None:
    """The line of the first quote that begins no whole text."""
    end = 0
    for match in TOKEN.finditer(text):
        if found := re.search("[\"']", text[end : match.start()]):
            return text.count("\n", 0, end + found.start()) + 1
        end = match.end()
    found = re.search("[\"']", text[end:])
    return text.count("\n", 0, end + found.start()) + 1 if found else None


def _no_quote(at: _Place) -> Iterator[Slip]:
    if at.rest:
        yield Slip("a character that cannot be seen stands in a text", "type the text anew", at.line)
    else:
        curved = " (a curved one ends none)" if any(quote in at.before for quote in _QUOTES) else ""
        mend = f"end it with the quote that it begins with{curved}"
        yield Slip("a text has no closing quote", mend, at.line or at.quote)


def _unclosed(at: _Place) -> Iterator[Slip]:
    """In a list or a table in braces: something other than a comma or its end."""
    begins = not at.before.strip() and re.match(r"\[|[\w.-]+\s*=", at.rest)  # the next table or key
    if at.opened and (at.line is None or begins):
        yield _left_open(at.opened)
    elif at.rest:
        yield Slip(
            "between two things of a list or of a table in { } a comma is missing, or a bracket after them",
            "part them with commas",
            at.line,
        )


def _left_open(opened: tuple[str, int]) -> Slip:
    kind, end = ("list", "]") if opened[0] == "[" else ("table", "}")
    return Slip(f"the {kind} that begins here has no closing {end}", f"put {end} after the last thing in it", opened[1])


def _no_value(at: _Place) -> Iterator[Slip]:
    rest, in_list = at.rest.strip(), at.opened is not None
    word = re.match(r"[^\W\d][\w .-]*", rest)
    if at.opened and (at.line is None or re.fullmatch(r"\s*\[+", at.before)):
        yield _left_open(at.opened)
    elif re.match(r"#[0-9a-fA-F]{3,8}\b", rest):
        yield Slip("a colour stands without quotes", f'write it as "{rest.split()[0].rstrip(",]}")}"', at.line)
    elif not rest or rest[0] == "#":
        yield Slip("a key has no value", "write one after the =, or put # before the line", at.line)
    elif rest[0] in _QUOTES:
        yield Slip("a text stands in curved quotes", 'write straight ones: "text"', at.line)
    elif re.match(r"\.\d", rest):
        yield Slip("a number begins with its point", f"write 0{rest.split()[0]}", at.line)
    elif re.match(r"(?i)(true|false)\b", rest):
        yield Slip("true and false are written small", f"write {rest.split()[0].lower()}", at.line)
    elif at.opened and word and re.match(r"[\w-]+\s*=", rest):
        yield _left_open(at.opened)
    elif re.match(r"(?i)(yes|no|on|off)\b", rest):
        yield Slip("yes and no are true and false here", "write true or false", at.line)
    elif word:
        shown = _short(word[0].strip())
        yield Slip("a text stands without quotes", f'write it as "{shown}"', at.line)
    elif rest[0] in "\u2212\u2013\u2014":
        figure = re.match(r"\d+(?:[.,]\d+)?", rest[1:].lstrip())
        mend = f"write -{figure[0].replace(',', '.')}" if figure else "write a number, with - for its minus"
        yield Slip("a dash stands for the minus of a number", mend, at.line)
    elif rest[0] == "(":
        yield Slip("a list stands in ( )", "write [ ]", at.line)
    elif rest[0] == "=":
        yield Slip("= stands twice", "write it once", at.line)
    elif rest[0] == "," and in_list:
        yield Slip("a comma stands where a thing of the list should", "take it out, or write the thing", at.line)


def _more_follows(at: _Place) -> Iterator[Slip]:
    """A value that has ended, and the line has not."""
    number = re.search(r"(?<![\w.\"'])[-+]?[\d_]+\s*$", at.before)
    value = f"{number[0] if number else ''}{at.rest}".partition("#")[0].strip()
    if number and re.match(r",\d", at.rest):
        yield Slip("a number has a comma in it", f"write {value.replace(',', '.', 1)}", at.line)
    elif number and at.rest.startswith("."):
        yield Slip("a number ends with its point", f"write {value}0", at.line)
    elif number and re.fullmatch(r"[-+]?0", number[0]) and at.rest[:1].isdigit():
        yield Slip("a number begins with 0", "leave the 0 out", at.line)
    elif number and re.match(r"\s*[^\W\d](?!.*=)|\s*/", at.rest.partition("#")[0]):
        what = "a text stands without quotes, or a number with a unit"
        yield Slip(what, f'write it as "{_short(value)}"; numbers alone are mm', at.line)
    else:
        yield Slip("something follows a value on its line", "give it a line of its own, or # before it", at.line)


def _no_equals(at: _Place) -> Iterator[Slip]:
    if at.rest.startswith(":"):
        yield Slip("between a key and its value stands :", "write = for it", at.line)
    elif at.opened and re.search(r"\d,\d+\s*$", at.before):
        yield Slip("a number has a comma in it", "write a point for it, as in 6.3", at.line)
    elif not at.rest.partition("#")[0].strip():
        yield Slip("a key stands without = and a value", "write key = value, or put # before the line", at.line)
    else:
        yield Slip("a key is of more than one word, or lacks its =", "write key = value, words joined by -", at.line)


def _no_key(at: _Place) -> Iterator[Slip]:
    if at.opened and at.opened[0] in "[{" and (not at.rest or at.rest[0] in "#}{"):
        end = "a comma stands before its }" if at.rest.startswith("}") else "one is not closed, or goes on"
        yield Slip(f"a table in {{ }} stands on one line: {end}", "close it with } on its own line", at.line)


def _no_statement(at: _Place) -> Iterator[Slip]:
    yield Slip("this is no line of TOML", PLAIN, at.line)


def _name_open(at: _Place) -> Iterator[Slip]:
    yield Slip("a table's name is not closed", "close it as it was opened: [name] or [[name]]", at.line)


def _twice(at: _Place) -> Iterator[Slip]:
    if at.before.lstrip().startswith("["):
        mend = "put what belongs to it together; of lists, such as [[face]], all have two brackets"
        yield Slip("a table stands twice, or is something else above", mend, at.line)
    else:
        yield Slip("a key stands twice in its table", "leave one of them", at.line)


def _backslash(at: _Place) -> Iterator[Slip]:
    yield Slip("a \\ in a text has a meaning of its own", "write / in names of files, \\\\ for a \\ itself", at.line)


_SLIPS = {
    r"Illegal character|Expected \"'\"|Unterminated string|Expected \"'''\"": _no_quote,
    r"Unclosed (array|inline table)": _unclosed,
    r"Invalid value": _no_value,
    r"Expected newline or end of document": _more_follows,
    r"Expected '=' after a key": _no_equals,
    r"Invalid initial character for a key part": _no_key,
    r"Expected '\]+' at the end of": _name_open,
    r"Invalid statement": _no_statement,
    r"Cannot (overwrite|declare|mutate)|Duplicate inline table key": _twice,
    r"Unescaped '\\'|Invalid hex value|Escaped character": _backslash,
}
