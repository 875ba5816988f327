"""What a run was made from, kept beside what it has made: a run with nothing new has nothing to do.

The record is a file of hashes (SHA-256). It may be deleted at any time; then everything is made again.
"""

import json
import re
import sys
from collections.abc import Iterable, Mapping
from functools import cache
from hashlib import sha256
from importlib import resources
from pathlib import Path
from sysconfig import get_path
from typing import Any

from facegraphic.errors import UserError
from facegraphic.job.reading import hash_of, read_file
from facegraphic.output.engine import version
from facegraphic.stock.limits import limit

REPORT = "report.json"
RECORD = ".made.json"
BEGUN = ".begun.json"  # lies there while files are moved in, and after a run that was killed on its way

MOST_KEPT = limit("report-bytes")
MOST_HASHED = limit("made-bytes")

Hashes = Mapping[str, str]


def hashed(data: bytes) -> str:
    return sha256(data).hexdigest()


@cache
def program() -> str:
    """What tells this program, and all that it runs on, from any other state of them; looked at once a run."""
    places = {Path(get_path(kind)) for kind in ("purelib", "platlib")}
    found = [sys.version, version(), *sorted(entry.name for folder in places for entry in folder.glob("*-info"))]
    for file in sorted(_files(resources.files("facegraphic"))):
        facts = file.stat()
        found.append(f"{file} {facts.st_size} {facts.st_mtime_ns}")
    return hashed("\n".join(found).encode("utf-8"))


def _files(folder: Any) -> list[Path]:
    return [path for path in Path(str(folder)).rglob("*") if path.suffix != ".pyc" and path.is_file()]


def record(asked: str, sources: Hashes, files: Mapping[str, bytes]) -> bytes:
    """A record of what was asked for, of files read (by path; "" for one that is not there) and of files made.

    `files` are all of a run, with its report. Asked for nothing, a record only tells what was made.
    """
    made = {name: hashed(data) for name, data in files.items() if name != RECORD}
    kinds = {output["file"]: output["kind"] for output in json.loads(files[REPORT])["outputs"]}
    jobs = sorted({Path(path).name for path in sources if path.endswith(".toml")})
    text = {"program": program(), "asked": asked, "jobs": jobs, "read": dict(sources), "made": made, "kinds": kinds}
    return _text(text)


def with_left(record: bytes, left: list[dict[str, str]]) -> bytes:
    """A record that also names what earlier runs have made and is still there."""
    return _text({**json.loads(record), "left": left}) if left else record


def _text(record: Mapping[str, Any]) -> bytes:
    return json.dumps(record, indent=1, sort_keys=True).encode("utf-8")


def kept_json(path: Path) -> Any:
    """What an ordinary file of JSON holds that lies beside what was made; None if it cannot be read."""
    try:
        return json.loads(read_file(path, MOST_KEPT))
    except (UserError, ValueError, RecursionError):
        return None


def part_of(name: str) -> str:
    """What a file that is written beside its place is to be called there; "" for any other file."""
    found = re.fullmatch(r"\.(.+)\.[a-z0-9_]{8}\.part", name)
    return found[1] if found else ""


def _finished(folder: Path) -> bool:
    """Whether the last run that wrote there came to its end."""
    return not any(BEGUN in (path.name, part_of(path.name)) for path in folder.iterdir())


class Now(dict[Path, str]):
    """Hashes of files as they are now, each looked at once; "" for one that is not there."""

    def __missing__(self, path: Path) -> str:
        self[path] = hash_of(path, MOST_HASHED)
        return self[path]


def outdated(folder: Path, jobs: Iterable[Path], now: Now) -> bool:
    """Whether what a folder holds was made of one of some jobs as it no longer is."""
    kept = kept_json(folder / RECORD)
    read = kept.get("read") if isinstance(kept, dict) else None
    if not isinstance(read, dict):
        return False
    return any(read.get(str(job.absolute()), now[job]) != now[job] for job in jobs)


def nothing_new(folder: Path, asked: str, now: Now) -> bool:
    """Whether a folder holds just what a run that is asked for the same would make of the same files."""
    kept = kept_json(folder / RECORD)
    try:
        if kept["asked"] != asked or kept["program"] != program() or REPORT not in kept["made"]:
            return False
        made = all(now[folder / name] == before for name, before in kept["made"].items())
        return _finished(folder) and made and all(now[Path(path)] == before for path, before in kept["read"].items())
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return False
