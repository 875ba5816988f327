"""Scans and photos of drilled faces by a second path: drawn flat and large with OpenCV, and laid into the picture by
its own warp. It shares no code with helpers/scans.py but the camera's matrix, and none with the program but OpenCV.
"""

import io
import math

import cv2
import numpy as np
from helpers.scans import Array, Look, Rendered, TrueHole, matrix_of
from numpy.typing import NDArray
from PIL import Image

TWICE = 2  # times finer than the picture, both ways, when warped
FLAT = 30.0  # pixels a mm of the flat face: finer than any of the pictures
BITS = 8  # of OpenCV's fractions of a pixel


def warped(holes: list[TrueHole], size: tuple[float, float], look: Look, seed: int = 0) -> Rendered:
    """The face as a camera or scanner sees it: uneven light, blur, noise and JPEG as `look` has them."""
    rng = np.random.default_rng(seed)
    matrix, (high, wide) = matrix_of(look, size)
    flat, to_flat = _flat(holes, size, look, rng)
    finer = np.array([[TWICE, 0, (TWICE - 1) / 2], [0, TWICE, (TWICE - 1) / 2], [0, 0, 1]])
    light = cv2.warpPerspective(
        flat, finer @ matrix @ np.linalg.inv(to_flat), (wide * TWICE, high * TWICE), flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_CONSTANT, borderValue=look.ground,
    )  # fmt: skip
    light = cv2.resize(light, (wide, high), interpolation=cv2.INTER_AREA)
    light *= _uneven((high, wide), look, rng)[..., None]
    light = cv2.GaussianBlur(light, (0, 0), look.blur)
    levels = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * np.clip(light, 0, None) ** (1 / 2.4) - 0.055)
    levels += rng.normal(0, look.noise, levels.shape)
    pixels: NDArray[np.uint8] = np.clip(np.rint(levels), 0, 255).astype(np.uint8)
    if look.jpeg:
        coded = io.BytesIO()
        Image.fromarray(pixels).save(coded, "JPEG", quality=look.jpeg)
        pixels = np.asarray(Image.open(coded)).copy()
    return Rendered(pixels, tuple(holes), size, matrix)


def _flat(
    holes: list[TrueHole], size: tuple[float, float], look: Look, rng: np.random.Generator
) -> tuple[Array, Array]:
    """The face from straight above in linear light, and the matrix to it."""
    per_mm = FLAT
    wide, high = (math.ceil((side + 4) * per_mm) for side in size)
    to_flat = np.array([[per_mm, 0, (wide - 1) / 2], [0, -per_mm, (high - 1) / 2], [0, 0, 1]])
    flat = np.full((high, wide, 3), look.ground, np.float32)
    # OpenCV fills every pixel that an edge touches: half a pixel too far out, all round.
    less = 0.5 / per_mm
    w, h, r = size[0] / 2 - less, size[1] / 2 - less, look.corner
    turns = np.linspace(0, math.pi / 2, 24)
    middles = [(w - r, h - r, 0), (r - w, h - r, 1), (r - w, r - h, 2), (w - r, r - h, 3)]
    ring = [(x + r * math.cos(t + q * math.pi / 2), y + r * math.sin(t + q * math.pi / 2))
            for x, y, q in middles for t in turns]  # fmt: skip
    _fill(flat, to_flat, np.array(ring), look.face)
    for hole in holes:
        t = np.linspace(0, 2 * math.pi, 720, endpoint=False)
        rim = hole.d / 2 - less + hole.oval / 4 * np.cos(2 * (t - 0.6)) + hole.lobes * np.cos(3 * (t - 0.3))
        _fill(flat, to_flat, _polar(hole, rim, t), look.hole)
        for _ in range(look.burrs):
            at, half, out = rng.uniform(0, 2 * math.pi), rng.uniform(0.05, 0.25), rng.uniform(0.1, 0.5)
            t = np.array([at - half, at, at + half, at])
            rim = hole.d / 2 + np.array([0, out, 0, -0.5 * out])
            _fill(flat, to_flat, _polar(hole, rim, t), (float(rng.choice([0.05, 0.95])),) * 3)
    finer = FLAT / (TWICE * look.dpi / 25.4)
    return (cv2.GaussianBlur(flat, (0, 0), 0.5 * finer) if finer > 1.2 else flat), to_flat


def _polar(hole: TrueHole, rim: Array, t: Array) -> Array:
    return np.column_stack([hole.x + rim * np.cos(t), hole.y + rim * np.sin(t)])


def _fill(flat: Array, to_flat: Array, points: Array, colour: tuple[float, float, float]) -> None:
    at = points @ to_flat[:2, :2].T + to_flat[:2, 2]
    cv2.fillPoly(flat, [np.rint(at * 2**BITS).astype(np.int32)], colour, cv2.LINE_8, BITS)


def _uneven(shape: tuple[int, int], look: Look, rng: np.random.Generator) -> Array:
    """Light that falls off to one side and to the corners."""
    y, x = np.mgrid[0 : shape[0], 0 : shape[1]].astype(np.float32)
    x, y = x / shape[1] - 0.5, y / shape[0] - 0.5
    t = rng.uniform(0, 2 * math.pi)
    aside = 0.5 * look.vignette * (x * math.cos(t) + y * math.sin(t))
    return np.asarray(1 - look.vignette * 2 * (x * x + y * y) + aside, np.float32)
