"""Layouts of faces that were laid out before: a face is placed anew only when something else than a nudge changed."""

from collections.abc import Mapping
from dataclasses import replace

from facegraphic.job.model import Face, Finish
from facegraphic.layout.face import Arranged, arrange, settle
from facegraphic.layout.model import FaceLayout

KEPT = 12  # of a job: going back and forth between a few versions costs nothing
Key = tuple[Face, Finish, Mapping[str, str]]


class Layouts:
    """Lays faces out, and remembers. Equal faces get equal layouts, so nothing depends on what is remembered."""

    def __init__(self) -> None:
        self._kept: list[tuple[Key, Arranged]] = []

    def lay_out(self, face: Face, finish: Finish, earlier: Mapping[str, str] | None = None) -> FaceLayout:
        """The same as `layout.face.lay_out`."""
        key = (_bare(face), finish, dict(earlier or {}))
        found = next((entry for entry in self._kept if entry[0] == key), None)
        if found is None:
            found = (key, arrange(*key))
        self._kept = [found, *(entry for entry in self._kept if entry is not found)][:KEPT]
        return settle(found[1], face, finish)


def _bare(face: Face) -> Face:
    """A face whose labels are not nudged."""
    return replace(face, controls=tuple(replace(control, nudge=(0.0, 0.0)) for control in face.controls))
