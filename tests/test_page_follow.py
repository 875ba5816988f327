"""The page follows its files: a real server, real edits, and what it then says and shows."""

import io
import shutil
import signal
import socket
from collections.abc import Iterator
from contextlib import ExitStack, closing
from pathlib import Path

import numpy as np
import pytest
from helpers.page_server import EXAMPLES, Server, Stream, copied, serving, stopped
from PIL import Image

from facegraphic.pipeline import prepare
from facegraphic.pipeline.seeing import face_look

JOB = "job/slow-ferry"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    return copied(tmp_path)


@pytest.fixture
def server(job: Path) -> Iterator[Server]:
    with serving(job) as running:
        running.ask(JOB)
        yield running


@pytest.fixture
def stream(server: Server) -> Iterator[Stream]:
    stream = server.stream()
    yield stream
    stream.close()


def shown(server: Server, side: str = "top") -> np.ndarray:
    face = next(face for face in server.ask(JOB).json["faces"] if face["side"] == side)
    return np.asarray(Image.open(io.BytesIO(server.ask(f"{JOB}/{face['picture']}").body)))


def expected(job: Path, side: str = "top") -> np.ndarray:
    prepared = prepare(job)
    layout = next(layout for layout in prepared.layouts if layout.face.side == side)
    return face_look(prepared.job, layout, masks=prepared.masks).picture


def replaced(path: Path, old: str, new: str) -> None:
    """As editors do that write a new file and give it the old one's name."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    beside = path.with_name(f"{path.name}~new")
    beside.write_text(text.replace(old, new), encoding="utf-8")
    beside.replace(path)


def rewritten(path: Path, old: str, new: str) -> None:
    """As editors do that write over the old file."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.parametrize("save", [replaced, rewritten])
def test_an_edit_shows(server: Server, stream: Stream, job: Path, save: object) -> None:
    assert callable(save)
    before = shown(server)
    assert (before == expected(job)).all()
    for word in ("SPEED", "HASTE"):  # twice: a watch on the file that was replaced would see the first only
        save(job, next(w for w in ('"RATE"', '"SPEED"') if w in job.read_text()), f'"{word}"')
        told, data = stream.until("changed", "error")
        assert (told, data["faces"]) == ("changed", ["top"])
        legends = server.ask(JOB).json["faces"][0]["legends"]
        assert word in {legend["text"] for legend in legends}
    after = shown(server)
    assert (after == expected(job)).all() and (after != before).any()
    told, data = stream.until("findings")
    assert data["findings_version"] == server.ask(JOB).json["version"]


def test_the_drill_file_and_the_artwork_are_followed(server: Server, stream: Stream, job: Path) -> None:
    before = server.ask(JOB).json["faces"][0]["holes"][0]
    replaced(job.with_name("slow-ferry.csv"), f"{before['x']:g}", f"{before['x'] - 1:g}")
    assert stream.until("changed", "error")[0] == "changed"
    assert server.ask(JOB).json["faces"][0]["holes"][0]["x"] == before["x"] - 1
    drawing = shown(server)
    shutil.copy(EXAMPLES / "kelp.svg", job.with_name("ferry.svg"))
    assert stream.until("changed", "error")[0] == "changed"
    assert (shown(server) != drawing).any()
    assert (shown(server) == expected(job)).all()


