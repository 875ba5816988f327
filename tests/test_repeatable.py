"""The same job gives the same bytes: twice, in another time zone, another language, with another hash seed."""

import hashlib
import json
import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest
from samples import FOLDER, JOBS, prepared_once

from facegraphic.pipeline.making import make
from facegraphic.pipeline.preparing import Wishes, prepare

CALL = "from facegraphic.cli.main import run; run()"


def hashes(job: str, out: Path, *words: str, **environment: str) -> dict[str, str]:
    """Make a job in a process of its own and hash every file."""
    arguments = ["make", str(FOLDER / f"{job}.toml"), "--dpi", "150", "--out", str(out), "--quiet", *words]
    subprocess.run(
        [sys.executable, "-c", CALL, *arguments],
        check=True,
        env={**os.environ, **environment},
        capture_output=True,
        timeout=120,
    )
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(out.iterdir())}


@pytest.mark.parametrize("job", JOBS)
def test_surroundings_leave_no_trace(tmp_path: Path, job: str) -> None:
    plain = hashes(job, tmp_path / "a", PYTHONHASHSEED="0", TZ="UTC")
    assert json.loads((tmp_path / "a" / "report.json").read_text(encoding="utf-8"))["outputs"]
    # All that may leave a trace at once: one run shows as much as one for each.
    elsewhere = {"TZ": "Pacific/Kiritimati", "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8"}
    assert hashes(job, tmp_path / "b", PYTHONHASHSEED="1", **elsewhere) == plain


@pytest.mark.parametrize("job", JOBS)
def test_what_the_process_made_before_leaves_no_trace(job: str) -> None:
    """Made again in the same process, and by another one that was handed the prepared job."""
    wishes = Wishes(formats=("svg", "pdf"), kinds=("art", "sheet", "masks", "guide", "steps"), dpi=150)
    prepared = prepare(FOLDER / f"{job}.toml", wishes)
    first = make(prepared, wishes)
    assert make(prepared, wishes) == first
    assert make(pickle.loads(pickle.dumps(prepared)), wishes) == first


@pytest.mark.parametrize("job", JOBS)
def test_neither_dpi_nor_mirroring_moves_a_legend(job: str) -> None:
    """So the tests place the examples' labels once, and not for each print of theirs."""
    path, wishes = FOLDER / f"{job}.toml", Wishes(dpi=1200, mirrored=True)
    plain, again = prepare(path, Wishes(dpi=300, mirrored=False)), prepare(path, wishes)
    assert [layout.legends for layout in again.layouts] == [layout.legends for layout in plain.layouts]
    assert any(layout.legends for layout in again.layouts)
    assert prepared_once(path, wishes) == again


def test_another_job_has_other_bytes(tmp_path: Path) -> None:
    first, second = (hashes(job, tmp_path / job, "--only", "art", "--format", "svg") for job in JOBS[:2])
    assert first["top-art.svg"] != second["top-art.svg"]
