"""A model as values that JSON can hold, small enough to stand in a page; `output/web/box-meshes.js` unpacks it.

Points stand on a grid of 65535 steps across their mesh (a few thousandths of a millimetre), normals on one of 127
steps an axis; both as base64 of little-endian numbers, as browsers keep them.
"""

import base64
from typing import Any

import numpy as np
import numpy.typing as npt

from facegraphic.preview.camera import AZIMUTH, ELEVATION
from facegraphic.preview.model import Material, Mesh, Model

STEPS = 65535


def packed(model: Model) -> dict[str, Any]:
    """The model: size, where its still picture sees it from (degrees), poses, materials and meshes.

    A mesh names its material by its place in the list.
    """
    materials = list(dict.fromkeys(mesh.material for mesh in model.meshes))
    return {
        "size": list(model.size),
        "seen_from": {"azimuth": AZIMUTH, "elevation": ELEVATION},
        "poses": {
            side: {"centre": list(pose.centre), "right": list(pose.right), "up": list(pose.up), "out": list(pose.out)}
            for side, pose in model.poses.items()
        },
        "materials": [_material(material) for material in materials],
        "meshes": [_mesh(mesh, materials.index(mesh.material)) for mesh in model.meshes],
    }


def _material(material: Material) -> dict[str, Any]:
    return {
        "name": material.name,
        "colour": material.colour,
        "rough": material.rough,
        "metal": material.metal,
        "glow": material.glow,
    }


def _mesh(mesh: Mesh, material: int) -> dict[str, Any]:
    points = mesh.points.astype(np.float64)
    low = points.min(axis=0)
    step = (points.max(axis=0) - low) / STEPS
    grid = np.rint((points - low) / np.where(step > 0, step, 1))
    wide = len(points) > STEPS
    values: dict[str, Any] = {
        "material": material,
        "low": [round(float(value), 6) for value in low],
        "step": [float(f"{value:.9g}") for value in step],
        "points": _text(grid, "<u2"),
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
