"""Ways to set a label that is too wide for its room, best first: smaller, then condensed, then on two lines."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from facegraphic.lettering.font import Font
from facegraphic.lettering.text import Style, line_length

SHARES = (1.0, 0.9, 0.8, 0.7)  # of the asked height, in fixed steps so that labels of one face stay of a few sizes
_BREAK = re.compile(r"(?<=[-/–—])(?=\S)|\s+")


@dataclass(frozen=True)
class Fitting:
    """A text as it would be set, and how it differs from what was asked ("" when it doesn't)."""

    text: str
    style: Style
    change: str = ""


def fittings(text: str, style: Style, condensed: Font | None, smallest: float) -> Iterator[Fitting]:
    """Every way to set a text, first as asked; never below `smallest` mm unless it was asked for."""
    caps = [style.cap * share for share in SHARES if style.cap * share >= smallest - 1e-9 or share == 1]
    narrow = replace(style, font=condensed) if condensed else None
    lines = two_lines(text, style)
    for cap in caps:
        yield Fitting(text, style.at(cap), "" if cap == style.cap else f"set {cap:.2g} mm high")
    if narrow:
        for cap in caps:
            yield Fitting(text, narrow.at(cap), f"set condensed, {cap:.2g} mm high")
    if lines:
        for cap in caps:
            yield Fitting(lines, style.at(cap), f"set on two lines, {cap:.2g} mm high")
    if lines and narrow:
        for cap in caps:
            yield Fitting(lines, narrow.at(cap), f"set condensed on two lines, {cap:.2g} mm high")


def two_lines(text: str, style: Style) -> str | None:
    """A one-line text broken at a space, hyphen or slash so that its longer line is shortest; None without a break."""
    if "\n" in text:
        return None
    halves = [(text[: match.start()], text[match.end() :]) for match in _BREAK.finditer(text)]
    halves = [(first, second) for first, second in halves if first.strip() and second.strip()]
    if not halves:
        return None
    first, second = min(halves, key=lambda half: max(line_length(line, style) for line in half))
    return f"{first}\n{second}"
