"""Attacks on a real server: each is refused, and the server lives on.

What is tried follows OWASP's pages on cross-site request forgery, DNS rebinding and path traversal.
"""

import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.page_server import PATIENCE, Server, Stream, copied, serving

from facegraphic.page.events import MOST_STREAMS
from facegraphic.page.server import MOST_CONNECTIONS

SET = {"paint": "#336699"}


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = copied(tmp_path_factory.mktemp("guard") / "jobs")
    (path.parent.parent / "secret.txt").write_text("secret")
    out = path.with_name("slow-ferry-out")
    out.mkdir()
    (out / "good.txt").write_text("good")
    (out / "link.txt").symlink_to(path.parent.parent / "secret.txt")
    (out / "deep").symlink_to(path.parent.parent)
    return path


@pytest.fixture(scope="module")
def server(job: Path) -> Iterator[Server]:
    with serving(job) as running:
        yield running


@pytest.fixture(autouse=True)
def lives_on(server: Server, job: Path) -> Iterator[None]:
    before = job.read_bytes()
    yield
    assert server.alive()
    assert job.read_bytes() == before


def test_a_good_request_is_answered(server: Server) -> None:
    """Else all refusals below would say nothing."""
    assert server.ask("jobs").json["jobs"][0]["name"] == "slow-ferry"
    assert server.ask("jobs", Host=f"localhost:{server.port}").status == 200
    assert server.ask("job/slow-ferry/made/good.txt").body == b"good"
    assert server.post("job/slow-ferry/set", {"paint": "#173f4a"}).status == 200  # what it has already


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost", "[::1]:80", ""])
def test_a_foreign_host(server: Server, host: str) -> None:
    assert server.ask("jobs", Host=host).status == 403
    assert server.post("job/slow-ferry/set", SET, Host=host).status == 403


def test_two_hosts(server: Server) -> None:
    answer = server.raw(
        f"GET /{server.token}/jobs HTTP/1.1\r\nHost: {server.host}\r\nHost: evil.example\r\n"
        "Connection: close\r\n\r\n".encode()
    )
    assert answer.split(b" ")[1] in (b"400", b"403")


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "https://127.0.0.1:80", "http://127.0.0.1:1"])
def test_a_foreign_origin(server: Server, origin: str) -> None:
    assert server.ask("jobs", Origin=origin).status == 403
    assert server.ask("events", Origin=origin).status == 403
    assert server.post("job/slow-ferry/set", SET, Origin=origin).status == 403


def test_an_origin_that_is_not_the_host_asked(server: Server) -> None:
    assert server.post("job/slow-ferry/set", SET, Origin=f"http://localhost:{server.port}").status == 403


def test_a_change_without_an_origin(server: Server) -> None:
    assert server.ask("job/slow-ferry/set", "POST", b"{}", Content_Type="application/json").status == 403


@pytest.mark.parametrize("site", ["cross-site", "same-site", "none"])
def test_a_change_that_the_browser_says_is_from_elsewhere(server: Server, site: str) -> None:
    assert server.post("job/slow-ferry/set", SET, Sec_Fetch_Site=site).status == 403


