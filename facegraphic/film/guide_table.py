"""The drill guide's table: every hole with its place from edges that a rule can find, its size, and its bits.

On a wide page each hole has one row; on a narrow one its words stand above its figures.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from facegraphic.film.guide_face import Numbered
from facegraphic.film.guide_net import Panel, edges
from facegraphic.film.guide_text import BOLD, FINE, PLAIN, Hand, broken, figure, line, rounded
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Box
from facegraphic.geometry.shapes import bar
from facegraphic.lettering.text import Align
from facegraphic.scene.scene import Fill
from facegraphic.stock.drilling import Drilled, System, drilled, wants_step_drill
from facegraphic.stock.faces import Side

WIDE = 165.0  # a page from which on all stands in one row
RULE = 0.12
STEP = "step drill"
HEADS = {
    "no": "no",
    "id": "hole",
    "side": "side",
    "part": "part",
    "x": "x\nmm",
    "y": "y\nmm",
    "d": "Ø\nmm",
    "pilot": "pilot\nmm, in",
    "mm": "bit\nmm",
    "over-mm": "over\nby",
    "in": "bit\nin",
    "over-in": "over\nby",
}
WORDS = ("no", "id", "side", "part")
FIGURES = ("x", "y", "d", "pilot", "mm", "over-mm", "in", "over-in")
SHARED = ("id", "part")  # these are broken where all of it does not fit
APART = 3.0  # between columns
FINAL = {"mm", "in"}  # what one reaches for stands out
RIGHT = {"x", "y", "d", "pilot", "mm", "over-mm", "in", "over-in"}


@dataclass(frozen=True)
class Row:
    """A line of the table, or of several lines; `cells` by column."""

    cells: dict[str, list[str]]
    hand: Hand
    ruled: bool = False
    keep: bool = False  # with what follows

    @property
    def lines(self) -> int:
        return max((len(cell) for cell in self.cells.values()), default=1)

    @property
    def height(self) -> float:
        return self.lines * self.hand.step + (1.2 if self.ruled else 0.4)


@dataclass(frozen=True)
class Table:
    """Where columns stand in a page of some width: left and right of each, from the page's left edge."""

    width: float
    spans: Mapping[str, tuple[float, float]]

    @classmethod
    def of(cls, width: float, found: Mapping[Side, Panel], holes: Mapping[Side, Sequence[Numbered]]) -> "Table":
        """Columns as wide as what stands in them."""
        wants = {key: max(FINE.width(part) for part in words.split("\n")) for key, words in HEADS.items()}
        for side, own in holes.items():
            for numbered in own:
                for key, text in _cells(found[side], numbered).items():
                    wants[key] = max(wants[key], _hand(key, PLAIN).width(text))
        runs = [(*WORDS, *FIGURES)] if width >= WIDE else [WORDS, FIGURES]
        return cls(width, {key: span for keys in runs for key, span in _run({k: wants[k] for k in keys}, width)})

    def rows(self, own: Panel, holes: Sequence[Numbered]) -> Iterator[list[Row]]:
        """What belongs together: the side's heading, then each hole."""
        yield [Row({"all": broken(edges(own.side), BOLD, self.width)}, BOLD, keep=True)]
        for numbered in holes:
            yield self._hole(own, numbered)

    def heads(self) -> list[Row]:
        words = {key: HEADS[key].split("\n") for key in WORDS}
        figures = {key: HEADS[key].split("\n") for key in FIGURES}
        if self.width >= WIDE:
            return [Row({**words, **figures}, FINE, ruled=True)]
        return [Row(words, FINE), Row(figures, FINE, ruled=True)]

    def _hole(self, own: Panel, numbered: Numbered) -> list[Row]:
        cells = {key: self._broken(key, text) for key, text in _cells(own, numbered).items()}
        if self.width >= WIDE:
            return [Row(cells, PLAIN)]
        words, figures = ({key: cells[key] for key in keys} for keys in (WORDS, FIGURES))
        return [Row(words, PLAIN, keep=True), Row(figures, PLAIN)]

    def _broken(self, key: str, text: str) -> list[str]:
        left, right = self.spans[key]
        return broken(text, PLAIN, right - left + 0.01) if key in SHARED else [text]

    def draw(self, row: Row, area: Box, top: float) -> list[Fill]:
        """A row whose upper edge is at `top`."""
        fills = []
        for key, lines in row.cells.items():
            left, right = (0.0, self.width) if key == "all" else self.spans[key]
            align: Align = "right" if key in RIGHT else "left"
            x = area.x0 + (right if key in RIGHT else left)
            for number, text in enumerate(lines):
                y = top - row.hand.cap / 2 - number * row.hand.step
                fills.append(line(text, _hand(key, row.hand), (x, y), align))
        if row.ruled:
            y = top - row.height + 0.7
            fills.append(Fill(bar((area.x0, y), (area.x0 + self.width, y), RULE), BLACK))
        return fills


def _hand(key: str, hand: Hand) -> Hand:
    """The hand of a column, in rows of some hand."""
    return replace(hand, cut=BOLD.cut) if key in FINAL and hand == PLAIN else hand


def _cells(own: Panel, numbered: Numbered) -> dict[str, str]:
    """What stands in each column for a hole."""
    hole = numbered.placed.hole
    x, y = own.measured((hole.x, hole.y))
    metric, inch = drilled(hole.d, "mm"), drilled(hole.d, "in")
    return {
        "no": str(numbered.number),
        "id": " ".join(hole.id.split()),
        "side": own.side,
        "part": numbered.placed.part or "",
        "x": f"{rounded(x):.2f}",
        "y": f"{rounded(y):.2f}",
        "d": f"{rounded(hole.d):.2f}" + ("*" if wants_step_drill(hole.d) else ""),
        "pilot": _pilot(metric, inch),
        **_final(metric, "mm"),
        **_final(inch, "in"),
    }


def _run(wants: Mapping[str, float], width: float) -> Iterator[tuple[str, tuple[float, float]]]:
    """Columns side by side over the whole width; those that may be broken share what the others leave."""
    gaps = len(wants) - 1
    left = width - gaps * APART - sum(want for key, want in wants.items() if key not in SHARED)
    own = dict(wants)
    shared = sorted((key for key in wants if key in SHARED), key=lambda key: wants[key])
    for number, key in enumerate(shared):
        own[key] = min(wants[key], left / (len(shared) - number))
        left -= own[key]
    x, gap = 0.0, APART + max(0.0, left) / gaps
    for key, want in own.items():
        yield key, (x, x + want)
        x += want + gap


def _pilot(metric: Drilled, inch: Drilled) -> str:
    """The pilots of both systems, or a dash for a hole that needs none."""
    if metric.pilot is None or inch.pilot is None:
        return "–"
    return f"{_name(metric.pilot.name)}, {_name(inch.pilot.name)}"


def _final(found: Drilled, system: System) -> dict[str, str]:
    """The bit by name without its unit, and how much larger than the hole it is."""
    if found.final is None:
        return {system: "–", f"over-{system}": "–"}
    over = figure(found.over)
    signed = over if over.startswith("-") or over == "0" else f"+{over}"
    return {system: _name(found.final.name), f"over-{system}": signed.replace("-", "−")}


def _name(bit: str) -> str:
    return bit.rsplit(" ", 1)[0]
