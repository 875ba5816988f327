"""Read what stands on a face: controls, frames, section lines and free text."""

import math
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, get_args

from facegraphic.errors import nearest
from facegraphic.geometry.path import Point
from facegraphic.job.fields import fill
from facegraphic.job.files import Files
from facegraphic.job.model import (
    ARCS,
    PLACES,
    Control,
    Finish,
    Frame,
    FreeText,
    Hole,
    Line,
    Numerals,
    Scale,
    ScaleStyle,
)
from facegraphic.job.reader import LONGEST_LABEL, REQUIRED, Table, finite, key_text, read_clear, shown
from facegraphic.lettering.font import Font
from facegraphic.lettering.library import symbols
from facegraphic.stock.limits import limit
from facegraphic.stock.tables import Knob, Part, knobs, parts
from facegraphic.units import format_number

REACH_MM = 5.0
MOST_MARKS = limit("scale-marks")
HIGHEST_LABEL, HIGHEST_TEXT = float(limit("label-height")), float(limit("text-height"))
LONGEST_TEXT = limit("text-length")
SHORTEST_LINE_MM = 1.0


@dataclass(frozen=True)
class Setting:
    """What texts of a face are read with: the finish's font and sizes, and the fields texts may use."""

    finish: Finish
    fields: Mapping[str, str]
    at: Callable[[Point], Point]
    holes_known: bool = True  # a drill file that could not be read is told once, not at every control

    def fill(self, table: Table, key: str, text: str, font: Font | None = None) -> str:
        """A text with its job fields put in; unknown fields and characters without a glyph are problems."""
        try:
            text = fill(text, {**symbols(), **self.fields})
        except KeyError as error:
            table.problem(
                key,
                f"no field or symbol is called {{{error.args[0]}}}",
                nearest(error.args[0], {*symbols(), *self.fields}),
            )
        except ValueError as error:
            table.problem(key, str(error), "write {{ and }} for braces that are meant")
        if len(text) > LONGEST_TEXT:
            what = f"the text is {len(text)} characters long with its fields filled in"
            table.problem(key, what, f"at most {LONGEST_TEXT} fit")
            text = text[:LONGEST_TEXT]
        # Composed characters have glyphs of their own; a letter with its accent apart reads the same.
        text = unicodedata.normalize("NFC", text)
        font = font or self.finish.font
        if any(_mixes_directions(line) for line in text.split("\n")):
            mend = "put each into a line or a text of its own"
            table.problem(key, f"{shown(text)} mixes writing to the right and to the left in one line", mend)
        if missing := font.missing(text):
            names = ", ".join(f'"{c}" (U+{ord(c):04X} {unicodedata.name(c, "unnamed")})' for c in missing[:8])
            mend = "choose another font for it, or other characters"
            table.problem(key, f"the font {font.name} has no glyph for {names}, wanted in {shown(text)}", mend)
        return text


def _mixes_directions(line: str) -> bool:
    """Whether letters written to the right and to the left stand in one line (Unicode bidirectional classes)."""
    classes = {unicodedata.bidirectional(c) for c in line}
    return "L" in classes and bool(classes & {"R", "AL"})


def read_control(table: Table, holes: Sequence[Hole], setting: Setting) -> Control | None:
    """Read one [[face.control]]; None when it has no hole to sit in."""
    hole = _hole(table, holes, setting)
    part = _named(table, "part", parts())
    knob = _knob(table, part)
    label = setting.fill(table, "label", table.text("label", "", most=LONGEST_LABEL)).strip()
    control = Control(
        hole=hole or "",
        key=key_text(table.path),
        part=part,
        knob=knob,
        label=label,
        place=table.choice("place", "auto", PLACES),
        positions=tuple(setting.fill(table, "positions", text).strip() for text in table.texts("positions")),
        lever=table.choice("lever", "upright", ("upright", "sideways")),
        scale=_scale(table.table("scale"), part, setting, "part" in table.data and part is None)
        if table.has("scale")
        else None,
        cap=table.length("height", setting.finish.cap, low=0.5, high=HIGHEST_LABEL),
        nudge=table.lengths("nudge", 2, (0.0, 0.0)),
        bearing=table.number("bearing", 0.0, -360.0, 360.0, "degrees") if table.has("bearing") else None,
        clear=read_clear(table, setting.finish.clear),
        turn=table.number("turn", 0.0, -360.0, 360.0, "degrees"),
    )
    if control.bearing is not None and control.place not in ARCS:
        mend = 'it is for place = "around" or "under"'
        table.problem("bearing", f"a bearing says nothing with place = {shown(control.place)}", mend)
    _check_positions(table, part, control.positions)
    table.close()
    return control if hole else None


