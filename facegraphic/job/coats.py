"""Read the coats of paint: what is sprayed where, in spraying order. Positions count from the middle of each face."""

import math
from typing import Any, get_args

import shapely.affinity

from facegraphic.errors import nearest
from facegraphic.geometry.path import IDENTITY, Box, Path, Point
from facegraphic.geometry.shapes import bar, disc, polygon, rounded_rectangle
from facegraphic.job.files import Files
from facegraphic.job.model import Coat, CoatKind, Face, MaskKind, NamedRegion, Painted, Region
from facegraphic.job.reader import REQUIRED, Table, shown
from facegraphic.stock.faces import SIDES, Side
from facegraphic.stock.limits import limit
from facegraphic.units import parse_length

MOST_COATS = limit("coats")
MOST_SHAPES, MOST_OF_COAT = limit("job-shapes"), limit("coat-shapes")
MOST_POINTS = limit("polygon-points")
PRIMER = "#8d9093"  # grey, as most primers are
ACROSS = 4000.0  # mm: longer than any face, for bands that run right across one
SHAPES = ("band", "rectangle", "circle", "polygon")


def read_coats(root: Table, faces: tuple[Face, ...], files: Files) -> tuple[Coat, ...]:
    """Read [[coat]] tables in their order; problems go to the tables' notes."""
    tables = root.tables("coat")
    if len(tables) > MOST_COATS:
        root.problem("coat", f"{len(tables)} coats", f"at most {MOST_COATS} are planned at once")
        tables = tables[:MOST_COATS]
    shapes = sum(
        min(len(entries), MOST_OF_COAT) for table in tables if isinstance(entries := table.data.get("shape"), list)
    )
    if shapes > MOST_SHAPES:
        root.problem("coat", f"{shapes} shapes in all coats", f"at most {MOST_SHAPES} are taken; draw them as an SVG")
        return ()
    sides = tuple(face.side for face in faces)
    return tuple(_coat(table, number, sides, files) for number, table in enumerate(tables, 1))


def _coat(table: Table, number: int, sides: tuple[Side, ...], files: Files) -> Coat:
    kind: CoatKind = table.choice("kind", "paint", get_args(CoatKind))
    mask: MaskKind = table.choice("mask", "adhesive", get_args(MaskKind))
    entries = table.tables("shape", MOST_OF_COAT)
    shapes = tuple(path for entry in entries for path in _shape(entry))
    drawn = _Drawn(table, files, table.lengths("at", 2, (0.0, 0.0)), table.lengths("size", 2, low=0.1))
    bare: Region | None = None if shapes else "everything"
    where, keep = drawn.region("where", bare), drawn.region("keep", None)
    if not any(str(table.data.get(key)).lower().endswith(".svg") for key in ("where", "keep")):
        for key in ("at", "size"):
            if table.has(key):
                table.problem(key, "there is no drawing to be placed", 'it goes with where = "FILE.svg"')
    coat = Coat(
        kind=kind,
        paint=_paint(table, kind),
        sides=_sides(table, sides),
        where=where,
        keep=keep,
        shapes=shapes,
        mask=mask,
        trap=table.length("trap", 0.3, high=5.0),
        bridge=table.length("bridge", 2.0, low=0.3, high=20.0),
        overspray=table.length("overspray", 30.0, high=200.0),
        named=tuple(str(entry.data.get("shape")) for entry in entries),
        key=f"coat {number}",
    )
    table.close()
    return coat


def _paint(table: Table, kind: CoatKind) -> str | None:
    if kind == "clear":
        if table.has("paint"):
            table.problem("paint", "a clear coat has no colour", 'take paint out, or write kind = "paint"')
        return None
    if kind == "primer":
        return table.colour("paint", PRIMER)
    if not table.has("paint"):
        table.notes.add(table.path, '"paint" is missing', 'add paint = "#a8321f", or kind = "primer" or "clear"')
    return table.colour("paint", "#808080")


def _sides(table: Table, known: tuple[Side, ...]) -> tuple[Side, ...]:
    """The faces that a coat is for, in the job's order; by default all of them."""

    def read(value: Any) -> tuple[Side, ...]:
        names = value if isinstance(value, list) else [value]
        wrong = next((name for name in names if not isinstance(name, str) or name not in SIDES), None)
        if wrong is not None or not names:
            raise ValueError(f'{nearest(str(wrong or ""), SIDES)}; or a list, as in ["top", "back"]')
        missing = [name for name in names if name not in known]
        if missing:
            raise ValueError(f'the job has no {missing[0]} face: add a [[face]] with side = "{missing[0]}"')
        return tuple(side for side in known if side in names)

    return table.value("side", known, read)


