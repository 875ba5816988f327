"""Rules about the inside of the box: what parts, plugs, walls, lid, screw posts and the board do to each other.

All geometry is exact for the blocks that the parts table makes of the parts (separating axes); what a block stands for
is not. So these are warnings: measure the part that is told of before drilling.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import combinations

import numpy as np

from facegraphic.errors import Finding
from facegraphic.geometry.solids import Array, Plane, Solid, overlap, way_out
from facegraphic.job.model import Job
from facegraphic.layout.bodies import Block, Body, board_solid, bodies
from facegraphic.stock.cavity import Cavity, cavity
from facegraphic.stock.tables import BoxSize, boxes, parts

TOUCH = 0.005  # mm of overlap that counts as touching only
FURTHEST = 30.0  # mm: a move longer than this mends nothing
WAYS = {"right": (1.0, 0.0), "left": (-1.0, 0.0), "up": (0.0, 1.0), "down": (0.0, -1.0)}
HINT = "or measure the part: its figures are typical ones"


def parts_meet_inside(job: Job) -> Iterator[Finding]:
    """Two parts cannot fill the same place (plain geometry, separating axes)."""
    for one, other in combinations(bodies(job), 2):
        pairs = [(overlap(a.solid, b.solid), a, b) for a in one.blocks for b in other.blocks]
        deep, a, b = max(pairs, key=lambda pair: pair[0])
        if deep <= TOUCH:
            continue
        message = f"inside the box {one.name(a.what)} and {other.name(b.what)} overlap by {_mm(deep)} mm"
        moves = [*_moves(one, _solids(other)), *_moves(other, _solids(one))]
        cuts = [*_shallower(one, _free_of(_solids(other))), *_shallower(other, _free_of(_solids(one)))]
        yield Finding("parts-meet-inside", "warning", message, _remedy(moves, cuts), one.side, one.at)


def part_meets_box(job: Job) -> Iterator[Finding]:
    """A part fits between walls, lid, top and screw posts (boxes table)."""
    room = cavity(job.box, job.across, job.deep)
    for body in bodies(job):
        yield from _part_in_box(body, job, room)


def _part_in_box(body: Body, job: Job, room: Cavity) -> Iterator[Finding]:
    own = "the top" if body.side == "top" else f"the {body.side} wall"
    for name, plane in room.planes.items():
        if name == own:
            continue
        deep, what = max(((plane.overrun(block.solid), block.what) for block in body.blocks), key=lambda pair: pair[0])
        if deep <= TOUCH:
            continue
        message = f"inside the box {body.name(what)} and {name} overlap by {_mm(deep)} mm"
        cuts = _shallower(body, _short_of(plane))
        if name in ("the lid", "the top"):
            cuts += _taller(job, deep)
        yield Finding("part-meets-box", "warning", message, _remedy(_away(body, plane), cuts), body.side, body.at)
    for corner, post in room.posts.items():
        deep, what = max(((overlap(block.solid, post), block.what) for block in body.blocks), key=lambda pair: pair[0])
        if deep > TOUCH:
            message = f"inside the box {body.name(what)} and {_post(corner)} overlap by {_mm(deep)} mm"
            cuts = _shallower(body, _free_of([post]))
            yield Finding("part-meets-box", "warning", message, _remedy(_moves(body, [post]), cuts), body.side, body.at)


def part_meets_board(job: Job) -> Iterator[Finding]:
    """The circuit board, its joints and parts keep clear of the panel's parts (plain geometry)."""
    if job.board is None:
        return
    board = board_solid(job.board, job.box)
    for body in bodies(job):
        deep, what = max(((overlap(block.solid, board), block.what) for block in body.blocks), key=lambda pair: pair[0])
        if deep > TOUCH:
            message = f"inside the box {body.name(what)} and the circuit board overlap by {_mm(deep)} mm"
            yield Finding("part-meets-board", "warning", message, _board_mend(job, body, board), body.side, body.at)


def _board_mend(job: Job, body: Body, board: Solid) -> str:
    """How to move the board, or else the part."""
    assert job.board is not None
    moves = []
    for way, (x, y) in WAYS.items():
        far = max(way_out(board, block.solid, np.array([x, y, 0.0])) for block in body.blocks)
        moves.append((far, f"move the board {_up(far)} mm {way}"))
    moves.sort()
    z = 1.0 if job.board.under == "lid" else -1.0
    lower = max(way_out(board, block.solid, np.array([0.0, 0.0, -z])) for block in body.blocks)
    cuts = []
    if lower <= job.board.standoff - job.board.joints:
        cuts.append(f"make its standoff {_up(lower)} mm less")
    return _remedy([*moves[:1], *_moves(body, [board])], cuts)


