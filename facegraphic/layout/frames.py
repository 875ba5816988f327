"""Ruled outlines round groups of controls, the title breaking the upper line."""

import math
from dataclasses import dataclass
from functools import lru_cache

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.geometry.path import Box, Path, Segment
from facegraphic.geometry.shapes import arc_segments, outline_band, rounded_rectangle
from facegraphic.job.model import Finish, Frame
from facegraphic.layout.model import Legend, Mark
from facegraphic.lettering.text import Block, Style, set_block

PAD = 1.6
RADIUS = 2.5
TITLE_ROOM = 1.2  # bare line on either side of the title


@dataclass(frozen=True)
class FrameBox:
    """Where a frame's line runs (its outer edge), its title as set, and what both take together."""

    line: Box
    title: Block | None
    whole: Box


def frame_box(wish: Frame, contents: Box, finish: Finish) -> FrameBox:
    """The frame round a box of contents: a title widens it when it is long, and hangs half its height into it."""
    box = contents.grown(PAD)
    if not wish.label:
        return FrameBox(box, None, box)
    block = _title(wish.label, Style(finish.font, wish.cap))
    x, high = box.centre[0], block.ink.height / 2
    wide = max(box.width / 2, block.ink.width / 2 + TITLE_ROOM + RADIUS)
    box = Box(x - wide, box.y0, x + wide, box.y1 + high)
    return FrameBox(box, block, Box(box.x0, box.y0, box.x1, box.y1 + high))


@lru_cache(maxsize=64)
def _title(text: str, style: Style) -> Block:
    return set_block(text, style)


def frame(wish: Frame, contents: list[BaseGeometry], finish: Finish) -> tuple[Mark, Legend | None]:
    """The frame round the contents' box, and its title centred on the upper line."""
    width = max(0.3, finish.least_line)
    found = frame_box(wish, Box(*shapely.total_bounds(contents)), finish)
    box = found.line
    if found.title is None:
        radius = _radius(box)
        path = outline_band(rounded_rectangle(box, radius), _backwards(box.grown(-width), radius - width))
        return Mark(path, "frame", finish.ink), None
    x, room = box.centre[0], found.title.ink.width / 2 + TITLE_ROOM
    title = Legend(found.title, "frame", "frame", finish.ink).moved(x, box.y1 - width / 2)
    return Mark(_broken(box, width, (x - room, x + room)), "frame", finish.ink), title


def _radius(box: Box) -> float:
    """The corners' radius: what is usual, or less in a small frame."""
    return min(RADIUS, box.width / 2.5, box.height / 2.5)


def _backwards(box: Box, radius: float) -> Path:
    """A rounded rectangle as an inner contour."""
    return Path((*_walk(box, radius, box.x1 - radius, box.x0 + radius, "M"), ("Z",)))


def _walk(box: Box, r: float, start: float, end: float, op: str) -> list[Segment]:
    """Clockwise along a rounded rectangle, from `start` on the upper line round to `end` on it."""
    segments: list[Segment] = [(op, start, box.y1)]
    corners = [(box.x1 - r, box.y1 - r), (box.x1 - r, box.y0 + r), (box.x0 + r, box.y0 + r), (box.x0 + r, box.y1 - r)]
    for quarter, (x, y) in enumerate(corners):
        angle = math.pi / 2 * (1 - quarter)
        segments.append(("L", x + r * math.cos(angle), y + r * math.sin(angle)))
        segments += arc_segments((x, y), r, angle, -math.pi / 2)
    return [*segments, ("L", end, box.y1)]


def _broken(box: Box, width: float, gap: tuple[float, float]) -> Path:
    """A rounded frame of some line width, open on its upper line between two places."""
    low, high = gap
    radius = _radius(box)
    outer = _walk(box, radius, high, low, "M")
    inner = _walk(box.grown(-width), radius - width, high, low, "L")
    return Path((*outer, *_reversed(inner), ("Z",)))


def _reversed(segments: list[Segment]) -> list[Segment]:
    """An open run of segments walked the other way, joined on with a line."""
    points = [(segment[-2], segment[-1]) for segment in segments]
    back: list[Segment] = [("L", *points[-1])]
    for segment, previous in zip(reversed(segments[1:]), reversed(points[:-1]), strict=True):
        if segment[0] == "C":
            back.append(("C", segment[3], segment[4], segment[1], segment[2], *previous))
        else:
            back.append(("L", *previous))
    return back
