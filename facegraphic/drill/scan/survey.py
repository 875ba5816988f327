"""A picture of a drilled face to its holes: outline or scale, candidates, rims, and which of them are holes."""

import math
from dataclasses import dataclass, replace

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.aspect import by_rims, by_rough_holes, told_by_holes
from facegraphic.drill.scan.circles import find_spots
from facegraphic.drill.scan.outline import Quad, fail, find_outline
from facegraphic.drill.scan.rectify import Frame, Size, by_dpi, by_size, flattened
from facegraphic.drill.scan.rims import Rim, measure
from facegraphic.drill.scan.vision import LUMA, Array, Pixels, carry, linear
from facegraphic.errors import UserError


@dataclass(frozen=True)
class Measured:
    """A hole as measured, in mm: its middle and diameter, how far from round, and standard uncertainties of x, y, d."""

    id: str
    x: float
    y: float
    d: float
    roundness: float
    ux: float
    uy: float
    ud: float


@dataclass(frozen=True)
class Survey:
    """The holes of a face in reading order, the frame they stand in, and notes for the person who asked. `view` is the
    picture that the frame is of, where it is not the one given."""

    holes: tuple[Measured, ...]
    frame: Frame
    notes: tuple[str, ...]
    view: Pixels | None = None


def survey(pixels: Pixels, size: Size | None = None, dpi: float | None = None, tag: float | None = None) -> Survey:
    """Measure the holes of the face in a picture whose size in mm or whose dots to the inch are known; `tag` is the
    dots to the inch that its file tells, to compare with. UserError for a picture in which they cannot be measured."""
    check_picture(pixels)
    if size is not None:
        frame = by_size(find_outline(pixels), size, pixels.shape, tag)
    else:
        assert dpi is not None
        frame = by_dpi(dpi, pixels.shape, _outline_if_any(pixels))
    return survey_in(pixels, frame)


def survey_in(pixels: Pixels, frame: Frame) -> Survey:
    """Measure the holes of a face whose frame is known."""
    crop, offset = _crop(pixels, frame)
    shifted = frame_from(frame, offset)
    most = math.sqrt(limits.MOST_VIEW / (frame.size[0] * frame.size[1]))
    per_mm = min(limits.FINE, frame.pixels_per_mm(frame.centre), most)
    view = flattened(crop, shifted, per_mm)
    grey = view.astype(np.float32) @ LUMA.astype(np.float32)
    given = frame.given[0] / frame.given[1] if frame.given[1] else 1.0
    if not frame.settled:
        told_by_holes(by_rough_holes(grey, per_mm), given)
    spots = find_spots(grey, per_mm, frame.size)
    light = linear(crop)
    cx, cy = frame.centre
    rims = []
    for spot in spots:
        rim = measure(light, offset, frame, replace(spot, x=spot.x + cx, y=spot.y + cy))
        if rim is not None and _stands(rim, frame):
            rims.append(rim)
    kept = _holes(rims)
    if not kept:
        mend = "light the face evenly, so that the holes stand out dark or light"
        raise fail("no hole is to be seen", mend)
    _sharp(kept, frame)
    notes = [] if frame.settled else told_by_holes(by_rims([rim.stretch for rim in kept]), given)
    return Survey(_numbered(kept, frame), frame, (*frame.notes, *notes))


