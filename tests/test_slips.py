"""What is said of texts that are no TOML: the slip by its name, at its line, and a mend that mends it.

The rules are TOML 1.0's; that a text is none is the standard library's to say.
"""

import tomllib

import pytest
from helpers.faults import good
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.errors import UserError
from facegraphic.job.parsing import parsed
from facegraphic.job.slips import Slip, slip

# name: the text, words of what is wrong, words of the mend, the line, and the text once that has been done.
SLIPS = {
    "quote": ('title = "Tide\n[box]\n', "no closing quote", "quote", 1, 'title = "Tide"\n[box]\n'),
    "single quote": ("a = 1\nb = 'x\nc = 2", "no closing quote", "quote", 2, "a = 1\nb = 'x'\nc = 2"),
    "long quote": ('a = 1\nb = """x\n', "no closing quote", "quote", 2, 'a = 1\nb = """x"""\n'),
    "list at the end": ('[f]\nh = [\n {id="a"},\n', "list that begins here has no closing ]", "put ]", 2, "h = [1]"),
    "list before a table": ("h = [\n 1,\n\n[[f.c]]\nx = 1\n", "has no closing ]", "put ]", 1, "h = [\n 1,]\n\n[[f.c]]"),
    "list before a key": ("at = [0, 5\nd = 7\n", "has no closing ]", "put ]", 1, "at = [0, 5]\nd = 7\n"),
    "list before a list": ("at = [0, 5\n\n[[f]]\n", "has no closing ]", "put ]", 1, "at = [0, 5]\n\n[[f]]\n"),
    "braces": ("h = [\n {a = [1, 2],\n {b = 1}\n]\n", "one line", "close it with }", 2, "h = [\n {a = [1, 2]},\n]"),
    "comma in braces": ("h = {a = 1,}\n", "comma stands before its }", "}", 1, "h = {a = 1}\n"),
    "braces over lines": ("h = {a = 1,\n b = 2}\n", "one line", "}", 1, "h = {a = 1, b = 2}\n"),
    "size unquoted": ("[box]\nstock = 112x60x31 # mm\n", "without quotes", '"112x60x31"', 2, 'stock = "112x60x31"'),
    "word unquoted": ("[box]\nstock = large one\n", "without quotes", '"large one"', 2, 'stock = "large one"'),
    "unit": ("d = 5mm\n", "a unit", 'write it as "5mm"', 1, 'd = "5mm"\n'),
    "unit apart": ("d = 4 mm # so\n", "a unit", 'write it as "4 mm"', 1, 'd = "4 mm"\n'),
    "fraction": ("d = 3/16\n", "a unit", 'write it as "3/16"', 1, 'd = "3/16"\n'),
    "colour": ("ink = #1d2b36 # dark\n", "a colour stands without quotes", '"#1d2b36"', 1, 'ink = "#1d2b36"\n'),
    "yes": ("mirror = yes\n", "true and false here", "true or false", 1, "mirror = true\n"),
    "comma in a table": ("h = { a = [0, 6], d = 6,3 }\n", "comma in it", "a point", 1, "h = {d = 6.3}\n"),
    "bracket in a table": ("h = [{ a = [0, 6, d = 6.3 }]\n", "has no closing ]", "put ]", 1, "h = [{ a = [0, 6] }]\n"),
    "minus": ("at = [0, \u221245]\n", "a dash", "write -45", 1, "at = [0, -45]\n"),
    "minus and a comma": ("a = \u22125,3\n", "a dash", "write -5.3", 1, "a = -5.3\n"),
    "dash alone": ("a = \u2013 # x\n", "a dash", "a number", 1, "a = -1 # x\n"),
    "round brackets": ("at = (0, 6)\n", "list stands in ( )", "[ ]", 1, "at = [0, 6]\n"),
    "equals twice": ('a == "x"\n', "= stands twice", "once", 1, 'a = "x"\n'),
    "curved at the end": ('a = "MIX\u201d\n', "no closing quote", "a curved one ends none", 1, 'a = "MIX"\n'),
    "colon": ('a: "x"\n', "stands :", "=", 1, 'a = "x"\n'),
    "value": ("a = # what?\n", "no value", "after the =", 1, "a = 1\n"),
    "name": ("[[face]\nside = 1\n", "name is not closed", "[[name]]", 1, "[[face]]\n"),
    "short name": ("[face\nside = 1\n", "name is not closed", "[name]", 1, "[face]\n"),
    "list comma": ("at = [1 2]\n", "comma is missing", "commas", 1, "at = [1, 2]\n"),
    "decimal comma": ("d = 7,5 # mm\n", "comma in it", "write 7.5", 1, "d = 7.5\n"),
    "point first": ("d = .5\n", "begins with its point", "write 0.5", 1, "d = 0.5\n"),
    "point last": ("d = 5.\n", "ends with its point", "write 5.0", 1, "d = 5.0\n"),
    "zero": ("d = 07\n", "begins with 0", "leave", 1, "d = 7\n"),
    "true": ("a = True\n", "small", "write true", 1, "a = true\n"),
    "table twice": ("[b]\nx = 1\n[b]\n", "table stands twice", "together", 3, "[b]\nx = 1\n"),
    "table and list": ("[f]\nx = 1\n[[f]]\n", "something else above", "two brackets", 3, "[[f]]\nx = 1\n[[f]]\n"),
    "key twice": ("a = 1\na = 2\n", "key stands twice", "one of them", 2, "a = 1\n"),
    "backslash": ('f = "C:\\new\\art.svg"\n', "\\ in a text", "write /", 1, 'f = "C:/new/art.svg"\n'),
    "two on a line": ("a = 1 b = 2\n", "something follows", "line of its own", 1, "a = 1\nb = 2\n"),
    "lone word": ("face\n", "without = and a value", "key = value", 1, "face = 1\n"),
    "two words": ("my key = 1\n", "more than one word", "joined by -", 1, "my-key = 1\n"),
    "curved quotes": ("t = \u201cTide\u201d\n", "curved", '"text"', 1, 't = "Tide"\n'),
    "another language": ("{'a': 1}\n", "no line of TOML", "key = value", 1, "a = 1\n"),
}


def told(text: str) -> Slip:
    with pytest.raises(tomllib.TOMLDecodeError) as caught:
        tomllib.loads(text)
    return slip(str(caught.value), text)


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_is_told_by_its_name(name: str) -> None:
    text, what, mend, line, mended = SLIPS[name]
    found = told(text)
    assert what in found.what
    assert mend in found.mend
    assert found.line == line
    tomllib.loads(mended)


def test_the_problem_has_it_all() -> None:
    with pytest.raises(UserError) as caught:
        parsed("[box]\nstock = 112x60x31\n", "tide.toml")
    (problem,) = caught.value.problems
    assert str(problem).startswith("tide.toml:2: not valid TOML: a text stands without quotes")


GOOD = good()


@given(
    st.integers(0, len(GOOD)), st.integers(0, 30), st.text("[]{}\"'=,.\n#\\ aA07é\u201c\u2212\u2013(:+-_", max_size=4)
)
def test_whatever_is_mistyped_is_told_at_a_line_of_the_file(at: int, cut: int, typed: str) -> None:
    text = GOOD[:at] + typed + GOOD[at + cut :]
    try:
        parsed(text, "tide.toml")
    except UserError as error:
        for problem in error.problems:
            assert problem.what
            assert problem.mend
            assert len(str(problem)) < 700
            assert problem.line is None or 1 <= problem.line <= text.count("\n") + 1
