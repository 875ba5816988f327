"""Several threads may ask for pictures at once, as the page's do: each gets what it would get alone.

Artwork is recorded once for all that shows it; drawn by two threads at a time, it came out shifted, or not at all.
"""

import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from facegraphic.film.face import art_scene
from facegraphic.output.pdf import pdf_bytes
from facegraphic.output.png import render
from facegraphic.pipeline.preparing import Prepared, prepare

EXAMPLES = Path(__file__).parents[1] / "examples"
TIMES = 24


@pytest.fixture
def hurried() -> Iterator[None]:
    """Threads change places as often as they can."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(1e-5)
    yield
    sys.setswitchinterval(before)


@pytest.fixture(scope="module")
def prepared() -> Prepared:
    return prepare(EXAMPLES / "slow-ferry.toml")


def drawn(prepared: Prepared, number: int) -> bytes:
    scene = art_scene(prepared.pieces[0], bits=24)
    return pdf_bytes(scene) if number % 8 == 7 else render(scene, 150).convert("RGB").tobytes()


def of_threads(prepared: Prepared) -> list[bytes]:
    with ThreadPoolExecutor(4) as threads:
        return list(threads.map(lambda number: drawn(prepared, number), range(TIMES)))


def test_threads_draw_as_one_does(hurried: None, prepared: Prepared) -> None:
    assert of_threads(prepared) == [drawn(prepared, number) for number in range(TIMES)]
