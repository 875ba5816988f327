"""Kinds of rendered pictures, drawn at random, and how far off what is measured in them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from helpers.scans import Array, Look, Rendered, TrueHole, random_holes, render, through
from helpers.warps import warped

from facegraphic.drill.scan.rectify import Size
from facegraphic.drill.scan.survey import Survey, survey

# Paint, ground and holes in linear light: bare metal and paints on black card, white lid or wood; holes black, or
# showing the white lid behind.
COLOURS = [
    ((0.55, 0.55, 0.57), (0.02, 0.02, 0.02), (0.03, 0.03, 0.03)),
    ((0.45, 0.45, 0.47), (0.90, 0.90, 0.88), (0.04, 0.04, 0.04)),
    ((0.02, 0.06, 0.09), (0.85, 0.85, 0.85), (0.80, 0.80, 0.80)),
    ((0.40, 0.03, 0.02), (0.35, 0.25, 0.15), (0.01, 0.01, 0.01)),
    ((0.80, 0.72, 0.55), (0.05, 0.05, 0.06), (0.02, 0.02, 0.02)),
    ((0.03, 0.20, 0.08), (0.80, 0.80, 0.82), (0.005, 0.005, 0.005)),
]
KINDS = ("150", "300", "600", "photo")
LEAN = 20.0  # degrees, either way
TILT = 25.0
PHOTO = 3000  # pixels along the longer side
# Demanded: root of the mean square error of place and the worst of diameter, mm. A pixel is 0.17 mm at 150 dpi.
AIMS = {"150": (0.06, 0.10), "300": (0.03, 0.05), "600": (0.02, 0.05), "photo": (0.10, 0.10)}


@dataclass(frozen=True)
class Errors:
    """Of one picture: each hole's distance from the truth, diameter error, both over their stated uncertainties; how
    many holes were missed and how many found that are none."""

    place: tuple[float, ...]
    across: tuple[float, ...]
    shares: tuple[float, ...]
    missed: int
    false: int


def look_of(kind: str, seed: int, size: tuple[float, float]) -> Look:
    """A picture's look: a flat scan by its dots to the inch, or a photo. Every other scan is clean; the rest, and all
    photos, have uneven light, shadows, burrs, glare, pencil, dirt and JPEG."""
    rng = np.random.default_rng(seed)
    face, ground, hole = COLOURS[seed % len(COLOURS)]
    lean = float(rng.uniform(-LEAN, LEAN))
    look = Look(face, ground, hole, lean=lean, blur=float(rng.uniform(0.6, 1.3)), noise=1.5)
    # As much ground as a leaning face needs to lie in the picture whole.
    look = replace(look, margin=8 + 0.5 * math.sin(math.radians(abs(lean))) * size[0])
    if kind != "photo":
        look = replace(look, dpi=float(kind))
    if kind != "photo" and seed % 2:
        return look
    # In a darker shadow white paper has the tone of bare metal, and no edge is left to be found.
    darkest = 0.3 if seed % len(COLOURS) == 1 else 0.6
    look = replace(
        look, noise=3.0, vignette=0.2, shadow=float(rng.uniform(0, darkest)), burrs=2, glare=2, pencil=True, dirt=20,
        jpeg=88,
    )  # fmt: skip
    if kind != "photo":
        return look
    along, steep = rng.uniform(0, 2 * math.pi), float(rng.uniform(0.4, 1)) * TILT
    tilt = (steep * math.cos(along), steep * math.sin(along))
    margin = look.margin + 0.12 * size[0]
    dpi = PHOTO * 25.4 / (size[0] + 2 * margin)
    return replace(look, dpi=dpi, tilt=tilt, margin=margin, distance=float(rng.uniform(300, 600)), burrs=1)


def picture(kind: str, seed: int, size: tuple[float, float]) -> Rendered:
    """Every third by OpenCV's warp, the others by counting what each pixel covers."""
    look = look_of(kind, seed, size)
    holes = random_holes(seed, size, oval=0.05)
    return warped(holes, size, look, seed) if seed % 3 == 2 else render(holes, size, look, seed)


def measured(picture: Rendered) -> Survey:
    return survey(picture.pixels, Size(*picture.size))


def rms(figures: Sequence[float] | Array) -> float:
    return float(np.sqrt(np.mean(np.square(figures)))) if len(figures) else 0.0


def errors(holes: tuple[TrueHole, ...], found: Survey) -> Errors:
    place, across, shares, used = [], [], [], set()
    missed = 0
    for hole in holes:
        best = min(found.holes, key=lambda m: math.hypot(m.x - hole.x, m.y - hole.y))
        far = math.hypot(best.x - hole.x, best.y - hole.y)
        if far > 1 or abs(best.d - hole.d) > 1:
            missed += 1
            continue
        used.add(best.id)
        place.append(far)
        across.append(abs(best.d - hole.d))
        shares += [abs(best.x - hole.x) / best.ux, abs(best.y - hole.y) / best.uy, abs(best.d - hole.d) / best.ud]
    return Errors(tuple(place), tuple(across), tuple(shares), missed, len(found.holes) - len(used))


def hough_errors(shot: Rendered) -> Errors:
    """The same by OpenCV's Hough circles, which is given what it cannot find out: the true outline, so that the face
    lies before it flat, 10 pixels to the mm, and nothing beyond it."""
    per_mm, (w, h) = 10.0, shot.size
    corners = np.array([(-w, h), (w, h), (w, -h), (-w, -h)]) / 2
    flat = np.array([(0, 0), (w, 0), (w, h), (0, h)]) * per_mm
    across = cv2.getPerspectiveTransform(through(shot.to_pixels, corners).astype(np.float32), flat.astype(np.float32))
    grey = cv2.warpPerspective(
        cv2.cvtColor(shot.pixels, cv2.COLOR_RGB2GRAY), across, (round(w * per_mm), round(h * per_mm))
    )
    seen = cv2.HoughCircles(
        cv2.GaussianBlur(grey, (0, 0), 1.5), cv2.HOUGH_GRADIENT_ALT, 1.5, 4 * per_mm, param1=120, param2=0.8,
        minRadius=round(1.2 * per_mm), maxRadius=round(8 * per_mm),
    )  # fmt: skip
    rows = [] if seen is None else seen.reshape(-1, seen.shape[-1])[:, :3].tolist()
    circles = [(x / per_mm - w / 2, h / 2 - y / per_mm, 2 * r / per_mm) for x, y, r in rows]
    place, off, missed = [], [], 0
    for hole in shot.holes:
        near = [c for c in circles if math.hypot(c[0] - hole.x, c[1] - hole.y) < 1 and abs(c[2] - hole.d) < 1]
        if not near:
            missed += 1
            continue
        x, y, d = min(near, key=lambda c: math.hypot(c[0] - hole.x, c[1] - hole.y))
        place.append(math.hypot(x - hole.x, y - hole.y))
        off.append(abs(d - hole.d))
    return Errors(tuple(place), tuple(off), (), missed, len(circles) - len(place))
