"""What earlier runs have made in a folder, read back: what needn't change shouldn't, what is outdated should go.

Where labels stood is told by ``report.json``. What is ours to take away is told by our own record alone, with the hash
that each file had: neither a report from elsewhere nor an edited file is taken for our own work.
"""

import json
import stat
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from facegraphic.errors import SEVERITIES, Finding
from facegraphic.job.reading import hash_of
from facegraphic.output.made import BEGUN, MOST_HASHED, RECORD, REPORT, hashed, kept_json

# What a job may have no more of though it is asked for: masks once it has no coats, sheets once it shares them.
LOSABLE = {"masks": ("mask", "plugs", "mask-sheet"), "sheet": ("sheet",)}
Places = Mapping[str, Mapping[str, str]]


class Made(NamedTuple):
    """A file that a run has made, of jobs by their files' names; of none where that is not known."""

    file: str
    kind: str
    hash: str
    jobs: tuple[str, ...] = ()


class Earlier(NamedTuple):
    """What is to be taken away, what is of no use but stays since it was edited, and all that is to be remembered;
    and what was edited and is made anew.
    """

    away: tuple[Path, ...] = ()
    edited: tuple[Path, ...] = ()
    left: tuple[Made, ...] = ()
    anew: tuple[Path, ...] = ()


def places_of(folder: Path) -> Places:
    """By side and hole, the place of each label in a folder's report; nothing where there is none that can be read."""
    try:
        return {str(face["side"]): dict(_places(face)) for face in kept_json(folder / REPORT)["faces"]}
    except (KeyError, TypeError):
        return {}


def _places(face: Any) -> list[tuple[str, str]]:
    labels = (legend for legend in face["legends"] if legend["role"] == "label")
    return [(str(legend["hole"]), str(legend["place"])) for legend in labels]


def findings_of(folder: Path) -> tuple[Finding, ...] | None:
    """What the last run has found, as its report tells; None where there is no report that can be read."""
    try:
        return tuple(_finding(found) for found in kept_json(folder / REPORT)["findings"])
    except (KeyError, TypeError, ValueError, OverflowError):
        return None


def _finding(found: Any) -> Finding:
    """A finding as a report has it. ValueError or another for what is none."""
    code, severity, message, remedy = (found[key] for key in ("code", "severity", "message", "remedy"))
    side, at = found["side"] or "", found["at"]
    if severity not in SEVERITIES or not all(isinstance(text, str) for text in (code, message, remedy, side)):
        raise ValueError("no finding")
    if not at:
        return Finding(code, severity, message, remedy, side)
    x, y = at
    return Finding(code, severity, message, remedy, side, (float(x), float(y)))


def made_before(folder: Path) -> frozenset[Made]:
    """What may stand in a folder: what its record names, and what a run that did not come to its end was to write.

    A record is a file like any other: only plain names in this very folder are believed.
    """
    named = made_in(kept_json(folder / RECORD)) | _listed(kept_json(folder / BEGUN))
    return frozenset(made for made in named if made.file and Path(made.file).name == made.file)


def made_in(record: Any) -> frozenset[Made]:
    """All that a record names; nothing if it is none."""
    try:
        kinds, jobs = record["kinds"], _jobs(record)
        made = frozenset(
            Made(str(name), str(kinds[name]), str(now), jobs) for name, now in record["made"].items() if name in kinds
        )
    except (KeyError, TypeError, AttributeError):
        return frozenset()
    return made | _listed(record)


def _listed(record: Any) -> frozenset[Made]:
    try:
        return frozenset(
            Made(str(one["file"]), str(one["kind"]), str(one["hash"]), _jobs(one)) for one in record["left"]
        )
    except (KeyError, TypeError):
        return frozenset()


def _jobs(record: Any) -> tuple[str, ...]:
    return tuple(map(str, record["jobs"])) if "jobs" in record else ()


def listed(made: Iterable[Made]) -> list[dict[str, str]]:
    """Files as a record or a note has them under "left"."""
    return [one._asdict() for one in sorted(made)]


def earlier(folder: Path, files: Mapping[str, bytes], needed: Callable[[Path], bool]) -> Earlier:
    """What becomes of files that earlier runs have made and this one does not.

    They go if this one has others of their kind and format, and is of the same job: another's that lie there are not
    its own to take. A job that was asked for masks or sheets and has none any more has no use for the earlier ones.
    What was edited stays, and what is `needed`.
    """
    if RECORD not in files or REPORT not in files:
        return Earlier()
    record = json.loads(files[RECORD])
    now, jobs = made_in(record), frozenset(_jobs(record))
    kinds = {(made.kind, Path(made.file).suffix) for made in now}
    asked = json.loads(files[REPORT]).get("asked", ())
    lost = {kind for word in asked for kind in LOSABLE.get(word, ())} - {kind for kind, _ in kinds}
    away, edited, left, anew = [], [], [], []
    for name, ones in _by_name(made_before(folder)).items():
        path = folder / name
        if not ordinary(path):
            continue
        if name in files:
            known = {*(one.hash for one in ones), hashed(files[name])}
            anew += [path] if _hash(path) not in known else []
            continue
        own = [one for one in ones if not (one.jobs and jobs) or jobs.intersection(one.jobs)]
        outdated = any((one.kind, path.suffix) in kinds or one.kind in lost for one in own)
        ours = outdated and not needed(path) and _hash(path) in {one.hash for one in ones}
        if ours:
            away.append(path)
        else:
            left += ones
            edited += [path] if outdated and not needed(path) else []
    return Earlier(tuple(away), tuple(edited), tuple(left), tuple(anew))


def _by_name(made: Iterable[Made]) -> dict[str, list[Made]]:
    found: dict[str, list[Made]] = {}
    for one in sorted(made):
        found.setdefault(one.file, []).append(one)
    return found


def ordinary(path: Path) -> bool:
    """Whether a file is there that is no folder, link or device."""
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except (OSError, ValueError):
        return False


def _hash(path: Path) -> str:
    try:
        return hash_of(path, MOST_HASHED)
    except OSError:
        return "unknown"
