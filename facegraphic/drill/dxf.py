"""DXF drawings: circles, and what makes circles together, from model space and the blocks inserted there.

ezdxf reads the file; blocks are unfolded here, under a limit, so that a small file cannot stand for a huge drawing.
An arc-only or polyline hole counts like a circle; what is nearly one, a slot or a point is told.
"""

import io
import logging
import re
import struct
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ezdxf import recover
from ezdxf.document import Drawing
from ezdxf.lldxf.const import DXFError
from ezdxf.lldxf.tagger import binary_tags_loader

from facegraphic.drill.dxf_shapes import Found, Shapes
from facegraphic.drill.dxf_space import TOO_MUCH, Space, unfold
from facegraphic.drill.kinds import BINARY_DXF
from facegraphic.drill.model import (
    MOST_ENTITIES,
    MOST_HOLES,
    Asked,
    DrillHole,
    LeftOut,
    Reading,
    TooMuch,
    Unreadable,
    too_many_holes,
)
from facegraphic.drill.rounds import joined
from facegraphic.errors import Problem
from facegraphic.stock.limits import limit
from facegraphic.units import MM_PER_UNIT

# $INSUNITS (DXF reference, header variables): names and millimetres.
UNITS = {
    1: ("inches", 25.4), 2: ("feet", 304.8), 4: ("mm", 1.0), 5: ("cm", 10.0), 6: ("m", 1000.0),
    8: ("microinches", 25.4e-6), 9: ("mil", 0.0254), 10: ("yards", 914.4), 13: ("microns", 1e-3), 14: ("dm", 100.0),
}  # fmt: skip
MOST_TOLD = 20
MOST_PAIRS = limit("dxf-pairs")
MOST_BINARY = limit("dxf-binary-bytes")
MOST_CORNERS = limit("dxf-corners")
_MENDED = re.compile(r"CIRCLE|ARC|ELLIPSE|SPLINE|POLYLINE|INSERT|BLOCK")
ASK = "say what one unit of it is: --units mm or --units in; in a job, units = under [[face]]"


def read_dxf(data: bytes, file: str, asked: Asked) -> Reading:
    """Read a DXF. Holes are numbered in the drawing's order. Unreadable if it is no sound DXF or has no units."""
    notes: list[Problem] = []
    if len(data) > MOST_BINARY and BINARY_DXF.match(data):
        what = f"the binary DXF has {len(data)} bytes, more than {MOST_BINARY} are not read"
        raise TooMuch(what, "export the holes alone, or as an ASCII DXF")
    text = _text(data)
    for count, most, what in (
        (text.entities, MOST_ENTITIES, "entities"),
        (text.corners, MOST_CORNERS, "corners of polylines and splines"),
        (text.pairs, MOST_PAIRS, "pairs of code and value"),
    ):
        if count > most:
            raise TooMuch(f"the DXF has {count} {what}, more than {most} are not read", TOO_MUCH)
    if not text.file_ends:
        if not text.sections_end:
            raise Unreadable("the DXF is cut short: it ends amid a section", "copy or export it again")
        notes.append(Problem("the DXF has no end (EOF)", "see whether the file is whole", file))
    document = _document(data, file, notes)
    factor = _factor(document, file, asked, notes)
    space = Space(document, factor, _hidden_layers(document, asked))
    shapes = Shapes()
    try:
        for placed in unfold(space):
            shapes.take(placed)
    except (DXFError, ValueError, TypeError, LookupError, AttributeError, ArithmeticError) as error:
        raise _damaged(error) from None
    lines = text.lines
    circles = sorted([*shapes.circles, *_from_arcs(shapes)], key=lambda found: found.source.number)
    if len(circles) > MOST_HOLES:
        raise too_many_holes()
    holes = tuple(
        DrillHole(str(number), *found.circle.at, 2 * found.circle.r, lines.get(found.source.handle), found.layer)
        for number, found in enumerate(circles, 1)
    )
    for (what, mend, lost), sources in (*shapes.told.items(), *space.told.items()):
        what = what if len(sources) == 1 else f"{len(sources)} times: {what}"
        notes.append((LeftOut if lost else Problem)(what, mend, file, lines.get(sources[0].handle)))
    mend = "draw it again, or take it out"
    problems = tuple(Problem(what, mend, file, lines.get(source.handle)) for what, source in shapes.faults[:MOST_TOLD])
    layers = Counter(hole.layer for hole in holes)
    return Reading("DXF", holes, notes=tuple(notes), problems=problems, layers=layers)


