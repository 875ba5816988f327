"""Scans and photos of drilled faces, rendered: the truth is known, and nothing of the program is used.

How much of each pixel a shape covers is counted on a grid eight times finer, in linear light, which is then blurred and
coded as sRGB, as a scanner or camera does.
"""

import io
import math
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

Array = NDArray[np.float64]
Shape = Callable[[Array, Array], Array]
FINE = 8  # times finer than the picture, both ways


@dataclass(frozen=True)
class TrueHole:
    x: float
    y: float
    d: float
    oval: float = 0.0  # longest less shortest diameter
    lobes: float = 0.0  # half of peak to valley, three waves


@dataclass(frozen=True)
class Look:
    """What the picture looks like: light of face, ground and holes (0 to 1, red green blue), and its faults."""

    face: tuple[float, float, float] = (0.55, 0.55, 0.57)
    ground: tuple[float, float, float] = (0.02, 0.02, 0.02)
    hole: tuple[float, float, float] = (0.03, 0.03, 0.03)
    dpi: float = 300
    blur: float = 0.8  # pixels
    noise: float = 1.5  # levels
    lean: float = 0.0  # degrees
    shift: tuple[float, float] = (0.0, 0.0)  # mm
    corner: float = 4.0
    margin: float = 12.0
    vignette: float = 0.0
    shadow: float = 0.0  # strength of a soft shadow beside the box and across the face
    burrs: int = 0
    glare: int = 0
    pencil: bool = False
    dirt: int = 0
    jpeg: int = 0
    tilt: tuple[float, float] = (0.0, 0.0)  # a photo's: degrees about x and y
    distance: float = 450.0  # mm to the camera
    top: float | None = None  # width of the upper edge of a face that tapers, its corners sharp


@dataclass(frozen=True)
class Rendered:
    pixels: NDArray[np.uint8]
    holes: tuple[TrueHole, ...]
    size: tuple[float, float]
    to_pixels: Array = field(compare=False)


def matrix_of(look: Look, size: tuple[float, float]) -> tuple[Array, tuple[int, int]]:
    """Face millimetres (y up) to picture pixels (y down, centres at whole numbers), and the picture's size."""
    per_mm = look.dpi / 25.4
    ax, ay = (math.radians(a) for a in look.tilt)
    lean = math.radians(look.lean)
    spin = np.array([[math.cos(lean), -math.sin(lean), 0], [math.sin(lean), math.cos(lean), 0], [0, 0, 1]])
    rx = np.array([[1, 0, 0], [0, math.cos(ax), -math.sin(ax)], [0, math.sin(ax), math.cos(ax)]])
    ry = np.array([[math.cos(ay), 0, math.sin(ay)], [0, 1, 0], [-math.sin(ay), 0, math.cos(ay)]])
    turn = rx @ ry @ spin
    wide = round((size[0] + 2 * look.margin) * per_mm)
    high = round((size[1] + 2 * look.margin) * per_mm)
    plane = np.column_stack([turn[:, 0], turn[:, 1], [look.shift[0], look.shift[1], look.distance]])
    focal = look.distance * per_mm
    camera = np.array([[focal, 0, (wide - 1) / 2 + 0.31], [0, -focal, (high - 1) / 2 - 0.17], [0, 0, 1]])
    matrix = (
        camera @ plane
        if any(look.tilt)
        else np.array(
            [
                [per_mm * math.cos(lean), -per_mm * math.sin(lean), (wide - 1) / 2 + 0.31 + look.shift[0] * per_mm],
                [-per_mm * math.sin(lean), -per_mm * math.cos(lean), (high - 1) / 2 - 0.17 - look.shift[1] * per_mm],
                [0, 0, 1],
            ]
        )
    )
    return matrix, (high, wide)


def through(matrix: Array, points: Array) -> Array:
    flat = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return flat[:, :2] / flat[:, 2:]


