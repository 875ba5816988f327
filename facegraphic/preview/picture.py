"""The picture of a box with its looks."""

import numpy as np

from facegraphic.film.colour import coded, to_coded, to_linear
from facegraphic.preview.camera import Camera
from facegraphic.preview.model import Looks, Model, Pixels
from facegraphic.preview.raster import Pixels as Wanted
from facegraphic.preview.raster import flattened, nearest, stacked
from facegraphic.preview.warp import warped


def box_picture(model: Model, looks: Looks, camera: Camera) -> Pixels:
    """The box as the camera sees it, RGB, rows from the top."""
    width, height = camera.size
    stack = stacked(model.meshes)
    flat = flattened(stack, camera)
    found = nearest(flat, Wanted(width, height))
    lit = 0.35 + 0.65 * np.clip(stack.facets @ np.array([-0.4, -0.2, 0.9]), 0, 1)
    paints = np.array([to_linear(coded(mesh.material.colour)) for mesh in model.meshes])
    colours = np.vstack([paints[stack.owner] * lit[:, None], [[0.7, 0.7, 0.7]]])[found].reshape(height, width, 3)
    sides = [mesh.side for mesh in model.meshes]
    owner = np.append(stack.owner, -1)[found].reshape(height, width)
    for side, look in looks.items():
        number = sides.index(side)
        here = owner == number
        colours[here] = warped(look, model.poses[side], camera)[here] * lit[stack.owner == number][0]
    return np.asarray(to_coded(colours) * 255 + 0.5).astype(np.uint8)
