"""The local page in a browser: what it shows follows the file, and what is chosen on it is written there."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from helpers.browser import listen
from helpers.shown_page import JOB, Served, Shown, a_page, drag, open_page, picture_of, pixel, spoil
from playwright.sync_api import Browser, Page, expect


def test_an_edit_on_disk_is_seen_as_picture_and_as_value(shown: Shown) -> None:
    assert pixel(shown.face(), 0.5, 0.5) == pytest.approx((0x22, 0x50, 0x5C), abs=6)
    shown.write('"#22505c"', '"#b5452a"')
    expect(shown.page.get_by_role("textbox", name="Paint, as digits")).to_have_value("#b5452a")
    expect(shown.page.get_by_label("Paint, colour")).to_have_value("#b5452a")
    # White film's ground takes the paint's colour.
    assert pixel(shown.face(), 0.5, 0.5) == pytest.approx((0xB5, 0x45, 0x2A), abs=6)


def test_a_legend_in_the_file_becomes_one_on_the_page(shown: Shown) -> None:
    shown.write('label = "RATE"', 'label = "TOLL"')
    expect(shown.legend("TOLL")).to_have_count(1)
    expect(shown.legend("RATE")).to_have_count(0)


def test_one_picture_takes_the_others_place_without_a_blink(shown: Shown) -> None:
    """The middle of the face is looked at in every frame: it has the old colour or the new one, and is never empty."""
    shown.face().evaluate("""canvas => {
        window.seen = new Set();
        const look = () => {
            const [x, y] = [canvas.width >> 1, canvas.height >> 1];
            window.seen.add([...canvas.getContext("2d").getImageData(x, y, 1, 1).data].join());
            requestAnimationFrame(look);
        };
        look();
    }""")
    for old, new in pairwise(("#22505c", "#b5452a", "#22505d", "#b5452b")):
        shown.write(f'"{old}"', f'"{new}"')
        expect(shown.page.get_by_label("Paint, colour")).to_have_value(new)
        shown.page.wait_for_timeout(150)
    seen = [[int(level) for level in one.split(",")] for one in shown.page.evaluate("[...window.seen]")]
    assert len(seen) >= 2
    assert all(alpha == 255 for *_, alpha in seen)
    assert all(colour == pytest.approx((0x22, 0x50, 0x5C), abs=6) or colour == pytest.approx((0xB5, 0x45, 0x2A), abs=6)
               for *colour, _ in seen)  # fmt: skip


def test_coats_are_stepped_through(browser: Browser, server: Served) -> None:
    coats = '[[coat]]\npaint = "#efe6d0"\n\n[[coat]]\npaint = "#a8321f"\nside = "top"\n'
    coats += '[[coat.shape]]\nshape = "band"\nat = [0, 0]\nwidth = 20\n'
    page = a_page(browser)
    wrong = listen(page)
    shown = open_page(page, server, server.add(JOB.replace("waterslide-white", "waterslide-clear") + coats), wrong)
    slider = page.get_by_role("slider", name="Coats")
    expect(slider).to_have_attribute("aria-valuetext", "finished")
    for key, told, colour in (
        ("ArrowLeft", "after coat 2 of 2", (0xA8, 0x32, 0x1F)),
        ("ArrowLeft", "after coat 1 of 2", (0xEF, 0xE6, 0xD0)),
    ):
        slider.press(key)
        expect(slider).to_have_attribute("aria-valuetext", told)
        face = page.get_by_role("img", name=f"Top face, paint {told.removesuffix(' of 2')}")
        expect(face).to_be_visible()
        assert pixel(face, 0.5, 0.5) == pytest.approx(colour, abs=4)
    expect(page.get_by_role("group", name="Legends")).to_be_hidden()  # they are not painted
    slider.press("End")
    expect(shown.legend("RATE")).to_be_visible()
    assert wrong == []
    page.context.close()


def test_only_the_picture_of_a_face_that_has_changed_is_fetched(shown: Shown) -> None:
    shown.saw_findings()
    before = len(shown.asked)
    shown.write('label = "OUT"', 'label = "SEA"')
    shown.page.get_by_role("tab", name="Back").click()
    expect(shown.legend("SEA")).to_be_visible()
    fetched = [asked.url.split("/face/")[1].split(".")[0] for asked in shown.asked[before:] if "/face/" in asked.url]
    assert "back" in fetched
    assert "top" not in fetched


def test_a_broken_file_is_told_with_file_line_key_and_remedy_while_the_last_picture_stays(shown: Shown) -> None:
    colour = pixel(shown.face(), 0.5, 0.5)
    shown.write('"pot-16"', '"pot-61"')
    faults = shown.page.get_by_role("region", name="Faults in the file")
    expect(faults).to_contain_text(shown.job.name)
    line = shown.text()[: shown.text().index("pot-61")].count("\n") + 1
    for said in (f"line {line}", "face[0].control[0].part", "is not known here", "pot-16"):
        expect(faults).to_contain_text(said)
    expect(shown.face()).to_be_visible()
    expect(shown.page.get_by_text("Last good picture", exact=True)).to_be_visible()
    expect(shown.page.get_by_role("button", name="Make the files")).to_be_disabled()
    assert pixel(shown.face(), 0.5, 0.5) != colour  # marked in the picture too
    shown.write('"pot-61"', '"pot-16"')
    expect(faults).to_be_hidden()
    expect(shown.page.get_by_text("Following the file")).to_be_visible()
    assert pixel(shown.face(), 0.5, 0.5) == colour


def test_a_job_that_was_never_in_order_says_so_and_is_shown_once_it_is(shown: Shown, server: Served) -> None:
    spoilt = shown.job.with_name("spoilt.toml")
    spoilt.write_text(JOB.replace("[box]", "[bax]"), encoding="utf-8")
    shown.page.get_by_text("jobs", exact=False).first.click()
    shown.page.get_by_role("navigation", name="Jobs in this folder").get_by_role("button", name="spoilt").click()
    expect(shown.page.get_by_role("region", name="Faults in the file")).to_contain_text("nothing to show")
    spoilt.write_text(JOB, encoding="utf-8")
    expect(shown.face()).to_be_visible()


def test_a_lost_line_is_told_and_found_again(browser: Browser, server: Served) -> None:
    page = a_page(browser)
    page.route("**/events", lambda route: route.abort("connectionreset"))
    job = server.add()
    page.goto(f"{server.address}#{job.stem}")
    expect(page.get_by_role("alert").filter(has_text="line to facegraphic is lost")).to_be_visible()
    expect(page.get_by_role("button", name="Make the files")).to_be_hidden()
    page.unroute("**/events")
    expect(page.get_by_role("img", name="Top face, finished")).to_be_visible(timeout=15_000)
    expect(page.get_by_text("line to facegraphic is lost")).to_be_hidden()
    expect(page.get_by_role("button", name="Make the files")).to_be_enabled()
    page.context.close()


def hide(page: Page, hidden: bool) -> None:
    """Has a page believe that it is, or is no longer, behind another."""
    page.evaluate(f"Object.defineProperty(document, 'hidden', {{ value: {str(hidden).lower()}, configurable: true }})")
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")


def test_more_tabs_than_a_browser_has_lines_to_a_server(browser: Browser, server: Served) -> None:
    """Six to a host over HTTP/1.1 in Chromium and Firefox (common knowledge; the sixth page hung without this)."""
    context, job = browser.new_context(), server.add()
    pages = []
    for _ in range(8):
        pages.append(context.new_page())
        open_page(pages[-1], server, job, [])
        hide(pages[-1], True)
    first = pages[0]
    job.write_text(job.read_text(encoding="utf-8").replace("Bell Buoy", "Fog Horn"), encoding="utf-8")
    expect(first.get_by_role("heading", name="Bell Buoy")).to_be_visible()
    hide(first, False)  # what came meanwhile is read when it is seen again
    expect(first.get_by_role("heading", name="Fog Horn")).to_be_visible()
    expect(first.get_by_text("Following the file")).to_be_visible()
    context.close()


def test_a_make_whose_end_nobody_told_does_not_go_on_for_ever(shown: Shown) -> None:
    shown.page.evaluate("""async () => {
        const { set } = await import("./web/store.js");
        set({ making: { file: "sheet-1.pdf", done: 1, total: 9 } });
    }""")
    expect(shown.page.get_by_role("button", name="Make the files")).to_be_disabled()
    hide(shown.page, True)
    hide(shown.page, False)
    expect(shown.page.get_by_role("button", name="Make the files")).to_be_enabled()
    expect(shown.page.get_by_role("region", name="Making")).to_be_hidden()


def test_process_paper_and_ink_are_written_to_the_file(shown: Shown) -> None:
    shown.page.get_by_role("combobox", name="Process").select_option("adhesive-label")
    expect(shown.page.get_by_role("button", name="Undo")).to_be_enabled()
    assert 'process = "adhesive-label"\n' in shown.text()
    shown.page.get_by_role("combobox", name="Paper").select_option("Letter")
    ink = shown.page.get_by_role("textbox", name="Ink, as digits")
    ink.fill("c30")
    ink.press("Enter")
    expect(ink).to_have_value("#cc3300")
    expect(shown.page.get_by_role("combobox", name="Paper")).to_have_value("Letter")
    ink.fill("CC3300")
    ink.press("Enter")
    expect(ink).to_have_value("#cc3300")
    assert len(shown.posts("/set")) == 3  # the same colour is not written again
    assert 'ink = "#cc3300"           # bone\n' in shown.text()
    assert 'paper = "Letter"\n' in shown.text()
    assert shown.text().count("#") == JOB.count("#")


def test_what_is_no_colour_is_told_and_not_sent(shown: Shown) -> None:
    paint = shown.page.get_by_role("textbox", name="Paint, as digits")
    paint.fill("#12345")
    paint.press("Enter")
    expect(paint).to_have_attribute("aria-invalid", "true")
    expect(paint).to_have_accessible_description("A colour is six digits, as in #173f4a, or its CSS name.")
    assert shown.posts("/set") == []
    paint.fill("#123456")
    paint.press("Enter")
    expect(paint).to_have_attribute("aria-invalid", "false")
    expect(shown.page.get_by_role("button", name="Undo")).to_be_enabled()
    assert 'paint = "#123456"         # deep water\n' in shown.text()


def test_a_finding_that_is_chosen_is_marked_where_it_is_on_face_and_box(shown: Shown) -> None:
    shown.page.get_by_role("tab", name="Back").click()
    finding = spoil(shown)
    finding.click()
    expect(finding).to_have_attribute("aria-pressed", "true")
    expect(shown.page.get_by_role("tab", name="Top")).to_have_attribute("aria-selected", "true")
    told = next(one for one in shown.state()["findings"] if one["severity"] == "error")
    mark = shown.page.get_by_role("img", name=f"Here: {told['message']}")
    expect(mark).to_be_visible()
    expect(shown.page.get_by_role("listitem").filter(has=finding)).to_contain_text(told["remedy"])
    expect(shown.page.get_by_role("application", name=told["message"])).to_be_visible()
    shown.page.wait_for_timeout(500)  # the mark comes to rest
    middle, scale = shown.middle(shown.face()), shown.scale()
    x, y = told["at"]
    assert shown.middle(mark) == pytest.approx((middle[0] + x * scale, middle[1] - y * scale), abs=1)
    finding.click()
    expect(mark).to_be_hidden()


def test_findings_stand_worst_first(shown: Shown) -> None:
    shown.saw_findings()
    spoil(shown).wait_for()
    expect(shown.page.get_by_role("status", name="What was found")).to_contain_text("Findings: 1 error")
    texts = shown.page.get_by_role("region", name="Findings").get_by_role("button").all_inner_texts()
    ranks = [("Error", "Warning", "Note").index(text.split()[0]) for text in texts]
    assert len(ranks) > 1
    assert ranks == sorted(ranks)


def test_the_sheet_tells_what_it_uses_of_the_film(shown: Shown) -> None:
    shown.saw_findings()
    shown.page.get_by_role("tab", name="Sheet").click()
    panel = shown.page.get_by_role("tabpanel", name="Sheets")
    expect(panel.get_by_role("img", name="Sheet 1 as it will be printed")).to_be_visible()
    (sheet,) = shown.state()["sheets"]
    share = round(100 * sheet["used_mm2"] / (210 * 297))  # A4 after ISO 216
    expect(panel).to_contain_text("A4, 210 × 297 mm")
    expect(panel).to_contain_text(f"{share} % of the sheet")
    expect(panel.get_by_role("code")).to_have_text(f"used = {sheet['used_after']}".replace(".0", ""))


def test_files_are_made_and_can_be_fetched(shown: Shown) -> None:
    shown.page.get_by_role("button", name="Make the files").click()
    shown.page.get_by_role("button", name="Go to the files").click(timeout=60_000)
    link = shown.page.get_by_role("link", name="top-art.svg")
    with shown.page.expect_download() as fetching:
        link.click()
    made = shown.job.with_name(f"{shown.job.stem}-out") / "top-art.svg"
    assert fetching.value.suggested_filename == "top-art.svg"
    assert Path(fetching.value.path()).read_bytes() == made.read_bytes()
    links = shown.page.get_by_role("region", name="Files made").get_by_role("link").all()
    assert {link.get_attribute("download") for link in links} == {
        path.name for path in made.parent.iterdir() if not path.name.startswith(".")
    }


def test_why_nothing_was_made_is_told(shown: Shown) -> None:
    spoil(shown).wait_for()
    shown.page.get_by_role("button", name="Make the files").click()
    expect(shown.page.get_by_role("alert").filter(has_text="Nothing was made")).to_be_visible(timeout=30_000)
    expect(shown.page.get_by_role("button", name="Make the files")).to_be_enabled()


def test_another_job_of_the_folder_is_chosen_from_a_list(shown: Shown) -> None:
    shown.page.get_by_text("jobs", exact=False).first.click()
    shown.page.get_by_role("navigation", name="Jobs in this folder").get_by_role("button", name="Anchor").click()
    expect(shown.page.get_by_role("heading", level=1)).to_have_text("Anchor")
    expect(shown.page).to_have_title("Anchor · facegraphic")
    assert shown.page.url.endswith("#anchor")


def turned(shown: Shown) -> np.ndarray:
    box = shown.page.get_by_role("application", name="Box")
    return np.asarray(picture_of(box), dtype=int)


def seen_on_box(shown: Shown, right: float, down: float, looked_for: Callable[[tuple[int, ...]], bool]) -> None:
    """Waits until the box has a colour of some kind at a share of its area."""
    box = shown.page.get_by_role("application", name="Box")
    for _ in range(60):
        if looked_for(colour := pixel(box, right, down)):
            return
        shown.page.wait_for_timeout(100)
    raise AssertionError(f"the box has {colour}")


def test_while_coats_are_shown_the_box_is_painted_so_all_round_and_has_no_parts_in_it(
    browser: Browser, server: Served
) -> None:
    """A painted box with a band on top: its front, of which the job says nothing, stays as it was bought."""
    coats = '[[coat]]\npaint = "#a8321f"\nside = "top"\n[[coat.shape]]\nshape = "band"\nat = [0, 0]\nwidth = 20\n'
    page = a_page(browser, reduced_motion="reduce")
    wrong = listen(page)
    shown = open_page(page, server, server.add(JOB.replace("waterslide-white", "waterslide-clear") + coats), wrong)
    slider = page.get_by_role("slider", name="Coats")

    def teal(colour: tuple[int, ...]) -> bool:
        return colour[2] > 1.6 * colour[0] > 10

    page.get_by_role("button", name="Front of the box").click()
    for step, told in (("Home", "bare box"), ("ArrowRight", "after coat 1 of 1"), ("End", "finished")):
        slider.press(step)
        expect(slider).to_have_attribute("aria-valuetext", told)
        page.wait_for_timeout(300)
        seen_on_box(shown, 0.5, 0.62, teal)
    page.get_by_role("button", name="Above the box").click()
    # The footswitch is chrome and nickel; without it there is its hole, dark as the inside of a box.
    bright = [int(np.asarray(turned(shown)[:, 230:270].max(axis=2) > 235).sum())]
    slider.press("Home")
    page.wait_for_timeout(600)
    bright.append(int(np.asarray(turned(shown)[:, 230:270].max(axis=2) > 235).sum()))
    assert bright[1] < 0.9 * bright[0], bright
    assert wrong == []
    page.context.close()


def test_the_box_turns_by_mouse_keys_and_buttons(shown: Shown) -> None:
    box = shown.page.get_by_role("application", name="Box")
    expect(box).to_be_visible()
    shown.page.wait_for_timeout(800)
    pictures = [turned(shown)]
    assert np.ptp(pictures[0]) > 100  # there is something to see
    drag(shown, box, 80, 0)
    shown.page.wait_for_timeout(600)
    pictures.append(turned(shown))
    box.press("ArrowUp")
    shown.page.wait_for_timeout(200)
    pictures.append(turned(shown))
    shown.page.get_by_role("button", name="Back of the box").click()
    shown.page.wait_for_timeout(700)
    pictures.append(turned(shown))
    for before, after in pairwise(pictures):
        assert np.mean(np.abs(before - after).max(axis=2) > 24) > 0.01


def test_the_box_wears_what_the_file_says(shown: Shown) -> None:
    """The film's ground changes, and not the paint: so it is the face's picture that is seen on the box."""
    expect(shown.page.get_by_role("application", name="Box")).to_be_visible()
    shown.page.get_by_role("button", name="Above the box").click()
    shown.page.wait_for_timeout(900)
    before = turned(shown)
    shown.write("dpi = 150\n", 'dpi = 150\nground = "#b5452a"\n')
    shown.saw_findings()
    shown.page.wait_for_timeout(900)
    after = turned(shown)
    middle = (before.shape[0] // 2, before.shape[1] // 2)
    assert before[middle][2] > before[middle][0] + 20  # blue
    assert after[middle][0] > after[middle][2] + 20  # red