def test_a_broken_file_says_where_and_the_last_picture_stays(server: Server, stream: Stream, job: Path) -> None:
    before, picture = server.ask(JOB).json, shown(server)
    text = job.read_text()
    line = text[: text.index('part = "pot-16"')].count("\n") + 1
    rewritten(job, 'part = "pot-16"', 'part = "pot-61"')
    assert stream.until("changed", "error")[0] == "error"
    broken = server.ask(JOB).json
    first = broken["error"][0]
    assert (first["file"], first["line"], first["key"]) == ("slow-ferry.toml", line, "face[0].control[0].part")
    assert "pot-61" in first["message"] and "pot-16" in first["remedy"]
    assert broken["faces"] == before["faces"] and (shown(server) == picture).all()
    assert server.ask("jobs").json["jobs"][0]["ok"] is False
    assert server.post(f"{JOB}/nudge", {"side": "top", "key": "control:rate", "nudge": [1, 1]}).status == 409
    job.write_text("this is [no TOML")
    assert stream.until("changed", "error")[0] == "error"
    assert "not valid TOML" in server.ask(JOB).json["error"][0]["message"]
    job.unlink()
    assert stream.until("changed", "error")[0] == "error"
    assert "no such file" in server.ask(JOB).json["error"][0]["message"]
    job.write_text(text)
    assert stream.until("changed", "error")[0] == "changed"
    assert server.ask(JOB).json["error"] is None
    assert server.ask("jobs").json["jobs"][0]["ok"] is True


def test_a_missing_drill_file_is_waited_for(server: Server, stream: Stream, job: Path) -> None:
    holes = job.with_name("slow-ferry.csv")
    kept = holes.read_bytes()
    holes.unlink()
    assert stream.until("changed", "error")[0] == "error"
    holes.write_bytes(kept)
    assert stream.until("changed", "error")[0] == "changed"


def test_a_nudge_is_written_and_undone(server: Server, stream: Stream, job: Path) -> None:
    original = job.read_bytes()
    place = next(one for one in server.ask(JOB).json["faces"][0]["legends"] if one["key"] == "control:rate")
    told = server.post(f"{JOB}/nudge", {"side": "top", "key": "control:rate", "nudge": [1.25, -0.5]})
    assert told.status == 200
    state = server.ask(JOB).json
    assert state["version"] == told.json["version"]
    moved = next(one for one in state["faces"][0]["legends"] if one["key"] == "control:rate")
    assert (moved["x"] - place["x"], moved["y"] - place["y"]) == pytest.approx((1.25, -0.5), abs=1e-3)
    assert moved["nudge"] == [1.25, -0.5]
    lines, before = job.read_text().splitlines(), original.decode().splitlines()
    assert [line for line in lines if line != "nudge = [1.25, -0.5]"] == before and len(lines) == len(before) + 1
    assert (shown(server) == expected(job)).all()

    assert (state["can_undo"], state["can_redo"]) == (True, False)
    nudged = job.read_bytes()
    assert server.post(f"{JOB}/undo", {}).status == 200
    assert job.read_bytes() == original
    assert server.post(f"{JOB}/redo", {}).status == 200
    assert job.read_bytes() == nudged
    assert server.post(f"{JOB}/undo", {}).status == 200
    assert server.post(f"{JOB}/undo", {}).status == 400
    assert job.read_bytes() == original


def test_settings_are_written_or_refused(server: Server, job: Path) -> None:
    assert server.post(f"{JOB}/set", {"paint": "#334455", "paper": "A5"}).status == 200
    state = server.ask(JOB).json
    assert (state["settings"]["paint"], state["settings"]["paper"]) == ("#334455", "A5")
    assert (shown(server) == expected(job)).all()
    before = job.read_bytes()
    for wrong in ({"paint": "mud"}, {"process": "magic"}, {"paper": "A99"}, {"ink": "#12345678"}):
        refused = server.post(f"{JOB}/set", wrong)
        assert refused.status == 400 and refused.json["problems"][0]["line"]
    assert job.read_bytes() == before
    assert server.ask(JOB).json["error"] is None


def test_what_others_write_is_not_lost(server: Server, stream: Stream, job: Path) -> None:
    assert server.post(f"{JOB}/set", {"paint": "#334455"}).status == 200
    stream.until("changed")
    replaced(job, '"RATE"', '"SPEED"')
    stream.until("changed")
    state = server.ask(JOB).json
    assert (state["can_undo"], state["can_redo"]) == (False, False)
    assert server.post(f"{JOB}/undo", {}).status == 400
    assert 'label = "SPEED"' in job.read_text() and 'paint = "#334455"' in job.read_text()