def board_meets_box(job: Job) -> Iterator[Finding]:
    """The circuit board fits between walls, lid, top and screw posts."""
    if job.board is None:
        return
    room = cavity(job.box, job.across, job.deep)
    board = board_solid(job.board, job.box)
    met = [(plane.overrun(board), name) for name, plane in room.planes.items()]
    met += [(overlap(board, post), _post(corner)) for corner, post in room.posts.items()]
    for deep, name in met:
        if deep > TOUCH:
            message = f"inside the box the circuit board and {name} overlap by {_mm(deep)} mm"
            low = name in ("the lid", "the top")
            mend = "change its standoff, or take lower parts" if low else "make it smaller, or move it (at)"
            yield Finding("board-meets-box", "warning", message, mend)


def _post(corner: str) -> str:
    return f"the screw post in the {corner} corner"


def _mm(length: float) -> str:
    return f"{length:.2f}" if length < 0.1 else f"{length:.1f}"


def _up(length: float) -> str:
    """A length to move by, up to the next tenth."""
    return f"{math.ceil(length * 10 - 1e-6) / 10:.1f}"


def _solids(body: Body) -> list[Solid]:
    return [block.solid for block in body.blocks]


def _free_of(others: Sequence[Solid]) -> Callable[[Block], bool]:
    return lambda block: all(overlap(block.solid, other) <= TOUCH for other in others)


def _short_of(plane: Plane) -> Callable[[Block], bool]:
    return lambda block: plane.overrun(block.solid) <= TOUCH


def _moves(body: Body, others: Sequence[Solid]) -> list[tuple[float, str]]:
    """How far a part has to move on its face to be clear of some solids, each way."""
    found = []
    for way, (x, y) in WAYS.items():
        direction = np.array([x, y, 0.0]) @ body.axes
        if (far := _travel(body, others, direction)) <= FURTHEST:
            found.append((far, f'move "{body.hole}" {_up(far)} mm {way}'))
    return found


def _travel(body: Body, others: Sequence[Solid], direction: Array) -> float:
    """How far until every block is clear of every other solid, those met on the way included."""
    far = 0.0
    while far <= FURTHEST:
        moved = [block.moved(far * direction).solid for block in body.blocks]
        step = max(way_out(solid, other, direction) for solid in moved for other in others)
        if step <= 1e-6:
            break
        far += step
    return far


def _away(body: Body, plane: Plane) -> list[tuple[float, str]]:
    """How far a part has to move on its face to be clear of a wall, each way that helps."""
    deep = max(plane.overrun(block.solid) for block in body.blocks)
    found = []
    for way, (x, y) in WAYS.items():
        along = -float(np.array([x, y, 0.0]) @ body.axes @ np.array(plane.normal))
        if along > 1e-6 and (far := deep / along) <= FURTHEST:
            found.append((far, f'move "{body.hole}" {_up(far)} mm {way}'))
    return found


def _shallower(body: Body, clear: Callable[[Block], bool]) -> list[str]:
    """How much less deep the part would have to be, and a part of its kind for the same hole that is."""
    if not all(clear(block.moved(-body.part.reach * body.axes[2])) for block in body.blocks):
        return []
    short, long = 0.0, body.part.reach
    while long - short > 1e-3:
        middle = (short + long) / 2
        back = -middle * body.axes[2]
        short, long = (short, middle) if all(clear(block.moved(back)) for block in body.blocks) else (middle, long)
    part = body.part
    if long > part.reach / 2:
        return []
    others = [p for p in parts().values() if (p.rank, p.thread) == (part.rank, part.thread)]
    fits = [p.name for p in others if p.reach <= part.reach - long and p.body[0] <= part.body[0]]
    example = f" (as {fits[0]})" if fits else ""
    return [f"take a part {_up(long)} mm shallower in {body.hole}{example}"]


def _taller(job: Job, by: float) -> list[str]:
    """The smallest stock box that is so much taller inside and no smaller otherwise."""
    box = job.box

    def holds(other: BoxSize) -> bool:
        sizes = zip(sorted(other.size[:2]), sorted(box.size[:2]), strict=True)
        return other.size[2] - 2 * other.wall >= box.size[2] - 2 * box.wall + by and all(a >= b for a, b in sizes)

    taller = sorted((other for other in boxes().values() if holds(other)), key=lambda other: other.volume)
    return [f"take a taller box ({taller[0].name})"] if taller else []


def _remedy(moves: Sequence[tuple[float, str]], cuts: Sequence[str]) -> str:
    """The two shortest moves of different parts, then what else would mend it."""
    shortest: dict[str, str] = {}
    for _, text in sorted(moves):
        shortest.setdefault(text.split(" ")[1], text)
    return ", ".join([*list(shortest.values())[:2], *cuts, HINT])
