"""A job on the page as values: versions, what changed in each, history, and what is refused."""

import json
from pathlib import Path

import pytest
from helpers.page_server import EXAMPLES, copied

import facegraphic.page.bench as bench_module
from facegraphic.errors import Finding, Problem, UserError
from facegraphic.job.saving import ChangedMeanwhile
from facegraphic.page.bench import Bench
from facegraphic.page.desk import desk_of
from facegraphic.page.drawing import face_picture, model_json, sheet_picture
from facegraphic.page.record import made_file, outputs, state_record
from facegraphic.page.state import MOST_STEPS, History
from facegraphic.pipeline.preparing import Wishes, prepare


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    bench = Bench("slow-ferry", copied(tmp_path), fresh=True)
    bench.look()
    return bench


@pytest.fixture
def drift(tmp_path: Path) -> Bench:
    bench = Bench("drift-line", copied(tmp_path, "drift-line.toml", "drift-line.svg"), fresh=True)
    bench.look()
    return bench


def rewrite(bench: Bench, old: str, new: str) -> None:
    text = bench.path.read_text(encoding="utf-8")
    assert old in text
    bench.path.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_look_without_a_change_is_none(bench: Bench) -> None:
    assert bench.state.version == 1 and bench.look() is None
    bench.path.touch()
    assert bench.look() is None and bench.state.version == 1


def test_a_font_of_ones_own_is_the_same_when_it_is_read_again(bench: Bench) -> None:
    font = next((EXAMPLES.parent / "fonts" / "built").glob("*.ttf"))
    rewrite(bench, 'font = "barlow-condensed-semibold"', f'font = "{font}"')
    assert bench.look() is not None and not bench.state.problems
    assert bench.look() is None
    assert font in bench.watched


def test_only_the_side_that_changed_is_drawn_again(drift: Bench) -> None:
    shown = drift.state.shown
    assert shown is not None and set(shown.stamps) == {"top", "back"}
    rewrite(drift, '"SWELL"', '"SURGE"')
    change = drift.look()
    assert change is not None and change.sides == ("top",)
    assert drift.state.shown is not None and drift.state.shown.stamps == {"top": 2, "back": 1}
    assert drift.state.shown.body == 1  # the same box, with the same parts


def test_a_comment_changes_no_picture(bench: Bench) -> None:
    rewrite(bench, "title", "# said\ntitle")
    change = bench.look()
    assert change is not None and change.sides == () and change.version == 2


def test_paint_changes_every_side_and_the_body(drift: Bench) -> None:
    change = drift.set({"paint": "#123456"})
    assert set(change.sides) == {"top", "back"}
    assert drift.state.shown is not None and drift.state.shown.body == change.version
    assert drift.state.shown.stamp("left") == change.version  # a bare side shows the paint


def test_what_stands_in_a_hole_changes_the_body(bench: Bench) -> None:
    rewrite(bench, 'knob = "round-13"', 'knob = "round-16"')
    bench.look()
    assert bench.state.shown is not None and bench.state.shown.body == 2


def test_the_findings_are_those_of_the_command(bench: Bench) -> None:
    assert bench.behind and bench.judge() == 1 and not bench.behind
    assert bench.state.judged.findings == prepare(bench.path).findings
    assert state_record(bench, bench.state)["findings_version"] == 1


