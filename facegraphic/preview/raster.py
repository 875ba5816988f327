"""Which triangle is seen where: a depth buffer over all triangles at once, on numpy.

Every triangle is cut into the spans of pixels between its edges, row by row; the spans are written out as fragments,
and of the fragments at a pixel the nearest stays. Nearness is 1/depth, which is linear over the picture.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from facegraphic.preview.camera import Camera
from facegraphic.preview.model import Mesh

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
NOTHING = -1
STEPS = 1 << 31  # of nearness, between the farthest and the nearest point
LEAST_AREA = 1e-9  # square pixels below which a triangle covers no pixel's middle


@dataclass(frozen=True, eq=False)
class Stack:
    """All triangles of a scene: their corners (m × 3 × 3) and normals there, unit facets, and whose mesh each is of."""

    corners: Array
    normals: npt.NDArray[np.float32]
    facets: Array
    owner: Ints


def stacked(meshes: tuple[Mesh, ...]) -> Stack:
    corners = np.concatenate([mesh.points[mesh.triangles] for mesh in meshes]).astype(float)
    normals = np.concatenate([mesh.normals[mesh.triangles] for mesh in meshes])
    facets = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    facets /= np.maximum(np.linalg.norm(facets, axis=1, keepdims=True), 1e-12)
    owner = np.repeat(np.arange(len(meshes)), [len(mesh.triangles) for mesh in meshes])
    return Stack(corners, normals, facets, owner)


@dataclass(frozen=True, eq=False)
class Flat:
    """Triangles as they lie in a picture: corners in px (m × 3 × 2), nearness there (m × 3), and each one's number."""

    corners: Array
    nearness: Array
    number: Ints

    @cached_property
    def sides(self) -> Array:
        """Where rows cut their sides (m × 8): the upper corner's x and y, by how much x grows with y on the side that
        goes from there all the way down and on that to the middle corner, whose x and y come next, then the same growth
        from there on down, and the lower corner's y.

        Each side is told from its upper end, so that neighbours cut a shared edge in the same place.
        """
        order = np.argsort(self.corners[..., 1], axis=1, kind="stable")
        (ax, ay), (bx, by), (cx, cy) = (
            np.take_along_axis(self.corners, order[:, i, None, None], axis=1)[:, 0].T for i in range(3)
        )

        def slope(x0: Array, y0: Array, x1: Array, y1: Array) -> Array:
            rise = y1 - y0
            return np.asarray((x1 - x0) / np.where(rise > 0, rise, 1.0))

        growth = (slope(ax, ay, cx, cy), slope(ax, ay, bx, by), slope(bx, by, cx, cy))
        return np.stack([ax, ay, *growth[:2], bx, by, growth[2], cy], 1)

    @cached_property
    def planes(self) -> Array:
        """Nearness as a + b·x + c·y over the picture (m × 3)."""
        (x0, y0), (x1, y1), (x2, y2) = (self.corners[:, i].T for i in range(3))
        n0, n1, n2 = self.nearness.T
        area = (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0)
        b = ((n1 - n0) * (y2 - y0) - (n2 - n0) * (y1 - y0)) / area
        c = ((x1 - x0) * (n2 - n0) - (x2 - x0) * (n1 - n0)) / area
        return np.stack([n0 - b * x0 - c * y0, b, c], 1)


def flattened(stack: Stack, camera: Camera) -> Flat:
    """The triangles that turn their outside to the camera, as they lie in its picture; all have to be before it."""
    seen = camera.seen(stack.corners.reshape(-1, 3)).reshape(-1, 3, 3)
    if seen[..., 2].min() <= 0:
        raise ValueError("the camera stands among the meshes")
    pixels = camera.focal * seen[..., :2] / seen[..., 2:] + np.array(camera.centre)
    return outward(pixels, 1 / seen[..., 2])


def outward(pixels: Array, nearness: Array) -> Flat:
    """Those of some flat triangles that run anticlockwise as they are looked at, y down."""
    (x0, y0), (x1, y1), (x2, y2) = (pixels[:, i].T for i in range(3))
    number = np.flatnonzero((x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0) < -LEAST_AREA)
    return Flat(pixels[number], nearness[number], number)


@dataclass(frozen=True, eq=False)
class Pixels:
    """Pixels to be filled, `count` of them, of a picture of `width` × `height`: all, or those counted by `before`.

    `before` tells for each place of the picture, and for its end, how many wanted pixels stand before it; `where` has
    their places in order.
    """

    width: int
    height: int
    before: Ints | None = None
    where: Ints | None = None

    @property
    def count(self) -> int:
        return self.width * self.height if self.before is None else int(self.before[-1])


