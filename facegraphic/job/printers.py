"""Printers by name, in a file of the user's own: what the test page's 100 mm bars measured on their prints.

[printer."office laser"]
across = 99.2
up = 100.4
"""

import unicodedata
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from facegraphic.errors import Problem, UserError
from facegraphic.job.model import Printer
from facegraphic.job.parsing import parsed
from facegraphic.job.reader import Notes, shown
from facegraphic.job.reading import read_file
from facegraphic.stock.limits import limit
from facegraphic.units import format_number, parse_length

FILE = "printers.toml"
LEAST, MOST = 90.0, 110.0  # a bar beyond these was printed to another scale, or measured in another unit
LONGEST_NAME = 60
MOST_BYTES = limit("job-bytes")
HEAD = "Printers by name: how long the 100 mm bars of `facegraphic ruler` are on their prints, in mm."


def measured(value: object) -> float:
    """A bar's length in mm from what was written. ValueError with advice if no 100 mm bar can have come out so."""
    length = parse_length(value)
    if LEAST <= length <= MOST:
        return length
    text = format_number(length)
    if length <= 0:
        raise ValueError(f"a bar cannot measure {text} mm; give what the ruler says, near 100")
    if LEAST / 10 <= length <= MOST / 10:
        raise ValueError(f"{text} looks like centimetres; give mm, or write it as {text}cm")
    if LEAST / 25.4 <= length <= MOST / 25.4:
        raise ValueError(f'{text} looks like inches; give mm, or write it as "{text} in"')
    mend = "print the page at 100 %, not fitted to the page, and measure again"
    raise ValueError(f"a 100 mm bar that measures {text} mm was not printed at true size; {mend}")


def printer_name(text: str) -> str:
    """A printer's name with single spaces. ValueError with advice for one that cannot be written on a sheet."""
    name = " ".join(unicodedata.normalize("NFC", text).split())
    if not name:
        raise ValueError('a printer needs a name, as in "office laser"')
    if len(name) > LONGEST_NAME:
        raise ValueError(f"this name has {len(name)} characters; {LONGEST_NAME} are the most")
    if not name.isprintable() or any(unicodedata.category(c) in ("Cs", "Co", "Cn") for c in name):
        raise ValueError("a printer's name is made of characters that can be printed; leave out the others")
    return name


def read_printers(folder: Path) -> dict[str, Printer]:
    """The printers kept in a folder, by name; none where there is no file. UserError names all that is wrong in it."""
    return _printers(_text(folder), folder / FILE)


def with_printer(folder: Path, printer: Printer) -> bytes:
    """The folder's file with a printer added or changed, its comments kept. UserError if it cannot be read."""
    import tomlkit.items  # for a file that is written only: reading, which make does, has the standard library

    text = _text(folder)
    _printers(text, folder / FILE)
    document = tomlkit.parse(text) if text else tomlkit.document()
    if not text:
        document.add(tomlkit.comment(HEAD))
        document.add(tomlkit.nl())
    if "printer" not in document:
        document["printer"] = tomlkit.table(is_super_table=True)
    rows: Any = document["printer"]
    if printer.name in rows:
        rows[printer.name].update({"across": printer.across, "up": printer.up})
    else:
        row = tomlkit.inline_table() if isinstance(rows, tomlkit.items.InlineTable) else tomlkit.table()
        row.update({"across": printer.across, "up": printer.up})
        rows[printer.name] = row
    return tomlkit.dumps(document).encode("utf-8")


def _text(folder: Path) -> str:
    file = folder / FILE
    try:
        there = file.exists()
    except OSError:
        there = True  # reading it says what is wrong
    if not there:
        return ""
    try:
        return read_file(file, MOST_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UserError(Problem("it is not text in UTF-8", "save it as UTF-8, or move it away", str(file))) from None


def _printers(text: str, file: Path) -> dict[str, Printer]:
    data, notes = parsed(text, str(file))
    for key in data:
        if key != "printer":
            notes.add((key,), "this file holds printers only", 'write [printer."NAME"], or leave it out')
    rows = data.get("printer", {})
    if not isinstance(rows, Mapping):
        notes.add(("printer",), f"{shown(rows)} is no table", 'write [printer."NAME"] with across and up')
        rows = {}
    found = {name: _printer(notes, name, row) for name, row in rows.items()}
    if notes.problems:
        raise UserError(notes.problems)
    return {name: printer for name, printer in found.items() if printer}


def _printer(notes: Notes, name: str, row: object) -> Printer | None:
    """One row; what is wrong with it goes to the notes."""
    place = ("printer", name)
    before = len(notes.problems)
    try:
        if printer_name(name) != name:
            raise ValueError(f"write the name as {shown(printer_name(name))}")
    except ValueError as error:
        notes.add(place, f"the name {shown(name)} does not do", str(error))
    if not isinstance(row, Mapping):
        notes.add(place, f"{shown(row)} is no table", "write across = 99.2 and up = 100.4 under it, as measured")
        return None
    lengths = {"across": 0.0, "up": 0.0}
    for key in row:
        if key not in lengths:
            notes.add((*place, key), "unknown key", "a printer has across and up, in mm")
    for key in lengths:
        try:
            if key not in row:
                raise ValueError(f"write {key} = the bar's length in mm, near 100")
            lengths[key] = measured(row[key])
        except ValueError as error:
            notes.add((*place, key), f"{shown(row[key])} does not do" if key in row else "missing", str(error))
    return Printer(name, lengths["across"], lengths["up"]) if len(notes.problems) == before else None
