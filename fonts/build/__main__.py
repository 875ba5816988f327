"""Build every file of the family: ``python -m fonts.build [folder]``."""

from __future__ import annotations

import argparse
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from fonts.build.assemble import font, to_bytes
from fonts.build.design import CUTS, FAMILY, Cut
from fonts.build.face import make
from fonts.build.source import load
from fonts.build.variable import variable_font

BUILT = Path(__file__).resolve().parent.parent / "built"


VARIABLE = f"{FAMILY}[wght].ttf"
# The variable font takes longest, so it is begun first.
FILES: dict[str, Cut | None] = {VARIABLE: None, **{f"{cut.file_stem}.ttf": cut for cut in CUTS}}


def build(name: str) -> bytes:
    """Return the contents of one file of the family."""
    library, cut = load(), FILES[name]
    return to_bytes(variable_font(library) if cut is None else font(library, make(library, cut)))


def main() -> None:
    """Write all files and say how large they are."""
    parser = argparse.ArgumentParser(description="Build the stroke lettering family.")
    parser.add_argument("folder", nargs="?", type=Path, default=BUILT, help="where the files go")
    folder: Path = parser.parse_args().folder
    folder.mkdir(parents=True, exist_ok=True)
    with ProcessPoolExecutor() as pool:
        for name, data in zip(FILES, pool.map(build, FILES), strict=True):
            (folder / name).write_bytes(data)
            print(f"{name}: {len(data)} bytes")


if __name__ == "__main__":
    main()