class _Drawn:
    """The regions of a coat, and where drawings among them are laid."""

    def __init__(self, table: Table, files: Files, at: Point, size: tuple[float, float] | None) -> None:
        self.table, self.files, self.at, self.size = table, files, at, size

    def region(self, key: str, default: Region | None) -> Region | None:
        """What a key names: a region by its name, or what a drawing paints."""
        if not self.table.has(key):
            return default
        value = self.table.data[key]
        named: tuple[NamedRegion, ...] = get_args(NamedRegion)
        if not isinstance(value, str) or (value not in named and not value.lower().endswith(".svg")):
            mend = f"{nearest(str(value), named)}; or name an SVG file whose shapes are meant"
            self.table.problem(key, f"{shown(value)} is not known here", mend)
            return default
        name = next((name for name in named if name == value), None)
        if name is not None:
            return name
        painted = self.files.painted(self.table, key, value, self.size)
        return self._placed(painted) if painted else default

    def _placed(self, painted: Painted) -> Painted:
        """A drawing of true size, or as large as `size` holds, with its middle at `at`."""
        from facegraphic.job.painted import stretch  # takes a while to load: for jobs with drawn coats only

        factor, middle = stretch(painted.area, self.size), (0.0, 0.0)
        if self.size is not None and not painted.area.is_empty:
            x0, y0, x1, y1 = painted.area.bounds
            middle = ((x0 + x1) / 2, (y0 + y1) / 2)
        shift = (self.at[0] - factor * middle[0], self.at[1] - factor * middle[1])
        area = shapely.affinity.affine_transform(painted.area, (factor, 0, 0, factor, *shift))
        return Painted(painted.name, area, painted.notes)


def _shape(entry: Table) -> list[Path]:
    """A [[coat.shape]] as a path; none if it is not whole."""
    kind = entry.choice("shape", REQUIRED, SHAPES)
    made = (
        {"band": _band, "rectangle": _rectangle, "circle": _circle, "polygon": _polygon}[kind](entry) if kind else None
    )
    if kind:
        entry.close()
    return [made] if made else []


def _band(entry: Table) -> Path | None:
    """A straight band between two points, or right across the face through one, at an angle to the horizontal."""
    width = entry.value("width", REQUIRED, lambda value: _positive(parse_length(value)))
    if entry.has("from") or entry.has("to"):
        start, end = entry.lengths("from", 2, REQUIRED), entry.lengths("to", 2, REQUIRED)
        if start is None or end is None or width is None:
            return None
        if start == end:
            entry.problem("to", "the band begins and ends at one point", "give it two ends, or at and angle")
            return None
        return bar(start, end, width)
    at, angle = entry.lengths("at", 2, (0.0, 0.0)), entry.number("angle", 0.0, -360.0, 360.0, "degrees")
    return None if width is None else _turned(bar((-ACROSS / 2, 0.0), (ACROSS / 2, 0.0), width), at, angle)


def _rectangle(entry: Table) -> Path | None:
    at, size = entry.lengths("at", 2, (0.0, 0.0)), entry.lengths("size", 2, REQUIRED, low=0.1)
    radius, angle = entry.length("radius", 0.0), entry.number("angle", 0.0, -360.0, 360.0, "degrees")
    return None if size is None else _turned(rounded_rectangle(Box.centred(*size), radius), at, angle)


def _circle(entry: Table) -> Path | None:
    at, d = entry.lengths("at", 2, (0.0, 0.0)), entry.value("d", REQUIRED, lambda value: _positive(parse_length(value)))
    return None if d is None else disc(at, d)


def _polygon(entry: Table) -> Path | None:
    points: Any = entry.value("points", REQUIRED, _points)
    return polygon(points) if points else None


def _points(value: Any) -> tuple[Point, ...]:
    if not isinstance(value, list) or not 3 <= len(value) <= MOST_POINTS:
        raise ValueError(f"a list of 3 to {MOST_POINTS} points is wanted, as in [[0, 0], [20, 0], [10, 15]]")
    if not all(isinstance(point, list) and len(point) == 2 for point in value):
        raise ValueError("each point is a list of two lengths, as in [12.5, -3]")
    points = tuple((parse_length(x), parse_length(y)) for x, y in value)
    if max(abs(length) for point in points for length in point) > ACROSS:
        raise ValueError(f"a point lies more than {ACROSS:g} mm away")
    return points


def _positive(length: float) -> float:
    if not 0.05 <= length <= ACROSS:
        raise ValueError(f"it must lie between 0.05 and {ACROSS:g} mm")
    return length


def _turned(path: Path, at: Point, angle: float) -> Path:
    return path.transformed(IDENTITY.translate(*at).rotate(math.radians(angle)))
