"""Ways in which planned holes may lie on measured ones, and what each is worth."""

import math
from dataclasses import dataclass
from itertools import combinations
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from facegraphic.drill.assign import pair_off
from facegraphic.drill.similarity import Points, Similarity

Complex: TypeAlias = NDArray[np.complex128]

KEPT = 60  # the best starts, which are then looked at closely
EACH_WAY = 4
CHUNK = 500
MOST_STARTS = 12_000  # pairs laid on pairs; beyond it a fixed draw of them
SEED = 20  # of that draw, so that the same holes give the same fit
# A diameter that is off by so much (mm) speaks against a pair as much as a place off by `near` does.
WRONG_SIZE = 1.0
MARGIN = 0.2  # poses whose costs differ by no more are equally good: noise alone makes this much of a difference
LEFT_ALONE = 1.6  # what a hole without its like costs; a pair costs 1 + SIZE_WEIGHT at most
SIZE_WEIGHT = 0.5  # the most that a wrong diameter costs: sizes break ties, and places decide


@dataclass(frozen=True)
class Pose:
    """A motion from planned to measured with the pairs it makes; `distances` is planned × measured, in mm."""

    motion: Similarity
    pairs: tuple[tuple[int, int], ...]
    distances: Points
    cost: float


class Poses:
    """Starts from two tables of x, y, d (mm)."""

    def __init__(self, plan: Points, seen: Points, near: float, reach: float) -> None:
        self.plan, self.seen, self.near, self.reach = plan, seen, near, reach
        known = (plan[:, None, 2] > 0) & (seen[None, :, 2] > 0)
        off = np.abs(plan[:, None, 2] - seen[None, :, 2]) / WRONG_SIZE
        self.sizes = np.where(known, SIZE_WEIGHT * np.minimum(1, off) ** 2, 0.0)

    def pose(self, motion: Similarity) -> Pose:
        """Pair the holes off under a motion. Each pair costs up to 1 for its place, one left alone LEFT_ALONE."""
        carried = motion.apply(self.plan[:, :2])
        distances = np.linalg.norm(carried[:, None] - self.seen[None, :, :2], axis=2)
        cost = self._place(distances) + self.sizes
        cost[distances > self.reach] = 1e3
        pairs = tuple(pair_off(cost, LEFT_ALONE))
        total = sum(float(cost[p, m]) for p, m in pairs) + LEFT_ALONE * (len(self.plan) - len(pairs))
        return Pose(motion, pairs, distances, total)

    def _place(self, distances: Points) -> Points:
        """A squared distance, levelling off: at `near` half of what it can cost, never all of it, so that one hole
        far off does not draw the others, yet of two the nearer is still preferred."""
        square = (distances / self.near) ** 2
        worth: Points = square / (1 + square)
        return worth

    def in_place(self) -> list[Pose]:
        """The four quarter turns about the origin, as planned and mirrored."""
        turns = (0.0, 90.0, 180.0, -90.0)
        return [self.pose(Similarity(angle=turn, mirrored=flip)) for flip in (False, True) for turn in turns]

    def over_pairs(self, stretch: float) -> list[Pose]:
        """The most promising ways to lay two planned holes on two measured ones."""
        if min(len(self.plan), len(self.seen)) == 1:
            return self._alone()
        starts = self._starts(stretch)
        plan, seen = _complex(self.plan), _complex(self.seen)
        motions: list[Similarity] = []
        costs: list[float] = []
        for mirrored in (False, True):
            source = -plan.conj() if mirrored else plan
            s0, s1, t0, t1 = source[starts[:, 0]], source[starts[:, 1]], seen[starts[:, 2]], seen[starts[:, 3]]
            turn = (t1 - t0) / (s1 - s0)
            turn = turn if stretch > 0 else turn / np.abs(turn)
            shift = (t0 + t1 - turn * (s0 + s1)) / 2
            costs += self._quick(source, turn, shift)
            motions += [_motion(a, b, mirrored) for a, b in zip(turn.tolist(), shift.tolist(), strict=True)]
        return [self.pose(motions[i]) for i in _varied(motions, costs)]

    def _alone(self) -> list[Pose]:
        """Where one side is a single hole, any one of the other side may be it."""
        shifts = [(float(m[0] - p[0]), float(m[1] - p[1])) for p in self.plan for m in self.seen]
        return [self.pose(Similarity(shift=shift)) for shift in shifts]

    def _starts(self, stretch: float) -> NDArray[np.int64]:
        """Rows of two planned and two measured holes that are as far apart, but for what drilling and stretching
        explain."""
        first, second = np.nonzero(~np.eye(len(self.seen), dtype=bool))
        far_seen = np.linalg.norm(self.seen[first, :2] - self.seen[second, :2], axis=1)
        rows = []
        for a, b in combinations(range(len(self.plan)), 2):
            far = float(np.linalg.norm(self.plan[a, :2] - self.plan[b, :2]))
            fits = np.abs(far_seen - far) <= 2 * self.near + stretch * far
            fits &= (far > 1e-6) & (far_seen > 1e-6)
            pairs = np.stack([first[fits], second[fits]], axis=1)
            rows.append(np.hstack([np.tile((a, b), (len(pairs), 1)), pairs]))
        starts = np.concatenate(rows).astype(np.int64)
        if len(starts) > MOST_STARTS:
            drawn = np.random.default_rng(SEED).choice(len(starts), MOST_STARTS, replace=False)
            starts = starts[np.sort(drawn)]
        return starts

    def _quick(self, source: Complex, turn: Complex, shift: Complex) -> list[float]:
        """Costs with every planned hole given its nearest, whoever else wants it."""
        seen, costs = _complex(self.seen), []
        for i in range(0, len(turn), CHUNK):
            carried = turn[i : i + CHUNK, None] * source + shift[i : i + CHUNK, None]
            distances = np.abs(carried[:, :, None] - seen)
            costs += (self._place(distances) + self.sizes).min(2).sum(1).tolist()
        return costs


def _complex(table: Points) -> Complex:
    points: Complex = table[:, 0] + 1j * table[:, 1]
    return points


def _motion(turn: complex, shift: complex, mirrored: bool) -> Similarity:
    angle = math.degrees(math.atan2(turn.imag, turn.real))
    return Similarity(abs(turn), angle, (shift.real, shift.imag), mirrored)


def _varied(motions: list[Similarity], costs: list[float]) -> list[int]:
    """The best starts of each way round: by angle in steps of 15 degrees, and mirrored or not."""
    kept: list[int] = []
    counts: dict[tuple[bool, int], int] = {}
    for i in np.argsort(costs, kind="stable").tolist():
        way = (motions[i].mirrored, math.floor((motions[i].angle + 7.5) / 15) % 24)
        if counts.get(way, 0) < EACH_WAY:
            counts[way] = counts.get(way, 0) + 1
            kept.append(i)
        if len(kept) >= KEPT:
            break
    return kept
