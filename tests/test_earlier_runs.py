"""What earlier runs have left in a folder: what is ours goes when outdated, all else stays; nothing hangs."""

import errno
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from helpers.jobs import good, lay
from helpers.limited import run_limited
from helpers.runs import Ran, run_apart, run_here, tree

from facegraphic.errors import UserError
from facegraphic.job.reading import hash_of, read_file
from facegraphic.output import made
from facegraphic.output.folder import write_together
from facegraphic.output.made import BEGUN, RECORD, REPORT, hashed
from facegraphic.output.made import record as made_record

ART = ("--only", "art", "--format", "svg", "--paper", "A5")
SHEETS = ("--only", "art,sheet", "--format", "svg", "--paper", "A5")
posix = pytest.mark.skipif(os.name != "posix", reason="no such files on this system")


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return lay(tmp_path, good())


def ran(job: Path, *words: object) -> Ran:
    done = run_here("make", job, *words)
    assert done.status == 0, done.err
    return done


def there(job: Path) -> set[str]:
    return {path.name for path in job.with_name("job-out").glob("sheet-*.svg")}


def record(job: Path) -> dict[str, object]:
    found: dict[str, object] = json.loads((job.with_name("job-out") / RECORD).read_text(encoding="utf-8"))
    return found


def test_a_sheet_too_many_goes_whatever_was_made_between(job: Path) -> None:
    ran(job, *SHEETS, "--copies", 5)
    assert there(job) == {"sheet-1.svg", "sheet-2.svg"}
    for _ in range(2):  # what is not asked for stays, and is remembered
        ran(job, *ART, "--fresh")
        assert there(job) == {"sheet-1.svg", "sheet-2.svg"}
    ran(job, *SHEETS, "--copies", 1)
    assert there(job) == {"sheet-1.svg"}
    assert "left" not in record(job)


def test_two_jobs_in_one_folder_leave_each_other_their_files(tmp_path: Path) -> None:
    out = tmp_path / "print"

    def write(name: str, *files: str) -> set[str]:
        made: dict[str, bytes] = {file: name.encode() for file in files}
        outputs = [{"file": file, "kind": "art"} for file in files]
        made[REPORT] = json.dumps({"outputs": outputs}).encode()
        write_together({out: {**made, RECORD: made_record("", {f"/jobs/{name}": ""}, made)}})
        return {path.name for path in out.glob("*.svg")}

    assert write("a.toml", "top.svg", "back.svg") == {"top.svg", "back.svg"}
    assert write("b.toml", "left.svg") == {"top.svg", "back.svg", "left.svg"}
    assert write("b.toml", "right.svg") == {"top.svg", "back.svg", "right.svg"}
    # What is outdated of its own goes, though the other's record has to remember it.
    assert write("a.toml", "top.svg") == {"top.svg", "right.svg"}


def test_what_a_report_from_elsewhere_names_stays(job: Path) -> None:
    out = job.with_name("job-out")
    out.mkdir()
    (out / "holiday.svg").write_text("precious")
    outputs = [{"file": "holiday.svg", "kind": "art"}]
    (out / REPORT).write_text(json.dumps({"outputs": outputs, "faces": []}))
    ran(job, *ART)
    assert (out / "holiday.svg").read_text() == "precious"


@pytest.mark.parametrize("name", ["holiday.svg", "../holiday.svg", "link.svg", "below", "", "."])
@pytest.mark.parametrize("place", [RECORD, BEGUN])
def test_what_a_record_from_elsewhere_names_goes_only_with_its_very_hash(job: Path, name: str, place: str) -> None:
    out = job.with_name("job-out")
    (out / "below").mkdir(parents=True)
    (out / "holiday.svg").write_text("precious")
    (job.parent / "holiday.svg").write_text("precious")
    (out / "link.svg").symlink_to("holiday.svg")
    named = {"file": name, "kind": "art", "hash": hashed(b"precious" if name != "holiday.svg" else b"other")}
    (out / place).write_text(json.dumps({"kinds": {}, "made": {}, "left": [named]}))
    done = ran(job, *ART)
    assert (out / "holiday.svg").read_text() == (job.parent / "holiday.svg").read_text() == "precious"
    assert (out / "link.svg").is_symlink() and (out / "below").is_dir()
    assert ("holiday.svg was made by an earlier run" in done.err) == (name == "holiday.svg")


