"""The drill guide's table: every hole with its place from edges that a rule can find, its size, and its bits.

On a wide page each hole has one row; on a narrow one its words stand above its figures.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from facegraphic.film.guide_face import Numbered
from facegraphic.film.guide_net import EDGES, Panel
from facegraphic.film.guide_text import BOLD, FINE, PLAIN, Hand, broken, figure, line, rounded
from facegraphic.film.marks import BLACK
from facegraphic.geometry.path import Box
from facegraphic.geometry.shapes import bar
from facegraphic.lettering.text import Align
from facegraphic.scene.scene import Fill
from facegraphic.stock.drilling import Drilled, System, drilled, wants_step_drill

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
FIGURES: dict[str, float] = {
    "x": 14.0,
    "y": 14.0,
    "d": 14.0,
    "pilot": 20.0,
    "mm": 12.0,
    "over-mm": 12.0,
    "in": 14.5,
    "over-in": 12.5,
}
WORDS: dict[str, float] = {"no": 6.0, "id": 3.0, "side": 13.0, "part": 2.4}  # id and part: shares of what is left
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
    """Where columns stand in a page of some width."""

    width: float

    @property
    def spans(self) -> dict[str, tuple[float, float]]:
        """Left and right of each column, from the page's left edge."""
        if self.width >= WIDE:
            return _run([*WORDS, *FIGURES], self.width)
        return {**_run(list(WORDS), self.width), **_run(list(FIGURES), self.width)}

    def rows(self, own: Panel, holes: Sequence[Numbered]) -> Iterator[list[Row]]:
        """What belongs together: the side's heading, then each hole."""
        x, y = EDGES[own.side]
        words = f"{own.side.upper()}: x from the {x}, y from the {y}"
        yield [Row({"all": broken(words, BOLD, self.width)}, BOLD, keep=True)]
        for numbered in holes:
            yield self._hole(own, numbered)

    def heads(self) -> list[Row]:
        words = {key: HEADS[key].split("\n") for key in WORDS}
        figures = {key: HEADS[key].split("\n") for key in FIGURES}
        if self.width >= WIDE:
            return [Row({**words, **figures}, FINE, ruled=True)]
        return [Row(words, FINE), Row(figures, FINE, ruled=True)]

    def _hole(self, own: Panel, numbered: Numbered) -> list[Row]:
        hole = numbered.placed.hole
        spans = self.spans
        x, y = own.measured((hole.x, hole.y))
        metric, inch = drilled(hole.d, "mm"), drilled(hole.d, "in")
        words: dict[str, list[str]] = {
            "no": [str(numbered.number)],
            "id": self._broken(hole.id, spans["id"]),
            "side": [own.side],
            "part": self._broken(numbered.placed.part or "", spans["part"]),
        }
        figures: dict[str, list[str]] = {
            "x": [f"{rounded(x):.2f}"],
            "y": [f"{rounded(y):.2f}"],
            "d": [f"{rounded(hole.d):.2f}" + ("*" if wants_step_drill(hole.d) else "")],
            "pilot": [_pilot(metric, inch)],
            **_final(metric, "mm"),
            **_final(inch, "in"),
        }
        if self.width >= WIDE:
            return [Row({**words, **figures}, PLAIN)]
        return [Row(words, PLAIN, keep=True), Row(figures, PLAIN)]

    def _broken(self, text: str, span: tuple[float, float]) -> list[str]:
        return broken(text, PLAIN, span[1] - span[0] - 2)

    def draw(self, row: Row, area: Box, top: float) -> list[Fill]:
        """A row whose upper edge is at `top`."""
        fills = []
        for key, lines in row.cells.items():
            left, right = (0.0, self.width) if key == "all" else self.spans[key]
            align: Align = "right" if key in RIGHT else "left"
            x = area.x0 + (right - 1.5 if key in RIGHT else left)
            for number, text in enumerate(lines):
                y = top - row.hand.cap / 2 - number * row.hand.step
                hand = replace(row.hand, cut=BOLD.cut) if key in FINAL and row.hand == PLAIN else row.hand
                fills.append(line(text, hand, (x, y), align))
        if row.ruled:
            y = top - row.height + 0.7
            fills.append(Fill(bar((area.x0, y), (area.x0 + self.width, y), RULE), BLACK))
        return fills


def _run(keys: Sequence[str], width: float) -> dict[str, tuple[float, float]]:
    """Columns side by side: id and part share what the others leave, or all are spread where neither is among them."""
    wants = {**WORDS, **FIGURES}
    shared = [key for key in keys if key in ("id", "part")]
    left = width - sum(wants[key] for key in keys if key not in shared)
    if not shared:
        factor = width / (width - left)
        wants = {key: wants[key] * factor for key in keys}
    spans, x = {}, 0.0
    for key in keys:
        own = left * wants[key] / sum(wants[k] for k in shared) if key in shared else wants[key]
        spans[key] = (x, x + own)
        x += own
    return spans


def _pilot(metric: Drilled, inch: Drilled) -> str:
    """The pilots of both systems, or a dash for a hole that needs none."""
    if metric.pilot is None or inch.pilot is None:
        return "–"
    return f"{_name(metric.pilot.name)}, {_name(inch.pilot.name)}"


def _final(found: Drilled, system: System) -> dict[str, list[str]]:
    """The bit by name without its unit, and how much larger than the hole it is."""
    if found.final is None:
        return {system: ["–"], f"over-{system}": ["–"]}
    over = figure(found.over)
    signed = over if over.startswith("-") or over == "0" else f"+{over}"
    return {system: [_name(found.final.name)], f"over-{system}": [signed.replace("-", "−")]}


def _name(bit: str) -> str:
    return bit.rsplit(" ", 1)[0]
