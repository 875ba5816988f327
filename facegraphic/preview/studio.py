"""The light that falls on the box: soft boxes in a grey room, over a table. Directions are unit vectors in box space.

A soft box is a rectangle in direction; a rough surface sees it blurred. Light is white, so that paint keeps its colour.
"""

import math
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from facegraphic.preview.vectors import dot
from facegraphic.stock.shown import Light, lights

Floats = npt.NDArray[np.float32]
Array = npt.NDArray[np.float64]

SKY = 0.26  # what the room lights from above, as a share of white
HORIZON = 0.21
ROOM_SHINE = (0.12, 0.24)  # how bright the room is in a reflection, at the horizon and overhead
TABLE_SHINE = 0.15
BLUR = (0.04, 1.5)  # softness of a soft box's edges in a mirror (tangents), and how much roughness squared adds
WRAP = 0.18  # how far beyond a right angle a large light still reaches


def direction(azimuth: float, elevation: float) -> Array:
    a, e = math.radians(azimuth), math.radians(elevation)
    return np.array([math.cos(a) * math.cos(e), math.sin(a) * math.cos(e), math.sin(e)])


@lru_cache(maxsize=32)
def frame(light: Light) -> tuple[Array, Array, Array]:
    """Towards a light, along its width, along its height."""
    towards = direction(light.azimuth, light.elevation)
    wide = np.cross([0.0, 0.0, 1.0], towards)
    wide /= np.linalg.norm(wide)
    return towards, wide, np.cross(towards, wide)


@lru_cache(maxsize=32)
def rays(name: str, across: int, up: int) -> Array:
    """Directions spread evenly over a soft box (n × 3)."""
    light = lights()[name]
    towards, wide, high = frame(light)
    u = np.tan(np.radians(light.wide)) * (2 * (np.arange(across) + 0.5) / across - 1)
    v = np.tan(np.radians(light.high)) * (2 * (np.arange(up) + 0.5) / up - 1)
    # Neighbouring rows stand apart by half a step, so that edges of shadows don't line up.
    shift = (np.arange(up) % 2 - 0.5) * np.tan(np.radians(light.wide)) / across
    spread = towards + (u[None, :] + shift[:, None])[..., None] * wide + v[:, None, None] * high
    flat = spread.reshape(-1, 3)
    return np.asarray(flat / np.linalg.norm(flat, axis=1, keepdims=True))


@lru_cache(maxsize=8)
def dome(count: int) -> Array:
    """Directions over the upper half, as many from everywhere as what lies flat gets light from there (n × 3)."""
    number = np.arange(count) + 0.5
    radius, turn = np.sqrt(number / count), number * math.pi * (3 - math.sqrt(5))
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2)], 1)


def falls(normals: npt.NDArray[np.floating], name: str) -> Floats:
    """What a soft box does to surfaces by their normals (n × 3), were nothing in its way."""
    towards = frame(lights()[name])[0].astype(np.float32)
    facing = (dot(normals, towards) + WRAP) / (1 + WRAP)
    return np.asarray(lights()[name].strength * np.clip(facing, 0, None), np.float32)


def ambient(normals: npt.NDArray[np.floating]) -> Floats:
    """What the room does to surfaces from above the horizon: half of it to those that stand upright."""
    up = np.asarray(normals[:, 2], np.float32)
    share = 0.5 + 0.5 * up
    return np.asarray(share * (HORIZON + (SKY - HORIZON) * np.clip(up, 0, 1)), np.float32)


def below(normals: npt.NDArray[np.floating]) -> Floats:
    """The share of a surface's outlook that lies below the horizon."""
    return np.asarray(0.5 - 0.5 * normals[:, 2], np.float32)


def blur(rough: Floats) -> Floats:
    """How blurred surfaces mirror by their roughness: tangents of angles."""
    return np.asarray(BLUR[0] + BLUR[1] * rough * rough, np.float32)


def shine(directions: npt.NDArray[np.floating], soft: Floats) -> Floats:
    """How bright the room is in reflections that go into some directions (n × 3), each blurred by a tangent (n)."""
    rays = np.asarray(directions, np.float32)
    up = rays[:, 2]
    low, high = ROOM_SHINE
    total = low + (high - low) * np.clip(up, 0, 1) ** 0.7
    for light in lights().values():
        towards, wide, tall = (axis.astype(np.float32) for axis in frame(light))
        ahead = np.maximum(dot(rays, towards), 1e-3)
        across = np.abs(dot(rays, wide)) / ahead
        over = np.abs(dot(rays, tall)) / ahead
        seen = _edge(across, math.tan(math.radians(light.wide)), soft)
        seen *= _edge(over, math.tan(math.radians(light.high)), soft)
        total += light.shine * seen * (ahead > 2e-3)
    ground = _smooth(np.clip(0.5 - up / (0.02 + 1.1 * soft), 0, 1))
    return np.asarray(total + (TABLE_SHINE - total) * ground, np.float32)


def _edge(away: Array | Floats, half: float, soft: Floats) -> Floats:
    """1 within half a width, 0 beyond, with an edge that is `soft` wide either way; dimmer where it is all edge."""
    inside = _smooth(np.clip((half - away) / (2 * soft) + 0.5, 0, 1))
    return np.asarray(inside * np.minimum(1.0, half / soft * 0.9 + 0.1), np.float32)


def _smooth(share: Floats) -> Floats:
    return np.asarray(share * share * (3 - 2 * share), np.float32)
