"""How far apart two colours look, to most eyes and to colour-blind ones. Colours are linear light, as in `colour`."""

import math
from collections.abc import Mapping

import numpy as np

from facegraphic.film.colour import Colours

# Linear sRGB to XYZ under D65 (IEC 61966-2-1), and the white of D65 for the 2° observer.
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = np.array([0.95047, 1.0, 1.08883])
# Machado, Oliveira and Fernandes, "A physiologically-based model for simulation of color vision deficiency", IEEE
# TVCG 15(6), 2009: the matrices for severity 1.0, for linear sRGB.
KINDS: Mapping[str, Colours] = {
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}


def as_seen_with(kind: str, light: Colours) -> Colours:
    """Light as it looks to an eye of one of `KINDS`."""
    return np.clip(light @ KINDS[kind].T, 0.0, 1.0)


def lab(light: Colours) -> tuple[float, float, float]:
    """CIE L*, a*, b* of one colour under D65."""
    share = _XYZ @ light / _WHITE
    x, y, z = np.where(share > (6 / 29) ** 3, np.cbrt(share), share / (3 * (6 / 29) ** 2) + 4 / 29)
    return float(116 * y - 16), float(500 * (x - y)), float(200 * (y - z))


def difference(one: tuple[float, float, float], other: tuple[float, float, float]) -> float:
    """CIEDE2000 of two L*a*b* colours, weights 1 (Sharma, Wu and Dalal, Color Res. Appl. 30(1), 2005)."""
    (l1, a1, b1), (l2, a2, b2) = one, other
    middle = (math.hypot(a1, b1) + math.hypot(a2, b2)) / 2
    stretch = 1 + (1 - _saturated(middle)) / 2
    c1, c2 = math.hypot(a1 * stretch, b1), math.hypot(a2 * stretch, b2)
    h1, h2 = (math.degrees(math.atan2(b, a * stretch)) % 360 for a, b in ((a1, b1), (a2, b2)))
    turn, hue = _hues(h1, h2, c1 * c2 == 0)
    light, chroma = (l1 + l2) / 2, (c1 + c2) / 2
    t = 1 - 0.17 * _cos(hue - 30) + 0.24 * _cos(2 * hue) + 0.32 * _cos(3 * hue + 6) - 0.20 * _cos(4 * hue - 63)
    lightness = (l2 - l1) / (1 + 0.015 * (light - 50) ** 2 / math.sqrt(20 + (light - 50) ** 2))
    colourful = (c2 - c1) / (1 + 0.045 * chroma)
    hueing = 2 * math.sqrt(c1 * c2) * math.sin(math.radians(turn / 2)) / (1 + 0.015 * chroma * t)
    blue = -2 * _saturated(chroma) * math.sin(math.radians(60 * math.exp(-(((hue - 275) / 25) ** 2))))
    return math.sqrt(lightness**2 + colourful**2 + hueing**2 + blue * colourful * hueing)


def _hues(h1: float, h2: float, grey: bool) -> tuple[float, float]:
    """The turn from one hue to the other the short way, and the hue half way, in degrees; of a grey the other's hue."""
    if grey:
        return 0.0, h1 + h2
    turn = h2 - h1
    if abs(turn) <= 180:
        return turn, (h1 + h2) / 2
    across = (h1 + h2 + 360) / 2 if h1 + h2 < 360 else (h1 + h2 - 360) / 2
    return (turn - 360 if turn > 0 else turn + 360), across


def _saturated(chroma: float) -> float:
    return math.sqrt(chroma**7 / (chroma**7 + 25.0**7))


def _cos(degrees: float) -> float:
    return math.cos(math.radians(degrees))
