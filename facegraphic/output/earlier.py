"""Where labels stood in the last run, read back from its ``report.json``: a layout that needn't change shouldn't."""

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

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
