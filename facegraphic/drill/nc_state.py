"""Where a drilling machine stands while a part program runs: position, tool, mode; and what it leaves behind."""

from collections import Counter
from dataclasses import dataclass, field

from facegraphic.drill.model import (
    LARGEST_MM,
    MOST_HOLES,
    RIGHT_FILE,
    DrillHole,
    LeftOut,
    Slot,
    Unreadable,
    far,
    too_many_holes,
)
from facegraphic.drill.nc_words import Figures, Word
from facegraphic.errors import Problem
from facegraphic.geometry.path import Point
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

MOST_PROBLEMS = 20
LARGEST_TOOL = float(limit("hole-width"))
MOST_TOOLS = limit("drill-tools")
CUTTING = (1, 2, 3)


@dataclass(frozen=True)
class Tool:
    """A tool's diameter in mm (None: not said), where that stands, and the plating of its holes."""

    d: float | None
    line: int
    layer: str = ""


@dataclass
class State:
    """A machine at work; the one mutable thing in this room, made anew for each file."""

    file: str
    figures: Figures
    line: int = 0
    header: bool = False
    body: bool = False  # the head has had its end (% or M95)
    head_seen: bool = False
    named: tuple[str, int] | None = None  # the unit that this head names, and on which line
    ended: bool = False
    skip_text: bool = False
    incremental: bool = False
    routing: bool = False
    motion: int = 0
    down: bool | None = None  # the router's cutter; None: the file hasn't said
    tool: int | None = None
    layer: str = ""
    at: Point = (0.0, 0.0)
    zero: Point = (0.0, 0.0)
    tools: dict[int, Tool] = field(default_factory=dict)
    counts: Counter[int] = field(default_factory=Counter)
    holes: list[DrillHole] = field(default_factory=list)
    slots: list[Slot] = field(default_factory=list)
    notes: list[Problem] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    listed: list[int] = field(default_factory=list)  # tools that comments list, until one is chosen by a T
    turn: int = 0
    paused: int = 0
    told: set[object] = field(default_factory=set)
    unplaced: list[int] = field(default_factory=list)  # lines without a point whose zeros nothing tells of
    long: list[int] = field(default_factory=list)  # lines with more digits than their form has

    def problem(self, what: str, mend: str, once: object = None) -> None:
        if once is None or once not in self.told:
            self.told.add(once)
            self.problems.append(Problem(what, mend, self.file, self.line))

    def note(self, what: str, mend: str = "", once: object = None, lost: bool = False) -> None:
        """Tell something; `lost` if it may have been a hole."""
        if once is None or once not in self.told:
            self.told.add(once)
            self.notes.append((LeftOut if lost else Problem)(what, mend, self.file, self.line))

    def begin_head(self) -> None:
        """M48: what follows, up to % or M95, is a head of its own."""
        if self.head_seen:
            self.named = None
        self.header = self.head_seen = True

    def set_unit(self, figures: Figures) -> None:
        """Take a unit for what follows. A change on the way is told; a head that names two units is refused."""
        unit = figures.unit or "mm"
        if self.header or not (self.body or self.holes or self.slots):
            if self.named and self.named[0] != unit:
                names = {"in": "inches", "mm": "mm"}
                what = f"the head says {names[unit]} here, and {names[self.named[0]]} on line {self.named[1]}"
                self.problem(what, "leave the one that is right: sizes and positions hang on it")
            self.named = self.named or (unit, self.line)
        if figures.unit != self.figures.unit:
            what = f"from here on the file counts in {figures.unit}, no longer in {self.figures.unit}"
            self.note(what, "see that the positions printed are the ones you expect")
        self.figures = figures

    def figure(self, word: Word) -> float:
        """A coordinate in mm; 0 with a problem for what is none."""
        text = word.number
        if text and "." not in text:
            digits = len(text.lstrip("+-"))
            if self.figures.kept is None:
                self.unplaced.append(self.line)
            if self.figures.zeros == "trailing" and digits > sum(self.figures.shape):
                self.long.append(self.line)
        try:
            if not text:
                raise ValueError("no number")
            value = self.figures.in_mm(text)
        except ValueError as error:
            self.problem(f"{word.letter} has {error}", "write it as in X1.25")
            return 0.0
        if abs(value) > LARGEST_MM:
            self.problem(f"{word.letter}{text} lies {far(value)} mm out", "check units and digits of the file's head")
            return 0.0
        return value

    def target(self, words: list[Word], start: Point) -> Point:
        """Where X and Y words lead from a place; what isn't named stays."""
        x, y = start
        for word in words:
            if word.letter == "X":
                x = self.figure(word) + (start[0] if self.incremental else self.zero[0])
            elif word.letter == "Y":
                y = self.figure(word) + (start[1] if self.incremental else self.zero[1])
        return x, y

    def current(self) -> Tool | None:
        """The tool in the spindle, if it has a size; else None, which is a problem of the file."""
        if self.tool is None and self.turn < len(self.listed):
            self.tool = self.listed[self.turn]
            mend = "compare the sizes with the list"
            self.note("no tool is chosen; they are taken in the order listed, one after each M00", mend, "listed")
        number = self.tool
        if number is None:
            sized = [number for number, tool in self.tools.items() if tool.d and number]
            if len(sized) != 1:
                mend = "write the tool before its holes, as in T1, and its size in the head, as in T1C0.8"
                self.problem("a hole without a tool", mend, "no tool")
                return None
            self.tool = number = sized[0]
            self.note(f"no tool is chosen; its only one, T{number}, is taken", once="only tool")
        tool = self.tools.get(number)
        if tool is None or not tool.d:
            what = "T0, which has no size: that means no tool" if number == 0 else f"T{number}, which has no size"
            self.problem(f"holes under {what}", f"write its size into the head, as in T{number}C0.8", ("size", number))
            return None
        if tool.d > LARGEST_TOOL:
            mend = "sizes have a point, as in C0.035; check the file's units"
            self.problem(f"T{number} is {tool.d:g} mm across", mend, ("size", number))
            return None
        if number == 0:
            mend = "read as a tool, since it has a size; others take T0 for no tool: compare the count"
            self.note("holes under T0", mend, "T0")
        return tool

    def hit(self, at: Point) -> None:
        tool = self.current()
        if tool is None or tool.d is None or self.tool is None:
            return
        if len(self.holes) >= MOST_HOLES:
            raise too_many_holes()
        self.counts[self.tool] += 1
        id = f"T{self.tool}-{self.counts[self.tool]}"
        self.holes.append(DrillHole(id, *at, tool.d, self.line, tool.layer, f"T{self.tool}"))

    def cut(self, start: Point, end: Point, routed: bool) -> None:
        """A slot, or one move of a router."""
        tool = self.current()
        if tool is None or tool.d is None:
            return
        if len(self.slots) >= MOST_HOLES:
            raise too_many_holes()
        self.slots.append(Slot(start, end, tool.d, self.line, f"T{self.tool}", routed))

    def define(self, number: int, size: str) -> None:
        try:
            d = float(size) * MM_PER_UNIT[self.figures.unit or "mm"] if len(size) <= 15 else None
        except ValueError:
            d = None
        if d is None or d < 0:
            self.problem(f"T{number} has no sound size", f"write it as in T{number}C0.8")
            return
        if len(self.tools) >= MOST_TOOLS:
            raise Unreadable(f"more than {MOST_TOOLS} tools", RIGHT_FILE, self.line)
        before = self.tools.get(number)
        if before and before.d and abs(before.d - d) > 1e-6:
            self.note(f"T{number} changes from {before.d:g} to {d:g} mm", "see that this is meant")
        self.tools[number] = Tool(d or None, self.line, self.layer)
