"""What a run is about to write, noted in its folder until all of it stands: what a run left that was killed is known.

The note is a file of names and hashes. Where it lies, nothing in the folder is taken for finished.
"""

import json
from collections.abc import Mapping, Set
from pathlib import Path

from facegraphic.output.earlier import listed, made_before, made_in, ordinary
from facegraphic.output.made import BEGUN, RECORD, part_of


def note(folder: Path, files: Mapping[str, bytes]) -> Mapping[str, bytes]:
    """The note for files that are to be written to a folder; none for files without a record, which no run mixes up."""
    if RECORD not in files:
        return {}
    text = {"left": listed(made_before(folder) | made_in(json.loads(files[RECORD])))}
    return {BEGUN: json.dumps(text, indent=1).encode("utf-8")}


def sweep(folder: Path, names: Set[str]) -> None:
    """Take away what runs that were killed have left beside files of some names; nobody else may write here now."""
    known = {*names, RECORD, BEGUN, *(made.file for made in made_before(folder))}
    for path in folder.iterdir():
        if (name := part_of(path.name)) and name in known and ordinary(path):
            path.unlink(missing_ok=True)
