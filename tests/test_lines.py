"""Line numbers of keys: they agree with the standard parser on which keys there are, and stand where the keys stand."""

import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from facegraphic.job.lines import KeyPath, key_lines

# Each text with the line that every key path stands on; a table's line is that of its first mention.
TEXTS: dict[str, tuple[str, dict[KeyPath, int]]] = {
    "nothing": ("# only a comment\n\n", {}),
    "plain keys": ("a = 1\n\nb-c_9 = 'x' # note = 3\n  d=true", {("a",): 1, ("b-c_9",): 3, ("d",): 4}),
    "dotted keys": (
        "a.b = 1\na . c.d = 2\n[t]\nx.y = 3\n",
        {("a",): 1, ("a", "b"): 1, ("a", "c"): 2, ("a", "c", "d"): 2, ("t",): 3, ("t", "x"): 4, ("t", "x", "y"): 4},
    ),
    "quoted keys": (
        '"a b" = 1\n\'c.d\'.e = 2\n["f # g"."]"]\n"\\u00e9\\t\\"" = 3\n\'\\u00e9\' = 4\n"" = 5\n',
        {
            ("a b",): 1,
            ("c.d",): 2,
            ("c.d", "e"): 2,
            ("f # g",): 3,
            ("f # g", "]"): 3,
            ("f # g", "]", 'é\t"'): 4,
            ("f # g", "]", "\\u00e9"): 5,
            ("f # g", "]", ""): 6,
        },
    ),
    "multi-line strings": (
        'a = """\n[[no]] # no\nb = 1 \\"""\n"""\nc = \'\'\'\n[no]\n\\\'\'\'\n'
        'd = """x"""""\ne = \'\'\'\'y\'\'\'\'\'\nf = ""\ng = """"""\nh = 1\n',
        {("a",): 1, ("c",): 5, ("d",): 8, ("e",): 9, ("f",): 10, ("g",): 11, ("h",): 12},
    ),
    "strings with grammar in them": (
        "a = \"# ] } = \\\\\"\nb = ['[', \"]\", '#', {c = '}'}] # [x]\nd = 1\n",
        {("a",): 1, ("b",): 2, ("b", 0): 2, ("b", 1): 2, ("b", 2): 2, ("b", 3): 2, ("b", 3, "c"): 2, ("d",): 3},
    ),
    "nested arrays of inline tables": (
        "a = [ # one\n  { b = 1, c = [2,\n 3] }, # two\n\n"
        "  { d.e = {}, f = [] }, [ { g = 1979-05-27 07:32:00Z } ],\n]\n",
        {
            ("a",): 1,
            ("a", 0): 2,
            ("a", 0, "b"): 2,
            ("a", 0, "c"): 2,
            ("a", 0, "c", 0): 2,
            ("a", 0, "c", 1): 3,
            ("a", 1): 5,
            ("a", 1, "d"): 5,
            ("a", 1, "d", "e"): 5,
            ("a", 1, "f"): 5,
            ("a", 2): 5,
            ("a", 2, 0): 5,
            ("a", 2, 0, "g"): 5,
        },
    ),
    "arrays of tables under arrays of tables": (
        "[[a]]\nx = 1\n[[a.b]]\ny = 1\n[[ a . b ]] # more\n[a.b.c]\nz = 1\n[[a]]\n[[a.b]]\ny = 2\n",
        {
            ("a",): 1,
            ("a", 0): 1,
            ("a", 0, "x"): 2,
            ("a", 0, "b"): 3,
            ("a", 0, "b", 0): 3,
            ("a", 0, "b", 0, "y"): 4,
            ("a", 0, "b", 1): 5,
            ("a", 0, "b", 1, "c"): 6,
            ("a", 0, "b", 1, "c", "z"): 7,
            ("a", 1): 8,
            ("a", 1, "b"): 9,
            ("a", 1, "b", 0): 9,
            ("a", 1, "b", 0, "y"): 10,
        },
    ),
    "a table under one not yet named": (
        "[a.b.c]\nx = 1\n[a]\ny = 2\n",
        {("a",): 1, ("a", "b"): 1, ("a", "b", "c"): 1, ("a", "b", "c", "x"): 2, ("a", "y"): 4},
    ),
    "Windows line ends": (
        "[a]\r\n# note\r\nb = [\r\n1,\r\n]\r\nc = '''\r\n'''\r\nd = 2\r\n",
        {("a",): 1, ("a", "b"): 3, ("a", "b", 0): 4, ("a", "c"): 6, ("a", "d"): 8},
    ),
    "numbers of every kind": (
        "a = 0x1F#c\nb = -1e-3\nc = [inf,nan,+1_000,07:32:00]\n",
        {("a",): 1, ("b",): 2, ("c",): 3, ("c", 0): 3, ("c", 1): 3, ("c", 2): 3, ("c", 3): 3},
    ),
}


def paths(value: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """Every key path in parsed TOML."""
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in inner:
        yield (*path, key)
        yield from paths(item, (*path, key))


@pytest.mark.parametrize("name", TEXTS)
def test_every_key_has_its_line(name: str) -> None:
    text, lines = TEXTS[name]
    assert key_lines(text) == lines


@pytest.mark.parametrize("name", TEXTS)
def test_the_table_of_lines_holds_just_the_keys_of_the_text(name: str) -> None:
    text, lines = TEXTS[name]
    assert set(lines) == set(paths(tomllib.loads(text)))


KEYS = st.text("aZ9-_ .#[]{}=,'é", min_size=1, max_size=6)
LEAVES = st.one_of(
    st.booleans(),
    st.integers(-(2**63), 2**63 - 1),
    st.floats(allow_nan=False),
    st.dates(),
    st.text("ab\"'\\#[]{}=,\n\té", max_size=12),
)
VALUES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=25
)
DOCUMENTS = st.dictionaries(KEYS, VALUES, max_size=6)


@given(DOCUMENTS)
def test_generated_texts_have_every_key_on_a_line_that_holds_it(data: dict[str, Any]) -> None:
    text = tomlkit.dumps(data)
    found = key_lines(text)
    assert set(found) == set(paths(tomllib.loads(text)))
    rows = text.split("\n")
    for path, line in found.items():
        if isinstance(path[-1], str):
            assert path[-1] in rows[line - 1]


@given(DOCUMENTS, st.integers(0, 5))
def test_lines_above_move_every_key_down_by_their_number(data: dict[str, Any], more: int) -> None:
    text = tomlkit.dumps(data)
    moved = key_lines("# [note] a = 1\n" * more + text)
    assert moved == {path: line + more for path, line in key_lines(text).items()}
