"""The preview's page in a browser: with script and without, on paper, on a phone, in the dark, by keyboard.

axe-core judges its accessibility (WCAG 2 A and AA, contrast included); pdfium reads what it prints.
"""

import io
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from helpers.browser import NO_GRAPHICS, a_browser, chromium, grave_faults, listen, shot
from helpers.runs import run_here
from helpers.shown_boxes import PAINT, SIDES, box, plain, sheet
from PIL import Image
from playwright.sync_api import Browser, Page

from facegraphic.output.html import preview_html
from facegraphic.preview.model import Material
from facegraphic.preview.pages import Leaf, PreviewPages, Stage

EXAMPLES = Path(__file__).parents[1] / "examples"
DESK, PHONE = {"width": 900, "height": 700}, {"width": 360, "height": 740}
STILL, PRINT, MASK, GUIDE = "#8899aa", "#aa2233", "#22aa44", "#3344cc"
WORN = {"Bare box": "#c8c8c8", "1 primer": "#30a030", "Finished": "#3050c0"}


def small() -> PreviewPages:
    """All that a page can show, each thing in a colour of its own."""
    bare, first, last = ({side: plain(side, colour) for side in SIDES} for colour in WORN.values())
    return PreviewPages(
        sheet((800, 600), STILL),
        last,
        (
            Stage("Bare box", bare, Material("bare", WORN["Bare box"], 0.4)),
            Stage("1 primer", first, Material("primer", WORN["1 primer"], 0.5)),
        ),
        (Leaf(sheet((300, 500), PRINT), "top 60 × 110 mm", True), Leaf(sheet((300, 150), PRINT), "back 60 × 30 mm")),
        (Leaf(sheet((300, 500), MASK), "coat 1 of 1"),),
        (Leaf(sheet((400, 600), GUIDE), "page 1"),),
    )


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("page") / "preview.html"
    path.write_bytes(preview_html('Bell & "Buoy" <2>', box(), small()))
    return path


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with a_browser() as found:
        yield found


def opened(browser: Browser, file: Path, size: dict[str, int] = DESK, **wishes: object) -> tuple[Page, list[str]]:
    page = browser.new_context(viewport=size, **{"reduced_motion": "reduce", **wishes}).new_page()  # type: ignore[arg-type]
    wrong = listen(page)
    page.goto(file.as_uri())
    if wishes.get("java_script_enabled", True):
        page.wait_for_selector("html[data-ready]", state="attached")
    return page, wrong


def settle(page: Page) -> None:
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def near(page: Page, colour: str, element: str) -> float:
    """The share of an element's picture that has about a colour."""
    picture = np.asarray(Image.open(io.BytesIO(page.locator(element).screenshot())).convert("RGB")).astype(int)
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return float((np.abs(picture - wanted).max(axis=2) < 12).mean())


def test_the_page_asks_the_network_for_nothing(browser: Browser, file: Path) -> None:
    page = browser.new_context(viewport=DESK).new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(file.as_uri())
    page.wait_for_selector("html[data-ready]", state="attached")
    settle(page)
    assert [url for url in asked if not url.startswith("data:")] == [file.as_uri()]
    page.context.close()


def test_what_would_reach_the_network_is_forbidden_by_the_page_itself(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file)
    refused = page.evaluate("fetch('data:text/plain,near').then(() => 'went', (error) => 'refused')")
    assert refused == "refused"
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', file.read_text(encoding="utf-8"))
    assert policy and policy[1].startswith("default-src 'none'; ")
    page.context.close()


def test_titles_are_text_and_never_markup(browser: Browser, file: Path) -> None:
    page, wrong = opened(browser, file)
    assert page.title() == 'Bell & "Buoy" <2>'
    assert page.locator("h1").inner_text() == 'Bell & "Buoy" <2>'
    assert page.locator("header p").inner_text() == "60 × 110 × 30 mm"
    assert wrong == []
    page.context.close()


def test_without_script_all_is_there_to_be_read(browser: Browser, file: Path) -> None:
    page, wrong = opened(browser, file, java_script_enabled=False)
    assert page.locator("#still").is_visible() and not page.locator("#turning").is_visible()
    assert near(page, STILL, "#still") > 0.75  # the stage is wider than the picture
    assert page.locator("section:visible").count() == 4
    assert page.locator(".leaves img:visible").count() == 4
    assert page.locator("button:visible").count() == 0 and page.locator("input:visible").count() == 0
    assert wrong == []
    page.context.close()