def test_all_files_are_made_with_progress(server: Server, stream: Stream, job: Path) -> None:
    rewritten(job, 'ink = "#f6f1e1"', 'ink = "#f6f1e1"\ndpi = 72')
    stream.until("changed")
    assert server.post(f"{JOB}/make", {}).status == 202
    name, data = stream.until("making", "failed")
    assert (name, data["job"], data["done"]) == ("making", "slow-ferry", 0) and data["total"] > 3
    name, data = stream.until("made", "failed")
    assert (name, data["folder"]) == ("made", "slow-ferry-out")
    files = server.ask(JOB).json["outputs"]
    assert {"report.json", "top-art.pdf", "sheet-1.png", "steps.md"} <= {one["file"] for one in files}
    for one in files:
        answer = server.ask(f"{JOB}/{one['href']}")
        assert answer.status == 200 and answer.body == (job.with_name("slow-ferry-out") / one["file"]).read_bytes()


def test_what_cannot_be_made_says_why(server: Server, stream: Stream, job: Path) -> None:
    rewritten(job, "at = [0, 48.6]", "at = [0, 20]")  # the title over knobs: an error of the checks
    stream.until("findings")
    assert any(one["severity"] == "error" for one in server.ask(JOB).json["findings"])
    server.post(f"{JOB}/make", {})
    name, data = stream.until("made", "failed")
    assert name == "failed" and data["problems"][0]["message"]
    assert not job.with_name("slow-ferry-out").exists()


def test_a_folder_of_jobs(tmp_path: Path) -> None:
    copied(tmp_path, "kelp-drier.toml", "kelp.svg")
    (tmp_path / "other.toml").write_text("[tool]\nx = 1\n")
    (tmp_path / "broken.toml").write_text("[box]\nstock = \n")
    outside = copied(tmp_path / "elsewhere")
    (tmp_path / "link.toml").symlink_to("/etc/hostname")
    with serving(tmp_path) as server, closing(server.stream()) as stream:
        assert {job["name"] for job in server.ask("jobs").json["jobs"]} == {"kelp-drier", "broken"}
        assert server.ask("job/broken").json["error"][0]["line"] == 2
        assert server.ask("job/kelp-drier").json["error"] is None
        shutil.copy(outside.with_name("slow-ferry.csv"), tmp_path)
        shutil.copy(outside.with_name("ferry.svg"), tmp_path)
        shutil.copy(outside, tmp_path)
        assert stream.until("jobs")[0] == "jobs"
        assert "slow-ferry" in {job["name"] for job in server.ask("jobs").json["jobs"]}
        assert server.ask(JOB).json["error"] is None


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM])
def test_it_stops_when_told_to(job: Path, how: signal.Signals) -> None:
    """With streams open, a request half sent, and a connection that never says anything."""
    with serving(job) as server, ExitStack() as open_ones:
        for _ in range(5):
            assert open_ones.enter_context(closing(server.stream())).status == 200
        _silent, half = (
            open_ones.enter_context(socket.create_connection(("127.0.0.1", server.port))) for _ in range(2)
        )
        half.sendall(
            f"POST /{server.token}/{JOB}/set HTTP/1.1\r\nHost: {server.host}\r\nOrigin: {server.origin}\r\n"
            "Content-Type: application/json\r\nContent-Length: 100\r\n\r\n{".encode()
        )
        status, said = stopped(server, how)
        assert (status, said) == (0, "stopped\n")


def test_a_port_that_is_taken(job: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with serving(job, port=port) as server:
            assert port < server.port <= port + 40
            assert server.alive()
            _, said = stopped(server, signal.SIGTERM)
            assert said.startswith(f"port {port} is taken; the page is on {server.port}\n")
