"""Read the faces of a job: first every face's holes, which may settle how the box lies, then what stands on them."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, get_args

from facegraphic.drill.fit import Spot
from facegraphic.drill.model import Asked, Reading
from facegraphic.errors import Problem, nearest
from facegraphic.geometry.path import Box, Point
from facegraphic.job import art_work
from facegraphic.job.controls import Setting, read_control, read_frame, read_line, read_text
from facegraphic.job.files import Files
from facegraphic.job.finish import read_screen
from facegraphic.job.measured import as_measured, read_measured
from facegraphic.job.model import Art, Control, Face, Finish, Fit, Hole
from facegraphic.job.reader import REQUIRED, Table, shown
from facegraphic.stock.faces import SIDES, Outline, Side, face_outline
from facegraphic.stock.limits import limit
from facegraphic.stock.tables import BoxSize
from facegraphic.units import parse_length

ORIGINS = ("centre", "lower-left", "upper-left", "middle-of-holes")
UNITS = ("mm", "cm", "in", "mil")
LARGEST_HOLE = float(limit("hole-width"))
MOST_AUTOMATIC = limit("automatic-texts")
MOST_FACES_HOLES = limit("faces-holes")


@dataclass(frozen=True)
class Faces:
    """The faces, and how wide and deep the box lies before its user."""

    faces: tuple[Face, ...]
    across: float
    deep: float


@dataclass(frozen=True)
class _RawHole:
    id: str
    x: float
    y: float
    d: float
    report: Callable[[str, str], None]
    down: bool


@dataclass(frozen=True)
class _Draft:
    """A face with its holes as the file has them, before it is known how the box lies."""

    table: Table
    side: Side
    origin: str | Point  # a point: the face's centre among the figures, y up
    down: bool
    holes: tuple[_RawHole, ...]
    holes_known: bool
    told: tuple[Problem, ...]
    measured: tuple[Spot, ...] | None = None
    free: bool = False
    amid: bool = False  # the origin is the middle of the holes, wherever their file's own zero is

    def at(self, outline: Outline, x: float, y: float) -> Point:
        """Figures of the job's own positions to millimetres round the face centre.

        They count as hole figures do; but from the face's centre where that is laid on the middle of the holes, whose
        place among a file's figures nobody knows by heart.
        """
        return (x, -y if self.down else y) if self.amid else self.place(outline, x, y)

    def place(self, outline: Outline, x: float, y: float, down: bool | None = None) -> Point:
        """File figures to millimetres round the face centre, x right and y up."""
        width, height = outline.size
        if self.down if down is None else down:
            y = -y
        if isinstance(self.origin, tuple):
            return (x - self.origin[0], y - self.origin[1])
        if self.origin == "lower-left":
            return (x - width / 2, y - height / 2)
        if self.origin == "upper-left":
            return (x - width / 2, height / 2 + y)
        return (x, y)

    def outside(self, outline: Outline) -> float:
        """How badly its holes miss a face: 1 for each whose middle is outside, a half where only the rim is."""
        return sum(_missed(outline, self.place(outline, hole.x, hole.y, hole.down), hole.d / 2) for hole in self.holes)


def _missed(outline: Outline, at: Point, radius: float) -> float:
    rim = [(at[0] + x * radius, at[1] + y * radius) for x in (-1, 1) for y in (-1, 1)]
    return 1.0 if not _inside(outline, at) else 0.0 if all(_inside(outline, point) for point in rim) else 0.5


def _inside(outline: Outline, at: Point) -> bool:
    """Whether a point lies on a face, its rounded corners aside."""
    x, y = at
    half = outline.height / 2
    if abs(y) > half:
        return False
    share = (y + half) / outline.height
    return abs(x) <= (outline.bottom + (outline.top - outline.bottom) * share) / 2


def read_faces(root: Table, box: BoxSize, finish: Finish, files: Files, fields: Mapping[str, str]) -> Faces:
    """Read [[face]] tables; problems go to the tables' notes."""
    drafts = [_draft(table, files) for table in root.tables("face", limit("faces"))]
    if not drafts:
        root.notes.add((), "the job has no face", 'add [[face]] with side = "top" and its holes')
    seen: set[str] = set()
    for draft in drafts:
        if draft.side in seen:
            draft.table.problem("side", f"{shown(draft.side)} is there twice", "put all of a side into one [[face]]")
        seen.add(draft.side)
    across, deep = _lie(root, box, drafts)
    faces = tuple(_face(draft, face_outline(box, draft.side, across, deep), finish, files, fields) for draft in drafts)
    for place, what, mend in art_work.faults(faces, finish):
        root.notes.add(place, what, mend)
    return Faces(faces, across, deep)


