"""Layouts of faces that were laid out before: a face is placed anew only when something else than a nudge changed."""

import itertools
from collections.abc import Mapping
from dataclasses import replace

from facegraphic.job.image import Picture
from facegraphic.job.model import Face, Finish
from facegraphic.layout.face import Arranged, arrange, settle
from facegraphic.layout.model import FaceLayout

KEPT = 12  # of a job: going back and forth between a few versions costs nothing
MOST_PIXELS = 32_000_000  # of pictures that are kept with them, but for those of the latest
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
        latest = [found, *(entry for entry in self._kept if entry is not found)][:KEPT]
        pixels = itertools.accumulate(_pixels(entry[0][0]) for entry in latest)
        self._kept = [entry for number, (entry, so_far) in enumerate(zip(latest, pixels, strict=True))
                      if not number or so_far <= MOST_PIXELS]  # fmt: skip
        return settle(found[1], face, finish)


def _pixels(face: Face) -> int:
    return sum(art.image.width * art.image.height for art in face.arts if isinstance(art.image, Picture))


def _bare(face: Face) -> Face:
    """A face whose labels are not nudged."""
    return replace(face, controls=tuple(replace(control, nudge=(0.0, 0.0)) for control in face.controls))
