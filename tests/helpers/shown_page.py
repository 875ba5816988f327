"""The local page as somebody has it open: the real server in a process of its own, jobs in a folder, a browser."""

import io
import json
import os
import re
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from typing import Any

from PIL import Image
from playwright.sync_api import Browser, Locator, Page, Request, expect

JOB = """\
# A bell on a buoy: two knobs, a footswitch, two sockets.
title = "Bell Buoy"

[box]
stock = "112x60x31"       # the usual one
orientation = "portrait"
paint = "#22505c"         # deep water

[finish]
process = "waterslide-white"
ink = "#f2efe2"           # bone
dpi = 150

[[face]]
side = "top"
hole = [
    { id = "rate", at = [-14, 25], d = 7.5 },
    { id = "swell", at = [14, 25], d = 7.5 },
    { id = "foot", at = [0, -35], d = 12.2 },
]

[[face.control]]
hole = "rate"             # how often it rings
part = "pot-16"
knob = "round-16"
label = "RATE"

[[face.control]]
hole = "swell"            # how loud
part = "pot-16"
knob = "round-16"
label = "SWELL"

[[face.control]]
hole = "foot"
part = "footswitch"

[[face]]
side = "back"
hole = [{ id = "in", at = [-12, -4], d = 6.2 }, { id = "out", at = [12, -4], d = 6.2 }]

[[face.control]]
hole = "in"
part = "socket-3.5"
label = "IN"

[[face.control]]
hole = "out"
part = "socket-3.5"
label = "OUT"
# The last word.
"""

WIDE = (1280, 800)
PHONE = (360, 740)
HALVED = (640, 400)  # a window of 1280 × 800 at 200 %
STARTING = 60.0  # s until a server must have said where it is


@dataclass
class Served:
    """A server that runs, the folder that it shows, and the address that it has printed."""

    folder: Path
    address: str
    process: "subprocess.Popen[str]"
    numbers: Iterator[int] = field(default_factory=lambda: count(1))

    def add(self, text: str = JOB) -> Path:
        """A job file more in the folder, under a name that no other has; waits until the server has read it."""
        path = self.folder / f"buoy-{next(self.numbers)}.toml"
        path.write_text(text, encoding="utf-8")
        clock = threading.Event()
        for _ in range(200):
            if any(job["name"] == path.stem and job["ok"] for job in self.get("jobs")["jobs"]):
                return path
            clock.wait(0.05)
        raise AssertionError("the server has not found a new job")

    def get(self, path: str) -> Any:
        with urllib.request.urlopen(self.address + path, timeout=30) as answer:
            return json.load(answer)


@contextmanager
def served(folder: Path, *options: str) -> Iterator[Served]:
    """`facegraphic show` on a folder. Ends it as Ctrl-C does, and sees that it goes."""
    words = [sys.executable, "-m", "facegraphic", "show", str(folder), "--port", "0", *options]
    settings = {**os.environ, "FACEGRAPHIC_CONFIG": str(folder / "settings")}
    process = subprocess.Popen(words, env=settings, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    late = threading.Timer(STARTING, process.kill)
    late.start()
    try:
        assert process.stdout and process.stderr
        address = process.stdout.readline().strip()
        late.cancel()
        assert address.startswith("http://127.0.0.1:"), process.stderr.read()
        yield Served(folder, address, process)
    finally:
        late.cancel()
        process.terminate()
        process.communicate(timeout=30)


@dataclass
class Shown:
    """A page with one job of a server's on it."""

    page: Page
    job: Path
    served: Served
    wrong: list[str]
    asked: list[Request]

    def state(self) -> Any:
        return self.served.get(f"job/{self.job.stem}")

    def text(self) -> str:
        return self.job.read_text(encoding="utf-8")

    def write(self, old: str, new: str) -> None:
        """An edit from outside, as an editor saves it."""
        text = self.text()
        assert old in text
        self.job.write_text(text.replace(old, new, 1), encoding="utf-8")

    def face(self, side: str = "Top") -> Locator:
        return self.page.get_by_role("img", name=f"{side} face, finished")

    def legend(self, text: str) -> Locator:
        return self.page.get_by_role("group", name="Legends").get_by_role("button", name=re.compile(f"^{text}, "))

    def posts(self, what: str) -> list[Any]:
        """What the page has sent so far to one of its addresses."""
        return [asked.post_data_json for asked in self.asked if asked.method == "POST" and asked.url.endswith(what)]

    def scale(self, side: str = "top") -> float:
        """Pixels to the millimetre: the picture's width over the face's, as the server tells it."""
        box = self.face(side.title()).bounding_box()
        assert box
        return float(box["width"] / next(face for face in self.state()["faces"] if face["side"] == side)["size"][0])

    def middle(self, thing: Locator) -> tuple[float, float]:
        box = thing.bounding_box()
        assert box
        return (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)

    def saw_findings(self) -> None:
        """Waits until the checks have been tried on what is shown."""
        clock = threading.Event()
        for _ in range(400):
            state = self.state()
            if state["findings_version"] == state["version"]:
                return
            clock.wait(0.05)
        raise AssertionError("the checks have not come to an end")


def open_page(page: Page, server: Served, job: Path, wrong: list[str]) -> Shown:
    """Opens a job on a page, and waits until its face is there."""
    asked: list[Request] = []
    page.on("request", lambda request: asked.append(request))
    page.goto(f"{server.address}#{job.stem}")
    shown = Shown(page, job, server, wrong, asked)
    expect(shown.face()).to_be_visible(timeout=20_000)
    return shown


def a_page(browser: Browser, size: tuple[int, int] = WIDE, scheme: str = "light", **more: Any) -> Page:
    """A page of its own: nothing is kept from another's."""
    width, height = size
    return browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme, **more).new_page()


def drag(shown: Shown, thing: Locator, right: float, down: float, drop: bool = True) -> None:
    """By pixels, in steps as a hand does it."""
    x, y = shown.middle(thing)
    shown.page.mouse.move(x, y)
    shown.page.mouse.down()
    shown.page.mouse.move(x + right / 2, y + down / 2, steps=3)
    shown.page.mouse.move(x + right, y + down, steps=3)
    if drop:
        shown.page.mouse.up()


def picture_of(thing: Locator) -> Image.Image:
    return Image.open(io.BytesIO(thing.screenshot())).convert("RGB")


def pixel(thing: Locator, right: float, down: float) -> tuple[int, ...]:
    """The colour at a share of an element's width and height."""
    picture = picture_of(thing)
    return tuple(picture.getpixel((int(right * picture.width), int(down * picture.height))))  # type: ignore[arg-type]


def spoil(shown: Shown) -> Locator:
    """Has the label of a knob nudged into its hole; gives back the finding's button."""
    shown.write('label = "RATE"\n', 'label = "RATE"\nnudge = [0, 12]\n')
    return shown.page.get_by_role("button", name="Error").first


def wait_until(there: Callable[[], bool], what: str) -> None:
    """Asks again and again until something is there."""
    clock = threading.Event()
    for _ in range(200):
        if there():
            return
        clock.wait(0.05)
    raise AssertionError(what)


def wait_for_text(shown: Shown, text: str, times: int = 1) -> None:
    """Waits until a text stands in the job file so many times."""
    wait_until(lambda: shown.text().count(text) == times, f"{text} does not stand in the file {times} times")
