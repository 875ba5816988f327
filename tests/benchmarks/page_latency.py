"""How long it takes from saving a job file to the new picture: a real server, a real file, 50 edits of each kind.

    python tests/benchmarks/page_latency.py [EDITS]

Each edit is written the way many editors do (a new file renamed over the old one), and timed until the picture's last
byte has come: file → event → state → PNG. The plan asks for at most 150 ms on an idle machine.
"""

import http.client
import json
import re
import signal
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from shutil import copy

EXAMPLES = Path(__file__).parents[2] / "examples"
APART = 0.7  # s between edits: the checks of the one before are done, as when a person types


class Page:
    """A client of the server: one connection for events, one for all else."""

    def __init__(self, address: str) -> None:
        self.host, self.token = address.split("/")[2:4]
        self.wire = http.client.HTTPConnection(self.host)
        stream = http.client.HTTPConnection(self.host)
        stream.request("GET", f"/{self.token}/events")
        self.events = stream.getresponse()

    def get(self, path: str) -> bytes:
        self.wire.request("GET", f"/{self.token}/{path}")
        answer = self.wire.getresponse()
        assert answer.status == 200, answer.status
        return answer.read()

    def wait(self, event: str) -> dict[str, object]:
        """The data of the next event of a name."""
        name = ""
        while line := self.events.readline().decode().rstrip():
            name = line.removeprefix("event: ") if line.startswith("event: ") else name
            if line.startswith("data: ") and name == event:
                self.events.readline()
                return dict(json.loads(line.removeprefix("data: ")))
            if line.startswith(("data: ", "retry: ")):
                self.events.readline()
        raise RuntimeError("the server has ended the stream")


def saved(path: Path, text: str) -> None:
    beside = path.with_suffix(".new")
    beside.write_text(text, encoding="utf-8")
    beside.replace(path)


def timed(page: Page, path: Path, text: str) -> float:
    start = time.perf_counter()
    saved(path, text)
    page.wait("changed")
    picture = json.loads(page.get("job/slow-ferry"))["faces"][0]["picture"]
    assert page.get(f"job/slow-ferry/{picture}")[:4] == b"\x89PNG"
    return time.perf_counter() - start


def with_label(text: str, number: int) -> str:
    return re.sub(r'label = "DEPTH"', f'label = "DEPTH{number}"', text)


def with_nudge(text: str, number: int) -> str:
    return text.replace('label = "LEVEL"', f'label = "LEVEL"\nnudge = [0.5, {number / 20}]')


def with_ink(text: str, number: int) -> str:
    return text.replace('ink = "#f6f1e1"', f'ink = "#f6f1{number:02x}"')


def run(page: Page, path: Path, edit: Callable[[str, int], str], count: int) -> Iterator[float]:
    text = (EXAMPLES / path.name).read_text(encoding="utf-8")
    for number in range(1, count + 1):
        time.sleep(APART)
        yield 1000 * timed(page, path, edit(text, number))


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    with tempfile.TemporaryDirectory() as folder:
        for name in ("slow-ferry.toml", "slow-ferry.csv", "ferry.svg"):
            copy(EXAMPLES / name, folder)
        path = Path(folder) / "slow-ferry.toml"
        command = [sys.executable, "-m", "facegraphic", "show", str(path), "--port", "0"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            assert server.stdout is not None
            page = Page(server.stdout.readline().strip())
            page.wait("findings")
            for edit in (with_label, with_nudge, with_ink):
                found = sorted(run(page, path, edit, count))
                print(
                    f"{edit.__name__.removeprefix('with_'):6} {count} edits: median {statistics.median(found):.0f} ms, "
                    f"95 % within {found[int(0.95 * count)]:.0f} ms, worst {found[-1]:.0f} ms",
                    flush=True,
                )
            server.send_signal(signal.SIGTERM)


if __name__ == "__main__":
    main()
