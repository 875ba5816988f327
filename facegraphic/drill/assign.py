"""Which of one set goes with which of another at the least total cost: the shortest augmenting path method.

R. Jonker and A. Volgenant, "A shortest augmenting path algorithm for dense and sparse linear assignment problems",
Computing 38, 1987; here without their speeding-up, for sets of a few hundred at most.
"""

import numpy as np
from numpy.typing import NDArray


def assign(cost: NDArray[np.float64]) -> list[int]:
    """For each of n rows its column among m ≥ n, all different, with the least sum of costs (all finite)."""
    rows, columns = cost.shape
    if rows == 0:
        return []
    over, under = np.zeros(rows + 1), np.zeros(columns + 1)
    owner = np.zeros(columns + 1, int)  # row, counted from 1, that holds a column; column 0 is the way in
    for row in range(1, rows + 1):
        owner[0] = row
        column = 0
        least = np.full(columns + 1, np.inf)
        came = np.zeros(columns + 1, int)
        seen = np.zeros(columns + 1, bool)
        while owner[column]:
            seen[column] = True
            holder = owner[column]
            reduced = cost[holder - 1] - over[holder] - under[1:]
            better = ~seen[1:] & (reduced < least[1:])
            least[1:][better] = reduced[better]
            came[1:][better] = column
            following = int(np.argmin(np.where(seen[1:], np.inf, least[1:]))) + 1
            step = least[following]
            over[owner[seen]] += step
            under[seen] -= step
            least[~seen] -= step
            column = following
        while column:
            owner[column] = owner[came[column]]
            column = int(came[column])
    found = [0] * rows
    for column in range(1, columns + 1):
        if owner[column]:
            found[owner[column] - 1] = column - 1
    return found


def pair_off(cost: NDArray[np.float64], most: float) -> list[tuple[int, int]]:
    """Pairs (row, column) at the least sum, where leaving a row alone costs `most`, so no pair costs more."""
    rows, columns = cost.shape
    padded = np.full((rows, columns + rows), most)
    padded[:, :columns] = np.minimum(cost, 1e6 + most)
    return [(row, column) for row, column in enumerate(assign(padded)) if column < columns and cost[row, column] < most]
