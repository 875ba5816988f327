"""A box face against what it lies on: roughly by its colour, then by the straight lines of its four sides."""

from dataclasses import dataclass, replace

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.lines import Side, find_side
from facegraphic.drill.scan.quads import find_quads
from facegraphic.drill.scan.vision import LUMA, Array, Pixels, curve, cv, linear
from facegraphic.errors import Problem, UserError


@dataclass(frozen=True)
class Quad:
    """A face's outline: its corners in pixels (upper left, upper right, lower right, lower left as the picture lies),
    where the lines of its sides meet, and its sides (upper, right, lower, left)."""

    corners: Array
    sides: tuple[Side, ...]

    @property
    def lengths(self) -> tuple[float, float]:
        """Mean width and height in pixels."""
        edges = np.linalg.norm(np.roll(self.corners, -1, axis=0) - self.corners, axis=1)
        return float(edges[0] + edges[2]) / 2, float(edges[1] + edges[3]) / 2


class TwoFaces(UserError):
    """There is more than one face to choose from."""


def fail(what: str, mend: str) -> UserError:
    return UserError(Problem(what, mend))


def find_outline(pixels: Pixels) -> Quad:
    """The one face in a picture. UserError says why there is none."""
    c = cv()
    factor = min(1.0, limits.COARSE / max(pixels.shape[:2]))
    small = c.resize(pixels, None, fx=factor, fy=factor, interpolation=c.INTER_AREA).astype(np.float32)
    apart = c.GaussianBlur(np.abs(small - _ground(small)).max(2), (0, 0), 1.5)
    reason: UserError | None = None
    try:
        quad = _supported(pixels, small, factor, _shapes(apart))
    except UserError as error:
        quad, reason = None, error
    if quad is None and not isinstance(reason, TwoFaces):
        quad = _supported(pixels, small, factor, find_quads(small @ LUMA.astype(np.float32)))
    if quad is None:
        mend = "light it evenly, without shadows, on a plain ground"
        raise reason or fail("a side of the face is no straight, sharp edge", mend)
    return quad


def _supported(pixels: Pixels, small: Array, factor: float, shapes: list[Array]) -> Quad | None:
    """Of rough shapes in a small copy of the picture, the one whose sides are best seen in the picture itself."""
    found: list[tuple[float, Quad]] = []
    for rough in shapes:
        axes = (_axis(small, rough), *(_axis_at(small, rough, side) for side in range(4)))
        quad = _straight(pixels, (rough + 0.5) / factor - 0.5, axes)
        if quad is not None:
            seen = [side.support for side in quad.sides]
            if min(seen) > limits.SIDE_SEEN:
                found.append((min(seen) + sum(seen) / 8, quad))
    return max(found, key=lambda pair: pair[0])[1] if found else None


def _straight(pixels: Pixels, rough: Array, axes: tuple[Array, ...]) -> Quad | None:
    """The outline by the straight edges near rough corners. `axes` are the colours to see them by: one for all, and
    one for each side, where the ground lies in shadow and has the face's brightness there."""
    x0, y0, x1, y1 = _window(rough, pixels.shape)
    part = pixels[y0:y1, x0:x1]
    light = linear(part, axes[0])
    offset = np.array([x0, y0], float)
    ends = [(a - offset, b - offset) for a, b in zip(rough, np.roll(rough, -1, axis=0), strict=True)]
    near = [find_side(light, *pair) for pair in ends]
    most = 2.5 * min((side.blur for side in near if side), default=0.0) + 1.5
    sides = []
    for found, pair, axis in zip(near, ends, axes[1:], strict=True):
        side: Side | None = found
        if not _clear(side, most):  # a shadow's edge: the box's own may be farther in
            side = find_side(light, *pair, limits.SIDE_FAR)
        if not _clear(side, most):
            side = find_side(linear(part, axis), *pair)
        if side is None or not _clear(side, most):
            return None
        sides.append(replace(side, at=side.at + offset))
    return Quad(np.array([_meet(sides[i - 1], sides[i]) for i in range(4)]), tuple(sides))


def _clear(side: Side | None, most: float) -> bool:
    return side is not None and side.blur <= most and side.support > limits.SIDE_SEEN