@pytest.mark.parametrize("words", [(), ("--workers", 2)])
def test_an_edited_sheet_stays_and_is_told_of_until_it_is_gone(job: Path, words: tuple[object, ...]) -> None:
    two = lay(job.parent / "two", good())
    for number, one in enumerate((job, two)):
        ran(one, *SHEETS, "--copies", 5)
        assert there(one) == {"sheet-1.svg", "sheet-2.svg"}, number
    sheet = job.with_name("job-out") / "sheet-2.svg"
    before = sheet.read_text(encoding="utf-8")
    sheet.write_text(before + "<!-- mine -->", encoding="utf-8")
    for _ in range(2):
        done = ran(job, two.rename(two.with_name("two.toml")) if two.exists() else two.with_name("two.toml"), "--apart",
                   *SHEETS, "--copies", 1, "--fresh", *words)  # fmt: skip
        assert "note: sheet-2.svg was made by an earlier run and has been edited since" in done.err
        assert there(job) == {"sheet-1.svg", "sheet-2.svg"}
    assert "sheet-2.svg was" not in ran(job, *ART).err  # asked for no sheets, a run says nothing of them
    sheet.write_text(before, encoding="utf-8")
    ran(job, *SHEETS, "--copies", 1)
    assert there(job) == {"sheet-1.svg"}


def test_own_sheets_go_once_they_are_shared_and_old_shared_ones_are_told_of(job: Path) -> None:
    two = lay(job.parent / "two", good()).rename(job.with_name("two.toml"))
    for path in (job.parent / "two").iterdir():
        path.rename(job.parent / path.name)
    ran(job, two, "--apart", *SHEETS)
    assert there(job) == there(two) == {"sheet-1.svg"}
    assert "no sheets" not in ran(job, two, *SHEETS).err
    assert there(job) == there(two) == set()
    two.write_text('title = "broken"', encoding="utf-8")
    done = run_here("make", job, two, *SHEETS)
    assert "no sheets are made" in done.err and "those in gang-out are of an earlier run" in done.err


def test_a_sheet_that_the_job_reads_stays(job: Path) -> None:
    ran(job, *SHEETS, "--copies", 5)
    job.write_text(good('"waves.svg"', '"job-out/sheet-2.svg"'), encoding="utf-8")
    before = (job.with_name("job-out") / "sheet-2.svg").read_bytes()
    assert "edited" not in ran(job, *SHEETS, "--copies", 1).err
    assert (job.with_name("job-out") / "sheet-2.svg").read_bytes() == before


def fifo(path: Path) -> None:
    os.mkfifo(path)


def endless(path: Path) -> None:
    path.symlink_to("/dev/zero")


def huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(40_000_000_000)  # of holes: it takes no room


def deep(path: Path) -> None:
    path.write_text("[" * 1_000_000)


ODD: dict[str, Callable[[Path], None]] = {"fifo": fifo, "endless": endless, "huge": huge, "deep": deep}
# What is read stays within these: seconds of processor and bytes. Far above what a run of this job takes.
BOUNDS = {"seconds": 19, "addresses": 1 << 31}


@posix
@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", [RECORD, REPORT, BEGUN])
def test_what_lies_in_the_place_of_a_record_neither_hangs_nor_fills_memory(job: Path, name: str, odd: str) -> None:
    ran(job, *SHEETS)
    place = job.with_name("job-out") / name
    place.unlink(missing_ok=True)
    ODD[odd](place)
    done, _ = run_limited("make", job, *SHEETS, cwd=job.parent, **BOUNDS)
    assert done.status == 0 and "nothing has changed" not in done.err, done.err
    assert place.is_file() == (name != BEGUN) and not place.is_symlink()
    assert run_limited("check", job, cwd=job.parent, **BOUNDS)[0].status == 0
    assert "nothing has changed" in ran(job, *SHEETS).err


@posix
def test_a_record_that_names_odd_files_is_no_record(job: Path) -> None:
    ran(job, *SHEETS)
    out = job.with_name("job-out")
    for odd in (fifo, endless, huge):
        (out / "top-art.svg").unlink()
        odd(out / "top-art.svg")
        done, _ = run_limited("make", job, *SHEETS, cwd=job.parent, **BOUNDS)
        assert done.status == 0 and "nothing has changed" not in done.err
        assert (out / "top-art.svg").read_bytes().startswith(b"<?xml")
    text = record(job)
    (out / RECORD).write_text(json.dumps({**text, "made": {}, "read": {}}))
    assert "nothing has changed" not in ran(job, *SHEETS).err


