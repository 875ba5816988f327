"""A browser, a server with a folder of jobs, and a page with a job of its own for each test."""

from collections.abc import Iterator

import pytest
from helpers.browser import ROUGH_GRAPHICS, a_browser, listen
from helpers.shown_page import JOB, Served, Shown, a_page, open_page, served
from playwright.sync_api import Browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    # Not for the whole session: Playwright's loop runs as long as it is open, and other tests have loops of their own.
    # What the box looks like is held in tests/test_box_view.py.
    with a_browser(ROUGH_GRAPHICS) as found:
        yield found


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("jobs")
    (folder / "anchor.toml").write_text(JOB.replace("Bell Buoy", "Anchor"), encoding="utf-8")
    with served(folder) as running:
        yield running


@pytest.fixture
def shown(browser: Browser, server: Served) -> Iterator[Shown]:
    """A job of its own on a page of its own; nothing may go wrong on it."""
    page = a_page(browser)
    wrong = listen(page)
    yield open_page(page, server, server.add(), wrong)
    page.context.close()
    assert wrong == []
