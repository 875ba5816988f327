"""Pictures for the page as PNG bytes, and whatever else is worked out once for as long as it holds."""

import io
import threading
from collections.abc import Callable
from typing import Any, TypeVar

from PIL import Image

from facegraphic.film.gang import Gang
from facegraphic.output.png import render
from facegraphic.preview.model import Pixels

SHEET_DPI = 100
QUICK = 1  # zlib's level: a picture goes no farther than this machine

T = TypeVar("T")


class Kept:
    """Values by name, each as of a stamp; a newer one takes an older one's place."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._working: dict[str, threading.Lock] = {}
        self._kept: dict[str, tuple[int, Any]] = {}

    def get(self, name: str, stamp: int, work: Callable[[], T]) -> T:
        """The value of a name as of a stamp. Whoever asks for it while it is being worked out waits for it."""
        with self._lock:
            working = self._working.setdefault(name, threading.Lock())
        with working:
            kept = self._kept.get(name)
            if kept is None or kept[0] != stamp:
                kept = (stamp, work())
                self._kept[name] = kept
            value: T = kept[1]
            return value


def sheet_png(gang: Gang, number: int) -> bytes:
    return _encoded(render(gang.pages[number].scene, SHEET_DPI).convert("RGB"))


def pixels_png(pixels: Pixels) -> bytes:
    return _encoded(Image.fromarray(pixels))


def _encoded(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "PNG", compress_level=QUICK)
    return out.getvalue()