def _hole(table: Table, holes: Sequence[Hole], setting: Setting) -> str | None:
    """The hole a control sits in: by its id, or the nearest one within reach of a position."""
    if table.has("hole"):
        id = table.data["hole"]
        id = str(id) if isinstance(id, int) and not isinstance(id, bool) else id
        ids = [hole.id for hole in holes]
        if id in ids:
            return str(id)
        table.has("at")
        if setting.holes_known:
            table.problem("hole", f"no hole of this face has the id {shown(id)}", nearest(str(id), ids))
        return None
    point = table.lengths("at", 2)
    if point is None:
        if not table.has("at"):
            table.notes.add(table.path, "the control has no hole", 'add hole = "..." or at = [x, y]')
        return None
    x, y = setting.at(point)
    near = min(holes, key=lambda hole: math.dist((hole.x, hole.y), (x, y)), default=None)
    if not setting.holes_known:
        return None
    if near is None or math.dist((near.x, near.y), (x, y)) > REACH_MM:
        mend = "check the position, or name the hole"
        if near is not None:
            away = math.dist((near.x, near.y), (x, y))
            mend = f'the nearest, "{near.id}", is {away:.1f} mm away, at {_own_figures(near, setting)}: {mend}'
        table.problem("at", f"no hole lies within {REACH_MM:g} mm of {point[0]:g}, {point[1]:g}", mend)
        return None
    return near.id


def _own_figures(hole: Hole, setting: Setting) -> str:
    """Where a hole lies, in the figures that the job's own positions count in: these move and turn over, no more."""
    (x0, y0), (x1, y1) = setting.at((0.0, 0.0)), setting.at((1.0, 1.0))
    x, y = (hole.x - x0) / (x1 - x0), (hole.y - y0) / (y1 - y0)
    return f"{format_number(x, 2)}, {format_number(y, 2)}"


def _named(table: Table, key: str, known: Mapping[str, Part]) -> Part | None:
    if not table.has(key):
        return None
    name = table.choice(key, "", tuple(known))
    return known.get(name)


def _knob(table: Table, part: Part | None) -> Knob | None:
    """The knob asked for, or the one usual on the part; "none" leaves the shaft bare."""
    usual = part.knob if part and part.knob else "none"
    name = table.choice("knob", usual, (*knobs(), "none"))
    return knobs().get(name)


def _check_positions(table: Table, part: Part | None, positions: tuple[str, ...]) -> None:
    if not positions or (part is None and "part" in table.data):
        return
    if part is None or not (part.throws or part.step):
        what = f"{part.name} has no positions" if part else "positions without a part"
        table.problem("positions", what, "positions go with a toggle or a rotary switch; name it as part")
    elif part.throws and len(positions) != part.throws:
        mend = f"{part.name} has {part.throws} throws; give one text for each, the first for lever up or left"
        table.problem("positions", f"{len(positions)} texts for {part.throws} throws", mend)
    elif not part.throws and len(positions) > part.detents:
        table.problem("positions", f"{len(positions)} texts", f"{part.name} has {part.detents} positions")
    if table.has("scale"):
        table.problem("positions", "both positions and a scale are given", "keep one of them")


def _scale(table: Table, part: Part | None, setting: Setting, part_unknown: bool) -> Scale | None:
    """Read a scale: from, to and step, or listed values, or words; the README shows each."""
    if not part_unknown and (part is None or not part.turns):
        what = f"{part.name} does not turn" if part else "a scale without a part"
        table.notes.add(table.path, what, 'a scale needs a turning part, as in part = "pot-16"')
    given = [keys for keys in (("words",), ("values",), ("from", "to", "step")) if any(map(table.has, keys))]
    if len(given) > 1:
        mend = "keep one of words, values, and from with to and step"
        table.notes.add(table.path, f"both {given[0][0]} and {given[1][0]} are given", mend)
    words = tuple(setting.fill(table, "words", word).strip() for word in table.texts("words"))
    if table.has("words") and isinstance(table.data["words"], list) and not any(words):
        table.problem("words", "there is no word in it", "give one for each mark, or leave words out")
        return None
    figures = _figures(table)
    if part and part.endless and not words:
        table.notes.add(
            table.path,
            f"{part.name} turns round and round, so figures have no ends to stand between",
            "give it words instead",
        )
        return None
    if part and part.detents and len(words) > part.detents:
        table.problem("words", f"{len(words)} words", f"{part.name} has {part.detents} positions")
    listed = table.value("values", None, _values)
    scale = Scale(
        figures=listed or figures or (),
        words=words,
        numerals=table.value("numerals", "upright", _numerals),
        style=table.choice("style", "lines", get_args(ScaleStyle)),
        detent=table.value("detent", None, lambda value: finite(value)),
    )
    table.close()
    if words and scale.numerals == "none":
        table.problem("numerals", "words are there to be read", "leave numerals out, or the words")
    if words and len(words) < 2:
        table.problem("words", "one word makes no scale", "give at least two")
        return None
    if not words and not scale.figures:
        return None
    if scale.detent is not None and (words or not 0 < scale.share(scale.detent) < 1):
        mend = f"it must lie between {scale.figures[0]:g} and {scale.figures[-1]:g}" if not words else "words have none"
        table.problem("detent", f"{scale.detent:g} is not on the scale", mend)
    return scale


