"""Look through a TOML text for what would cost its parser too much: lists in lists and dotted keys without end.

The standard parser calls itself for every list in a list, and takes time with the square of a dotted key's length, so
both are counted before it sees the text. Strings and comments are stepped over; the text need not be valid.
"""

import re

from facegraphic.errors import Problem, UserError
from facegraphic.stock.limits import limit

DEEPEST = limit("job-depth")
TOKEN = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"""|\'\'\'.*?\'\'\'|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'|#[^\n]*|[][{}.,=\n]', re.DOTALL
)


def check_depth(text: str, name: str) -> None:
    """UserError for a text that is nested too deeply."""
    depth = dots = 0
    for match in TOKEN.finditer(text):
        token = match[0]
        if token == ".":
            dots += 1
        elif token in "[{":
            depth, dots = depth + 1, 0
        elif token in "]}":
            depth, dots = max(depth - 1, 0), 0
        elif token in ",=\n":
            dots = 0
        if depth > DEEPEST or dots > DEEPEST:
            what = "lists or tables nested too deeply" if depth > DEEPEST else "a dotted key of too many parts"
            line = text.count("\n", 0, match.start()) + 1
            raise UserError(Problem(f"{what}: more than {DEEPEST}", "flatten them: no key is so deep", name, line))
