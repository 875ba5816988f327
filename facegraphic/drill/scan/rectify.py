"""From pixels to the millimetres of a face: by its outline's size, by dots to the inch, or by both."""

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from facegraphic.drill.scan.aspect import Shape, shape_of, told
from facegraphic.drill.scan.limits import BENT, FLAT_MOST, LEAST_DPI, MOST_DPI, NO_TAG, SURE, TAG_OFF, TILTED
from facegraphic.drill.scan.outline import Quad
from facegraphic.drill.scan.vision import Array, carry, cv
from facegraphic.units import MM_PER_INCH, format_number

Origin = Literal["outline", "picture", "card"]


@dataclass(frozen=True)
class Frame:
    """`to_mm` carries pixels to mm, x right and y up. The origin is the middle of the outline, of the picture, or the
    card's. `size` is what is to be searched for holes, in mm round `centre`; `doubt` is how far places may be off for
    the frame's own sake. `notes` tell what a person should know. `given` is the outline's size as given, `settled`
    whether the outline tells if it can be; if not, the holes must."""

    to_mm: Array
    origin: Origin
    size: tuple[float, float]
    doubt: float
    notes: tuple[str, ...] = ()
    centre: tuple[float, float] = (0.0, 0.0)
    quad: Quad | None = None
    given: tuple[float, float] = (0.0, 0.0)
    settled: bool = True

    @property
    def to_pixels(self) -> Array:
        return np.asarray(np.linalg.inv(self.to_mm))

    def pixels_per_mm(self, at: tuple[float, float] = (0.0, 0.0)) -> float:
        """How many pixels a mm has at a place, the mean of all directions."""
        near = np.array([at, (at[0] + 0.01, at[1]), (at[0], at[1] + 0.01)])
        here, right, up = carry(self.to_pixels, near)
        (a, b), (c, d) = right - here, up - here
        return float(np.sqrt(abs(a * d - b * c)) / 0.01)


@dataclass(frozen=True)
class Size:
    """A face's width and height in mm; `top` is the width of its upper edge where it tapers."""

    width: float
    height: float
    top: float | None = None


def by_size(quad: Quad, size: Size, picture: tuple[int, ...], tag: float | None = None) -> Frame:
    """The frame in which the outline has its size. A size lying the other way than the picture is turned with it.
    `picture` is the picture's shape, and `tag` the dots to the inch that its file tells. UserError where the outline
    cannot have this size."""
    wide, high = quad.lengths
    notes = []
    width, height, top = size.width, size.height, size.top
    if (wide > high) != (width > height) and abs(wide / high - 1) > 0.02 and width != height and top is None:
        width, height = height, width
        notes.append("the picture lies the other way than the size given: x runs along its width all the same")
    top = width if top is None else top
    corners = np.array([(-top, height), (top, height), (width, -height), (-width, -height)]) / 2
    to_mm = _through(quad.corners, corners)
    frame = Frame(to_mm, "outline", (max(width, top), height), 0.0, (), quad=quad, given=(width, height))
    shape = shape_of(quad, corners, picture)
    by_tag = _by_tag(quad, frame, shape, tag)
    if shape is not None:
        advice = "; ".join(["measure it and check --size", *by_tag])
        wrong = told(shape, width / height, advice)
        notes += wrong or by_tag
    notes += _bent(quad, frame)
    doubt = max(side.doubt for side in quad.sides) / frame.pixels_per_mm()
    if shape is None or not shape.flat:
        doubt = math.hypot(doubt, TILTED)
    return replace(frame, doubt=doubt, notes=tuple(notes), settled=shape is not None and shape.doubt < SURE)


def _by_tag(quad: Quad, frame: Frame, shape: Shape | None, tag: float | None) -> list[str]:
    """How large a flat scan is by the file's own dots to the inch, where that is not what the size says."""
    if tag is None or shape is None or not shape.flat or round(tag) in NO_TAG or not LEAST_DPI <= tag <= MOST_DPI:
        return []
    off = frame.pixels_per_mm() * MM_PER_INCH / tag
    if abs(off - 1) < TAG_OFF and abs(shape.share - 1) < FLAT_MOST:
        return []
    wide, high = (format_number(length / tag * MM_PER_INCH, 1) for length in quad.lengths)
    given = " × ".join(format_number(length, 1) for length in frame.given)
    return [f"by the file's own {tag:.0f} dpi the outline is {wide} × {high} mm, the size given {given}: check --size"]