def inside_taper(size: tuple[float, float], top: float) -> Shape:
    """How far inside a face whose upper edge is `top` mm wide points lie, in mm."""
    lean = (size[0] - top) / 2 / size[1]

    def depth(x: Array, y: Array) -> Array:
        across = (size[0] + top) / 4 - lean * y - np.abs(x)
        return np.minimum(across / math.hypot(1, lean), size[1] / 2 - np.abs(y))

    return depth


def inside_outline(size: tuple[float, float], corner: float) -> Shape:
    """How far inside a rounded rectangle points lie, in mm (negative outside)."""

    def depth(x: Array, y: Array) -> Array:
        u, v = np.abs(x) - size[0] / 2 + corner, np.abs(y) - size[1] / 2 + corner
        return corner - np.hypot(np.maximum(u, 0), np.maximum(v, 0)) - np.minimum(np.maximum(u, v), 0)

    return depth


def inside_rim(hole: TrueHole) -> Shape:
    def depth(x: Array, y: Array) -> Array:
        t = np.arctan2(y - hole.y, x - hole.x)
        r = hole.d / 2 + hole.oval / 4 * np.cos(2 * (t - 0.6)) + hole.lobes * np.cos(3 * (t - 0.3))
        return r - np.hypot(x - hole.x, y - hole.y)

    return depth


def _fill(light: Array, matrix: Array, shape: Shape, window: Array, colour: object) -> None:
    """Paint a shape over the part of the picture round a window (corner points in mm): how much of each pixel it
    covers is counted on a grid of FINE × FINE points where its edge runs."""
    at = through(matrix, window)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 3, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 4, (light.shape[1], light.shape[0]))
    if (high <= low).any():
        return
    back = np.linalg.inv(matrix)
    y, x = np.mgrid[low[1] : high[1], low[0] : high[0]]
    points = through(back, np.column_stack([x.ravel(), y.ravel()]).astype(float))
    depth = shape(points[:, 0], points[:, 1])
    cover = (depth > 0).astype(float)
    edge = np.flatnonzero(np.abs(depth) < 2.5 * np.linalg.norm(points[1] - points[0]))
    grid = (np.arange(FINE) + 0.5) / FINE - 0.5
    dx, dy = (g.ravel() for g in np.meshgrid(grid, grid))
    near = np.column_stack([(x.ravel()[edge, None] + dx).ravel(), (y.ravel()[edge, None] + dy).ravel()])
    points = through(back, near)
    cover[edge] = (shape(points[:, 0], points[:, 1]) > 0).reshape(len(edge), FINE * FINE).mean(1)
    part = light[low[1] : high[1], low[0] : high[0]]
    part += cover.reshape(part.shape[:2])[..., None] * (np.asarray(colour) - part)


def _around(x: float, y: float, w: float, h: float) -> Array:
    return np.array([(x - w, y - h), (x + w, y - h), (x + w, y + h), (x - w, y + h)])


def _put(light: Array, matrix: Array, points: Array, colour: object, strength: float = 1.0) -> None:
    """Paint a polygon of face millimetres over a part of the picture."""
    at = through(matrix, points)
    low = np.maximum(np.floor(at.min(0)).astype(int) - 2, 0)
    high = np.minimum(np.ceil(at.max(0)).astype(int) + 3, (light.shape[1], light.shape[0]))
    if (high <= low).any():
        return
    part = light[low[1] : high[1], low[0] : high[0]]
    mask = Image.new("L", (part.shape[1] * 2, part.shape[0] * 2))
    ImageDraw.Draw(mask).polygon([tuple(p) for p in ((at - low) * 2 + 0.5).tolist()], fill=255)
    cover = np.asarray(mask, float).reshape(part.shape[0], 2, part.shape[1], 2).mean((1, 3))[..., None] / 255 * strength
    part += cover * (np.asarray(colour) - part)


