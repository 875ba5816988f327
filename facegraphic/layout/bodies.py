"""What is inside the box, as solids: the bodies, lugs and plugs of all parts on all faces, and the circuit board."""

import math
from dataclasses import dataclass, replace

import numpy as np

from facegraphic.geometry.solids import Array, Solid, block
from facegraphic.job.model import Board, Control, Face, Hole, Job
from facegraphic.stock.cavity import Stand, stand
from facegraphic.stock.faces import Side
from facegraphic.stock.tables import BoxSize, Part


@dataclass(frozen=True, eq=False)
class Block:
    """One solid of a part: its body, its lugs, or a plug that is in it."""

    what: str
    solid: Solid

    def moved(self, by: Array) -> "Block":
        return replace(self, solid=self.solid.moved(by))


@dataclass(frozen=True, eq=False)
class Body:
    """All that a part fills below its panel; `axes` are its face's x and y and the way inwards, as rows."""

    hole: str
    part: Part
    side: Side
    at: tuple[float, float]
    axes: Array
    blocks: tuple[Block, ...]

    def name(self, what: str) -> str:
        """What messages call one of its blocks."""
        return f"{what} {self.hole} ({self.part.name})"


def bodies(job: Job) -> tuple[Body, ...]:
    """Every part's body, face by face. Controls without a part have none."""
    found = []
    for face in job.faces:
        where = stand(job.box, face.side, job.across, job.deep)
        for hole, control, part in _fitted(face):
            found.append(body(hole, part, face.side, where, job.box, control.turn))
    return tuple(found)


def _fitted(face: Face) -> list[tuple[Hole, Control, Part]]:
    return [(face.hole(c.hole), c, c.part) for c in face.controls if c.part]


def body(hole: Hole, part: Part, side: Side, where: Stand, box: BoxSize, turn: float = 0.0) -> Body:
    """What a part in a hole fills below its panel, turned clockwise by `turn` degrees seen from outside."""
    angle = math.radians(turn)
    flat = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1.0]])
    axes = flat @ where.axes
    origin = where.point(hole.x, hole.y, box.wall)

    def solid(size: tuple[float, float], at: tuple[float, float], start: float, end: float) -> Solid:
        low = (at[0] - size[0] / 2, at[1] - size[1] / 2, start)
        return block(origin, axes, low, (at[0] + size[0] / 2, at[1] + size[1] / 2, end))

    blocks = [Block("the body of", solid(part.body, part.body_at, 0.0, part.depth))]
    if part.lugs[2]:
        end = part.depth + part.lugs[2]
        blocks.append(Block("the lugs of", solid(part.lugs[:2], part.body_at, part.depth, end)))
    if part.plug[1] > part.depth:
        size = (part.plug[0], part.plug[0])
        blocks.append(Block("the plug in", solid(size, (0.0, 0.0), part.depth, part.plug[1])))
    return Body(hole.id, part, side, (hole.x, hole.y), where.axes, tuple(blocks))


def board_solid(board: Board, box: BoxSize) -> Solid:
    """The board with its joints and parts, as one block in the box's coordinates."""
    near, far = board.standoff - board.joints, board.standoff + board.thickness + board.parts
    low, high = (box.wall + near, box.wall + far)
    if board.under == "top":
        low, high = box.size[2] - high, box.size[2] - low
    (x, y), (width, depth) = board.at, board.size
    ends = (x - width / 2, y - depth / 2, low), (x + width / 2, y + depth / 2, high)
    return block(np.zeros(3), np.eye(3), *ends)