def _axis_at(small: Array, corners: Array, side: int) -> Array:
    """Weights of red, green and blue by which the face is told from what lies beside one of its sides."""
    start, end = corners[side].astype(float), corners[(side + 1) % 4].astype(float)
    along = (end - start) / np.linalg.norm(end - start)
    inward = np.array([-along[1], along[0]])
    middle = start + np.linspace(0.2, 0.8, 60)[:, None] * (end - start)
    colours = []
    for sign in (1, -1):
        strip = middle[:, None] + sign * np.linspace(*limits.SIDE_STRIP, 7)[:, None] * inward
        x, y = (strip.reshape(-1, 2).round().astype(int).T.clip(0, np.array(small.shape[1::-1])[:, None] - 1)).tolist()
        colours.append(np.median(small[y, x], axis=0))
    face, ground = curve()[np.stack(colours).round().astype(int)].astype(float)
    return _towards(face - ground)


def _towards(apart: Array) -> Array:
    return np.asarray(apart / max(np.abs(apart).sum(), 1e-6))


def _axis(small: Array, corners: Array) -> Array:
    """Weights of red, green and blue by which a face is told from its ground: those of brightness if they will do,
    since JPEG keeps colours only coarsely, else along the two colours."""
    c = cv()
    inner = c.fillConvexPoly(np.zeros(small.shape[:2], np.uint8), corners.round().astype(np.int32), 1)
    core = c.erode(inner, np.ones((9, 9), np.uint8)) > 0
    rim = (c.dilate(inner, np.ones((25, 25), np.uint8)) > 0) & (c.dilate(inner, np.ones((9, 9), np.uint8)) == 0)
    colours = np.stack([np.median(small[core], axis=0), np.median(small[rim], axis=0)])
    face, ground = curve()[colours.round().astype(int)].astype(float)
    bright = float(LUMA @ (face - ground)) / max(float(LUMA @ (face + ground)), 1e-6)
    if abs(bright) > 0.15:
        return LUMA
    return _towards(face - ground)


def _ground(small: Array) -> Array:
    """The ground's colour at every place: a plane through the colours of the picture's border, outliers aside."""
    high, wide = small.shape[:2]
    edge = max(2, round(0.02 * min(high, wide)))
    frame = np.ones((high, wide), bool)
    frame[edge:-edge, edge:-edge] = False
    y, x = np.nonzero(frame)
    colours = small[frame]
    terms = np.column_stack([np.ones(len(x)), x / wide - 0.5, y / high - 0.5])
    weight = np.ones(len(x))
    for _ in range(6):
        plane = np.linalg.lstsq(terms * weight[:, None], colours * weight[:, None], rcond=None)[0]
        left = np.abs(colours - terms @ plane).max(1)
        weight = 1 / np.maximum(left, 2.0)
    yy, xx = np.mgrid[0:high, 0:wide]
    return np.asarray(plane[0] + (xx / wide - 0.5)[..., None] * plane[1] + (yy / high - 0.5)[..., None] * plane[2])


def _shapes(apart: Array) -> list[Array]:
    """The corners of what is like a face at several thresholds, each once: a high one may show the holes only, and a
    low one the face with its shadow."""
    c = cv()
    level, _ = c.threshold(np.clip(apart, 0, 255).astype(np.uint8), 0, 255, c.THRESH_BINARY + c.THRESH_OTSU)
    found: list[Array] = []
    reason: UserError | None = None
    for share in (1.0, 0.8, 0.65, 0.5, 0.38, 0.28, 0.2, 1.3, 1.6):
        mask = (apart > max(share * level, limits.LEAST_STEP)).astype(np.uint8)
        try:
            corners, _ = _shape(mask)
        except UserError as error:
            reason = error if reason is None or isinstance(error, TwoFaces) else reason
            continue
        if all(np.abs(corners - other).max() > 0.01 * max(mask.shape) for other in found):
            found.append(corners)
    if not found:
        assert reason is not None
        raise reason
    return found


def _shape(mask: Array) -> tuple[Array, float]:
    """The corners of the one large thing in a mask, and how like a face it is, up to 1."""
    shape = _one_shape(mask)
    _whole(shape, mask.shape)
    corners, likeness = _likeness(shape)
    if likeness < limits.FULLNESS:
        raise no_box()
    return corners, likeness


def _likeness(shape: Array) -> tuple[Array, float]:
    """A contour's four corners, and how well they stand for it, up to 1."""
    c = cv()
    hull = c.convexHull(shape)
    corners = _four(hull)
    full = c.contourArea(shape) / max(c.contourArea(hull), 1.0), c.contourArea(hull) / max(c.contourArea(corners), 1)
    return corners, min(full[0], full[1], 2 - full[1])


def no_box() -> UserError:
    what = "no box face with four straight sides is to be seen"
    return fail(what, "show one face, whole, on a plain ground; if there is none in it, is this the right picture?")


