"""A browser that we didn't write, with graphics drawn in software: Debian's Chromium, driven by Playwright."""

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from helpers.debian import debian_program
from PIL import Image
from playwright.sync_api import Browser, BrowserType, ConsoleMessage, Page, sync_playwright

QUIET = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
SOFTWARE_GRAPHICS = ("--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
# The same at less cost: the box's edges as they fall on the pixels, the page itself not by the graphics program.
ROUGH_GRAPHICS = (*SOFTWARE_GRAPHICS, "--webgl-antialiasing-mode=none", "--disable-gpu-rasterization")
NO_GRAPHICS = ("--disable-3d-apis",)


def chromium(kind: BrowserType, graphics: tuple[str, ...] = SOFTWARE_GRAPHICS) -> Browser:
    """Chromium without a window. Skips, or fails under CI=true, where it is not installed.

    `kind` is a driver's `chromium`, or the `browser_type` of a browser that runs: there is one driver at a time.
    """
    program = debian_program("chromium", "chromium")
    return kind.launch(executable_path=program, args=[*QUIET, *graphics])


@contextmanager
def a_browser(graphics: tuple[str, ...] = SOFTWARE_GRAPHICS) -> Iterator[Browser]:
    """A browser and its driver for a while; for a whole module, since a driver takes a second to start."""
    with sync_playwright() as driver:
        browser = chromium(driver.chromium, graphics)
        try:
            yield browser
        finally:
            browser.close()


def listen(page: Page) -> list[str]:
    """What a page will say went wrong: errors on its console, and those that nothing catches."""
    wrong: list[str] = []

    def hear(message: ConsoleMessage) -> None:
        if message.type == "error":
            wrong.append(message.text)

    page.on("console", hear)
    page.on("pageerror", lambda error: wrong.append(str(error)))
    return wrong


def shot(page: Page) -> npt.NDArray[np.uint8]:
    """What the window shows, RGB."""
    return np.asarray(Image.open(io.BytesIO(page.screenshot())).convert("RGB"))


def axe_source() -> str:
    """The text of axe-core, a checker of accessibility, which .ci/setup.sh fetches; AXE_CORE names its file."""
    path = Path(os.environ.get("AXE_CORE", ""))
    if not path.is_file():
        reason = "axe-core is not there: tests/run.sh fetches it by npm, or let AXE_CORE name its axe.min.js"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return path.read_text(encoding="utf-8")


def grave_faults(page: Page) -> list[str]:
    """Serious and critical faults that axe-core finds on a page, with the elements that have them."""
    page.evaluate(axe_source())
    found: dict[str, Any] = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    return [
        f"{fault['id']}: {fault['help']}: {node['html'][:120]} {node['failureSummary']}"
        for fault in found["violations"]
        if fault["impact"] in ("serious", "critical")
        for node in fault["nodes"]
    ]
