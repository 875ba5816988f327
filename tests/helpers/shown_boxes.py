"""A small box to show, made here and not by the package: five faces, a rounded-off rim, a knob and a lamp."""

import math

import numpy as np
from PIL import Image

from facegraphic.geometry.path import Box
from facegraphic.preview.model import FaceLook, Material, Mesh, Model, Pixels, Pose
from facegraphic.stock.faces import Side

WIDE, DEEP, HIGH = 60.0, 110.0, 30.0
PAINT = Material("paint", "#173f4a", 0.4)
SIDES: tuple[Side, ...] = ("top", "back", "front", "left", "right")
POSES: dict[Side, Pose] = {
    "top": Pose((0, 0, HIGH), (1, 0, 0), (0, 1, 0), (0, 0, 1)),
    "front": Pose((0, -DEEP / 2, HIGH / 2), (1, 0, 0), (0, 0, 1), (0, -1, 0)),
    "back": Pose((0, DEEP / 2, HIGH / 2), (-1, 0, 0), (0, 0, 1), (0, 1, 0)),
    "right": Pose((WIDE / 2, 0, HIGH / 2), (0, 1, 0), (0, 0, 1), (1, 0, 0)),
    "left": Pose((-WIDE / 2, 0, HIGH / 2), (0, -1, 0), (0, 0, 1), (-1, 0, 0)),
}
SIZES: dict[Side, tuple[float, float]] = {
    "top": (WIDE, DEEP), "front": (WIDE, HIGH), "back": (WIDE, HIGH), "left": (DEEP, HIGH), "right": (DEEP, HIGH)
}  # fmt: skip


def face(side: Side) -> Mesh:
    """A whole side, flat."""
    width, height = SIZES[side]
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (width / 2, height / 2)
    pose = POSES[side]
    points = pose.carry(np.hstack([corners, np.zeros((4, 1))]))
    return Mesh(
        points.astype(np.float32),
        np.tile(np.array(pose.out, np.float32), (4, 1)),
        np.array([[0, 1, 2], [0, 2, 3]], np.int32),
        PAINT,
        side=side,
        on_face=corners.astype(np.float32),
    )


def drum(at: tuple[float, float], radius: float, height: float, material: Material, hole: str) -> Mesh:
    """An upright cylinder on the top."""
    turns = np.linspace(0, 2 * math.pi, 49)[:-1]
    round_ = np.stack([np.cos(turns), np.sin(turns), np.zeros(48)], 1)
    foot = np.array([*at, HIGH]) + radius * round_
    head = foot + np.array([0, 0, height])
    up = np.tile((0.0, 0.0, 1.0), (49, 1))
    points = np.vstack([foot, head, head, [[*at, HIGH + height]]])
    here, after = np.arange(48), np.roll(np.arange(48), -1)
    wall = np.vstack([np.stack([here, after, 48 + after], 1), np.stack([here, 48 + after, 48 + here], 1)])
    lid = np.stack([np.full(48, 144), 96 + here, 96 + after], 1)
    return Mesh(
        points.astype(np.float32),
        np.vstack([round_, round_, up]).astype(np.float32),
        np.vstack([wall, lid]).astype(np.int32),
        material,
        hole=hole,
    )


def box(parts: bool = True) -> Model:
    """The box, with or without a knob and a lit lamp on its top."""
    knob = drum((-15, 30), 8, 14, Material("knob", "#202020", 0.5), "rate")
    nut = drum((15, 30), 5, 3, Material("nickel", "#c8c8c4", 0.25, metal=1.0), "depth")
    lamp = drum((0, 0), 2.5, 4, Material("lamp", "#ff3020", 0.3, glow=1.0), "lamp")
    return Model((WIDE, DEEP, HIGH), (*map(face, SIDES), *((knob, nut, lamp) if parts else ())), POSES)


def patches(side: Side, colours: tuple[str, str, str, str], ground: str = "#808080", scale: int = 10) -> FaceLook:
    """A look whose corners are 8 mm squares: upper left, upper right, lower left, lower right, as seen from outside."""
    width, height = SIZES[side]
    picture = Image.new("RGB", (round(width * scale), round(height * scale)), ground)
    edge = 8 * scale
    for number, colour in enumerate(colours):
        x = 0 if number % 2 == 0 else picture.width - edge
        y = 0 if number < 2 else picture.height - edge
        picture.paste(colour, (x, y, x + edge, y + edge))
    return FaceLook(np.asarray(picture), Box.centred(width, height))


def plain(side: Side, colour: str, film: int | None = None) -> FaceLook:
    """A look of one colour, with or without film all over."""
    width, height = SIZES[side]
    picture: Pixels = np.asarray(Image.new("RGB", (round(width * 4), round(height * 4)), colour))
    shine = None if film is None else np.full(picture.shape[:2], film, np.uint8)
    return FaceLook(picture, Box.centred(width, height), shine)


def sheet(size: tuple[int, int], colour: str) -> Pixels:
    """A picture of one colour."""
    return np.asarray(Image.new("RGB", size, colour))