@dataclass(frozen=True)
class Ell:
    """A printed card lying round the face: where its ring's middle is, and how far it is turned (mm and degrees of the
    face). White paper with black dots: 12 along and 8 up, every 10 mm, 4 mm across, from a ring of 7 and 3.6 mm."""

    at: tuple[float, float]
    turn: float = 0.0
    scale: float = 1.0

    def carry(self, points: Array) -> Array:
        t = math.radians(self.turn)
        turn = self.scale * np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
        return points @ turn.T + np.array(self.at)


def _lay_card(light: Array, matrix: Array, card: Ell) -> None:
    ell = np.array([(-7, -7), (127, -7), (127, 7), (7, 7), (7, 87), (-7, 87)], float)
    _put(light, matrix, card.carry(ell), (0.85, 0.85, 0.85))
    places = [(0, 0), *((10 * i, 0) for i in range(1, 13)), *((0, 10 * i) for i in range(1, 9))]
    for number, place in enumerate(places):
        x, y = card.carry(np.array([place], float))[0].tolist()
        for d, ink in ((4.0, 0.03),) if number else ((7.0, 0.03), (3.6, 0.85)):
            hole = TrueHole(x, y, d * card.scale)
            _fill(light, matrix, inside_rim(hole), _around(x, y, 0.6 * d, 0.6 * d), (ink, ink, ink))


def render(
    holes: list[TrueHole], size: tuple[float, float], look: Look, seed: int = 0, card: Ell | None = None
) -> Rendered:
    rng = np.random.default_rng(seed)
    matrix, shape = matrix_of(look, size)
    light = np.ones((*shape, 3)) * np.asarray(look.ground)
    if look.shadow:  # the box's own shadow beside it, soft
        soft = np.zeros(shape)[..., None].repeat(3, 2)
        _put(soft, matrix, _around(2.5, -3.0, size[0] / 2, size[1] / 2), 1.0)
        light *= 1 - look.shadow * gaussian_filter(soft, (1.0 * look.dpi / 25.4, 1.0 * look.dpi / 25.4, 0))
    if card:
        _lay_card(light, matrix, card)
    box = _around(0, 0, size[0] / 2, size[1] / 2)
    inside = inside_outline(size, look.corner) if look.top is None else inside_taper(size, look.top)
    _fill(light, matrix, inside, box, look.face)
    _dirt(light, matrix, size, look, rng)
    for hole in holes:
        _fill(light, matrix, inside_rim(hole), _around(hole.x, hole.y, 0.6 * hole.d, 0.6 * hole.d), look.hole)
    _faults(light, matrix, holes, look, rng)
    if look.shadow:
        _band(light, matrix, size, holes, look)
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]]
    far = np.hypot((x / shape[1] - 0.5), (y / shape[0] - 0.5)) / 0.707
    light *= (1 - look.vignette * far**2)[..., None]
    light = gaussian_filter(light, (look.blur, look.blur, 0))
    levels = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.clip(light, 0, None) ** (1 / 2.4) - 0.055)
    levels += rng.normal(0, look.noise, levels.shape)
    pixels = np.clip(np.rint(levels), 0, 255).astype(np.uint8)
    if look.jpeg:
        coded = io.BytesIO()
        Image.fromarray(pixels).save(coded, "JPEG", quality=look.jpeg)
        pixels = np.asarray(Image.open(coded)).copy()
    return Rendered(pixels, tuple(holes), size, matrix)


def _dirt(light: Array, matrix: Array, size: tuple[float, float], look: Look, rng: np.random.Generator) -> None:
    """Specks and scratches on the face."""
    for _ in range(look.dirt):
        at = rng.uniform((-size[0] / 2, -size[1] / 2), (size[0] / 2, size[1] / 2)) * 0.95
        if rng.random() < 0.5:
            t = np.linspace(0, 2 * math.pi, 9)
            _put(
                light,
                matrix,
                at + np.column_stack([np.cos(t), np.sin(t)]) * rng.uniform(0.1, 0.5),
                rng.uniform(0, 1, 3),
            )
        else:
            along = rng.normal(0, 6, 2)
            across = np.array([-along[1], along[0]]) / np.hypot(*along) * rng.uniform(0.05, 0.15)
            _put(light, matrix, np.array([at, at + along, at + along + across, at + across]), rng.uniform(0, 1, 3), 0.6)