def test_on_paper_the_still_picture_and_all_pages(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file)
    page.emulate_media(media="print")
    assert page.locator("#still").is_visible() and not page.locator("#turning").is_visible()
    assert page.locator("section:visible").count() == 4
    assert page.locator("button:visible").count() == 0
    document = pypdfium2.PdfDocument(page.pdf(format="A4", print_background=False))
    text = " ".join(sheet.get_textpage().get_text_range() for sheet in document)
    for words in ("Finished", "As printed", "Masks", "Drill", "top 60 × 110 mm", "mirrored", "not to scale"):
        assert words in text
    first = np.asarray(document[0].render(scale=1).to_pil().convert("RGB")).astype(int)
    assert (np.abs(first - [0x88, 0x99, 0xAA]).max(axis=2) < 12).mean() > 0.15
    document.close()
    page.context.close()


@pytest.mark.parametrize(
    ("part", "shown"), [("printed", PRINT), ("masks", MASK), ("drill", GUIDE), ("finished", WORN["Finished"])]
)
def test_each_switch_shows_what_it_says(browser: Browser, file: Path, part: str, shown: str) -> None:
    page, wrong = opened(browser, file)
    page.check("input[value=drill]" if part == "finished" else "input[value=finished]")
    page.check(f"input[value={part}]")
    assert page.locator("section:visible").evaluate_all("(all) => all.map((one) => one.id)") == [part]
    if part == "finished":
        assert page.locator("#turning").is_visible()
    else:
        assert near(page, shown, f"#{part} img >> nth=0") > 0.95
    assert wrong == []
    page.context.close()


def test_what_is_mirrored_says_so_and_nothing_else_does(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file)
    page.check("input[value=printed]")
    captions = page.locator("figcaption:visible").all_inner_texts()
    assert ["mirrored" in caption for caption in captions] == [True, False]
    assert page.locator("#printed img").first.get_attribute("alt") == "top 60 × 110 mm, mirrored"
    page.context.close()


def test_a_picture_becomes_larger_and_small_again(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file)
    page.check("input[value=masks]")
    picture, button = page.locator("#masks img"), page.locator("#masks button")
    small = picture.bounding_box()
    button.click()
    large = picture.bounding_box()
    assert small and large and large["width"] > 1.5 * small["width"]
    assert large["height"] / large["width"] == pytest.approx(small["height"] / small["width"], rel=0.01)
    assert button.get_attribute("aria-pressed") == "true"
    button.click()
    again = picture.bounding_box()
    assert again and (again["width"], again["height"]) == (small["width"], small["height"])
    page.context.close()


def test_the_steps_go_through_the_coats(browser: Browser, file: Path) -> None:
    page, wrong = opened(browser, file)
    page.evaluate("boxView.turn(0, 60)")
    hues = {}
    for title, parts in (("1 primer", False), ("Bare box", False), ("Finished", True)):
        page.locator("#stages label", has_text=title).click()
        settle(page)
        at = page.evaluate("boxView.projected('top', 0, -30)")
        knob = page.evaluate("boxView.projected('top', -15, 30, 14)")
        box = page.locator("#turning").bounding_box()
        assert box
        picture = shot(page).astype(int)
        hues[title] = picture[round(box["y"] + at["y"]), round(box["x"] + at["x"])]
        there = picture[round(box["y"] + knob["y"]), round(box["x"] + knob["x"])]
        assert (there.max() < 110) == parts, title  # the knob is nearly black
    assert hues["1 primer"].argmax() == 1 and hues["Finished"].argmax() == 2
    assert np.ptp(hues["Bare box"]) < 25 and hues["Bare box"].min() > 140
    assert wrong == []
    page.context.close()


def test_all_is_reached_and_turned_by_keyboard(browser: Browser, file: Path) -> None:
    page, wrong = opened(browser, file)
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowRight")  # the next of the switches
    assert page.locator("section:visible").evaluate_all("(all) => all.map((one) => one.id)") == ["printed"]
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "turning"
    first = page.evaluate("boxView.view")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("boxView.view") != first
    assert "front" in (page.locator("#turning").get_attribute("aria-label") or "")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")  # Back
    assert abs(page.evaluate("boxView.view")["azimuth"]) > 170
    page.click("#home")
    assert page.evaluate("boxView.view") == first
    assert wrong == []
    page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_axe_finds_no_grave_fault(browser: Browser, file: Path, scheme: str, size: dict[str, int]) -> None:
    page, _ = opened(browser, file, size, color_scheme=scheme)
    for part in ("finished", "printed", "masks", "drill"):
        page.check(f"input[value={part}]")
        assert grave_faults(page) == []
    page.context.close()