def _lie(root: Table, box: BoxSize, drafts: list[_Draft]) -> tuple[float, float]:
    """How the box lies: as asked, else the way round that leaves fewer holes outside their faces."""
    long, short = box.size[0], box.size[1]
    asked = root.data.get("box", {})
    asked = asked.get("orientation", "auto") if isinstance(asked, dict) else "auto"
    ways = {
        "landscape": (max(long, short), min(long, short)),
        "portrait": (min(long, short), max(long, short)),
    }
    if isinstance(asked, str) and asked in ways:
        return ways[asked]

    def outside(way: tuple[float, float]) -> float:
        return sum(draft.outside(face_outline(box, draft.side, *way)) for draft in drafts)

    return min(((long, short), (short, long)), key=outside)


def _draft(table: Table, files: Files) -> _Draft:
    side: Any = table.choice("side", REQUIRED, SIDES) or "top"
    unit = table.choice("units", "mm", UNITS)
    centre: str | Point = "centre"
    origin = table.value("origin", centre, lambda value: _origin(value, unit))
    down_default = "down" if origin == "upper-left" else "up"
    down = table.choice("y", down_default, ("up", "down")) == "down"
    holes: list[_RawHole] = []
    before = len(table.notes.problems)
    reading = _drilled(table, files, unit if table.has("units") else None)
    if reading is not None:
        holes += _file_holes(table, reading, origin, down)
    for entry in table.tables("hole"):
        holes += _inline_hole(entry, unit, down)
    if isinstance(origin, tuple) and down and not (reading and reading.page):
        origin = (origin[0], -origin[1])
    amid = origin == "middle-of-holes"
    if amid:
        origin = _middle(holes)
    measured = read_measured(table, files)
    free = table.choice("measured_from", "outline", ("outline", "holes")) == "holes"
    known = len(table.notes.problems) == before
    told = reading.notes if reading else ()
    return _Draft(table, side, origin, down, _sound(table, holes), known, told, measured, free, amid)


def _origin(value: Any, unit: str) -> str | Point:
    if isinstance(value, list) and len(value) == 2:
        x, y = (parse_length(item, unit) for item in value)
        return (x, y)
    if not isinstance(value, str) or value not in ORIGINS:
        raise ValueError(f"{nearest(str(value), ORIGINS)}; or [x, y], where the face's centre lies among the figures")
    return value


def _drilled(table: Table, files: Files, units: str | None) -> Reading | None:
    """What the face's drill file holds; None without one."""
    every: tuple[str, ...] = ()
    layers = table.value("layer", every, _layers)
    if not table.has("drill"):
        if layers:
            table.problem("layer", "there is no drill file to have layers", "add drill = ..., or take layer out")
        return None
    name = table.text("drill")
    return files.holes(table, "drill", name, Asked(units, layers)) if name else None


def _layers(value: Any) -> tuple[str, ...]:
    names = value if isinstance(value, list) else [value]
    if not names or not all(isinstance(name, str) and name for name in names):
        raise ValueError('a layer is a text, as in "DRILL", or a list of texts')
    return tuple(names)


def _file_holes(table: Table, reading: Reading, origin: str | Point, down: bool) -> list[_RawHole]:
    """A file's holes. A drawing with a page knows its own up; `origin` lays that point of it on the face's."""
    file = table.text("drill")
    shift = (0.0, 0.0)
    if reading.page is not None:
        width, height = reading.page
        shift = {"centre": (width / 2, height / 2), "upper-left": (0.0, height)}.get(str(origin), shift)
        down = False
    return [
        _RawHole(row.id, row.x - shift[0], row.y - shift[1], row.d, _at_row(table, file, row.line), down)
        for row in reading.holes
    ]


def _middle(holes: list[_RawHole]) -> Point:
    """The middle of the smallest upright box that holds the holes' centres, y up."""
    xs = [hole.x for hole in holes if math.isfinite(hole.x)] or [0.0]
    ys = [-hole.y if hole.down else hole.y for hole in holes if math.isfinite(hole.y)] or [0.0]
    return ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)


def _at_row(table: Table, file: str, line: int | None) -> Callable[[str, str], None]:
    return lambda what, mend: table.notes.problems.append(Problem(what, mend, file, line))


def _inline_hole(entry: Table, unit: str, down: bool) -> list[_RawHole]:
    id: Any = entry.value("id", REQUIRED, _hole_id)
    at: Any = entry.lengths("at", 2, REQUIRED, unit)
    d: Any = entry.value("d", REQUIRED, lambda value: parse_length(value, unit))
    entry.close()
    if id is None or at is None or d is None:
        return []
    return [_RawHole(id, at[0], at[1], d, lambda what, mend: entry.notes.add(entry.path, what, mend), down)]


def _hole_id(value: Any) -> str:
    if isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if not isinstance(value, str) or not value.strip() or len(value) > 60:
        raise ValueError('an id is a short text, as in "rate"')
    return value.strip()


