"""Pictures for the page as PNG bytes, each drawn once for as long as what it shows stays as it is."""

import io
import threading
from collections.abc import Callable

from PIL import Image, ImageChops

from facegraphic.film.face import face_art
from facegraphic.film.gang import Gang
from facegraphic.layout.model import FaceLayout
from facegraphic.output.png import render
from facegraphic.pipeline import Prepared
from facegraphic.scene.scene import Scene

FACE_DPI = 200
SHEET_DPI = 100
QUICK = 1  # zlib's level: a picture goes no farther than this machine

Key = tuple[str, int]


class Pictures:
    """Draws pictures one after another; a newer one of the same name takes an older one's place."""

    def __init__(self) -> None:
        self._drawing = threading.Lock()
        self._kept: dict[str, tuple[int, bytes]] = {}

    def get(self, name: str, stamp: int, draw: Callable[[], bytes]) -> bytes:
        """The picture of a name as of a stamp. Whoever asks for it while it is being drawn waits for it."""
        with self._drawing:
            kept = self._kept.get(name)
            if kept is None or kept[0] != stamp:
                kept = (stamp, draw())
                self._kept[name] = kept
            return kept[1]


def face_png(prepared: Prepared, layout: FaceLayout) -> bytes:
    """A face as it looks when it is finished, filling the box round its outline."""
    job = prepared.job
    box = layout.face.outline.box
    art = render(Scene(box.width, box.height, (face_art(layout, job.finish),)), FACE_DPI)
    paint = Image.new("RGB", art.size, job.paint)
    return encoded(art if job.finish.ground else ImageChops.multiply(paint, art))


def sheet_png(gang: Gang, number: int) -> bytes:
    return encoded(render(gang.pages[number].scene, SHEET_DPI).convert("RGB"))


def encoded(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=QUICK)
    return out.getvalue()