def test_axe_sees_planted_faults(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file)
    page.evaluate("document.querySelector('header p').style.color = '#cfcdc8'")
    page.evaluate("document.querySelector('main').append(document.createElement('img'))")
    kinds = {fault.split(":")[0] for fault in grave_faults(page)}
    assert {"color-contrast", "image-alt"} <= kinds
    page.context.close()


def test_a_phone_scrolls_down_only(browser: Browser, file: Path) -> None:
    page, _ = opened(browser, file, PHONE, is_mobile=True, has_touch=True)
    for part in ("finished", "printed", "masks", "drill"):
        page.check(f"input[value={part}]")
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
        for button in page.locator(f"#{part} button:visible").all():
            place = button.bounding_box()
            assert place and place["x"] >= 0 and place["x"] + place["width"] <= PHONE["width"]
    page.check("input[value=finished]")
    canvas = page.locator("#turning").bounding_box()
    assert canvas and canvas["height"] < PHONE["height"] * 0.75  # room is left to scroll by
    page.context.close()


def test_without_graphics_the_still_picture_stands_in_and_says_so(browser: Browser, file: Path) -> None:
    flat = chromium(browser.browser_type, NO_GRAPHICS)
    try:
        page = flat.new_page()
        wrong = listen(page)
        page.goto(file.as_uri())
        page.wait_for_selector("#told:not(:empty)")
        assert "cannot turn the box" in page.locator("#told").inner_text()
        assert page.locator("#still").is_visible() and not page.locator("#turning").is_visible()
        assert page.locator(".needs-view:visible").count() == 0
        page.check("input[value=masks]")
        assert page.locator("#masks img").is_visible()
        assert wrong == []
    finally:
        flat.close()


def test_lost_graphics_are_told_and_come_back(browser: Browser, file: Path) -> None:
    page, wrong = opened(browser, file)
    find = "document.getElementById('turning').getContext('webgl2').getExtension('WEBGL_lose_context')"
    page.evaluate(f"window.loser = {find}")
    page.evaluate("loser.loseContext()")
    page.wait_for_selector("#told:not(:empty)")
    assert page.locator("#still").is_visible()
    page.evaluate("loser.restoreContext()")
    page.wait_for_selector("#turning", state="visible")
    assert page.locator("#told").inner_text() == "" and not page.locator("#still").is_visible()
    assert wrong == []
    page.context.close()


def test_a_job_without_coats_masks_or_holes_has_no_switch_for_them() -> None:
    text = preview_html("Plain", box(), PreviewPages(sheet((40, 30), STILL), {})).decode("utf-8")
    assert 'name="part"' in text and text.count('name="part"') == 1
    assert 'id="stages"' not in text and 'id="masks"' not in text


def test_the_same_values_give_the_same_page() -> None:
    assert preview_html("Twice", box(), small()) == preview_html("Twice", box(), small())


def test_a_shared_picture_stands_in_the_page_once() -> None:
    looks = {side: plain(side, "#123456") for side in SIDES}
    stages = tuple(Stage(title, looks, PAINT) for title in ("One", "Two"))
    once = preview_html("Shared", box(), PreviewPages(sheet((40, 30), STILL), looks))
    thrice = preview_html("Shared", box(), PreviewPages(sheet((40, 30), STILL), looks, stages))
    assert len(thrice) - len(once) < 2_000


@pytest.fixture(scope="module")
def ferry(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example with six controls, as make writes it."""
    out = tmp_path_factory.mktemp("ferry")
    ran = run_here("make", EXAMPLES / "slow-ferry.toml", "--out", out, "--only", "preview")
    assert ran.status == 0
    return out / "preview.html"


def test_the_page_of_six_controls_is_small_and_turns(browser: Browser, ferry: Path) -> None:
    assert ferry.stat().st_size <= 2_000_000
    page, wrong = opened(browser, ferry)
    before = shot(page)
    page.focus("#turning")
    page.keyboard.press("ArrowRight")
    settle(page)
    assert (np.abs(shot(page).astype(int) - before).max(axis=2) > 30).mean() > 0.02
    assert wrong == []
    page.context.close()
