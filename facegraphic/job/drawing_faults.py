"""What makes a drawing unfit, and where in its file each of that stands first."""

import xml.etree.ElementTree as ET
from collections.abc import Mapping

MOST_FAULTS = 20
LONGEST_NAME = 40  # characters of an id that are told


class Faults:
    """Faults of a drawing as "what; how to mend it". `lines` are those of its file on which its elements begin."""

    def __init__(self, lines: Mapping[ET.Element, int]) -> None:
        self._lines = lines
        self._found: dict[str, list[ET.Element]] = {}
        self.node: ET.Element | None = None  # what is looked at; None for the whole
        self.paths = self.css = self.segments = 0  # characters and segments met so far

    def __bool__(self) -> bool:
        return bool(self._found)

    def add(self, what: str) -> None:
        if what in self._found or len(self._found) < MOST_FAULTS:
            places = self._found.setdefault(what, [])
            if self.node is not None and self.node not in places[-1:]:
                places.append(self.node)

    def told(self) -> str:
        """All of them in a sentence; what is found often is told once, with how many places more there are."""
        return "it holds " + "; and ".join(map(self._told, self._found))

    def _told(self, fault: str) -> str:
        places = self._found[fault]
        what, end, mend = fault.rpartition("; ")
        if not places or not end:
            return fault
        name = places[0].get("id", "")
        called = f', id "{name[:LONGEST_NAME]}"' if name.strip() else ""
        more = f", and {len(places) - 1} more" if len(places) > 1 else ""
        return f"{what} (line {self._lines[places[0]]}{called}{more}){end}{mend}"
