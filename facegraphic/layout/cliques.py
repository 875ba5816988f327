"""Maximal cliques of a graph whose neighbourhoods are bits of integers."""

from collections.abc import Iterator, Sequence


def bits(mask: int) -> Iterator[int]:
    """Yield the numbers of the bits that are set, lowest first."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def clique_rows(near: Sequence[int], limit: int) -> list[int]:
    """Return cliques, as bits, that cover every vertex and edge: all maximal ones if there are at most `limit`.

    `near` has for each vertex its neighbours as bits, without itself. Beyond the limit each edge is covered by one
    clique grown from it.
    """
    found: list[int] = []
    for clique in maximal_cliques(near):
        found.append(clique)
        if len(found) > limit:
            return _cover(near)
    return found


def maximal_cliques(near: Sequence[int]) -> Iterator[int]:
    """Yield every maximal clique once, as bits, by a search that branches beside a pivot."""
    everyone = (1 << len(near)) - 1
    # A clique so far, who may join it, who may not because that was searched before, and who of the first is to be
    # tried. A stack of these, as a clique can have more members than Python has room for nested calls.
    stack = [(0, everyone, 0, everyone)]
    while stack:
        clique, open_, closed, todo = stack.pop()
        if not todo:
            continue
        low = todo & -todo
        stack.append((clique, open_ & ~low, closed | low, todo & ~low))
        around = near[low.bit_length() - 1]
        clique, open_, closed = clique | low, open_ & around, closed & around
        if open_:
            stack.append((clique, open_, closed, open_ & ~near[_pivot(near, open_, closed)]))
        elif not closed:
            yield clique


def _pivot(near: Sequence[int], open_: int, closed: int) -> int:
    """Return who has most of `open_` for neighbours."""
    pivot, most, enough = 0, -1, open_.bit_count()
    for vertex in bits(open_ | closed):
        reached = (near[vertex] & open_).bit_count()
        if reached > most:
            pivot, most = vertex, reached
            if reached >= enough - 1 and (reached == enough or not closed):
                break
    return pivot


def _cover(near: Sequence[int]) -> list[int]:
    """Cover every vertex and edge by maximal cliques, each grown from the first edge that is still bare."""
    bare = [around >> vertex << vertex for vertex, around in enumerate(near)]  # each edge at its lower end
    found = []
    for vertex, around in enumerate(near):
        if not around:
            found.append(1 << vertex)
        while bare[vertex]:
            clique, common = 1 << vertex, around
            while common:
                choice = common & bare[vertex] & ~clique or common  # bare edges first: fewer cliques are needed
                low = choice & -choice
                clique |= low
                common &= near[low.bit_length() - 1]
            for member in bits(clique):
                bare[member] &= ~clique
            found.append(clique)
    return found
