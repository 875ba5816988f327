"""Free text: where it was put, or where it has most room."""

import math
from collections.abc import Sequence

from facegraphic.errors import Finding
from facegraphic.geometry.path import Box, Point
from facegraphic.job.model import Face, Finish, FreeText
from facegraphic.layout.ground import Ground, box_region
from facegraphic.layout.model import Legend
from facegraphic.lettering.library import spelled
from facegraphic.lettering.text import Block, Style, set_block

AMPLE = 5.0  # mm on every side of a text; more room than this is not much better
OFF_AXIS = 0.25  # of the score, lost by standing off the axis at all: a little off looks like a mistake
AXIS_WORTH = 25.0  # mm off the axis that cost the whole score
CAP_STEP = 0.1  # heights are advised in these steps


def free_text(text: FreeText, face: Face, finish: Finish, ground: Ground) -> tuple[Legend | None, list[Finding]]:
    """Set a free text; without room, or over something, there are findings."""
    block = _set(text, finish, text.cap)
    if not block.path:
        return None, []
    if text.at is not None:
        legend = Legend(block, "text", "at", text.ink, angle=text.angle).moved(*text.at)
        return legend, _misplaced(legend, face, ground)
    rooms = ground.free()
    place = best_place(block.ink, rooms)
    if place is None:
        return None, [_no_room(text, face, finish, rooms)]
    at = _to_centre(block.ink, place.centre)
    return Legend(block, "text", "auto", text.ink, angle=text.angle).moved(*at), []


def _set(text: FreeText, finish: Finish, cap: float) -> Block:
    block = set_block(text.text, Style(text.font or finish.font, cap, text.tracking, align=text.align))
    return block.turned(text.angle) if text.angle else block


def _to_centre(ink: Box, centre: Point) -> Point:
    return (centre[0] - ink.centre[0], centre[1] - ink.centre[1])


def best_place(ink: Box, rooms: Sequence[Box]) -> Box | None:
    """Where a text's box stands in the best of the free rectangles; None when none holds it.

    It stands in the middle of a rectangle's height, and on the face's axis; where a rectangle doesn't reach so far, as
    near the axis as leaves it ample room. The score is the area of the text with the room round it, counted up to
    ample room and as a share of that, less what being off the axis costs. Of equal places that with most room on its
    narrowest side is taken, then the lowest, then the leftmost.
    """
    best: tuple[tuple[float, ...], Point] | None = None
    ample = ink.grown(AMPLE)
    for room in rooms:
        beside, above = (room.width - ink.width) / 2, (room.height - ink.height) / 2
        if beside < 0 or above < 0:
            continue
        x, y = room.centre
        slide = beside if abs(x) <= beside else max(0.0, beside - AMPLE)
        at = min(max(0.0, x - slide), x + slide)
        beside -= abs(at - x)
        counted = (ink.width + 2 * min(beside, AMPLE)) * (ink.height + 2 * min(above, AMPLE))
        cost = OFF_AXIS + abs(at) / AXIS_WORTH if at else 0.0
        # What differs by rounding alone is equal.
        share = counted / (ample.width * ample.height)
        score = (round(share - cost, 6), round(min(beside, above), 6), -round(y, 6), -round(at, 6))
        if best is None or score > best[0]:
            best = (score, (at, y))
    return Box.centred(ink.width, ink.height, best[1]) if best else None


def _no_room(text: FreeText, face: Face, finish: Finish, rooms: Sequence[Box]) -> Finding:
    """Say how large the text is, how large the best free place for it, and what height would stand there."""
    ink = _set(text, finish, text.cap).ink
    message = f'the text "{spelled(text.text)}" of {_size(ink)} finds no room; '
    place = max(rooms, key=lambda room: (_share(ink, room), room.width * room.height), default=None)
    cap = _cap_that_fits(text, finish, place) if place else None
    if place:
        message += f"the largest free place for it is {_size(place)}"
    else:
        message += "nothing of the face is free"
    remedy = f"set it {cap:g} mm high or less, shorten it," if cap else "shorten it, make room on the face,"
    return Finding(
        "legend-no-room", "error", message, f"{remedy} or say where it may stand with at = [x, y]", face.side
    )


def _share(ink: Box, room: Box) -> float:
    """How much of its size a text may have to stand in a rectangle."""
    return min(room.width / ink.width, room.height / ink.height)


def _size(box: Box) -> str:
    return f"{box.width:.1f} × {box.height:.1f} mm"


def _cap_that_fits(text: FreeText, finish: Finish, room: Box) -> float | None:
    """The greatest height, in steps, that a text has to have for a place; None when the process can't hold it.

    Letters grow with their height, yet the tracking between them stays, so that each step is set and tried: as the
    tracking weighs more in a smaller text, the share that fits now is a step too high, or the right one.
    """
    steps = math.ceil(text.cap / CAP_STEP) - 1
    while steps > 0 and steps * CAP_STEP >= finish.least_text - 1e-9:
        cap = round(steps * CAP_STEP, 6)
        share = _share(_set(text, finish, cap).ink, room)
        if share >= 1:
            return cap
        steps = min(steps - 1, math.ceil(steps * share) if text.tracking >= 0 else steps)
    return None


def _misplaced(legend: Legend, face: Face, ground: Ground) -> list[Finding]:
    area = box_region(legend.box)
    blockers = ground.blockers(area)
    if not blockers:
        return []
    touching = ground.clearance(area) <= 0
    verb = "meets" if touching or not ground.inside.contains(area) else "is close to"
    return [
        Finding(
            code="legend-misplaced",
            severity="error" if touching else "warning",
            side=face.side,
            at=legend.box.centre,
            message=f"the text {legend.name} {verb} {', '.join(blockers)}",
            remedy='move it with at = [x, y], make it smaller, or let at = "auto" find room',
        )
    ]