def _faults(light: Array, matrix: Array, holes: list[TrueHole], look: Look, rng: np.random.Generator) -> None:
    for hole in holes:
        for _ in range(look.burrs):
            t, w, out = rng.uniform(0, 2 * math.pi), rng.uniform(0.03, 0.25), rng.uniform(0.1, 0.5)
            inner, outer = hole.d / 2 - out * rng.uniform(0, 1), hole.d / 2 + out
            ring = [(inner, t - w), (outer, t - w / 2), (outer, t + w / 2), (inner, t + w)]
            points = np.array([(hole.x + r * math.cos(a), hole.y + r * math.sin(a)) for r, a in ring])
            _put(light, matrix, points, rng.choice([0.05, 0.95]) * np.ones(3), 0.9)
        if look.pencil:
            for turn in (0, math.pi / 2):
                along = np.array([math.cos(turn + 0.02), math.sin(turn + 0.02)])
                across = np.array([-along[1], along[0]]) * 0.15
                for sign in (-1, 1):
                    start, end = along * sign * hole.d / 2, along * sign * (hole.d / 2 + 4)
                    quad = np.array([start - across, end - across, end + across, start + across])
                    _put(light, matrix, quad + np.array([hole.x, hole.y]), (0.12, 0.12, 0.13), 0.8)
    per_mm = look.dpi / 25.4
    for _ in range(look.glare):
        hole = holes[rng.integers(len(holes))]
        t = rng.uniform(0, 2 * math.pi)
        at = through(matrix, np.array([(hole.x + math.cos(t) * hole.d * 0.62, hole.y + math.sin(t) * hole.d * 0.62)]))[
            0
        ]
        y, x = np.mgrid[0 : light.shape[0], 0 : light.shape[1]]
        bell = np.exp(-(((x - at[0]) ** 2 + (y - at[1]) ** 2) / (2 * (rng.uniform(0.6, 1.2) * per_mm) ** 2)))
        light += 0.8 * bell[..., None]
        np.clip(light, 0, 1, out=light)


def _band(light: Array, matrix: Array, size: tuple[float, float], holes: list[TrueHole], look: Look) -> None:
    """A shadow across the face, its edge running through the first hole."""
    mask = np.zeros_like(light)
    edge = holes[0].x + 0.2 * holes[0].d
    w, h = size
    _put(mask, matrix, np.array([(edge, -h), (edge + 0.4 * h, h), (w, h), (w, -h)]), 1.0)
    light *= 1 - 0.8 * look.shadow * gaussian_filter(mask, (0.5 * look.dpi / 25.4, 0.5 * look.dpi / 25.4, 0))


SIZES = [3.2, 5.1, 6.3, 7.5, 9.8, 12.2]


def random_holes(seed: int, size: tuple[float, float], count: int | None = None, oval: float = 0.0) -> list[TrueHole]:
    """Holes 4 mm and more from each other and from the edge."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(3, 11)) if count is None else count
    holes: list[TrueHole] = []
    for _ in range(3000):
        d = float(rng.choice(SIZES) + rng.uniform(-0.1, 0.1))
        reach = np.array(size) / 2 - d / 2 - 4
        x, y = rng.uniform(-reach, reach).tolist()
        if all(math.hypot(x - o.x, y - o.y) > (d + o.d) / 2 + 4 for o in holes):
            holes.append(TrueHole(x, y, d, oval * float(rng.random()), oval / 4 * float(rng.random())))
        if len(holes) == count:
            break
    return holes
