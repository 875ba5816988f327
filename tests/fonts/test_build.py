"""The committed files are what the sources give, byte for byte."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

from font_measure import BUILT

from fonts.build.__main__ import FILES, build


def differing(folder: Path, files: dict[str, bytes]) -> list[str]:
    """Return the names whose bytes are not those in ``folder``."""
    return [n for n, data in files.items() if not (folder / n).is_file() or (folder / n).read_bytes() != data]


def test_rebuild_gives_the_same_bytes() -> None:
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        files = dict(zip(FILES, pool.map(build, FILES), strict=True))
    assert differing(BUILT, files) == []
    assert {p.name for p in BUILT.glob("*.ttf")} == set(files)


def test_comparison_sees_one_changed_byte(tmp_path: Path) -> None:
    (tmp_path / "a.ttf").write_bytes(b"same")
    (tmp_path / "b.ttf").write_bytes(b"some")
    assert differing(tmp_path, {"a.ttf": b"same", "b.ttf": b"same", "c.ttf": b""}) == ["b.ttf", "c.ttf"]