def _sound(table: Table, holes: list[_RawHole]) -> tuple[_RawHole, ...]:
    """The holes whose id and size can stand, each complaint at its own place."""
    seen: set[str] = set()
    good = []
    if len(holes) > MOST_FACES_HOLES:
        table.notes.add(table.path, f"{len(holes)} holes on one face", f"at most {MOST_FACES_HOLES} are laid out")
        return ()
    for hole in holes:
        if not hole.id:
            hole.report("a hole without an id", "name every hole, so that a control can be put in it")
        elif hole.id in seen:
            hole.report(f'two holes have the id "{hole.id}"', "give each hole of a face its own id")
        elif not 0.2 <= hole.d <= LARGEST_HOLE:
            hole.report(
                f"hole {hole.id} has a diameter of {hole.d:g} mm",
                f"it must lie between 0.2 and {LARGEST_HOLE:g} mm",
            )
        elif not (math.isfinite(hole.x) and math.isfinite(hole.y)):
            hole.report(f"hole {hole.id} has no finite position", "write its position in mm")
        else:
            good.append(hole)
        seen.add(hole.id)
    return tuple(good)


def _face(draft: _Draft, outline: Outline, finish: Finish, files: Files, fields: Mapping[str, str]) -> Face:
    table = draft.table
    holes = []
    for raw in draft.holes:
        x, y = draft.place(outline, raw.x, raw.y, raw.down)
        if not _inside(outline, (x, y)):
            width, height = outline.size
            mend = f"the {draft.side} face is {width:.1f} × {height:.1f} mm; check the position, origin and units"
            raw.report(f"hole {raw.id} stands outside the face, at {x:g}, {y:g} mm from its centre", mend)
        holes.append(Hole(raw.id, x, y, raw.d))
    holes, fit = as_measured(table, holes, draft.measured, draft.free)
    try:
        outline.grown(-finish.margin)
    except ValueError:
        width, height = outline.size
        what = f"a margin of {finish.margin:g} mm leaves nothing of the {draft.side} face"
        table.problem("side", what, f"the face is {width:.1f} × {height:.1f} mm: make [finish] margin smaller")
    setting = Setting(
        finish, {**fields, "side": draft.side}, lambda point: draft.at(outline, *point), draft.holes_known
    )
    ids = [hole.id for hole in holes]
    face = Face(
        side=draft.side,
        outline=outline,
        holes=tuple(holes),
        controls=_controls(table, holes, setting),
        frames=tuple(
            filter(None, (read_frame(entry, ids, setting) for entry in table.tables("frame", limit("frames"))))
        ),
        lines=tuple(filter(None, (read_line(entry, setting) for entry in table.tables("line", limit("lines"))))),
        texts=tuple(read_text(entry, setting, files) for entry in table.tables("text", limit("texts"))),
        arts=tuple(filter(None, (_art(entry, setting, files) for entry in table.tables("art", limit("arts"))))),
        ground=table.ground("ground", finish.ground) if finish.film.bits > 1 else finish.ground,
        told=draft.told,
        fit=fit,
    )
    _check_counts(table, face)
    table.close()
    return face


def _check_counts(table: Table, face: Face) -> None:
    """What would take the layout time without end."""
    automatic = sum(text.at is None for text in face.texts)
    if automatic > MOST_AUTOMATIC:
        mend = f"{MOST_AUTOMATIC} texts at most find their own room; give the others at = [x, y]"
        table.problem("text", f'{automatic} texts with at = "auto"', mend)


def _controls(table: Table, holes: list[Hole], setting: Setting) -> tuple[Control, ...]:
    """The face's controls, at most one in a hole."""
    by_hole: dict[str, Control] = {}
    for entry in table.tables("control", limit("controls")):
        control = read_control(entry, holes, setting)
        if control is None:
            continue
        if control.hole in by_hole:
            what = f"hole {shown(control.hole)} has a control already, at {by_hole[control.hole].key}"
            entry.problem("hole", what, "keep one of them")
        by_hole.setdefault(control.hole, control)
    return tuple(by_hole.values())


def _art(entry: Table, setting: Setting, files: Files) -> Art | None:
    """An art fills the face and its bleed, or a region of its own when it has a size or a place."""
    name = entry.text("file", REQUIRED)
    size = entry.lengths("size", 2, low=0.1)
    point = entry.lengths("at", 2)
    fit = entry.choice("fit", "contain" if size else "cover", get_args(Fit))
    opacity = entry.number("opacity", 1.0, 0.0, 1.0)
    angle = entry.number("angle", 0.0, -360.0, 360.0, "degrees")
    tile = entry.length("tile", 0.0, high=1000.0)
    screen = read_screen(entry, setting.finish)
    image = files.art(entry, "file", name) if name else None
    entry.close()
    if image is None:
        return None
    region = None
    if size or point:
        width, height = size or image.size
        region = Box.centred(width, height, setting.at(point) if point else (0.0, 0.0))
    return Art(name, image, fit, opacity, region, tile or image.size[0], angle, screen)
