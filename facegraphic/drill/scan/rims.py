"""The rim of one hole: edge points along rays, and the circle that most of them lie on."""

import math
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.scan import limits
from facegraphic.drill.scan.circles import Spot
from facegraphic.drill.scan.lines import width_of
from facegraphic.drill.scan.rectify import Frame
from facegraphic.drill.scan.vision import Array, Light, carry, peak, sample, slopes


@dataclass(frozen=True)
class Rim:
    """A circle in mm with what speaks for it.

    `roundness` is how far the rim strays from the circle from peak to valley, in its two to five waves (ovals, and the
    three corners that twist drills leave). `u_place` (in x and in y) and `u_d` are standard uncertainties of the fit.
    `support` is the share of rays that meet the rim, `step` the light across it as a share of the light on both sides,
    `blur` its edge's in pixels, `gap` the longest stretch of it that is lost, in degrees; `polarity` is 1 for a hole
    darker than the face, −1 for a lighter one. `stretch` is how much wider than high the rim is, as a share.
    """

    x: float
    y: float
    d: float
    roundness: float
    u_place: tuple[float, float]
    u_d: float
    support: float
    step: float
    blur: float
    gap: float
    polarity: int
    stretch: float


def measure(light: Light, offset: Array, frame: Frame, spot: Spot) -> Rim | None:
    """Fit the rim near a spot. `offset` is where in the picture the light begins. None if no circle is there."""
    at, radius = np.array([spot.x, spot.y]), spot.d / 2
    fitted = None
    for share in (0.30, 0.12, 0.08, 0.08):
        edges = _Edges.along_rays(light, offset, frame, (at, radius, spot.polarity), share)
        fitted = _circle(edges, at, radius)
        if fitted is None:
            return None
        at, radius = fitted[:2], float(fitted[2])
        if not 0.4 * spot.d < 2 * radius < 1.7 * spot.d or math.hypot(*(at - (spot.x, spot.y))) > 0.5 * spot.d:
            return None
    around = _Edges.along_rays(light, offset, frame, (at, radius, spot.polarity), 0.3, limits.WIDE)
    return edges.rim(at, radius, around) if fitted is not None else None


@dataclass(frozen=True)
class _Edges:
    """The strongest step of each ray: its points in mm, angles and strengths; all slopes, and where along the rays
    they stand (mm from the circle's middle)."""

    points: Array
    angles: Array
    strength: Array
    falls: Array
    light: Array
    along: Array
    per_mm: float
    polarity: int

    @classmethod
    def along_rays(
        cls,
        light: Light,
        offset: Array,
        frame: Frame,
        circle: tuple[Array, float, int],
        share: float,
        least: float = 4.5,
    ) -> "_Edges":
        at, radius, polarity = circle
        per_mm = frame.pixels_per_mm((float(at[0]), float(at[1])))
        count = int(np.clip(2 * math.pi * radius * per_mm, *limits.RAYS))
        band = max(share * radius, least / per_mm)
        along = np.arange(max(radius - band, 0.1 * radius), radius + band, limits.STEP / per_mm)
        angles = np.arange(count) * 2 * math.pi / count
        out = np.stack([np.cos(angles), np.sin(angles)], axis=1)
        points = at + along[None, :, None] * out[:, None]
        profiles = sample(light, carry(frame.to_pixels, points) - offset)
        falls = polarity * slopes(profiles, limits.STEP, limits.SMOOTH)
        likely = falls * np.exp(-(((along - radius) / band) ** 2))
        index = likely.argmax(1)
        far = along[index] + peak(falls, index) * limits.STEP / per_mm
        strength = falls[np.arange(count), index]
        return cls(at + far[:, None] * out, angles, strength, falls, profiles, along, per_mm, polarity)

    def rim(self, at: Array, radius: float, around: "_Edges") -> Rim | None:
        """What the final circle is worth."""
        off = self.points - at
        left = np.hypot(*off.T) - radius
        near = self.near(left)
        if near.sum() < 12:
            return None
        spread = math.sqrt(float((left[near] ** 2).sum()) / (near.sum() - 3))
        angles = np.arctan2(off[near, 1], off[near, 0])
        terms = np.column_stack([np.cos(angles), np.sin(angles), np.ones(len(angles))])
        spacing = 2 * math.pi * radius * self.per_mm / len(self.angles)
        free = min(1.0, spacing / (2.5 * limits.SMOOTH))
        inverse = np.linalg.inv(terms.T @ terms * free)
        ux, uy, ur = spread * np.sqrt(np.diag(inverse))
        bias = limits.BIAS / self.per_mm
        turned = np.sort(angles)
        gap = float(np.degrees(np.diff(turned, append=turned[0] + 2 * math.pi).max()))
        pixels = (around.along - radius) * self.per_mm
        mean = np.median(around.light, axis=0)
        inside, outside = float(np.interp(-3.5, pixels, mean)), float(np.interp(3.5, pixels, mean))
        return Rim(
            float(at[0]),
            float(at[1]),
            2 * radius,
            _waves(angles, left[near]),
            (math.hypot(ux, bias / 2), math.hypot(uy, bias / 2)),
            math.hypot(2 * ur, 2 * bias),
            float(near.mean()),
            abs(outside - inside) / max(abs(outside) + abs(inside), 1e-3),
            width_of(np.median(around.falls, axis=0), pixels),
            gap,
            self.polarity,
            _stretch(angles, left[near]) / radius,
        )

    def near(self, left: Array) -> Array:
        """Which points lie on the circle but for noise and roundness, and have a step worth the name."""
        usual = float(np.median(self.strength[np.abs(left) < 2 / self.per_mm])) if len(left) else 0.0
        good = self.strength > 0.3 * usual
        spread = 1.4826 * float(np.median(np.abs(left[good]))) if good.any() else 1.0
        return np.asarray(good & (np.abs(left) < min(max(3.5 * spread, 0.75 / self.per_mm), 2.5 / self.per_mm + 0.05)))


