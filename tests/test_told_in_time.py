"""What a run of `make` cannot do is told before it draws anything; what is outdated beside it, when it has ended."""

from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.runs import run_here, tree

from facegraphic.cli import bench

SHEETS = ("--only", "sheet", "--format", "svg")
OLD = "gang-out: note: the sheets there are of an earlier run"


@pytest.fixture
def pair(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    """Two jobs in the folder that the test is in."""
    monkeypatch.chdir(tmp_path)
    for name in ("ebb", "flood"):
        lay(tmp_path, good()).rename(tmp_path / f"{name}.toml")
    return Path("ebb.toml"), Path("flood.toml")


def edit(job: Path, old: str = "RATE", new: str = "SPEED") -> None:
    text = job.read_text(encoding="utf-8")
    assert old in text
    job.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize("out", ["file", "file/below", "link"])
@pytest.mark.parametrize("together", [True, False])
def test_a_folder_that_takes_no_files_is_told_before_anything_is_drawn(
    out: str, together: bool, pair: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    def drawn(*asked: object) -> None:
        raise AssertionError("it draws")

    monkeypatch.setattr(bench, "make", drawn)
    monkeypatch.setattr(bench, "make_gang", drawn)
    Path("file").write_text("a file")
    Path("link").symlink_to("nowhere/at all")
    before = tree(Path())
    done = run_here("make", *(pair if together else pair[:1]), "--out", out, *SHEETS)
    assert done.status == 1
    assert "cannot write" in done.err
    assert "nothing" in done.err
    assert tree(Path()) == before


def test_shared_sheets_that_are_outdated_are_told_by_runs_that_make_others(pair: tuple[Path, Path]) -> None:
    assert run_here("make", *pair, *SHEETS).status == 0
    assert OLD not in run_here("make", *pair, "--apart", *SHEETS).err, "they show both jobs as they are"
    edit(pair[1])
    assert OLD not in run_here("make", pair[0], *SHEETS).err, "of this one they are right"
    for words in ((*pair, "--apart"), pair[1:]):
        done = run_here("make", *words, *SHEETS)
        assert done.status == 0
        assert OLD in done.err
        assert OLD not in run_here("make", *words, *SHEETS, "--quiet").err
    assert OLD not in run_here("make", *pair, *SHEETS).err
    assert OLD not in run_here("make", pair[1], *SHEETS).err, "they have been made anew"


@pytest.mark.parametrize("words", [("--apart",), ()])
def test_of_several_jobs_it_is_told_which_has_nothing(words: tuple[str, ...], pair: tuple[Path, Path]) -> None:
    edit(pair[0], "112x60x31", "112x60x30")
    done = run_here("make", *pair, *SHEETS, *words)
    assert done.status == 1
    assert "1 problem; nothing of ebb.toml was written" in done.err
    assert Path("flood-out").exists()
    assert "1 problem; nothing was written" in run_here("make", pair[0], *SHEETS).err


@pytest.mark.parametrize("command", [("make", "ebb.toml"), ("ruler",), ("fonts", "--specimen", "tagstrip-light")])
def test_an_empty_name_is_no_folder(command: tuple[str, ...], pair: tuple[Path, Path]) -> None:
    before = tree(Path())
    done = run_here(*command, "--out", "")
    assert done.status == 2
    assert "an empty name; . is this folder" in done.err
    assert tree(Path()) == before


@pytest.mark.parametrize(
    ("name", "meant"), [("ebb", "ebb.toml"), ("eb.toml", "ebb.toml"), ("Flood.TOML", "flood.toml"), ("gull.png", "")]
)
def test_a_file_that_may_be_meant_is_named(name: str, meant: str, pair: tuple[Path, Path]) -> None:
    told = run_here("check", name).err
    assert f"{name}: there is no such file" in told
    assert (f'did you mean "{meant}"?' if meant else "check the name") in told