def _figures(table: Table) -> tuple[float, ...] | None:
    """The figures that from, to and step make; None, and a problem, when they make no scale."""
    start = table.number("from", 0.0, -1e6, 1e6)
    stop = table.number("to", 10.0, -1e6, 1e6)
    step = math.copysign(table.number("step", 1.0, 1e-6, 1e6), stop - start)
    steps = (stop - start) / step
    if steps < 1 or abs(steps - round(steps)) > 1e-6 or steps > MOST_MARKS - 1:
        mend = f"to must lie 1 to {MOST_MARKS - 1} whole steps from it; a scale that falls has to below from"
        table.notes.add(table.path, f"from {start:g} to {stop:g} by {step:g} makes no scale", mend)
        return None
    return tuple(start + i * step for i in range(round(steps) + 1))


def _values(value: Any) -> tuple[float, ...]:
    if not isinstance(value, list) or not 2 <= len(value) <= MOST_MARKS:
        raise ValueError(f"a list of 2 to {MOST_MARKS} figures is wanted, as in [0, 2, 5, 10]")
    figures = tuple(finite(item) for item in value)
    rising = figures[-1] > figures[0]
    if any((b > a) != rising or a == b for a, b in pairwise(figures)):
        raise ValueError("the figures must rise, or fall, from each to the next")
    return figures


def _numerals(value: Any) -> Numerals:
    """true or "upright", "radial", false or "none"."""
    known: dict[Any, Numerals] = {
        True: "upright",
        False: "none",
        "upright": "upright",
        "radial": "radial",
        "none": "none",
    }
    if isinstance(value, bool | str) and value in known:
        return known[value]
    raise ValueError('it is true, false, "upright" or "radial"')


def read_frame(table: Table, ids: Sequence[str], setting: Setting) -> Frame | None:
    holes = table.texts("holes")
    for id in holes:
        if id not in ids and setting.holes_known:
            table.problem("holes", f"no hole of this face has the id {shown(id)}", nearest(id, ids))
    if not holes:
        table.notes.add(table.path, "the frame has no holes", 'add holes = ["rate", "depth"]')
    label = setting.fill(table, "label", table.text("label", "", most=LONGEST_LABEL))
    cap = table.length("height", setting.finish.cap, low=0.5, high=HIGHEST_LABEL)
    table.close()
    return Frame(holes, label, cap) if holes else None


def read_line(table: Table, setting: Setting) -> Line | None:
    """Read one [[face.line]]; None when it has no two ends."""
    finish = setting.finish
    start, end = (table.lengths(key, 2, REQUIRED) for key in ("from", "to"))
    label = setting.fill(table, "label", table.text("label", "", most=LONGEST_LABEL)).strip()
    width = table.length("width", max(0.3, finish.least_line), low=0.05, high=20.0)
    cap = table.length("height", finish.cap, low=0.5, high=HIGHEST_LABEL)
    table.close()
    if start is None or end is None:
        return None
    long = math.dist(start, end)
    if long < SHORTEST_LINE_MM:
        what = f"the line from {_place(start)} to {_place(end)} is only {long:g} mm long"
        table.problem("to", what, f"give it two ends at least {SHORTEST_LINE_MM:g} mm apart")
        return None
    return Line(setting.at(start), setting.at(end), width, label, cap)


def _place(at: Point) -> str:
    return f"[{at[0]:g}, {at[1]:g}]"


def read_text(table: Table, setting: Setting, files: Files) -> FreeText:
    """Read one [[face.text]]."""
    finish = setting.finish
    font = files.named_font(table, "font")
    auto = table.has("at") and table.data["at"] == "auto"
    point = None if auto else table.lengths("at", 2)
    ink = table.colour("ink", finish.ink)
    read = FreeText(
        text=setting.fill(table, "text", table.text("text", REQUIRED) or "", font),
        at=setting.at(point) if point else None,
        cap=table.length("height", 1.5 * finish.cap, low=0.5, high=HIGHEST_TEXT),
        angle=table.number("angle", 0.0, -360.0, 360.0, "degrees"),
        tracking=table.length("tracking", 0.0, low=-5.0, high=50.0),
        align=table.choice("align", "centre", ("left", "centre", "right")),
        ink=finish.ink if finish.film.bits == 1 else ink,
        font=font,
    )
    table.close()
    return read
