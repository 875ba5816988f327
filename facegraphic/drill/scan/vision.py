"""OpenCV when it is wanted, and pictures as light."""

import importlib
from functools import cache
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from facegraphic.errors import Problem, UserError

Pixels: TypeAlias = NDArray[np.uint8]  # height × width × 3, red first
Light: TypeAlias = NDArray[np.float32]  # height × width, 0 to 1, linear
Array: TypeAlias = NDArray[Any]  # floats, but for masks and places in other arrays


LUMA: Array = np.array([0.299, 0.587, 0.114])  # ITU-R BT.601, the weights by which JPEG keeps brightness


@cache
def cv() -> Any:
    """The OpenCV module. UserError tells how to get it."""
    try:
        return importlib.import_module("cv2")
    except ImportError:
        mend = 'in the folder of facegraphic: pip install ".[scan]"'
        raise UserError(Problem("OpenCV is not there, and reading a scan or photo needs it", mend)) from None


def curve() -> NDArray[np.float32]:
    """Linear light of each of the 256 levels of sRGB (IEC 61966-2-1). Optics blur light, not levels: an edge stands
    in the middle of its light."""
    level = np.arange(256) / 255
    return np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4).astype(np.float32)


def linear(pixels: Pixels, axis: Array | None = None) -> Light:
    """Light along a colour axis (three weights), by default brightness."""
    weights = LUMA if axis is None else axis
    table = curve()
    light = sum(np.float32(weight) * table[pixels[..., channel]] for channel, weight in enumerate(weights))
    return np.asarray(light, np.float32)


def sample(light: Light, points: Array) -> Array:
    """Values at points (…, 2) of x and y in pixels, whose centres stand at whole numbers; cubic, edges repeated."""
    shape = points.shape[:-1]
    flat = points.reshape(-1, points.shape[-2] if len(shape) > 1 else 1, 2).astype(np.float32)
    c = cv()
    values = c.remap(light, flat[..., 0], flat[..., 1], c.INTER_CUBIC, borderMode=c.BORDER_REPLICATE)
    return np.asarray(values, float).reshape(shape)


def carry(matrix: Array, points: Array) -> Array:
    """Points (…, 2) through a 3 × 3 projective matrix."""
    flat = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(flat[..., :2] / flat[..., 2:], float)


def slopes(profiles: Array, step: float, smooth: float) -> Array:
    """The first derivative along the last axis, smoothed by a Gaussian; `step` and `smooth` in the same unit."""
    reach = int(np.ceil(3.5 * smooth / step))
    at = np.arange(-reach, reach + 1) * step
    bell = np.exp(-((at / smooth) ** 2) / 2)
    kernel = at * bell / (at * at * bell).sum()
    padded = np.pad(profiles, [(0, 0)] * (profiles.ndim - 1) + [(reach, reach)], mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1, axis=-1)
    return np.asarray(windows @ kernel, float)


def peak(values: Array, index: Array) -> Array:
    """Where a parabola through each row's value at `index` and its neighbours peaks, in samples from `index`."""
    rows = np.arange(len(values))
    inside = np.clip(index, 1, values.shape[1] - 2)
    before, at, after = values[rows, inside - 1], values[rows, inside], values[rows, inside + 1]
    bend = before - 2 * at + after
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = np.where(bend < 0, (before - after) / (2 * bend), 0.0)
    return np.asarray(inside - index + np.clip(shift, -1, 1), float)
