"""The printed card that gives a picture its scale: two arms of dots, a long one and a short one, from a ring.

Millimetres on the card run from the ring's middle, x along the long arm and y up the short one. The arms differ in
length and the ring stands where they meet, so the card looks the same neither turned nor mirrored.
"""

import math
from dataclasses import replace

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.circles import Spot, crowd
from facegraphic.drill.scan.outline import fail, find_outline
from facegraphic.drill.scan.rectify import Frame, by_dpi, flattened
from facegraphic.drill.scan.rims import measure
from facegraphic.drill.scan.survey import Survey, check_picture, survey_in
from facegraphic.drill.scan.vision import LUMA, Array, Pixels, carry, cv, linear
from facegraphic.errors import UserError
from facegraphic.units import MM_PER_INCH

PITCH, DOT = 10.0, 4.0
RING, EYE = 7.0, 3.6  # the ring's outer and inner diameter
LONG, SHORT = 12, 8  # dots on each arm, the ring not counted
WIDE = 14.0  # of the arms
ROOM = (170.0, 140.0)  # how far from the ring a face is looked for


def dots() -> list[tuple[float, float]]:
    """The middles of all dots, the ring's first."""
    return [
        (0.0, 0.0),
        *((PITCH * i, 0.0) for i in range(1, LONG + 1)),
        *((0.0, PITCH * i) for i in range(1, SHORT + 1)),
    ]


def survey_by_card(pixels: Pixels) -> Survey:
    """Measure the face that lies between the arms of a card. UserError if card or holes are not to be seen."""
    check_picture(pixels)
    card = find_card(pixels)
    view, per_mm, corner = _between_arms(pixels, card)
    dpi = per_mm * MM_PER_INCH
    try:
        frame = by_dpi(dpi, view.shape, find_outline(view))
    except UserError:
        whole = by_dpi(dpi, view.shape, None)
        centre = (corner[0] + whole.size[0] / 2, corner[1] + whole.size[1] / 2)
        shift = np.array([[1, 0, centre[0]], [0, 1, centre[1]], [0, 0, 1]])
        told = "no outline is to be seen: positions count from the middle of the card's ring, x along its long arm"
        frame = replace(whole, to_mm=shift @ whole.to_mm, origin="card", centre=centre, notes=(told,))
    found = survey_in(view, replace(frame, doubt=math.hypot(frame.doubt, card.doubt)))
    return replace(found, view=view)


def find_card(pixels: Pixels) -> Frame:
    """The card's own frame, by all of its dots."""
    c = cv()
    factor = min(1.0, 2 * limits.COARSE / max(pixels.shape[:2]))
    small = c.resize(pixels, None, fx=factor, fy=factor, interpolation=c.INTER_AREA).astype(np.float32) @ LUMA.astype(
        np.float32
    )
    spots = _dark_spots(small)
    places = np.array([spot[:2] for spot in spots])
    chosen: list[Array] = []
    for ring in (spot for spot in spots if spot[3] > 0.5):
        arms = _arms(ring[:2], places)
        if arms is not None and len(arms) > len(chosen):
            chosen = arms
    if not chosen:
        mend = "show the whole card, flat and evenly lit, with its printed side to the camera or glass"
        raise fail("no card is to be seen", mend)
    rough = (np.array([spot[:2] for spot in chosen]) + 0.5) / factor - 0.5
    printed = np.array(dots())
    to_mm = np.asarray(c.findHomography(rough, printed, 0)[0])
    frame = Frame(to_mm, "card", (LONG * PITCH, SHORT * PITCH), 0.0)
    return _refined(pixels, frame, printed)


def _refined(pixels: Pixels, frame: Frame, places: Array) -> Frame:
    """The frame by every dot's own rim, measured in the picture."""
    light = linear(pixels)
    kept, seen = [], []
    for index, (x, y) in enumerate(places.tolist()):
        rim = measure(light, np.zeros(2), frame, Spot(x, y, DOT if index else RING, 1, 1.0))
        if rim is not None and rim.support > 0.5:
            kept.append((x, y))
            seen.append((rim.x, rim.y))
    if len(kept) < (LONG + SHORT) * 0.7:
        raise fail("the card's dots are not clear", "print it anew in black, lay it flat, and keep it in focus")
    picture = carry(frame.to_pixels, np.array(seen))
    matrix = np.asarray(cv().findHomography(picture, np.array(kept), 0)[0])
    left = carry(matrix, picture) - np.array(kept)
    doubt = float(np.sqrt((left**2).sum() / (2 * len(kept) - 8)))
    if doubt > 0.3:
        raise fail("the card is not flat, or not printed at one scale", "lay it flat and print it at 100 %")
    return Frame(matrix, "card", frame.size, max(doubt / 2, limits.BIAS / frame.pixels_per_mm()))


