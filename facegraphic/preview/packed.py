"""A model as values that JSON can hold, small enough to stand in a page; `output/web/box-meshes.js` unpacks it.

Points stand on one grid of 65535 steps across the whole (a few thousandths of a millimetre), so that meshes that meet
still do; normals on one of 127 steps an axis. Both are base64 of little-endian numbers, as browsers keep them.
"""

import base64
from typing import Any

import numpy as np
import numpy.typing as npt

from facegraphic.preview.camera import AZIMUTH, ELEVATION
from facegraphic.preview.model import Material, Mesh, Model

Array = npt.NDArray[np.float64]

STEPS = 65535


def packed(model: Model) -> dict[str, Any]:
    """The model: size, where its still picture sees it from (degrees), poses, materials and meshes.

    A mesh names its material by its place in the list.
    """
    materials = list(dict.fromkeys(mesh.material for mesh in model.meshes))
    low = np.min([mesh.points.min(axis=0) for mesh in model.meshes], axis=0).astype(np.float64)
    step = (np.max([mesh.points.max(axis=0) for mesh in model.meshes], axis=0) - low) / STEPS
    return {
        "size": list(model.size),
        "seen_from": {"azimuth": AZIMUTH, "elevation": ELEVATION},
        "poses": {
            side: {"centre": list(pose.centre), "right": list(pose.right), "up": list(pose.up), "out": list(pose.out)}
            for side, pose in model.poses.items()
        },
        "grid": {"low": low.tolist(), "step": step.tolist()},
        "materials": [_material(material) for material in materials],
        "meshes": [_mesh(mesh, materials.index(mesh.material), (low, step)) for mesh in model.meshes],
    }


def worn(material: Material) -> dict[str, Any]:
    """What a shell may wear in place of its own material."""
    return {"colour": material.colour, "rough": material.rough, "metal": material.metal}


def _material(material: Material) -> dict[str, Any]:
    return {"name": material.name, **worn(material), "glow": material.glow}


def _mesh(mesh: Mesh, material: int, grid: tuple[Array, Array]) -> dict[str, Any]:
    low, step = grid
    counts = np.rint((mesh.points - low) / np.where(step > 0, step, 1))  # a step of 0: all in one plane
    wide = len(mesh.points) > STEPS
    values: dict[str, Any] = {
        "material": material,
        "points": _text(counts, "<u2"),
        "normals": _text(np.rint(mesh.normals * 127), "<i1"),
        "triangles": _text(mesh.triangles, "<u4" if wide else "<u2"),
    }
    if wide:
        values["wide"] = True
    if mesh.side is not None:
        values["side"] = mesh.side
    if mesh.hole is not None:
        values["hole"] = mesh.hole
    if mesh.on_face is not None:
        values["on_face"] = _text(mesh.on_face, "<f4")
    return values


def _text(numbers: npt.NDArray[Any], kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(numbers, dtype=kind).tobytes()).decode("ascii")
