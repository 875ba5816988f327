"""How long it takes from saving a job file to the new picture: a real server, a real file, 50 edits of each kind.

    python tests/benchmarks/page_latency.py [EDITS] [--shown]

Each edit is written the way many editors do (a new file renamed over the old one), and timed until the picture's last
byte has come: file → event → state → PNG. With --shown the page is open in Chromium, without a window and with graphics
drawn in software, and the clock stops in the second frame after the new picture was drawn on it. The plan asks for at
most 150 ms on an idle machine.
"""

import contextlib
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
from functools import partial
from pathlib import Path
from shutil import copy
from typing import Any

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


# Notes when each new picture is on the screen: the frame in which it is drawn has ended when the second one begins.
NOTED = """() => {
  window.drawn = [];
  const draw = CanvasRenderingContext2D.prototype.drawImage;
  CanvasRenderingContext2D.prototype.drawImage = function (image, ...rest) {
    if (this.canvas.getAttribute("role") === "img" && window.drawn.at(-1)?.source !== image.src) {
      const one = { source: image.src, at: 0 };
      window.drawn.push(one);
      const note = () => { one.at = performance.timeOrigin + performance.now(); };
      requestAnimationFrame(() => requestAnimationFrame(note));
    }
    return draw.call(this, image, ...rest);
  };
}"""


class Window:
    """The page as somebody sees it."""

    def __init__(self, page: Any) -> None:
        self.page = page
        page.evaluate(NOTED)

    def timed(self, path: Path, text: str) -> float:
        count = self.page.evaluate("window.drawn.length")
        start = time.time()
        saved(path, text)
        # Asked for again and again: the page's own policy forbids what Playwright would wait with.
        while not (at := self.page.evaluate(f"window.drawn[{count}]?.at ?? 0")):
            self.page.wait_for_timeout(20)
        return float(at) / 1000 - start


@contextlib.contextmanager
def window(address: str) -> Iterator[Window]:
    sys.path.insert(0, str(Path(__file__).parents[1]))
    from helpers.browser import a_browser

    with a_browser() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 800})
        page.goto(address)
        page.wait_for_selector("canvas[role=img]:visible")
        page.wait_for_timeout(2000)
        yield Window(page)


def with_label(text: str, number: int) -> str:
    return re.sub(r'label = "DEPTH"', f'label = "DEPTH{number}"', text)


def with_nudge(text: str, number: int) -> str:
    return text.replace('label = "LEVEL"', f'label = "LEVEL"\nnudge = [0.5, {number / 20}]')


def with_ink(text: str, number: int) -> str:
    return text.replace('ink = "#f6f1e1"', f'ink = "#f6f1{number:02x}"')


def run(time_one: Callable[[str], float], name: str, edit: Callable[[str, int], str], count: int) -> Iterator[float]:
    text = (EXAMPLES / name).read_text(encoding="utf-8")
    for number in range(1, count + 1):
        time.sleep(APART)
        yield 1000 * time_one(edit(text, number))


def tell(time_one: Callable[[str], float], name: str, count: int) -> None:
    for edit in (with_label, with_nudge, with_ink):
        found = sorted(run(time_one, name, edit, count))
        print(
            f"{edit.__name__.removeprefix('with_'):6} {count} edits: median {statistics.median(found):.0f} ms, "
            f"95 % within {found[int(0.95 * count)]:.0f} ms, worst {found[-1]:.0f} ms",
            flush=True,
        )


def main() -> None:
    words = [word for word in sys.argv[1:] if word != "--shown"]
    count = int(words[0]) if words else 50
    with tempfile.TemporaryDirectory() as folder:
        for name in ("slow-ferry.toml", "slow-ferry.csv", "ferry.svg"):
            copy(EXAMPLES / name, folder)
        path = Path(folder) / "slow-ferry.toml"
        command = [sys.executable, "-m", "facegraphic", "show", str(path), "--port", "0"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
            assert server.stdout is not None
            address = server.stdout.readline().strip()
            try:
                page = Page(address)
                page.wait("findings")
                if "--shown" in sys.argv:
                    with window(address) as seen:
                        tell(partial(seen.timed, path), path.name, count)
                else:
                    tell(partial(timed, page, path), path.name, count)
            finally:  # else nothing would end it
                server.send_signal(signal.SIGTERM)


if __name__ == "__main__":
    main()
