"""Which things of a face lie near enough to each other to be looked at in pairs, and how many findings are told."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.errors import Finding
from facegraphic.stock.limits import limit

MOST_PAIRS, MOST_ALIKE = limit("pairs-of-holes"), limit("findings-alike")


def close_pairs(areas: Sequence[BaseGeometry]) -> Iterator[tuple[int, int]]:
    """Pairs of areas whose boxes meet, by index, the later one first: no more than `pairs-of-holes` of them.

    Of hundreds of areas in one place the first pairs say enough, and all of them would take minutes.
    """
    tree, left = shapely.STRtree(areas), MOST_PAIRS
    for i, area in enumerate(areas):
        found = np.sort(tree.query(area))
        for j in found[found < i][:left]:
            yield i, int(j)
        left -= min(left, int(np.count_nonzero(found < i)))
        if not left:
            return


def some_of_each(findings: Iterable[Finding]) -> Iterator[Finding]:
    """Findings without end of one code and face are told up to `findings-alike`, then how many more there are."""
    count: Counter[tuple[str, str]] = Counter()
    last: dict[tuple[str, str], Finding] = {}
    for finding in findings:
        kind = (finding.code, finding.side)
        count[kind] += 1
        if count[kind] <= MOST_ALIKE or finding.severity == "error":
            yield finding
        else:
            last[kind] = finding
    for kind, finding in last.items():
        more = f"and {count[kind] - MOST_ALIKE} more like these, or still more"
        yield replace(finding, message=more, remedy="mend those above, then check again", at=None)