def _dark_spots(grey: Array) -> list[Array]:
    """x, y, diameter, and whether the middle is light, of dark ellipses on a lighter ground."""
    c = cv()
    block = max(31, round(0.05 * max(grey.shape))) | 1
    levels = np.clip(grey, 0, 255).astype(np.uint8)
    mask = c.adaptiveThreshold(levels, 1, c.ADAPTIVE_THRESH_MEAN_C, c.THRESH_BINARY_INV, block, 12)
    contours, _ = c.findContours(mask, c.RETR_LIST, c.CHAIN_APPROX_NONE)
    found = []
    for contour in contours:
        if len(contour) < 12:
            continue
        (x, y), (a, b), _ = c.fitEllipse(contour)
        area = c.contourArea(contour) + len(contour) / 2
        if not 6 < max(a, b) < 0.1 * max(grey.shape) or min(a, b) < 0.4 * max(a, b):
            continue
        if abs(area / (math.pi / 4 * (a + 1) * (b + 1)) - 1) > 0.15:
            continue
        middle = grey[min(max(round(y), 0), grey.shape[0] - 1), min(max(round(x), 0), grey.shape[1] - 1)]
        xs, ys = contour[:, 0, 0], contour[:, 0, 1]
        rim = grey[ys, xs].mean()
        found.append(np.array([x, y, math.sqrt(a * b), float(middle > rim)]))
        crowd(found)
    return found


def _arms(ring: Array, others: Array) -> list[Array] | None:
    """The ring and all dots of both arms in the order of `dots`, or None if they are not there; `others` has places."""
    far = np.linalg.norm(others - ring, axis=1)
    near = [i for i in np.argsort(far)[:16].tolist() if far[i] > 1]
    long = short = None
    for first in near:
        arm = _walk(ring, first, others)
        if len(arm) == LONG and long is None:
            long = arm
        elif len(arm) == SHORT and short is None:
            short = arm
    if long is None or short is None:
        return None
    along, up = long[0] - ring, short[0] - ring
    if along[0] * up[1] - along[1] * up[0] > 0:  # y runs down in a picture
        raise fail("the card is seen mirrored", "show its printed side, and undo any mirroring of the picture")
    return [ring, *long, *short]


def _walk(ring: Array, first: int, others: Array) -> list[Array]:
    """The dots that go on in even steps from the ring through a first one."""
    arm = [ring, others[first]]
    while len(arm) < 30:
        step = arm[-1] - arm[-2]
        off = np.linalg.norm(others - (arm[-1] + step), axis=1)
        best = int(np.argmin(off))
        if off[best] > 0.22 * np.linalg.norm(step):
            break
        arm.append(others[best])
    return arm[1:]


def _between_arms(pixels: Pixels, card: Frame) -> tuple[Pixels, float, tuple[float, float]]:
    """The room between the arms as seen straight on, its pixels a mm, and its lower left corner on the card."""
    low = WIDE / 2 + 0.5
    high = [low + 20.0, low + 20.0]
    for axis in (0, 1, 0, 1):
        for end in np.arange(ROOM[axis], low + 20, -2.0):
            trial = [*high]
            trial[axis] = float(end)
            ring = np.array([(low, low), (trial[0], low), (trial[0], trial[1]), (low, trial[1])])
            at = carry(card.to_pixels, ring)
            if at.min() > 1 and (at < np.array([pixels.shape[1] - 2, pixels.shape[0] - 2])).all():
                high = trial
                break
    size = (high[0] - low, high[1] - low)
    centre = (low + size[0] / 2, low + size[1] / 2)
    per_mm = card.pixels_per_mm(centre)
    per_mm = min(per_mm * 1.1, math.sqrt(limits.MOST_PIXELS / (size[0] * size[1])))
    view = flattened(pixels, replace(card, size=size, centre=centre), per_mm)
    return view, per_mm, (low, low)
