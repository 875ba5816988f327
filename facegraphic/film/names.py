"""Ids that say what a thing is."""

import re
import unicodedata


def name(text: str) -> str:
    """A text as part of an id: letters without their accents, digits and hyphens."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"[^A-Za-z0-9]+", "-", plain).strip("-").lower() or "x"


class Ids:
    """Gives each id once: a second one of the same name is numbered."""

    def __init__(self) -> None:
        self.given: dict[str, int] = {}

    def unique(self, *words: str) -> str:
        id = "-".join(map(name, words))
        self.given[id] = self.given.get(id, 0) + 1
        return id if self.given[id] == 1 else f"{id}-{self.given[id]}"
