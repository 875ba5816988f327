"""SVG path data written so that reading it takes time with its length and no more: a letter for every segment.

Readers that take figure after figure off the front of a run of thousands take time with the square of its length.
"""

import re

FIGURES = {"m": 2, "l": 2, "h": 1, "v": 1, "c": 6, "s": 4, "q": 4, "t": 2, "a": 7, "z": 0}
SHORT = 2000  # characters up to which a path is left as it is
BLANKS = ", \t\r\n\f"
_RUN = re.compile(r"([A-DF-Za-df-z])([^A-DF-Za-df-z]*)")
_FIGURE = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")
_UNKNOWN = re.compile(r"[^MmZzLlHhVvCcSsQqTtAaEe\d\s,.+-]")
_BEHIND_CLOSE = re.compile(r"([Zz])[\s,]*[-+.\d].*", re.DOTALL)
# Nothing taken is given back: figures without blanks could be cut in more ways than there is time to try.
_NUMBER = f"((?>{_FIGURE.pattern}))[\\s,]*+"
_ARC = re.compile(_NUMBER * 3 + r"([01])[\s,]*+([01])[\s,]*+" + _NUMBER * 2)


def one_letter_each(data: str) -> str:
    """Path data with the letter of every segment written out. ValueError for a long path that is damaged.

    Figures behind a close end the path, and so does what is neither command nor figure, as SVG has it with errors
    (SVG 1.1, F.2): drawn, the former would be read for ever, and "inf" would end the process.
    """
    if odd := _UNKNOWN.search(data):
        data = data[: odd.start()].rstrip("+-." + BLANKS)
    data = _BEHIND_CLOSE.sub(r"\1", data)
    if len(data) <= SHORT:
        return data
    found: list[str] = []
    for letter, figures in _RUN.findall(data):
        found += _segments(letter, figures)
    return "".join(found)


def _segments(letter: str, figures: str) -> list[str]:
    wanted = FIGURES.get(letter.lower())
    if wanted is None:
        raise ValueError(f"a long path with the unknown command {letter}; mend it, or simplify it")
    if wanted == 0:
        return [letter]
    runs = _arcs(figures) if letter in "Aa" else _FIGURE.findall(figures)
    rest = "" if letter in "Aa" else _FIGURE.sub("", figures).strip(BLANKS)
    if rest or not runs or len(runs) % wanted:
        raise ValueError(f"a long path that is damaged at {letter}{figures.strip()[:20]}; mend it, or simplify it")
    after = {"m": "l", "M": "L"}.get(letter, letter)
    cut = range(0, len(runs), wanted)
    return [f"{after if start else letter}{' '.join(runs[start : start + wanted])}" for start in cut]


def _arcs(figures: str) -> list[str]:
    """The figures of arcs, whose flags may stand without a blank."""
    found: list[str] = []
    at = len(figures) - len(figures.lstrip(BLANKS))
    while at < len(figures):
        # From where the last one ended, and no further on: a search would try all that follows from every place.
        arc = _ARC.match(figures, at)
        if arc is None:
            return []
        found += arc.groups()
        at = arc.end()
    return found
