"""The least total length of bridges on small cases, as a 0/1 program over a fine set of candidates.

Solved by SciPy's milp (HiGHS). Candidates are straight lines over the opening from evenly spaced points of every
piece's rim to the nearest point of every other piece, both ways round. The rules: all pieces hang together, and each
large island has two bridges at least 120 degrees apart, seen from its middle, to pieces that hang on the frame without
it. Bearings are taken in bins of 6 degrees.
"""

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from scipy.optimize import Bounds, LinearConstraint, milp
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

BIN = 6
APART = 120.0


@dataclass(frozen=True)
class Candidate:
    pieces: tuple[int, int]
    length: float
    bins: tuple[int, int]  # as seen from the middles of the two


@dataclass
class Program:
    costs: list[float] = field(default_factory=list)
    rows: list[dict[int, float]] = field(default_factory=list)  # each at least 0, but for those in `least`
    least: list[float] = field(default_factory=list)

    def variable(self, cost: float = 0.0) -> int:
        self.costs.append(cost)
        return len(self.costs) - 1

    def at_least(self, row: dict[int, float], value: float) -> None:
        self.rows.append(row)
        self.least.append(value)

    def solve(self) -> float:
        matrix = np.zeros((len(self.rows), len(self.costs)))
        for number, row in enumerate(self.rows):
            for variable, factor in row.items():
                matrix[number, variable] += factor
        found = milp(
            self.costs, constraints=LinearConstraint(matrix, self.least), integrality=np.ones(len(self.costs)),
            bounds=Bounds(0, 1), options={"mip_rel_gap": 1e-4},
        )  # fmt: skip
        assert found.status == 0, found.message
        return float(found.fun)


def optimum(material: BaseGeometry, large: float, step: float = 0.25) -> float:
    """The least total length. The frame is the piece with the largest box."""
    pieces = sorted(shapely.get_parts(material), key=lambda piece: -shapely.box(*piece.bounds).area)
    found = candidates(material, pieces, step)
    program = Program()
    bridges = [program.variable(one.length) for one in found]
    islands = range(1, len(pieces))
    for some in subsets(islands):
        program.at_least({x: 1 for x, c in zip(bridges, found, strict=True) if crosses(c, some)}, 1)
    for island in islands:
        if longest(pieces[island]) > large:
            held_twice(program, found, bridges, island, islands)
    return program.solve()


def candidates(material: BaseGeometry, pieces: Sequence[Polygon], step: float) -> list[Candidate]:
    """The shortest of the lines for each pair of pieces and bins."""
    best: dict[tuple[tuple[int, int], tuple[int, int]], float] = {}
    for a, b in itertools.permutations(range(len(pieces)), 2):
        for ring in (pieces[a].exterior, *pieces[a].interiors):
            starts = shapely.line_interpolate_point(ring, np.arange(0, ring.length, step))
            for line in shapely.shortest_line(starts, pieces[b]):
                if line.length and line.intersection(material).length > 1e-6:
                    continue
                ends = shapely.get_coordinates(line)
                if a > b:
                    ends = ends[::-1]
                low, high = sorted((a, b))
                middle = ends.mean(axis=0)
                key = (low, high), (bearing(pieces[low], middle), bearing(pieces[high], middle))
                best[key] = min(best.get(key, math.inf), float(line.length))
    return [Candidate(pair, length, bins) for (pair, bins), length in sorted(best.items())]


def bearing(piece: Polygon, point: Iterable[float]) -> int:
    x, y = point
    return int(math.degrees(math.atan2(y - piece.centroid.y, x - piece.centroid.x)) % 360 // BIN)


def longest(piece: Polygon) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(piece))
    return max(math.dist(corners[0], corners[1]), math.dist(corners[1], corners[2]))


def subsets(numbers: Iterable[int]) -> list[set[int]]:
    numbers = list(numbers)
    return [set(some) for size in range(1, len(numbers) + 1) for some in itertools.combinations(numbers, size)]


def crosses(one: Candidate, some: set[int]) -> bool:
    return (one.pieces[0] in some) != (one.pieces[1] in some)


def held_twice(
    program: Program, found: Sequence[Candidate], bridges: Sequence[int], island: int, islands: Iterable[int]
) -> None:
    """Two of an island's bridges stand apart and lead to pieces that hang on the frame without it."""
    holds: list[tuple[int, int]] = []  # variable, bin
    for bridge, one in zip(bridges, found, strict=True):
        if island not in one.pieces:
            continue
        holding = program.variable()
        holds.append((holding, one.bins[one.pieces.index(island)]))
        program.at_least({bridge: 1, holding: -1}, 0)
        other = one.pieces[1 - one.pieces.index(island)]
        for some in subsets(number for number in islands if number != island):
            if other in some:
                ways = {
                    x: 1.0 for x, c in zip(bridges, found, strict=True) if crosses(c, some) and island not in c.pieces
                }
                program.at_least({**ways, holding: -1}, 0)
    marks = []
    for k in range(360 // BIN):
        mark = program.variable()
        marks.append(mark)
        program.at_least({**{x: 1.0 for x, b in holds if b == k}, mark: -1}, 0)
        away = {x: 1.0 for x, b in holds if abs((b - k) * BIN % 360 - 180) <= 180 - APART}
        program.at_least({**away, mark: -1}, 0)
    program.at_least(dict.fromkeys(marks, 1.0), 1)
