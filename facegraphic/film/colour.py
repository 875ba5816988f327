"""Ink on film on paint as the eye gets it. Pure arithmetic on colours: nothing here knows of faces or files.

Colours are arrays of three shares of one in their last axis, *coded* as sRGB writes them or *linear* in light.
Transparent inks multiply in linear light what lies below them; white film is opaque, so it is white that lies below;
a white plate lies under whatever is printed and nowhere else; toner is opaque black.
"""

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from facegraphic.stock.tables import Look

Colours: TypeAlias = NDArray[np.float64]

WEIGHTS = np.array([0.2126, 0.7152, 0.0722])  # of red, green and blue light: WCAG 2.2, relative luminance
LEAST = 3.0  # WCAG 2.2, SC 1.4.3 for large text and SC 1.4.11 for what is not text
FLARE = 0.05  # light that the surroundings throw on everything: WCAG 2.2, contrast ratio
SCATTER = 1.7  # Yule and Nielsen's n where it has not been measured (Pearson 1981)


def coded(ink: str) -> Colours:
    """A "#rrggbb" colour as three coded shares of one."""
    return np.array([int(ink[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def to_linear(colours: Colours) -> Colours:
    """Coded sRGB to linear light (IEC 61966-2-1)."""
    return np.where(colours <= 0.04045, colours / 12.92, ((colours + 0.055) / 1.055) ** 2.4)


def to_coded(light: Colours) -> Colours:
    """Linear light to coded sRGB (IEC 61966-2-1); what lies outside 0 to 1 is cut off."""
    light = np.clip(light, 0.0, 1.0)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


def luminance(light: Colours) -> Colours:
    """Relative luminance of linear light, 0 to 1 (WCAG 2.2)."""
    return np.asarray(light @ WEIGHTS)


def contrast(one: Colours, other: Colours) -> Colours:
    """Contrast ratio of two luminances, 1 to 21, the same either way round (WCAG 2.2, SC 1.4.3)."""
    return (np.maximum(one, other) + FLARE) / (np.minimum(one, other) + FLARE)


def halftone(coverage: Colours, solid: Colours, base: Colours, scatter: float = SCATTER) -> Colours:
    """Linear light of dots of `solid` that cover a share of `base`.

    Yule and Nielsen's model: light spreads under the dots, so that they look larger than they are. With `scatter` 1
    it is Murray and Davies's, which knows no spreading.
    """
    root = 1 / scatter
    return np.asarray((coverage * solid**root + (1 - coverage) * base**root) ** scatter)


def seen(printed: Colours, paint: str, look: Look) -> Colours:
    """Linear light of coded colours once they are on the box.

    What is not printed is white in `printed`, but for a white plate, where it is the paint's own colour. Greys of
    toner are shares of a pixel that dots leave bare.
    """
    below = to_linear(coded(paint))
    if look == "clear":
        return below * to_linear(printed)
    if look == "toner":
        return halftone(1 - printed, np.zeros(3), below)
    return to_linear(printed)
