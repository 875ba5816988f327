"""Many vectors at once (n × 3), column by column.

The library for large matrices is left out on purpose: it wakes threads for products as small as these, which then
wait for work at the processor's cost, and takes longer than the three products themselves.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Vectors = npt.NDArray[Any]


def dot(vectors: Vectors, others: Vectors) -> Vectors:
    """The products of vectors with others, or with one (n)."""
    x, y, z = (vectors[..., axis] * others[..., axis] for axis in range(3))
    x += y
    x += z
    return x


def along(vectors: Vectors, axes: Vectors | Sequence[Sequence[float]]) -> Vectors:
    """How long vectors are along some axes (n × m); of the vectors' own kind of number."""
    found = np.empty((len(axes), len(vectors)), vectors.dtype)
    for own, axis in zip(found, axes, strict=True):
        own[:] = dot(vectors, np.asarray(axis, vectors.dtype))
    return found.T


def unit(vectors: Vectors) -> Vectors:
    """The vectors at length 1; those of hardly any length are left short."""
    long = np.maximum(np.sqrt(dot(vectors, vectors)), 1e-9)
    return np.stack([vectors[:, axis] / long for axis in range(3)]).T