def counted(wanted: npt.NDArray[np.bool_]) -> Pixels:
    """Only the wanted pixels of a picture (h × w)."""
    before = np.zeros(wanted.size + 1, np.int64)
    np.cumsum(wanted.reshape(-1), out=before[1:])
    return Pixels(wanted.shape[1], wanted.shape[0], before, np.flatnonzero(wanted))


def nearest(flat: Flat, pixels: Pixels, at: tuple[float, float] = (0.5, 0.5)) -> Ints:
    """For each wanted pixel in order the number of the nearest triangle at that point in it, or NOTHING."""
    found: Ints = nearest_at(flat, pixels, (at,))[0]
    return found


def nearest_at(flat: Flat, pixels: Pixels, spots: Sequence[tuple[float, float]]) -> Ints:
    """The same at several points of each wanted pixel (points × pixels)."""
    met = _met(flat, pixels)
    found = np.full((len(spots), pixels.count), NOTHING, np.int64)
    for own, spot in zip(found, spots, strict=True):
        _keep_largest(own, *_fragments(met, pixels, spot))
        seen = own >= 0
        own[seen] = flat.number[own[seen] & (1 << 31) - 1]
    return found


@dataclass(frozen=True, eq=False)
class _Met:
    """Pairs of a triangle and a row of pixels that it may be seen in: which triangle and row; where the row begins in
    the picture; the triangle's sides; its nearness at the picture's corner and growing right and down, from 0 to STEPS.
    """

    which: Ints
    row: Array
    begins: Ints
    sides: Array
    planes: Array


def _met(flat: Flat, pixels: Pixels) -> _Met:
    low, high = np.floor(flat.corners.min(axis=1)), np.floor(flat.corners.max(axis=1)) + 1
    (left, first), (right, end) = (
        np.clip(bound, 0, (pixels.width, pixels.height)).astype(np.int64).T for bound in (low, high)
    )
    tall = end - first
    which = np.repeat(np.arange(len(tall)), tall)
    rows = np.arange(len(which)) + np.repeat(first - (np.cumsum(tall) - tall), tall)
    if pixels.before is not None:  # no pixel between its leftmost and its rightmost that is wanted
        begins = rows * pixels.width
        some = pixels.before[begins + right[which]] > pixels.before[begins + left[which]]
        which, rows = which[some], rows[some]
    nearest, farthest = float(flat.nearness.max(initial=1.0)), float(flat.nearness.min(initial=0.0))
    planes = (flat.planes - np.array([farthest, 0, 0])) * (STEPS / max(nearest - farthest, 1e-30))
    sides = np.ascontiguousarray(flat.sides.take(which, axis=0).T)
    return _Met(
        which, rows.astype(float), rows * pixels.width, sides, np.ascontiguousarray(planes.take(which, axis=0).T)
    )


def _fragments(met: _Met, pixels: Pixels, at: tuple[float, float]) -> tuple[Ints, Ints]:
    """The wanted pixels, by their count, in which triangles are met at a point, and for each meeting a number that is
    the larger the nearer the triangle is; its lower 31 bits tell which.
    """
    y = met.row + at[1]
    start, end = (
        met.begins + np.clip(np.ceil(side - at[0]), 0, pixels.width).astype(np.int64) for side in _spans(met.sides, y)
    )
    if pixels.before is not None:
        start, end = pixels.before[start], pixels.before[end]
    some = np.flatnonzero((end > start) & (met.sides[1] <= y) & (y < met.sides[7]))
    start, which = start[some], met.which[some]
    long = end[some] - start
    places = np.arange(int(long.sum())) + np.repeat(start - (np.cumsum(long) - long), long)
    # Nearness along a row, over the place in the picture.
    a, across, c = met.planes[:, some]
    ahead = a + c * y[some] + across * (at[0] - met.begins[some])
    steps = np.repeat(across, long)
    steps *= places if pixels.where is None else pixels.where[places]
    steps += np.repeat(ahead, long)
    keys = np.clip(steps, 0, STEPS, out=steps).astype(np.int64)
    keys <<= 31
    keys |= np.repeat(which, long)
    return places, keys


def _spans(sides: Array, y: Array) -> tuple[Array, Array]:
    """Where rows enter and leave triangles, see `Flat.sides`."""
    ax, ay, whole, first, bx, by, second, _ = sides
    one = ax + (y - ay) * whole
    other = np.where(y < by, ax + (y - ay) * first, bx + (y - by) * second)
    return np.minimum(one, other), np.maximum(one, other)


def _keep_largest(buffer: Ints, places: Ints, keys: Ints) -> None:
    """Put keys in their places, the largest where several meet; few rounds, as few lie over each other."""
    while len(places):
        more = keys > buffer[places]
        places, keys = places[more], keys[more]
        buffer[places] = keys
