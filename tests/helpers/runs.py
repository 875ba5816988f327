"""Run the command as a user would, in this process (fast) or in one of its own, and see what it left on disk."""

import contextlib
import io
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

from facegraphic.cli.main import run
from facegraphic.output.made import RECORD

PRINTS = ("--only", "art,sheet,masks,guide,steps")  # all but pictures of the box, which take a while
CALL = "from facegraphic.cli.main import run; run()"


@dataclass(frozen=True)
class Ran:
    """How a command ended: exit status, results, talk."""

    status: int
    out: str
    err: str


def run_here(*arguments: object) -> Ran:
    """Run the command line in this process. Any exception but SystemExit comes through, as a traceback would."""
    out, err = io.StringIO(), io.StringIO()
    status = 0
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            run([str(argument) for argument in arguments])
        except SystemExit as ended:
            status = ended.code if isinstance(ended.code, int) else 1 if ended.code else 0
    return Ran(status, out.getvalue(), err.getvalue())


def run_apart(*arguments: object, cwd: Path | None = None, before: str = "") -> Ran:
    """Run the command line in a process of its own, after some lines of Python if any are given."""
    start = ["-c", f"{before}\n{CALL}"] if before else ["-m", "facegraphic"]
    words = [sys.executable, *start, *(str(argument) for argument in arguments)]
    done = subprocess.run(words, cwd=cwd, capture_output=True, text=True, encoding="utf-8", timeout=120)
    return Ran(done.returncode, done.stdout, done.stderr)


def tree(folder: Path) -> dict[str, bytes | None]:
    """Everything below a folder by relative name: bytes of files, None for folders; no records of what was made."""
    return {
        str(path.relative_to(folder)): path.read_bytes() if path.is_file() else None
        for path in sorted(folder.rglob("*"))
        if path.name != RECORD
    }
