"""Planned holes against measured ones: which is which, how the one set lies on the other, and what is out of place.

Every pair of planned holes is laid on every pair of measured ones that is as far apart; of all these ways to lie, the
one with most holes near their places wins, and is then fitted to all of them. Holes that are off by far more than the
rest take no part in the fit, and are named. Ids play no part, but where a panel lies as well one way as the other.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facegraphic.drill.poses import MARGIN, Pose, Poses
from facegraphic.drill.similarity import Points, Similarity, best_similarity

STEPS = 8  # of fitting a way to lie again to the holes that are near under it


@dataclass(frozen=True)
class Spot:
    """A hole for fitting: figures in mm. A diameter of 0 is not known."""

    id: str
    x: float
    y: float
    d: float = 0.0


@dataclass(frozen=True)
class Terms:
    """How a fit is made. Lengths are mm.

    `noise` is how far a hole usually lies off its plan: ISO 2768-1 m allows 0.3 mm over 30 to 120 mm. `reach` is how
    far one may lie off and still be taken for the same hole. `scaled` lets the sizes differ, by up to `stretch`.
    `in_place` allows no motion but quarter turns and mirroring about the origin.
    """

    noise: float = 0.3
    reach: float = 5.0
    scaled: bool = False
    stretch: float = 0.1
    in_place: bool = False

    @property
    def near(self) -> float:
        """What is off by more than this is out of place, not drilled with the usual spread."""
        return 4 * self.noise


@dataclass(frozen=True)
class Pair:
    """A planned hole and the measured one that it became.

    `off` is from the planned place to the measured one, in the plan's frame; `back` is the measured place there.
    """

    planned: Spot
    measured: Spot
    back: tuple[float, float]
    off: tuple[float, float]
    outlier: bool = False

    @property
    def distance(self) -> float:
        return math.hypot(*self.off)


@dataclass(frozen=True)
class Fit:
    """How measured holes lie on planned ones; `motion` carries planned to measured.

    `turned` is the nearest of 0, 90, 180 and 270 degrees against the clock by which the measured panel lies turned.
    When mirrored, its left and right are changed over first. `ambiguous` says in words what other ways fit as well.
    """

    motion: Similarity
    pairs: tuple[Pair, ...]
    missing: tuple[Spot, ...]
    extra: tuple[Spot, ...]
    ambiguous: tuple[str, ...] = ()

    @property
    def mirrored(self) -> bool:
        return self.motion.mirrored

    @property
    def turned(self) -> int:
        return round(self.motion.angle / 90) % 4 * 90

    @property
    def lean(self) -> float:
        """Degrees against the clock beyond the quarter turns."""
        return (self.motion.angle + 45) % 90 - 45

    @property
    def outliers(self) -> tuple[Pair, ...]:
        return tuple(pair for pair in self.pairs if pair.outlier)

    @property
    def rms(self) -> float:
        """Root of the mean square distance of the pairs that are no outliers, in mm."""
        good = [pair.distance**2 for pair in self.pairs if not pair.outlier]
        return math.sqrt(sum(good) / len(good)) if good else 0.0


def fit_holes(planned: Sequence[Spot], measured: Sequence[Spot], terms: Terms | None = None) -> Fit | None:
    """Lay planned holes on measured ones; None when no two of them agree (one, for a panel of one hole).

    A panel that can lie several ways alike is taken the way in which ids agree, else the least turned and unmirrored.
    """
    terms = terms or Terms()
    if not planned or not measured:
        return None
    plan, seen = _table(planned), _table(measured)
    rivals = _ways(plan, seen, terms)
    if not rivals:
        return None
    chosen = max(rivals, key=lambda pose: (_same_ids(pose, planned, measured), -_strangeness(pose)))
    others = [pose for pose in rivals if pose is not chosen]
    return _told(chosen, (planned, measured), terms, others)


def _table(spots: Sequence[Spot]) -> Points:
    return np.array([(spot.x, spot.y, spot.d) for spot in spots], float)


def _ways(plan: Points, seen: Points, terms: Terms) -> list[Pose]:
    """The ways to lie that explain the holes equally well: one, unless the panel is symmetric."""
    poses = Poses(plan, seen, terms.near, terms.reach)
    starts = poses.in_place() if terms.in_place else poses.over_pairs(terms.stretch if terms.scaled else 0.0)
    if not starts:
        return []
    settled = starts if terms.in_place else _all_settled(poses, starts, terms.scaled)
    best = min(pose.cost for pose in settled)
    enough = 1 if terms.in_place or min(len(plan), len(seen)) == 1 else 2
    rivals: list[Pose] = []
    for pose in sorted(settled, key=lambda pose: (pose.cost, _strangeness(pose))):
        if pose.cost > best + MARGIN or len(pose.pairs) < enough:
            continue
        if not any(_alike(pose, other) for other in rivals):
            rivals.append(pose)
    return rivals


Near = tuple[bool, tuple[tuple[int, int], ...]]  # mirrored, and the pairs that a motion is fitted to


def _all_settled(poses: Poses, starts: Sequence[Pose], scaled: bool) -> list[Pose]:
    """Each start fitted; what leads to a fit already made (as most starts near the truth do) is not fitted again."""
    seen: set[Near] = set()
    settled = [_settled(poses, pose, scaled, seen) for pose in sorted(starts, key=lambda pose: pose.cost)]
    return [pose for pose in settled if pose is not None]


def _settled(poses: Poses, pose: Pose, scaled: bool, seen: set[Near]) -> Pose | None:
    """The pose fitted to the holes near it, until it rests; those out of place weigh nothing. None if another start
    came by the same pairs."""
    own: set[Near] = set()
    for _ in range(STEPS):
        near = [(p, m) for p, m in pose.pairs if pose.distances[p, m] < poses.near]
        if len(near) < 2:
            break
        key = (pose.motion.mirrored, tuple(near))
        if key in own:
            break
        if key in seen:
            return None
        own.add(key)
        p, m = (list(column) for column in zip(*near, strict=True))
        motion = best_similarity(poses.plan[p, :2], poses.seen[m, :2], None, scaled, pose.motion.mirrored)
        better = poses.pose(motion)
        if better.cost >= pose.cost - 1e-12:
            break
        pose = better
    seen |= own
    return pose


def _alike(one: Pose, other: Pose) -> bool:
    """Whether two poses pair the same holes, or are one way to lie."""
    if one.motion.mirrored != other.motion.mirrored:
        return False
    apart = (one.motion.angle - other.motion.angle + 180) % 360 - 180
    return abs(apart) < 30 or set(one.pairs) == set(other.pairs)


def _strangeness(pose: Pose) -> float:
    """Least for a box measured as it was planned: mirrored is stranger than any turn."""
    return abs(pose.motion.angle) + 1000 * pose.motion.mirrored


def _same_ids(pose: Pose, planned: Sequence[Spot], measured: Sequence[Spot]) -> int:
    return sum(planned[p].id == measured[m].id for p, m in pose.pairs)


def _told(pose: Pose, spots: tuple[Sequence[Spot], Sequence[Spot]], terms: Terms, others: Sequence[Pose]) -> Fit:
    planned, measured = spots
    back = np.linalg.inv(pose.motion.matrix)
    limit = _limit(pose, terms)
    pairs = []
    for p, m in sorted(pose.pairs):
        x, y = (np.array([measured[m].x, measured[m].y]) - np.asarray(pose.motion.shift)) @ back.T
        off = (float(x) - planned[p].x, float(y) - planned[p].y)
        pairs.append(Pair(planned[p], measured[m], (float(x), float(y)), off, math.hypot(*off) > limit))
    found = {p for p, _ in pose.pairs}
    used = {m for _, m in pose.pairs}
    return Fit(
        pose.motion,
        tuple(pairs),
        tuple(spot for p, spot in enumerate(planned) if p not in found),
        tuple(spot for m, spot in enumerate(measured) if m not in used),
        tuple(dict.fromkeys(_way(other.motion) for other in others)),
    )


def _limit(pose: Pose, terms: Terms) -> float:
    """Beyond it a hole is out of place: four times the usual spread, or the spread of these very holes."""
    distances = [pose.distances[p, m] / pose.motion.scale for p, m in pose.pairs]
    spread = 1.4826 * float(np.median(distances)) if len(distances) > 3 else 0.0
    return max(terms.near, min(3 * spread, terms.reach / 2))


def _way(motion: Similarity) -> str:
    turn = round(motion.angle / 90) % 4 * 90
    words = ["mirrored"] if motion.mirrored else []
    words += [f"turned by {turn}°"] if turn else []
    return " and ".join(words) or "as planned"
