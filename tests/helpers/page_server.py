"""A real page server in a process of its own, and a plain client for it, down to the socket."""

import contextlib
import http.client
import json
import os
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
PATIENCE = 60.0  # s, for a machine with much else to do
FILES = ("slow-ferry.toml", "slow-ferry.csv", "ferry.svg")


def copied(folder: Path, *names: str) -> Path:
    """Files of the examples in a folder of their own; the first of them."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in names or FILES:
        shutil.copy(EXAMPLES / name, folder / name)
    return folder / (names or FILES)[0]


@dataclass
class Answer:
    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


@dataclass
class Server:
    """A running server: where it is, and its process."""

    port: int
    token: str
    process: "subprocess.Popen[str]"

    @property
    def host(self) -> str:
        return f"127.0.0.1:{self.port}"

    @property
    def origin(self) -> str:
        return f"http://{self.host}"

    def ask(self, path: str, method: str = "GET", body: bytes | None = None, **headers: str) -> Answer:
        """One request; the path is below the token unless it begins with a slash. Underscores stand for hyphens."""
        wire = http.client.HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        wire.request(method, path if path.startswith("/") else f"/{self.token}/{path}", body, sent)
        answer = wire.getresponse()
        read = Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        wire.close()
        return read

    def post(self, path: str, data: Any, **headers: str) -> Answer:
        """A request as the page itself would send it, but for what `headers` change."""
        usual = {"Content_Type": "application/json", "Origin": self.origin}
        return self.ask(path, "POST", json.dumps(data).encode(), **{**usual, **headers})

    def raw(self, text: bytes, more: bytes = b"") -> bytes:
        """Bytes sent as they are, and all that comes back until the server ends it."""
        with socket.create_connection(("127.0.0.1", self.port), timeout=PATIENCE) as wire:
            with contextlib.suppress(ConnectionError):
                wire.sendall(text + more)
            found = b""
            with contextlib.suppress(ConnectionError):
                while part := wire.recv(65536):
                    found += part
            return found

    def alive(self) -> bool:
        return self.process.poll() is None and self.ask("jobs").status == 200

    def stream(self) -> "Stream":
        return Stream(self)


class Stream:
    """A stream of events."""

    def __init__(self, server: Server) -> None:
        self.wire = http.client.HTTPConnection("127.0.0.1", server.port, timeout=PATIENCE)
        self.wire.request("GET", f"/{server.token}/events")
        self.answer = self.wire.getresponse()
        self.status = self.answer.status

    def until(self, *events: str) -> tuple[str, Any]:
        """The next event of some names, with its data; others are passed over. Times out with the socket."""
        name = ""
        while raw := self.answer.readline():
            line = raw.decode().rstrip("\n")
            if line.startswith("event: "):
                name = line.removeprefix("event: ")
            elif line.startswith("data: ") and name in events:
                return name, json.loads(line.removeprefix("data: "))
        raise EOFError("the stream has ended")

    def close(self) -> None:
        self.answer.close()
        self.wire.close()


@contextlib.contextmanager
def serving(*arguments: str | Path, port: int = 0) -> Iterator[Server]:
    """`facegraphic show` until the end of the block."""
    command = [sys.executable, "-m", "facegraphic", "show", *map(str, arguments), "--port", str(port)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "CI": "true"}
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        address = process.stdout.readline().strip()
        assert address.startswith("http://127.0.0.1:"), process.communicate()
        _, _, host, token, end = address.split("/")
        assert end == ""
        try:
            yield Server(int(host.rpartition(":")[2]), token, process)
        finally:
            process.kill()


def stopped(server: Server, how: signal.Signals) -> tuple[int, str]:
    """Tell a server to stop; its exit status and what it said at the end."""
    server.process.send_signal(how)
    _, said = server.process.communicate(timeout=PATIENCE)
    return server.process.returncode, said
