"""Folders that cannot be written to, and a system without cairo."""

import os
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import Ran, run_apart, run_here, tree

from facegraphic.pipeline.kinds import KINDS

FAST = ("--only", "art", "--format", "svg")
# For cairocffi as it is imported by itself, and for what engine_start.py keeps of it: that goes past cffi's own Python.
NO_CAIRO = """
import _cffi_backend, cffi
def closed(base):
    def dlopen(self, name, *rest):
        if "cairo" in str(name):
            raise OSError(f"cannot load library {name!r}")
        return base.dlopen(self, name, *rest)
    return type("FFI", (base,), {"dlopen": dlopen})
cffi.FFI, _cffi_backend.FFI = closed(cffi.FFI), closed(_cffi_backend.FFI)
"""


def assert_refused(ran: Ran, *says: str) -> None:
    assert ran.status == 1
    assert ran.out == ""
    assert "Traceback" not in ran.err
    for words in says:
        assert words in ran.err


@pytest.mark.parametrize("below", ["", "deeper", "deeper/still"])
def test_a_file_where_the_folder_should_be_stops_everything(below: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    (tmp_path / "taken").write_text("a file")
    before = tree(tmp_path)
    ran = run_here("make", job, "--out", tmp_path / "taken" / below, *FAST)
    assert_refused(ran, f"{tmp_path / 'taken' / below}: cannot write: ", "choose another folder with --out")
    assert tree(tmp_path) == before


def test_a_folder_in_the_place_of_one_file_leaves_the_others_unchanged(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    out = tmp_path / "out"
    (out / "report.json").mkdir(parents=True)
    (out / "top-art.svg").write_text("from before")
    before = tree(out)
    ran = run_here("make", job, "--out", out, *FAST)
    assert_refused(ran, "cannot write: report.json is a folder there")
    assert tree(out) == before


def test_a_disk_that_fills_up_midway_leaves_the_folder_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = lay(tmp_path, good())
    assert run_here("make", job, *FAST).status == 0
    before = tree(job.with_name("job-out"))
    lay(tmp_path, good('label = "RATE"', 'label = "PACE"'))
    synced: list[int] = []

    def full(handle: int) -> None:
        synced.append(handle)
        if len(synced) == 2:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    ran = run_here("make", job, *FAST)
    assert_refused(ran, "cannot write: No space left on device")
    assert len(synced) == 2
    assert tree(job.with_name("job-out")) == before


@pytest.mark.parametrize("kind", ["png", "pdf", "svg,png,pdf"])
def test_without_cairo_the_way_to_get_it_is_told_and_nothing_is_written(kind: str, tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    before = tree(tmp_path)
    ran = run_apart("make", "job.toml", "--format", kind, cwd=tmp_path, before=NO_CAIRO)
    assert_refused(ran, "cairo library is not on this system", "apt install libcairo2", "brew install cairo", "Windows")
    assert job.exists()
    assert tree(tmp_path) == before


def test_without_cairo_what_needs_none_still_works(tmp_path: Path) -> None:
    lay(tmp_path, good('\n[[face.art]]\nfile = "waves.svg"\nopacity = 0.5\n', ""))
    assert run_apart("check", "job.toml", cwd=tmp_path, before=NO_CAIRO).status == 0
    # Pictures of the box are PNGs, whatever --format says of what is printed.
    kinds = ",".join(kind for kind in KINDS if kind != "preview")
    ran = run_apart("make", "job.toml", "--format", "svg", "--only", kinds, cwd=tmp_path, before=NO_CAIRO)
    assert (ran.status, ran.out) == (0, "job-out\n")
