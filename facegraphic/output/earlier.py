"""What the last run has made, read back from its ``report.json``: a layout that needn't change shouldn't."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from facegraphic.output.made import BEGUN

REPORT = "report.json"
MASKS = frozenset({"mask", "plugs", "mask-sheet"})
Places = Mapping[str, Mapping[str, str]]
Outputs = frozenset[tuple[str, str]]  # by file and kind


def places_of(folder: Path) -> Places:
    """By side and hole, the place of each label in a folder's report; nothing where there is none that can be read."""
    try:
        report = json.loads((folder / REPORT).read_bytes())
        return {str(face["side"]): dict(_places(face)) for face in report["faces"]}
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return {}


def _places(face: Any) -> list[tuple[str, str]]:
    labels = (legend for legend in face["legends"] if legend["role"] == "label")
    return [(str(legend["hole"]), str(legend["place"])) for legend in labels]


def outputs_before(folder: Path) -> Outputs:
    """What may stand in a folder: what its report names, and what a run that did not come to its end was to write."""
    return _outputs_read(folder / REPORT) | _outputs_read(folder / BEGUN)


def outputs_in(report: Any) -> Outputs:
    return frozenset((str(output["file"]), str(output["kind"])) for output in report["outputs"])


def _outputs_read(path: Path) -> Outputs:
    try:
        return outputs_in(json.loads(path.read_bytes()))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return frozenset()


def outdated(folder: Path, files: Mapping[str, bytes]) -> list[Path]:
    """Files that earlier runs have made and this one does not, though it has others of their kind. A job that was asked
    for masks and has none of a kind any more has no use for the earlier ones.
    """
    if REPORT not in files:
        return []
    new = json.loads(files[REPORT])
    now = outputs_in(new)
    kinds = {(kind, Path(name).suffix) for name, kind in now}
    lost = MASKS - {kind for kind, _ in kinds} if "masks" in new.get("asked", ()) else set()
    gone = [name for name, kind in outputs_before(folder) - now if (kind, Path(name).suffix) in kinds or kind in lost]
    # A report is a file like any other: only plain names in this very folder are believed.
    return sorted(folder / name for name in gone if Path(name).name == name and (folder / name).is_file())
