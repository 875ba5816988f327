"""What came out of a file in a line, for a person to hold against what they know of the box."""

from collections import Counter
from dataclasses import replace
from typing import Any

from facegraphic.drill.model import DrillHole, Reading
from facegraphic.geometry.path import Box
from facegraphic.units import format_number


def summary(reading: Reading, moved: bool = False) -> str:
    """Kind, count, extent and sizes: a wrong unit or wrong digits show here first. `moved` by `moved_to_middle`."""
    holes = reading.holes
    text = f"{reading.kind}, {len(holes)} hole{'' if len(holes) == 1 else 's'}"
    if reading.slots:
        text += f", {len(reading.slots)} slots or routed moves left out"
    if holes:
        box = _extent(reading)
        sizes = Counter(format_number(hole.d, 3) for hole in holes)
        told = ", ".join(
            f"{size} mm × {count}" for size, count in sorted(sizes.items(), key=lambda item: float(item[0]))
        )
        text += (
            f"; centres from {format_number(box.x0, 2)}, {format_number(box.y0, 2)}"
            f" to {format_number(box.x1, 2)}, {format_number(box.y1, 2)} mm; {told}"
        )
    if reading.layers:
        text += "; layers: " + ", ".join(
            f"{name or '(none)'} {count}" for name, count in sorted(reading.layers.items())
        )
    if reading.page:
        width, height = (format_number(side, 2) for side in reading.page)
        text += f"; zero is the lower left corner of the page, {width} × {height} mm"
    elif moved:
        text += "; zero is the middle of all centres"
    elif reading.kind == "SVG":
        text += "; the drawing has no page: zero is its own, y up"
    return text


def moved_to_middle(reading: Reading) -> Reading:
    """The reading with zero in the middle of the box round all centres."""
    if not reading.holes:
        return reading
    x, y = _extent(reading).centre
    holes = tuple(replace(hole, x=hole.x - x, y=hole.y - y) for hole in reading.holes)
    slots = tuple(
        replace(slot, start=(slot.start[0] - x, slot.start[1] - y), end=(slot.end[0] - x, slot.end[1] - y))
        for slot in reading.slots
    )
    return replace(reading, holes=holes, slots=slots, page=None)


def _extent(reading: Reading) -> Box:
    xs, ys = [hole.x for hole in reading.holes], [hole.y for hole in reading.holes]
    return Box(min(xs), min(ys), max(xs), max(ys))


def reading_record(reading: Reading) -> dict[str, Any]:
    """All that is known of a file for JSON: mm, with the line, layer and tool of each hole."""
    return {
        "kind": reading.kind,
        "page": reading.page and [float(format_number(side)) for side in reading.page],
        "layers": dict(reading.layers),
        "holes": [_hole_record(hole) for hole in reading.holes],
        "slots": [
            {
                "from": [float(format_number(figure)) for figure in slot.start],
                "to": [float(format_number(figure)) for figure in slot.end],
                "width": float(format_number(slot.width)),
                "routed": slot.routed,
                "line": slot.line,
                "tool": slot.tool,
            }
            for slot in reading.slots
        ],
        "notes": [{"line": note.line, "message": note.what, "remedy": note.mend} for note in reading.notes],
    }


def _hole_record(hole: DrillHole) -> dict[str, Any]:
    figures = {name: float(format_number(getattr(hole, name))) for name in ("x", "y", "d")}
    return {"id": hole.id, **figures, "line": hole.line, "layer": hole.layer or None, "tool": hole.tool or None}
