"""What the last run has made, read back from its ``report.json``: a layout that needn't change shouldn't."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

MASKS = frozenset({"mask", "plugs", "mask-sheet"})
Places = Mapping[str, Mapping[str, str]]


def places_of(folder: Path) -> Places:
    """By side and hole, the place of each label in a folder's report; nothing where there is none that can be read."""
    try:
        report = json.loads((folder / "report.json").read_bytes())
        return {str(face["side"]): dict(_places(face)) for face in report["faces"]}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def _places(face: Any) -> list[tuple[str, str]]:
    labels = (legend for legend in face["legends"] if legend["role"] == "label")
    return [(str(legend["hole"]), str(legend["place"])) for legend in labels]


def outdated(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Files that the last report of a folder names and the new one does not, though it has others of their kind. A job
    that was asked for masks and has none of a kind any more has no use for the earlier ones.
    """
    if "report.json" not in files:
        return []
    try:
        before = {_named(output) for output in json.loads((folder / "report.json").read_bytes())["outputs"]}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return []
    new = json.loads(files["report.json"])
    now = {_named(output) for output in new["outputs"]}
    kinds = {(kind, Path(name).suffix) for name, kind in now}
    lost = MASKS - {kind for kind, _ in kinds} if "masks" in new.get("asked", ()) else set()
    gone = [name for name, kind in before - now if (kind, Path(name).suffix) in kinds or kind in lost]
    # A report is a file like any other: only plain names in this very folder are believed.
    return sorted(folder / name for name in gone if Path(name).name == name and (folder / name).is_file())


def _named(output: Any) -> tuple[str, str]:
    return str(output["file"]), str(output["kind"])
