"""Etched faces as their steps finish them: the hollows are full of paint, and what stands high is sanded bare."""

import numpy as np
import numpy.typing as npt

from facegraphic.film.colour import coded, to_linear
from facegraphic.film.grounds import apart
from facegraphic.job.load import DEFAULT_PAINT
from facegraphic.job.model import Job
from facegraphic.units import MM_PER_INCH

Light = npt.NDArray[np.float32]

METAL = DEFAULT_PAINT
FILLED = "#232527"  # what hollows are filled with on a box of bare metal: near black is usual (common practice)
ALIKE = 10.0  # CIEDE2000 up to which a paint counts as bare metal (a choice: clearly apart begins there)
STEP = 0.12  # mm across which the step from high to low is seen (a choice, by looking)
SHINE = 0.35  # how much lighter or darker the step is, towards the light and away from it (a choice, by looking)


def filling(job: Job) -> str | None:
    """What the hollows are filled with; None: with the paint that is there."""
    return FILLED if not job.coats and apart(job.paint, METAL) < ALIKE else None


def etched(below: Light, low: Light, dpi: int) -> Light:
    """Linear light of a face with hollows of `below` where `low` is 1, and bare metal where it is 0, lit from the
    upper left.
    """
    high = 1 - low
    metal = to_linear(coded(METAL)).astype(np.float32)
    light = below + (metal - below) * high[..., np.newaxis]
    reach = max(1, round(STEP * dpi / MM_PER_INCH / 2))
    padded = np.pad(high, reach, mode="edge")
    slope = padded[2 * reach :, 2 * reach :] - padded[: -2 * reach, : -2 * reach]
    shaded: Light = np.clip(light * (1 + np.float32(SHINE) * slope)[..., np.newaxis], 0, 1)
    return shaded
