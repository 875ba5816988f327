"""How light meets surfaces: linear light in, linear light out, the same for faces and for hardware."""

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from facegraphic.preview.studio import ambient, below, blur, falls, shine
from facegraphic.preview.vectors import dot, unit
from facegraphic.stock.shown import lights

Floats = npt.NDArray[np.float32]
Numbers = npt.NDArray[np.floating]

PLAIN = 0.04  # of light that paint, film and plastic send straight back: refractive index 1.5, Fresnel
GRAZING = 0.2  # least cosine of a look along a surface: normals between points may turn away altogether
KNEE = 0.78  # light above which a picture holds back, so that highlights keep their shape
TABLE_LIGHT = 0.42  # what the table sends back up
NEAR_TABLE = (0.30, 26.0)  # the share of it at the box's own foot, which lies in shadow, and how far up that reaches


def diffuse(normals: Numbers, key: Floats, room: Floats) -> Floats:
    """Light that falls on surfaces from above, their shares of key light and of the room's given (n)."""
    total = falls(normals, "key") * key
    rest = ambient(normals)
    for name in lights():
        if name != "key":
            rest = rest + falls(normals, name)
    return np.asarray(total + rest * room, np.float32)


def table_light(normals: Numbers, height: Numbers) -> Floats:
    """Light that the table sends up to surfaces by their height over it (mm)."""
    least, reach = NEAR_TABLE
    near = least + (1 - least) * (1 - np.exp(-np.maximum(height, 0) / reach))
    return np.asarray(TABLE_LIGHT * below(normals) * near, np.float32)


def mirrored(ways: Numbers, normals: Numbers) -> tuple[Floats, Floats]:
    """Where sight goes on from surfaces, from the way it came in (n × 3), and the cosine that it came in by."""
    inwards = dot(ways, normals)
    away = np.maximum(inwards + GRAZING, 0)
    if away.any():
        normals = unit(normals - away[:, None] * ways)
        inwards = dot(ways, normals)
    on = ways - 2 * inwards[:, None] * normals
    return np.asarray(on, np.float32), np.asarray(np.clip(-inwards, GRAZING, 1), np.float32)


def fresnel(cosine: Floats, rough: Floats) -> Floats:
    """The share of light that a plain surface reflects (Schlick), less at a grazing look where it is rough."""
    grazing = np.maximum(0.6 * (1 - rough) ** 2, PLAIN) - PLAIN
    return np.asarray(PLAIN + grazing * (1 - cosine) ** 5, np.float32)


def gleams(ways: Numbers, normals: Numbers, roughs: Sequence[float]) -> list[Floats]:
    """Light that plain surfaces reflect of the room (n), for each roughness that they may have."""
    on, cosine = mirrored(ways, normals)
    each = [np.array([rough], np.float32) for rough in roughs]
    return [np.asarray(fresnel(cosine, rough) * shine(on, blur(rough)), np.float32) for rough in each]


def held(light: Numbers) -> Floats:
    """Light as a picture can show it: as it is up to KNEE, then ever slower towards 1."""
    shown = np.asarray(light, np.float32)
    bright = shown > KNEE
    if not bright.any():
        return shown
    room = np.float32(1 - KNEE)
    over = np.minimum(np.float32(KNEE) - shown, 0)
    over /= room
    np.exp(over, out=over)
    over *= -room
    over += 1
    return np.where(bright, over, shown)
