"""How findings name things of which there may be many."""

from collections.abc import Sequence

NAMED = 3


def several(names: Sequence[str]) -> str:
    """Names in a sentence, each once: all of a few, else the first and how many more there are.

    >>> several(["a", "b", "a"]), several(["a", "b", "c", "d", "e"])
    ('a and b', 'a, b, c and 2 more')
    """
    names = list(dict.fromkeys(names))
    if len(names) > NAMED:
        return f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)