@posix
def test_no_more_is_read_than_is_let_in(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    fifo(pipe)
    (tmp_path / "ten").write_bytes(b"0123456789")
    assert read_file(tmp_path / "ten", 10) == b"0123456789"
    assert hash_of(tmp_path / "ten", 10) == hashed(b"0123456789") and hash_of(tmp_path / "none", 10) == ""
    with pytest.raises(UserError, match="10 bytes, more than 9"):
        read_file(tmp_path / "ten", 9)
    with pytest.raises(OSError, match="10 bytes"):
        hash_of(tmp_path / "ten", 9)
    for path in (pipe, Path("/dev/zero")):
        with pytest.raises(UserError, match="not an ordinary file"):
            read_file(path, 10)
        with pytest.raises(OSError, match="not an ordinary file"):
            hash_of(path, 10)


@pytest.mark.skipif(not Path("/proc/self/status").is_file(), reason="no files of the system's own here")
def test_files_of_the_system_that_claim_no_size_are_bounded_too() -> None:
    """proc(5): its files have a size of 0 by stat(2), whatever is read from them; /proc/kmsg waits for news."""
    status = Path("/proc/self/status")
    assert status.stat().st_size == 0 and b"Name:" in read_file(status, 100_000)
    with pytest.raises(UserError, match="more than 20 are not read"):
        read_file(status, 20)


@pytest.mark.skipif(not os.access("/proc/kmsg", os.R_OK), reason="the system's messages may not be read here")
def test_a_file_that_waits_for_news_does_not_hang(tmp_path: Path) -> None:
    job = lay(tmp_path, good('"waves.svg"', '"/proc/kmsg"'))
    done = run_apart("check", job)
    assert done.status == 1 and "/proc/kmsg" in done.err


@posix
@pytest.mark.parametrize("odd", [fifo, endless])
def test_a_specimen_of_no_ordinary_file_is_refused(tmp_path: Path, odd: Callable[[Path], None]) -> None:
    odd(tmp_path / "x.ttf")
    done, _ = run_limited("fonts", "--specimen", tmp_path / "x.ttf", "--out", tmp_path, cwd=tmp_path, **BOUNDS)
    assert done.status == 1 and "x.ttf: this is not an ordinary file" in done.err


def test_jobs_that_share_sheets_have_each_source_looked_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    jobs = []
    for number in range(3):
        jobs.append(lay(tmp_path / str(number), good()))
        jobs[-1] = jobs[-1].rename(jobs[-1].with_name(f"job-{number}.toml"))
    words = ("make", *jobs, "--out", tmp_path / "out", *SHEETS)
    assert run_here(*words).status == 0
    seen: list[Path] = []

    def counting(path: Path, most: int) -> str:
        seen.append(path)
        return hash_of(path, most)

    monkeypatch.setattr(made, "hash_of", counting)
    done = run_here(*words)
    assert done.err.count("nothing has changed") == 4
    assert len(seen) == len(set(seen)) and {path.name for path in seen} >= {"job-0.toml", "holes.csv", "waves.svg"}
    first = len(seen)
    run_here(*words)  # the next run looks again
    assert len(seen) == 2 * first
    (jobs[2].with_name("waves.svg")).write_bytes((jobs[2].with_name("waves.svg")).read_bytes() + b"\n")
    assert "nothing has changed" not in run_here(*words).err


def test_no_two_jobs_have_one_folder_whatever_it_is_called(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = lay(tmp_path / "one", good())
    (tmp_path / "two").symlink_to(tmp_path / "one")
    (lay(tmp_path, good())).rename(tmp_path / "gang.toml")
    lay(tmp_path / "other", good())
    (tmp_path / "gang-link.toml").symlink_to("gang.toml")
    monkeypatch.chdir(tmp_path)
    before = tree(tmp_path)
    sheets, mend = "the sheets that the jobs share and gang.toml", "give one job file another name"
    for words, says in {
        ("one/job.toml", one): (f"{one} is named twice", "name each job once"),
        ("one/job.toml", "one/job.toml"): ("one/job.toml is named twice", "name each job once"),
        ("one/job.toml", "two/job.toml"): ("two/job.toml is named twice", "name each job once"),
        ("gang.toml", "one/job.toml"): (sheets, mend),
        ("one/job.toml", "other/job.toml", "--out", "x"): ("one/job.toml and other/job.toml would", mend),
        ("one/job.toml", "other/job.toml", "--out", "x", "--apart"): ("one/job.toml and other/job.toml would", mend),
    }.items():
        done = run_here("make", *words, *SHEETS)
        told = " ".join(done.err.split())
        assert done.status == 2 and all(part in told for part in says), (words, done.err)
        assert tree(tmp_path) == before
    for words in (("one/job.toml", "gang.toml", "--out", "gang.toml.d"), ("gang.toml", "gang-link.toml", "--apart")):
        assert run_here("make", *words, *ART).status == 0


def test_a_folder_that_cannot_be_is_told_for_what_it_is_and_none_is_left_empty(tmp_path: Path) -> None:
    job = lay(tmp_path, good())
    (tmp_path / "file").write_text("a file")
    (tmp_path / "link").symlink_to(tmp_path / "nowhere" / "at all")
    before = tree(tmp_path)
    for out, says in (
        ("file", "this is a file, not a folder"),
        ("file/below", "this is below a file, not a folder"),
        ("link", "this link leads nowhere"),
    ):
        done = run_here("make", job, "--out", tmp_path / out, *ART)
        assert done.status == 1 and f"{tmp_path / out}: cannot write: {says}" in done.err and "--out" in done.err
    with pytest.raises(UserError, match="not a folder"):
        write_together({tmp_path / "a" / "b": {"x": b"x"}, tmp_path / "file": {"x": b"x"}})
    assert tree(tmp_path) == before
    with pytest.raises(UserError, match="x is a folder there"):
        (tmp_path / "there" / "x").mkdir(parents=True)
        write_together({tmp_path / "a" / "b": {"x": b"x"}, tmp_path / "there": {"x": b"x"}})
    assert tree(tmp_path) == {**before, "there": None, "there/x": None}


@pytest.mark.parametrize("linked", [True, False])
def test_what_was_edited_is_kept_beside_what_is_made_anew(
    job: Path, linked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    def poor(*asked: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    if not linked:
        monkeypatch.setattr(Path, "hardlink_to", poor)
    ran(job, *ART)
    art = job.with_name("job-out") / "top-art.svg"
    before = art.read_text(encoding="utf-8")
    for number in ("", "-2"):
        art.write_text(f"{before}<!-- mine{number} -->", encoding="utf-8")
        done = ran(job, *ART)
        assert (
            f"top-art.svg has been edited since it was made; what was in it is top-art.edited{number}.svg" in done.err
        )
        kept = art.with_name(f"top-art.edited{number}.svg")
        assert kept.read_text(encoding="utf-8") == f"{before}<!-- mine{number} -->"
        assert art.read_text(encoding="utf-8") == before
    assert "has been edited" not in ran(job, *ART, "--fresh").err
    assert len(list(art.parent.glob("*.edited*"))) == 2


def test_what_was_edited_stays_alone_where_nothing_can_be_written(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    ran(job, *ART)
    art = job.with_name("job-out") / "top-art.svg"
    art.write_text("mine", encoding="utf-8")
    real = Path.replace

    def full(path: Path, target: Path) -> Path:
        if target == art:
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, target)

    monkeypatch.setattr(Path, "replace", full)
    assert "No space left" in run_here("make", job, *ART).err
    assert art.read_text(encoding="utf-8") == "mine"
    assert not list(art.parent.glob("*.edited*"))


@pytest.mark.parametrize("linked", [True, False])
def test_what_was_edited_is_not_lost_where_a_later_file_cannot_be_written(
    job: Path, linked: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without second names, on disks that have none, what was replaced by then cannot be put back."""
    ran(job, "--only", "art", "--format", "svg,pdf")
    art = job.with_name("job-out") / "top-art.pdf"
    art.write_bytes(b"mine")
    real = Path.replace

    def full(path: Path, target: Path) -> Path:
        if target.name == "report.json":
            raise OSError(errno.ENOSPC, "No space left on device")
        return real(path, target)

    def poor(*asked: object) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(Path, "replace", full)
    if not linked:
        monkeypatch.setattr(Path, "hardlink_to", poor)
    told = run_here("make", job, "--only", "art", "--format", "svg,pdf").err
    assert "No space left" in told
    kept = art.with_name("top-art.edited.pdf")
    if linked:
        assert art.read_bytes() == b"mine" and not kept.exists()
    else:
        assert kept.read_bytes() == b"mine" and "what was in it is top-art.edited.pdf now" in told