def test_findings_of_a_version_that_is_gone_are_dropped(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    real = bench_module.judged

    def slow(*arguments: object) -> object:
        rewrite(bench, '"RATE"', '"SPEED"')
        bench.look()
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(bench_module, "judged", slow)
    assert bench.judge() is None
    assert bench.behind and bench.state.judged.version == 0


def test_what_comes_up_in_judging_only_is_told_as_an_error_of_the_job(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise UserError(Problem("it cannot be judged", "mend it"))

    monkeypatch.setattr(bench_module, "judged", refuse)
    assert bench.judge() == 1
    assert bench.state.judged.findings == (Finding("job", "error", "it cannot be judged", "mend it"),)


def test_a_nudge_of_nothing_writes_nothing(bench: Bench) -> None:
    bench.nudge("top", "control:rate", (1.0, 2.0))
    data, version = bench.path.read_bytes(), bench.state.version
    assert bench.nudge("top", "control:rate", (1.001, 1.999)).version == version
    assert bench.path.read_bytes() == data and len(bench.state.history.past) == 1


def test_a_file_with_a_mark_and_other_line_ends(bench: Bench) -> None:
    data = b"\xef\xbb\xbf" + bench.path.read_bytes().replace(b"\n", b"\r\n")
    bench.path.write_bytes(data)
    bench.look()
    bench.nudge("top", "control:rate", (1.0, 2.0))
    after = bench.path.read_bytes()
    assert after.replace(b"nudge = [1, 2]\r\n", b"") == data
    assert prepare(bench.path).job.faces[0].controls[0].nudge == (1.0, 2.0)


def test_a_change_is_refused_when_others_were_faster(bench: Bench) -> None:
    rewrite(bench, '"RATE"', '"SPEED"')  # and nobody has looked yet
    theirs = bench.path.read_bytes()
    for change in (
        lambda: bench.nudge("top", "control:rate", (1.0, 1.0)),
        lambda: bench.set({"paint": "#123456"}),
        bench.undo,
        bench.redo,
    ):
        with pytest.raises(ChangedMeanwhile):
            change()
    assert bench.path.read_bytes() == theirs


def test_what_the_reader_refuses_is_not_written(bench: Bench) -> None:
    before, state = bench.path.read_bytes(), bench.state
    rewrite(bench, "[finish]", "[sheet]\nsize = [200, 100]\n\n[finish]")
    bench.look()
    kept = bench.path.read_bytes()
    assert kept != before
    with pytest.raises(UserError, match="both paper and size"):
        bench.set({"paper": "A4"})
    assert bench.path.read_bytes() == kept and bench.state.version == state.version + 1


def test_history_by_hand() -> None:
    history = History().done(b"a").done(b"b")
    assert history.past == (b"a", b"b")
    back = history.undone(b"c")
    assert (back.past, back.future) == ((b"a",), (b"c",))
    assert back.redone(b"b") == history
    assert back.done(b"b").future == ()
    for number in range(MOST_STEPS + 5):
        history = history.done(b"%d" % number)
    assert len(history.past) == MOST_STEPS


def test_faults_are_told_and_survived(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    def bad(*arguments: object) -> None:
        raise KeyError("x")

    with monkeypatch.context() as patch:
        patch.setattr(bench_module, "laid_out", bad)
        rewrite(bench, '"RATE"', '"SPEED"')
        change = bench.look()
    assert change is not None and change.broken
    assert "has a fault" in bench.state.problems[0].what
    change = bench.look()
    assert change is not None and not change.broken and not bench.state.problems


def test_pictures_of_sides_coats_and_sheets(drift: Bench) -> None:
    assert drift.judge() == 1
    assert drift.state.shown is not None
    own = drift.state.shown.prepared.job.coats
    coats, seen = len(own), len([coat for coat in own if coat.paint])
    assert coats > seen > 1  # a clear coat changes nothing that is to be seen
    pictures = [face_picture(drift, "top", coat) for coat in range(coats + 1)]
    assert len(set(pictures)) == seen + 1 and None not in pictures
    assert face_picture(drift, "top", coats + 1) is None
    assert face_picture(drift, "left") == face_picture(drift, "right")
    assert (sheet_picture(drift, 0) or b"")[:4] == b"\x89PNG"
    assert sheet_picture(drift, 99) is None
    assert {"meshes", "poses"} <= json.loads(model_json(drift) or b"{}").keys()


def test_the_shell_wears_each_coat_that_goes_over_all_of_the_box(drift: Bench) -> None:
    shells = [shell["colour"] for shell in state_record(drift, drift.state)["shells"]]
    # Bare, grey primer (stock), cream; what is on the top alone, and clear coat, change no edge.
    assert shells == ["#c9ccca", "#8d9093", *4 * ["#ece3cc"]]
    assert state_record(drift, drift.state)["coats"] == len(shells) - 1


def test_a_picture_is_drawn_once(bench: Bench) -> None:
    assert face_picture(bench, "top") is face_picture(bench, "top")
    before = face_picture(bench, "top")
    bench.nudge("top", "control:rate", (1.0, 2.0))
    assert face_picture(bench, "top") != before


def test_names_of_made_files(tmp_path: Path) -> None:
    out = tmp_path / "job-out"
    out.mkdir()
    (out / "a.pdf").write_bytes(b"x")
    (out / ".hidden").write_bytes(b"x")
    (tmp_path / "outside.txt").write_bytes(b"x")
    (out / "leads.txt").symlink_to(tmp_path / "outside.txt")
    assert made_file(out, "a.pdf") == out / "a.pdf"
    for name in ("", ".", "..", ".hidden", "../outside.txt", "leads.txt", "a.pdf/", "a\0", "none.txt", "/etc/hosts"):
        assert made_file(out, name) is None
    (out / "report.json").write_text(
        json.dumps({"outputs": [{"file": "a.pdf"}, {"file": "../outside.txt"}, {"file": "gone.png"}]})
    )
    assert [one["file"] for one in outputs(out)] == ["a.pdf", "report.json"]
    (out / "report.json").write_text("[[[")
    assert outputs(out) == []


def test_jobs_of_one_name_are_told_apart(tmp_path: Path) -> None:
    one, other = copied(tmp_path / "a"), copied(tmp_path / "b")
    desk = desk_of([one, other, one], Wishes(), True)
    assert [bench.name for bench in desk.benches] == ["slow-ferry", "slow-ferry-2"]
    assert desk.bench("slow-ferry-2") is not None and desk.bench("none") is None


def test_a_folder_without_jobs(tmp_path: Path) -> None:
    (tmp_path / "other.toml").write_text("[tool]\nx = 1\n")
    with pytest.raises(UserError, match="no job file"):
        desk_of([tmp_path], Wishes(), True)