def _document(data: bytes, file: str, notes: list[Problem]) -> Any:
    """The drawing as ezdxf reads it, mended where it can be. Unreadable for what is none."""
    quiet = logging.getLogger("ezdxf")
    if not quiet.handlers:
        quiet.addHandler(logging.NullHandler())  # else its warnings go to stderr by themselves
    try:
        if BINARY_DXF.match(data):
            return Drawing.load(binary_tags_loader(data))
        document, auditor = recover.read(io.BytesIO(data), errors="surrogateescape")
    except (
        DXFError,
        OSError,
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        ArithmeticError,
        RecursionError,
        StopIteration,  # a table that nothing ends
        AssertionError,  # a name that is none
        struct.error,  # a binary DXF that ends amid a figure
    ) as error:
        raise _damaged(error) from None
    mended = [entry.message for entry in (*auditor.fixes, *auditor.errors) if _MENDED.search(entry.message)]
    if mended:
        more = f", and {len(mended) - 1} more" if len(mended) > 1 else ""
        what = f"the drawing was mended on reading: {mended[0][:120]}{more}"
        notes.append(Problem(what, "see that no hole is missing", file))
    return document


def _damaged(error: Exception) -> Unreadable:
    reason = " ".join(str(error).split())[:120] or type(error).__name__
    return Unreadable(f"the DXF is damaged: {reason}", "export it again, as an ASCII DXF of 2000 or later")


def _factor(document: Any, file: str, asked: Asked, notes: list[Problem]) -> float:
    """Millimetres to a drawing unit: as asked for, else as $INSUNITS says."""
    code = document.header.get("$INSUNITS", 0) if "$INSUNITS" in document.header else 0
    name, said = UNITS.get(code, ("", 0.0)) if isinstance(code, int) else ("", 0.0)
    if asked.units:
        factor = MM_PER_UNIT[asked.units]
        if said and abs(factor - said) > 1e-9:
            what = f"the drawing names {name} as its unit; {asked.units} is taken, as asked for"
            notes.append(Problem(what, "leave the units away to believe the drawing", file))
        return factor
    if not said:
        raise Unreadable("the drawing does not say its units ($INSUNITS)", ASK)
    return said


def _hidden_layers(document: Any, asked: Asked) -> frozenset[str]:
    """Layers in lower case that are left out because nobody sees them: off or frozen, and not asked for by name."""
    named = {layer.lower() for layer in asked.layers}
    hidden = {layer.dxf.name.lower() for layer in document.layers if layer.is_off() or layer.is_frozen()}
    return frozenset(hidden - named)


def _from_arcs(shapes: Shapes) -> Iterator[Found]:
    """Circles that arcs of one layer make together; the arcs left over are told."""
    for layer, arcs in shapes.arcs.items():
        circles, loose = joined([arc for arc, _ in arcs])
        source = dict(arcs)
        for circle in circles:
            yield Found(circle.circle, layer, source[circle.arcs[0]])
        for arc in loose:
            shapes.tell("an arc that closes to no circle, left out", "draw holes as circles", source[arc])


@dataclass(frozen=True)
class _Text:
    """An ASCII DXF as text: the line on which each entity with a handle begins, and whether sections and file end."""

    lines: Mapping[str, int]
    sections_end: bool = True
    file_ends: bool = True
    entities: int = 0
    corners: int = 0
    pairs: int = 0


def _text(data: bytes) -> _Text:
    """Look through the pairs of code and value that a DXF is made of."""
    found: dict[str, int] = {}
    if BINARY_DXF.match(data):
        return _Text(found)
    start = 0
    names: Counter[bytes] = Counter()
    pairs = max(data.count(b"\n"), data.count(b"\r")) // 2
    if pairs > MOST_PAIRS:
        return _Text(found, pairs=pairs)
    lines = data.splitlines()
    corners, manifold = 0, False
    for number in range(0, len(lines) - 1, 2):
        code, value = lines[number].strip(), lines[number + 1].strip()
        if code == b"0":
            start = number + 2  # counted from 1; the name stands under its 0
            names[value.upper()] += 1
            manifold = value.upper() in (b"LWPOLYLINE", b"SPLINE")
            corners += value.upper() == b"VERTEX"
        elif code == b"10":
            corners += manifold
        elif code == b"5":
            found.setdefault(value.decode("latin-1").upper(), start)
    return _Text(found, names[b"SECTION"] == names[b"ENDSEC"], names[b"EOF"] > 0, names.total(), corners, pairs)
