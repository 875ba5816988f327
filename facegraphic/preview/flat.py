"""The five faces folded out in one picture, as the drill guide's net has them: the top in the middle, all as seen from
outside, each wall hinged at its edge of the top.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from fontTools.misc.transform import Transform

from facegraphic.film.guide_net import Panel, panels, unfolded
from facegraphic.geometry.path import Box, Point
from facegraphic.geometry.shapes import polygon, rectangle
from facegraphic.job.model import Job
from facegraphic.masks.cut import body_paint
from facegraphic.preview.finished import Eye
from facegraphic.preview.model import FaceLook, Looks, Pixels
from facegraphic.scene.scene import Fill, Item
from facegraphic.stock.faces import Side
from facegraphic.units import MM_PER_INCH

ROUND = 8.0  # mm of ground round the net
GROUND = "#dfe1e2"
CREASE, CREASE_WIDE = "#8c9093", 0.18
QUARTERS: Mapping[Side, int] = {"top": 0, "front": 0, "right": 1, "back": 2, "left": 3}  # turns to the left


@dataclass(frozen=True)
class Net:
    """The net as a picture of `size` pixels: where each face's own centre lies, right and down, in pixels."""

    size: tuple[int, int]
    centres: Mapping[Side, Point]


def net(job: Job, dpi: int) -> Net:
    """How the flat picture of a job lies at a dpi; faces are turned to the left by `QUARTERS`."""
    laid = unfolded(found := panels(job))
    page, scale = _page(found, laid), dpi / MM_PER_INCH
    size = (round(page.width * scale), round(page.height * scale))
    x, y = page.centre
    centres = {
        side: (size[0] / 2 + (place.dx - x) * scale, size[1] / 2 - (place.dy - y) * scale)
        for side, place in laid.items()
    }
    return Net(size, centres)


def flat(eye: Eye, looks: Looks) -> Pixels:
    """All faces in their looks, folded out, at the dpi of the looks; between them the box's own paint."""
    job, lying = eye.job, net(eye.job, eye.dpi)
    picture = eye.colours(lying.size, _ground(job)).copy()
    for side, look in looks.items():
        _lay(picture, look, lying.centres[side], QUARTERS[side])
    return picture


def _lay(picture: Pixels, look: FaceLook, centre: Point, quarters: int) -> None:
    """Put a face's pixels where its centre is nearest to the place, to half a pixel."""
    turned = np.rot90(look.picture, quarters)
    high, wide = turned.shape[:2]
    left, top = round(centre[0] - wide / 2), round(centre[1] - high / 2)
    picture[top : top + high, left : left + wide] = turned


def _page(found: Mapping[Side, Panel], laid: Mapping[Side, Transform]) -> Box:
    """The net with ground round it, about the top's centre."""
    points = [point for side, own in found.items() for point in _corners(own, laid[side])]
    xs, ys = zip(*points, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys)).grown(ROUND)


def _corners(own: Panel, place: Transform) -> list[Point]:
    return [(float(x), float(y)) for x, y in (place.transformPoint(corner) for corner in own.corners)]


def _ground(job: Job) -> list[Item]:
    """The ground, and the box's planes on it, parted by their creases."""
    laid = unfolded(found := panels(job))
    page, paint = _page(found, laid), body_paint(job)
    x, y = page.centre
    items: list[Item] = [Fill(rectangle(page.grown(1).moved(-x, -y)), GROUND)]
    for side, own in found.items():
        shape = polygon(_corners(own, laid[side])).moved(-x, -y)
        items.append(Fill(shape, paint, id=f"{side}-plane"))
    top = found["top"].box.moved(-x, -y)
    half = CREASE_WIDE / 2
    crease = rectangle(top.grown(half)) + rectangle(top.grown(-half))
    return [*items, Fill(crease, CREASE, "evenodd")]