def _waves(angles: Array, left: Array) -> float:
    """Peak to valley of two to five waves round the rim, fitted to what is left of a circle."""
    if len(left) < 40:
        return float(np.ptp(left))
    terms = np.column_stack([f(k * angles) for k in range(2, 6) for f in (np.cos, np.sin)])
    damped = terms.T @ terms + 0.02 * len(left) * np.eye(8)
    found = np.linalg.solve(damped, terms.T @ left)
    round_ = np.linspace(0, 2 * math.pi, 360)
    wave = np.column_stack([f(k * round_) for k in range(2, 6) for f in (np.cos, np.sin)]) @ found
    return float(np.ptp(wave))


def _stretch(angles: Array, left: Array) -> float:
    """Half of width less height, by the wave of two that stands along the axes."""
    if len(left) < 40:
        return 0.0
    terms = np.column_stack([np.ones(len(left)), np.cos(2 * angles), np.sin(2 * angles)])
    return float(2 * np.linalg.lstsq(terms, left, rcond=None)[0][1])


def _circle(edges: _Edges, at: Array, radius: float) -> Array | None:
    """x, y and radius: the circle through three points that most others lie near, then fitted to those."""
    points, worth = edges.points, np.minimum(edges.strength / max(float(np.median(edges.strength)), 1e-9), 1.5)
    worth = np.clip(worth, 0, None)
    rng = np.random.default_rng(len(points))
    picks = rng.integers(0, len(points), (160, 3))
    circles = _through_three(points[picks])
    circles = np.vstack([circles[np.isfinite(circles).all(1)], [*at, radius]])
    tolerance = 1.2 / edges.per_mm + 0.01 * radius
    left = np.abs(np.hypot(points[:, 0] - circles[:, :1], points[:, 1] - circles[:, 1:2]) - circles[:, 2:])
    score = (np.clip(1 - (left / tolerance) ** 2, 0, None) * worth).sum(1)
    best = circles[int(score.argmax())]
    return _settled(points, worth, best, tolerance)


def _through_three(triples: Array) -> Array:
    """Circles through triples of points, n × 3 × 2; not finite where they stand in a line."""
    a, b, c = triples[:, 0], triples[:, 1], triples[:, 2]
    bx, by = (b - a).T
    cx, cy = (c - a).T
    twice = 2 * (bx * cy - by * cx)
    with np.errstate(divide="ignore", invalid="ignore"):
        ux = (cy * (bx**2 + by**2) - by * (cx**2 + cy**2)) / twice
        uy = (bx * (cx**2 + cy**2) - cx * (bx**2 + by**2)) / twice
    return np.column_stack([a[:, 0] + ux, a[:, 1] + uy, np.hypot(ux, uy)])


def _settled(points: Array, worth: Array, circle: Array, tolerance: float) -> Array | None:
    """Gauss-Newton on the distances from the rim, with Tukey's weights against burrs, glare and shadows."""
    circle = circle.astype(float)
    width = 2 * tolerance
    for _ in range(15):
        off = points - circle[:2]
        far = np.hypot(*off.T)
        left = far - circle[2]
        weight = np.clip(1 - (left / width) ** 2, 0, None) ** 2 * worth
        if (weight > 0).sum() < 12:
            return None
        terms = np.column_stack([off / far[:, None], np.ones(len(far))]) * np.sqrt(weight)[:, None]
        try:
            step = np.linalg.lstsq(terms, left * np.sqrt(weight), rcond=None)[0]
        except np.linalg.LinAlgError:
            return None
        circle += step
        near = np.abs(left) < width
        spread = 1.4826 * float(np.median(np.abs(left[near])))
        width = min(2 * tolerance, max(4.7 * spread, 0.4 * tolerance))
        if float(np.abs(step).max()) < 1e-6:
            break
    return circle if circle[2] > 0 else None