def by_dpi(dpi: float, shape: tuple[int, ...], quad: Quad | None) -> Frame:
    """The frame of a flat scan: round the outline's middle and along its longer sides, else as the picture lies."""
    scale = MM_PER_INCH / dpi
    if quad is None:
        x, y = (shape[1] - 1) / 2, (shape[0] - 1) / 2
        to_mm = np.array([[scale, 0, -x * scale], [0, -scale, y * scale], [0, 0, 1]])
        return Frame(to_mm, "picture", (shape[1] * scale, shape[0] * scale), 0.0)
    longer = (quad.sides[0], quad.sides[2]) if quad.lengths[0] >= quad.lengths[1] else (quad.sides[1], quad.sides[3])
    along = _mean_direction(longer[0].along, longer[1].along)
    if abs(along[0]) < abs(along[1]):
        along = np.array([along[1], -along[0]])
    along = along * np.sign(along[0])
    middle = (carry(_diagonal(quad), np.array([[0.5, 0.5]])))[0]
    turn = np.array([along, (along[1], -along[0])]) * scale
    to_mm = np.eye(3)
    to_mm[:2, :2], to_mm[:2, 2] = turn, -turn @ middle
    # By place, not by name: of a face that lies aslant the upper left corner may be the lower left one here.
    low, high = np.split(np.sort(carry(to_mm, quad.corners), axis=0), 2)
    width, height = (high.mean(0) - low.mean(0)).tolist()
    told = f"the face measures {format_number(width, 2)} × {format_number(height, 2)} mm in the picture"
    doubt = max(side.doubt for side in quad.sides) * scale
    return Frame(to_mm, "outline", (width, height), doubt, (told,), quad=quad)


def _mean_direction(one: Array, other: Array) -> Array:
    mean = one + other * np.sign(one @ other)
    return np.asarray(mean / np.linalg.norm(mean))


def _diagonal(quad: Quad) -> Array:
    """The unit square onto the outline: its middle is where the diagonals cross."""
    return _through(np.array([(0, 0), (1, 0), (1, 1), (0, 1)], float), quad.corners)


def _through(source: Array, target: Array) -> Array:
    """The projective matrix that carries four points to four others."""
    rows = []
    for (x, y), (u, v) in zip(source, target, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    found = np.linalg.solve(np.array(rows), np.asarray(target, float).ravel())
    return np.append(found, 1.0).reshape(3, 3)


def _bent(quad: Quad, frame: Frame) -> list[str]:
    worst = max(abs(side.bend) for side in quad.sides) / frame.pixels_per_mm()
    if worst < BENT:
        return []
    return [
        f"the sides are bent by up to {worst:.2f} mm: step back and zoom in, or scan; the lens bends straight lines"
    ]


def flattened(pixels: Array, frame: Frame, per_mm: float, margin: float = 0.0) -> Array:
    """The face as seen straight on, `per_mm` pixels to the mm, y down, with a margin in mm round it."""
    c = cv()
    width, height = frame.size[0] + 2 * margin, frame.size[1] + 2 * margin
    shape = (max(1, round(width * per_mm)), max(1, round(height * per_mm)))
    x, y = frame.centre
    to_view = np.array(
        [[per_mm, 0, (width / 2 - x) * per_mm - 0.5], [0, -per_mm, (height / 2 + y) * per_mm - 0.5], [0, 0, 1]]
    )
    less = frame.pixels_per_mm(frame.centre) / per_mm
    if less > 1.3:  # smaller than the picture: blur first what would else be lost between the pixels
        pixels = c.GaussianBlur(pixels, (0, 0), 0.5 * less)
    return np.asarray(
        c.warpPerspective(pixels, to_view @ frame.to_mm, shape, flags=c.INTER_LINEAR, borderMode=c.BORDER_REPLICATE)
    )