def check_picture(pixels: Pixels) -> None:
    """Refuse what cannot hold a face: too small, too large, blank."""
    high, wide = pixels.shape[:2]
    if min(high, wide) < limits.LEAST_SIDE:
        raise fail(f"the picture is only {wide} × {high} pixels", "scan at 300 dpi or more")
    small = pixels[:: max(1, high // 300), :: max(1, wide // 300)].mean(2)
    low, top = np.percentile(small, (1, 99))
    if top - low < limits.LEAST_SPREAD:
        raise fail("the picture is blank", "look at it: was the box on the glass, and the right way down?")


def _outline_if_any(pixels: Pixels) -> Quad | None:
    try:
        return find_outline(pixels)
    except UserError:
        return None


def _crop(pixels: Pixels, frame: Frame) -> tuple[Pixels, Array]:
    """The part of the picture that shows the face, with a little round it."""
    w, h = frame.size[0] / 2, frame.size[1] / 2
    around = np.array([(-w, -h), (w, -h), (w, h), (-w, h)]) + frame.centre
    corners = carry(frame.to_pixels, around)
    low = np.maximum(np.floor(corners.min(0)) - 12, 0).astype(int)
    high = np.minimum(np.ceil(corners.max(0)) + 13, (pixels.shape[1], pixels.shape[0])).astype(int)
    return pixels[low[1] : high[1], low[0] : high[0]], low.astype(float)


def frame_from(frame: Frame, offset: Array) -> Frame:
    """The frame of a picture that begins further in."""
    shift = np.array([[1, 0, offset[0]], [0, 1, offset[1]], [0, 0, 1]])
    return replace(frame, to_mm=frame.to_mm @ shift)


def _stands(rim: Rim, frame: Frame) -> bool:
    """Whether a circle has what a drilled hole has: a rim nearly all round, a clear step, the right size."""
    return (
        rim.support >= limits.SUPPORT
        and rim.gap <= limits.GAP
        and rim.step >= limits.HOLE_STEP
        and rim.roundness <= limits.ROUGH[0] + limits.ROUGH[1] * rim.d
        and limits.SMALLEST <= rim.d <= limits.LARGEST
        and abs(rim.x - frame.centre[0]) + rim.d / 2 < frame.size[0] / 2 - limits.EDGE
        and abs(rim.y - frame.centre[1]) + rim.d / 2 < frame.size[1] / 2 - limits.EDGE
    )


def _holes(rims: list[Rim]) -> list[Rim]:
    """Of circles that overlap, the one most of whose rim is seen, then the sharpest and strongest; none that is far
    softer than the others, and none lighter than the face where most are darker, or the other way: that is glare."""
    kept: list[Rim] = []
    for rim in sorted(rims, key=lambda r: -(r.support * r.step / (1 + 0.3 * r.blur))):
        if all(math.hypot(rim.x - k.x, rim.y - k.y) > 0.45 * (rim.d + k.d) for k in kept):
            kept.append(rim)
    if not kept:
        return []
    usual = max(1.0, float(np.median([rim.blur for rim in kept])))
    kind = 1 if sum(rim.polarity * rim.support * rim.d for rim in kept) > 0 else -1
    return [rim for rim in kept if rim.blur <= limits.SOFT * usual and (rim.polarity == kind or _beyond_doubt(rim))]


def _beyond_doubt(rim: Rim) -> bool:
    return rim.support > 0.9 and rim.roundness < 0.06 and rim.d > 2.5


def _sharp(rims: list[Rim], frame: Frame) -> None:
    blur = float(np.median([rim.blur for rim in rims])) / frame.pixels_per_mm(frame.centre)
    if blur > max(limits.TOO_BLURRED[0], limits.TOO_BLURRED[1] / frame.pixels_per_mm(frame.centre)):
        what = f"the picture is blurred: edges are smeared over {2.35 * blur:.1f} mm"
        raise fail(what, "lay the face flat on the glass, or focus on it and hold the camera still")


def _numbered(rims: list[Rim], frame: Frame) -> tuple[Measured, ...]:
    """Ids in reading order: rows from the top, each from the left."""
    rows: list[list[Rim]] = []
    for rim in sorted(rims, key=lambda r: -r.y):
        row = next((row for row in rows if abs(row[0].y - rim.y) < 0.25 * (row[0].d + rim.d)), None)
        if row is None:
            rows.append([rim])
        else:
            row.append(rim)
    ordered = [rim for row in rows for rim in sorted(row, key=lambda r: r.x)]
    return tuple(
        Measured(
            f"h{number}", rim.x, rim.y, rim.d, rim.roundness,
            math.hypot(rim.u_place[0], frame.doubt), math.hypot(rim.u_place[1], frame.doubt), rim.u_d,
        )
        for number, rim in enumerate(ordered, 1)
    )  # fmt: skip
