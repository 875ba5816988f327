"""What fits into the cell of a screen: dots that grow from circles to nearly squares (superellipses)."""

import math

from facegraphic.units import MM_PER_INCH

SQUAREST = 6.0  # exponent of the superellipse that a dot is at most: 2 is a circle


def share(power: float) -> float:
    """How much of its square a superellipse fills: Γ(1 + 1/n)² / Γ(1 + 2/n)."""
    return math.gamma(1 + 1 / power) ** 2 / math.gamma(1 + 2 / power)


def finest_ruling(ink: float, bare: float) -> float:
    """The finest screen, in lines to the inch, that shows all tones with such least ink and least bare (mm).

    Dots as large as leave a bare line between them, and holes as large as leave ink, must reach each other's tones.
    """
    low, high = max(ink, bare), 100 * max(ink, bare)
    for _ in range(60):
        step = (low + high) / 2
        holds = share(SQUAREST) * ((1 - ink / step) ** 2 + (1 - bare / step) ** 2) >= 1
        low, high = (low, step) if holds else (step, high)
    return MM_PER_INCH / high
