"""What a run was made from, kept beside what it has made: a run with nothing new has nothing to do.

The record is a file of hashes (SHA-256). It may be deleted at any time; then everything is made again.
"""

import json
import re
import sys
from collections.abc import Mapping
from hashlib import sha256
from importlib import resources
from pathlib import Path
from sysconfig import get_path
from typing import Any

RECORD = ".made.json"
BEGUN = ".begun.json"  # lies there while files are moved in, and after a run that was killed on its way

Hashes = Mapping[str, str]


def hashed(data: bytes) -> str:
    return sha256(data).hexdigest()


def program() -> str:
    """What tells this program and the packages that it runs on from any other state of them."""
    found = [sys.version, *sorted(entry.name for entry in Path(get_path("purelib")).glob("*-info"))]
    for file in sorted(_files(resources.files("facegraphic"))):
        facts = file.stat()
        found.append(f"{file} {facts.st_size} {facts.st_mtime_ns}")
    return hashed("\n".join(found).encode("utf-8"))


def _files(folder: Any) -> list[Path]:
    return [path for path in Path(str(folder)).rglob("*") if path.suffix != ".pyc" and path.is_file()]


def record(asked: str, sources: Hashes, files: Mapping[str, bytes]) -> bytes:
    """A record of what was asked for, of files read (by path; "" for one that is not there) and of files made."""
    made = {name: hashed(data) for name, data in files.items() if name != RECORD}
    text = {"program": program(), "asked": asked, "read": dict(sources), "made": made}
    return json.dumps(text, indent=1, sort_keys=True).encode("utf-8")


def part_of(name: str) -> str:
    """What a file that is written beside its place is to be called there; "" for any other file."""
    found = re.fullmatch(r"\.(.+)\.[a-z0-9_]{8}\.part", name)
    return found[1] if found else ""


def _finished(folder: Path) -> bool:
    """Whether the last run that wrote there came to its end."""
    return not any(BEGUN in (path.name, part_of(path.name)) for path in folder.iterdir())


def nothing_new(folder: Path, asked: str) -> bool:
    """Whether a folder holds just what a run that is asked for the same would make of the same files."""
    try:
        kept = json.loads((folder / RECORD).read_bytes())
        if kept["asked"] != asked or kept["program"] != program():
            return False
        made = all(_now(folder / name) == before for name, before in kept["made"].items())
        return _finished(folder) and made and all(_now(Path(path)) == before for path, before in kept["read"].items())
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return False


def _now(path: Path) -> str:
    try:
        return hashed(path.read_bytes())
    except FileNotFoundError:
        return ""