def test_a_picture_in_a_foreign_page(server: Server) -> None:
    headers = {"Sec_Fetch_Site": "cross-site", "Sec_Fetch_Mode": "no-cors"}
    assert server.ask("job/slow-ferry/face/top.png", **headers).status == 403
    # A link that somebody follows is no such thing.
    assert server.ask("jobs", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate").status == 200


@pytest.mark.parametrize(
    "path", ["/", "/jobs", "//jobs", "/wrong-token/jobs", "/%00/jobs", "/é/jobs", "/job/slow-ferry"]
)
def test_no_token_or_a_false_one(server: Server, path: str) -> None:
    request = f"GET {path} HTTP/1.1\r\nHost: {server.host}\r\nConnection: close\r\n\r\n"
    answer = server.raw(request.encode())
    assert answer.split(b" ")[1] in (b"403", b"400")
    assert server.token.encode() not in answer


def test_a_token_that_is_nearly_right(server: Server) -> None:
    for token in (server.token[:-1], server.token + "x", server.token.swapcase(), server.token[:-1] + "~"):
        assert server.ask(f"/{token}/jobs").status == 403
    assert server.ask(f"/{server.token}").status == 403


@pytest.mark.parametrize(
    "name",
    [
        "../slow-ferry.toml",
        "../../secret.txt",
        "%2e%2e/slow-ferry.toml",
        "%2e%2e%2f%2e%2e%2fsecret.txt",
        "..%2f..%2fsecret.txt",
        "..%5c..%5csecret.txt",
        "....//secret.txt",
        "deep/secret.txt",
        "deep%2fsecret.txt",
        "link.txt",
        "/etc/passwd",
        "%2fetc%2fpasswd",
        "good.txt%00.png",
        ".",
        "",
    ],
)
def test_paths_out_of_the_folder(server: Server, name: str) -> None:
    for way in ("job/slow-ferry/made", "web", "job/slow-ferry/face"):
        request = f"GET /{server.token}/{way}/{name} HTTP/1.1\r\nHost: {server.host}\r\nConnection: close\r\n\r\n"
        answer = server.raw(request.encode())
        assert answer.split(b" ")[1] in (b"404", b"400", b"307")
        assert b"secret" not in answer.partition(b"\r\n\r\n")[2].replace(b"secret.txt", b"")
        assert b"root:" not in answer


def test_a_folder_of_made_files_that_leads_elsewhere(server: Server, job: Path) -> None:
    out = job.with_name("slow-ferry-out")
    out.rename(out.with_name("kept"))
    try:
        out.symlink_to(job.parent.parent)
        assert server.ask("job/slow-ferry/made/secret.txt").status == 404
    finally:
        out.unlink()
        out.with_name("kept").rename(out)


def head(server: Server, *more: str) -> bytes:
    lines = [f"POST /{server.token}/job/slow-ferry/set HTTP/1.1", f"Host: {server.host}", f"Origin: {server.origin}"]
    return "\r\n".join([*lines, "Content-Type: application/json", *more, "", ""]).encode()


def test_ten_megabytes_said_to_be_so(server: Server) -> None:
    """Refused by what is said of it: the answer comes though nothing is ever sent."""
    with socket.create_connection(("127.0.0.1", server.port), timeout=60) as wire:
        wire.sendall(head(server, "Content-Length: 10485760"))
        assert wire.recv(4096).split(b" ")[1] == b"413"
    answer = server.raw(head(server, "Content-Length: 10485760"), b" " * 10_485_760)
    assert answer[:16].split(b" ")[1:2] in ([b"413"], [])  # or the connection was ended before it was read


def test_ten_megabytes_in_chunks(server: Server) -> None:
    chunk = b"10000\r\n" + b" " * 65536 + b"\r\n"
    with socket.create_connection(("127.0.0.1", server.port), timeout=60) as wire:
        wire.sendall(head(server, "Transfer-Encoding: chunked"))
        sent = 0
        wire.settimeout(20)
        try:
            while sent < 160:
                wire.sendall(chunk)
                sent += 1
        except ConnectionError:
            pass
        try:
            answer = wire.recv(4096)
        except ConnectionError:
            answer = b""
    # Answered, or cut off so early that the answer was lost.
    assert answer.startswith(b"HTTP/1.1 413") or (not answer and sent < 160)


@pytest.mark.parametrize("length", ["-1", "1e9", "0x10", "99999999999999999999999", "64 kB"])
def test_odd_lengths(server: Server, length: str) -> None:
    answer = server.raw(head(server, f"Content-Length: {length}", "Connection: close"), b"{}")
    assert answer.split(b" ")[1] in (b"400", b"413")


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_what_a_form_could_send(server: Server, kind: str) -> None:
    assert server.post("job/slow-ferry/set", SET, Content_Type=kind).status == 415


@pytest.mark.parametrize("body", [b"", b"[]", b"1", b"{", b"[" * 5000, b'{"paint": 1}', b'{"sheet": "A4"}', b"\xff"])
def test_bodies_that_say_nothing_good(server: Server, body: bytes) -> None:
    answer = server.ask("job/slow-ferry/set", "POST", body, Content_Type="application/json", Origin=server.origin)
    assert answer.status == 400
    assert answer.json["message"]


@pytest.mark.parametrize(
    "data",
    [
        {"side": "top", "key": "control:rate", "nudge": [1]},
        {"side": "top", "key": "control:rate", "nudge": [1, "2"]},
        {"side": "top", "key": "control:rate", "nudge": [1e9, 0]},
        {"side": "top", "key": "control:rate", "nudge": [float("nan"), 0]},
        {"side": "top", "key": "control:rate", "nudge": [float("inf"), 0]},
        {"side": "top", "key": "control:rate", "nudge": [True, 0]},
        {"side": "top", "key": "control:none", "nudge": [1, 1]},
        {"side": "back", "key": "control:rate", "nudge": [1, 1]},
        {"side": "top", "key": "rate", "nudge": [1, 1]},
        {"side": "top", "key": 5, "nudge": [1, 1]},
        {},
    ],
)
def test_nudges_that_are_none(server: Server, data: object) -> None:
    assert server.post("job/slow-ferry/nudge", data).status == 400


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods(server: Server, method: str) -> None:
    assert server.ask("jobs", method).status == 405


def test_two_hundred_event_streams(server: Server) -> None:
    streams = [Stream(server) for _ in range(200)]
    try:
        told = [stream.status for stream in streams]
        assert told.count(200) == MOST_STREAMS
        assert told.count(503) == 200 - MOST_STREAMS
        assert server.alive()
    finally:
        for stream in streams:
            stream.close()
    # Once they are gone there is room again.
    for _ in range(200):
        again = Stream(server)
        again.close()
        if again.status == 200:
            break
    assert again.status == 200


def test_more_who_never_finish_asking_than_there_are_lines(server: Server) -> None:
    """Half-sent requests (an old attack on servers, common knowledge) are let go, and the page is back."""
    slow = [socket.create_connection(("127.0.0.1", server.port), timeout=PATIENCE) for _ in range(MOST_CONNECTIONS + 5)]
    try:
        for wire in slow:
            wire.sendall(b"GET / HTT")
        assert slow[0].recv(1) == b""  # waits until the server has closed it
        answers = (server.ask("jobs").status for _ in range(1000))
        assert 200 in answers
    finally:
        for wire in slow:
            wire.close()
    assert server.alive()


def test_headers_of_every_answer(server: Server) -> None:
    for path in ("jobs", "job/slow-ferry", "job/slow-ferry/face/top.png", "web/nothing.js", "/", "job/none"):
        headers = server.ask(path).headers
        assert "default-src 'none'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert headers["cache-control"] == "no-store"
        assert "unsafe" not in headers["content-security-policy"]
        assert not {"server", "access-control-allow-origin"} & headers.keys()


def test_made_pages_have_no_part_in_the_address(server: Server, job: Path) -> None:
    out = job.with_name("slow-ferry-out")
    (out / "preview.html").write_text("<script>1</script>")
    policy = server.ask("job/slow-ferry/made/preview.html").headers["content-security-policy"]
    assert policy.startswith("sandbox allow-scripts;")
    assert "allow-same-origin" not in policy and "connect-src" not in policy and "default-src 'none'" in policy


def test_it_listens_on_the_loopback_only(server: Server) -> None:
    """By the kernel's own table: local address 0100007F, 127.0.0.1 (proc(5), /proc/net/tcp)."""
    table = Path("/proc/net/tcp")
    if not table.exists():
        pytest.skip("no /proc/net/tcp here")
    rows = [line.split() for line in table.read_text().splitlines()[1:]]
    listening = [row[1] for row in rows if row[3] == "0A" and row[1].endswith(f":{server.port:04X}")]
    assert listening == [f"0100007F:{server.port:04X}"]
    six = Path("/proc/net/tcp6").read_text() if Path("/proc/net/tcp6").exists() else ""
    assert not [line for line in six.splitlines() if f":{server.port:04X} " in line and " 0A " in line]


def test_read_only_changes_nothing(tmp_path: Path) -> None:
    path = copied(tmp_path)
    before = path.read_bytes()
    with serving(path, "--read-only") as shown:
        assert shown.ask("jobs").json["read_only"] is True
        for way in ("nudge", "set", "undo", "redo", "make"):
            assert shown.post(f"job/slow-ferry/{way}", SET).status == 403
        assert shown.ask("job/slow-ferry/face/top.png").status == 200
        assert shown.alive()
    assert path.read_bytes() == before
    assert sorted(found.name for found in tmp_path.iterdir()) == ["ferry.svg", "slow-ferry.csv", "slow-ferry.toml"]