def _one_shape(mask: Array) -> Array:
    """The contour of the only large thing."""
    c = cv()
    size = max(3, round(0.012 * max(mask.shape))) | 1
    disc = c.getStructuringElement(c.MORPH_ELLIPSE, (size, size))
    pad = c.copyMakeBorder(mask, size, size, size, size, c.BORDER_REPLICATE)
    closed = c.morphologyEx(pad, c.MORPH_CLOSE, disc)
    contours, _ = c.findContours(closed, c.RETR_EXTERNAL, c.CHAIN_APPROX_NONE)
    solid = c.drawContours(np.zeros_like(closed), contours, -1, 1, c.FILLED)
    solid = c.morphologyEx(solid, c.MORPH_OPEN, disc)[size:-size, size:-size]
    contours, _ = c.findContours(solid, c.RETR_EXTERNAL, c.CHAIN_APPROX_NONE)
    shapes = sorted(map(np.asarray, contours), key=c.contourArea, reverse=True)
    least = limits.LEAST_SHARE * mask.size
    if not shapes or c.contourArea(shapes[0]) < least:
        raise fail(
            "no box face is to be seen: nothing large stands out from the picture's border",
            "lay the box on paper of another colour and leave a finger's breadth round it; or give --dpi",
        )
    if len(shapes) > 1 and c.contourArea(shapes[1]) > limits.SECOND * c.contourArea(shapes[0]):
        if max(_likeness(shape)[1] for shape in shapes[:2]) < limits.FULLNESS:
            raise no_box()
        raise TwoFaces(Problem("two things stand out, and either may be the box", "show one face at a time"))
    return np.asarray(shapes[0])


def _whole(shape: Array, size: tuple[int, ...]) -> None:
    """A face that the picture's border cuts has a straight side there that is none of its own."""
    x, y = shape[:, 0, 0], shape[:, 0, 1]
    if min(x.min(), y.min()) <= 1 or x.max() >= size[1] - 2 or y.max() >= size[0] - 2:
        raise fail("the box is cut off by the picture's edge", "leave ground to be seen all round it")


def _four(hull: Array) -> Array:
    """The four corners that best stand for a hull: its outline simplified until four are left."""
    c = cv()
    length = c.arcLength(hull, True)
    for share in np.linspace(0.01, 0.2, 60):
        corners = c.approxPolyDP(hull, share * length, True)
        if len(corners) <= 4:
            break
    if len(corners) != 4:
        corners = c.boxPoints(c.minAreaRect(hull))[:, None]
    return _ordered(_straightened(hull[:, 0].astype(float), corners[:, 0].astype(float)))


def _straightened(hull: Array, corners: Array) -> Array:
    """Corners from lines along the middle of each side, for round corners are cut by a polygon within."""
    c = cv()
    lines = []
    dense = np.concatenate([np.linspace(a, b, 40) for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True)])
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        length = float(np.linalg.norm(b - a))
        along = (b - a) / length
        u, v = (dense - a) @ along, (dense - a) @ np.array([-along[1], along[0]])
        near = (u > 0.2 * length) & (u < 0.8 * length) & (np.abs(v) < 0.08 * length)
        if near.sum() < 2:
            return corners.astype(np.float32)
        vx, vy, x, y = c.fitLine(dense[near].astype(np.float32), c.DIST_HUBER, 0, 0.01, 0.01).ravel()
        lines.append(Side(np.array([x, y], float), np.array([vx, vy], float)))
    return np.array([_meet(lines[i - 1], lines[i]) for i in range(4)], np.float32)


def _ordered(corners: Array) -> Array:
    """Clockwise as seen (y down) from the upper left."""
    middle = corners.mean(0)
    angles = np.arctan2(corners[:, 1] - middle[1], corners[:, 0] - middle[0])
    corners = corners[np.argsort(angles)]
    return np.roll(corners, -int(np.argmin(corners.sum(1))), axis=0).astype(np.float32)


def _meet(one: Side, other: Side) -> Array:
    """Where two lines cross."""
    matrix = np.column_stack([one.along, -other.along])
    if abs(np.linalg.det(matrix)) < 0.05:
        raise fail("the sides of what is seen do not make a box face", "show one face, whole, on a plain ground")
    return np.asarray(one.at + one.along * np.linalg.solve(matrix, other.at - one.at)[0])


def _window(corners: Array, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """The part of the picture that holds the face, and as much round it as its sides may be off."""
    low, high = corners.min(0), corners.max(0)
    margin = limits.SIDE_BAND * float((high - low).max()) * 1.5 + 20
    x0, y0 = np.maximum(np.floor(low - margin), 0).astype(int)
    x1, y1 = np.minimum(np.ceil(high + margin), (shape[1], shape[0])).astype(int)
    return int(x0), int(y0), int(x1), int(y1)
