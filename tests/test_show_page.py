"""The local page in a browser: what it shows follows the file, and what is done on it is written there.

Everything on the page is found as a screen reader finds it, by role and name. What is good for all readers is
held against WCAG 2.2 by axe-core, a checker that we didn't write.
"""

import io
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from helpers.browser import a_browser, grave_faults, listen
from helpers.shown_page import JOB, Served, Shown, open_page, served
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

WIDE = (1280, 800)
PHONE = (360, 740)
HALVED = (640, 400)  # a window of 1280 × 800 at 200 %


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with a_browser() as found:
        yield found


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    folder = tmp_path_factory.mktemp("jobs")
    (folder / "anchor.toml").write_text(JOB.replace("Bell Buoy", "Anchor"), encoding="utf-8")
    with served(folder) as running:
        yield running


def a_page(browser: Browser, size: tuple[int, int] = WIDE, scheme: str = "light", **more: object) -> Page:
    width, height = size
    context = browser.new_context(viewport={"width": width, "height": height}, color_scheme=scheme, **more)  # type: ignore[arg-type]
    return context.new_page()


@pytest.fixture
def shown(browser: Browser, server: Served) -> Iterator[Shown]:
    """A job of its own on a page of its own; nothing may go wrong on it."""
    page = a_page(browser)
    wrong = listen(page)
    yield open_page(page, server, server.add(), wrong)
    page.context.close()
    assert wrong == []


def drag(shown: Shown, thing: Locator, right: float, down: float, drop: bool = True) -> None:
    """By pixels, in steps as a hand does it."""
    x, y = shown.middle(thing)
    shown.page.mouse.move(x, y)
    shown.page.mouse.down()
    shown.page.mouse.move(x + right / 2, y + down / 2, steps=3)
    shown.page.mouse.move(x + right, y + down, steps=3)
    if drop:
        shown.page.mouse.up()


def pixel(thing: Locator, right: float, down: float) -> tuple[int, ...]:
    """The colour at a share of an element's width and height."""
    picture = Image.open(io.BytesIO(thing.screenshot())).convert("RGB")
    return tuple(picture.getpixel((int(right * picture.width), int(down * picture.height))))  # type: ignore[arg-type]


# ---- following the file


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


# ---- moving legends


def test_a_dragged_legend_is_written_as_a_nudge_and_every_comment_stays(shown: Shown) -> None:
    before = shown.text()
    legend, scale = shown.legend("RATE"), shown.scale()
    at = shown.middle(legend)
    drag(shown, legend, 20, 30)
    expect(legend).to_have_accessible_name(
        f"RATE, label of rate, {round(20 / scale, 1)} mm right, {round(30 / scale, 1)} mm down"
    )
    shown.saw_findings()
    written = shown.text().splitlines()
    (line,) = [line for line in written if line.startswith("nudge = ")]
    # A tenth of a millimetre is as fine as a hand drags.
    assert [float(part) for part in line[9:-1].split(",")] == pytest.approx([20 / scale, -30 / scale], abs=0.051)
    assert [other for other in written if other != line] == before.splitlines()
    assert shown.middle(legend) == pytest.approx((at[0] + 20, at[1] + 30), abs=0.06 * scale)
    assert len(shown.posts("/nudge")) == 1


def test_arrow_keys_nudge_by_tenths_and_whole_millimetres_and_are_written_once(shown: Shown) -> None:
    legend = shown.legend("SWELL")
    legend.focus()
    shown.page.keyboard.press("Enter")
    expect(legend).to_have_attribute("aria-pressed", "true")
    for key in ("ArrowRight", "ArrowRight", "ArrowRight", "Shift+ArrowDown"):
        shown.page.keyboard.press(key)
    expect(shown.page.get_by_role("spinbutton", name="Right, mm")).to_have_value("0.3")
    expect(shown.page.get_by_role("spinbutton", name="Up, mm")).to_have_value("-1")
    assert shown.posts("/nudge") == []
    expect(shown.page.get_by_role("status", name="What was done")).to_have_text("SWELL: 0.3 mm right, 1.0 mm down")
    assert "nudge = [0.3, -1]\n" in shown.text()
    assert len(shown.posts("/nudge")) == 1


def test_a_nudge_typed_as_figures_and_taken_back_to_its_place(shown: Shown) -> None:
    shown.legend("RATE").click()
    shown.page.get_by_role("spinbutton", name="Up, mm").fill("-0.7")
    expect(shown.page.get_by_role("status", name="What was done")).to_have_text("RATE: 0.7 mm down")
    assert "nudge = [0, -0.7]\n" in shown.text()
    shown.page.get_by_role("button", name="Back to its place").click()
    expect(shown.page.get_by_role("status", name="What was done")).to_have_text("RATE: in its place")
    assert "nudge = [0, 0]\n" in shown.text()


def test_lines_show_what_a_legend_in_hand_stands_in_line_with(shown: Shown) -> None:
    """RATE stands below its hole and in a row with SWELL: down it leaves the row, to the right its hole's line."""
    lines = shown.page.locator("line.guide")
    places = []
    for right, down in ((0, 20), (20, 0), (20, 20)):
        drag(shown, shown.legend("RATE"), right, down, drop=False)
        places.append(lines.evaluate_all("all => all.map((one) => one.x1.baseVal.value === one.x2.baseVal.value)"))
        shown.page.keyboard.press("Escape")
        shown.page.mouse.up()
    assert places == [[True], [False], []]
    expect(lines).to_have_count(0)


def test_escape_takes_a_drag_and_waiting_keys_back(shown: Shown) -> None:
    before, legend = shown.text(), shown.legend("RATE")
    at = shown.middle(legend)
    drag(shown, legend, 25, 25, drop=False)
    assert shown.middle(legend) != pytest.approx(at, abs=5)
    shown.page.keyboard.press("Escape")
    shown.page.mouse.up()
    assert shown.middle(legend) == pytest.approx(at, abs=0.5)
    shown.page.keyboard.press("ArrowUp")
    shown.page.keyboard.press("Escape")
    shown.page.wait_for_timeout(900)  # longer than keys wait to be written
    assert shown.middle(legend) == pytest.approx(at, abs=0.5)
    assert shown.posts("/nudge") == []
    assert shown.text() == before


def test_undo_and_redo_by_buttons_and_keys_bring_the_file_back_byte_by_byte(shown: Shown) -> None:
    before = shown.job.read_bytes()
    undo, redo = (shown.page.get_by_role("button", name=name) for name in ("Undo", "Redo"))
    expect(undo).to_be_disabled()
    drag(shown, shown.legend("RATE"), 0, 20)
    expect(undo).to_be_enabled()
    after = shown.job.read_bytes()
    assert after != before
    undo.click()
    expect(redo).to_be_enabled()
    assert shown.job.read_bytes() == before
    expect(shown.legend("RATE")).to_have_accessible_name("RATE, label of rate, in its place")
    redo.click()
    expect(redo).to_be_disabled()
    assert shown.job.read_bytes() == after
    shown.page.keyboard.press("Control+z")
    expect(undo).to_be_disabled()
    assert shown.job.read_bytes() == before


def test_a_nudge_that_is_refused_is_told_and_the_legend_goes_back(shown: Shown) -> None:
    """The server's part, that it refuses where the file has changed meanwhile, has tests of its own."""
    said = {"message": "the file has been changed meanwhile", "remedy": "look at what is in it now"}
    shown.page.route("**/nudge", lambda route: route.fulfill(status=409, json=said))
    legend = shown.legend("RATE")
    at = shown.middle(legend)
    drag(shown, legend, 0, 20)
    alert = shown.page.get_by_role("alert").filter(has_text="The file has been changed meanwhile. Look at what")
    expect(alert).to_be_visible()
    assert shown.middle(legend) == pytest.approx(at, abs=0.5)
    alert.get_by_role("button", name="Dismiss this message").click()
    expect(alert).to_be_hidden()
    shown.wrong[:] = [wrong for wrong in shown.wrong if "409" not in wrong]  # the browser tells of every refusal


def test_a_finger_chooses_a_legend_before_it_drags_it(browser: Browser, server: Served) -> None:
    page = a_page(browser, PHONE, has_touch=True)
    shown = open_page(page, server, server.add(), listen(page))
    legend = shown.legend("RATE")
    legend.scroll_into_view_if_needed()
    session = page.context.new_cdp_session(page)

    def swipe(right: float, down: float) -> None:
        x, y = shown.middle(legend)
        for kind, share in (("Start", 0), ("Move", 0.5), ("Move", 1.0)):
            session.send("Input.dispatchTouchEvent", {
                "type": f"touch{kind}", "touchPoints": [{"x": x + share * right, "y": y + share * down}],
            })  # fmt: skip
        session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})

    swipe(20, 0)
    page.wait_for_timeout(300)
    assert shown.posts("/nudge") == []
    legend.tap()
    expect(legend).to_have_attribute("aria-pressed", "true")
    swipe(20, 0)
    expect(page.get_by_role("status", name="What was done")).to_contain_text("mm right")
    assert len(shown.posts("/nudge")) == 1
    page.context.close()


# ---- choices, findings, sheets, files


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


def spoil(shown: Shown) -> Locator:
    """Has the label of a knob nudged into its hole; gives back the finding's button."""
    shown.write('label = "RATE"\n', 'label = "RATE"\nnudge = [0, 12]\n')
    return shown.page.get_by_role("button", name="Error").first


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
    assert {link.get_attribute("download") for link in links} == {path.name for path in made.parent.iterdir()}


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


# ---- the box


def turned(shown: Shown) -> np.ndarray:
    box = shown.page.get_by_role("application", name="Box")
    return np.asarray(Image.open(io.BytesIO(box.screenshot())).convert("RGB"), dtype=int)


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


# ---- for everybody


@pytest.mark.parametrize("size", [PHONE, HALVED, (320, 640)])
def test_nothing_needs_scrolling_sideways(browser: Browser, server: Served, size: tuple[int, int]) -> None:
    """WCAG 2.2, 1.4.10 (Reflow): no sideways scrolling at 320 CSS pixels; the brief's phone has 360."""
    page = a_page(browser, size)
    shown = open_page(page, server, server.add(), listen(page))
    wide = "document.documentElement.scrollWidth"
    states = [page.evaluate(wide)]
    shown.legend("SWELL").click()
    states.append(page.evaluate(wide))
    page.get_by_role("tab", name="Sheet").click()
    states.append(page.evaluate(wide))
    shown.write('"pot-16"', '"pot-61-with-a-name-that-is-longer-than-any-that-a-part-has-had-so-far"')
    expect(page.get_by_role("region", name="Faults in the file")).to_be_visible()
    states.append(page.evaluate(wide))
    assert max(states) <= size[0]
    page.context.close()


def test_the_whole_page_can_be_worked_by_keys_and_shows_where_they_go(shown: Shown) -> None:
    page = shown.page
    order: list[str] = []
    stops = page.get_by_role("group", name="Legends").get_by_role("button")
    assert stops.evaluate_all("all => all.map((one) => one.tabIndex)") == [0, -1]
    for _ in range(40):
        page.keyboard.press("Tab")
        name = page.evaluate("(document.activeElement.ariaLabel || document.activeElement.textContent || "
                             "document.activeElement.id).trim()")  # fmt: skip
        order.append(name)
        if name == "Closer to the box":
            break
        seen = page.evaluate("""() => { const one = document.activeElement, style = getComputedStyle(one);
            const edge = one.querySelector(".edge");
            return style.outlineStyle !== "none" || (edge && getComputedStyle(edge).boxShadow !== "none"); }""")
        assert seen, name
    wanted = ["Skip to the face", "Make the files", "Paint, colour", "Top", "RATE, label of rate, in its place"]
    assert [name for name in order if name in wanted] == wanted
    # One stop for all legends; arrows go from one to the next.
    assert not any(name.startswith("SWELL") for name in order)
    shown.legend("RATE").focus()
    page.keyboard.press("ArrowRight")
    expect(shown.legend("SWELL")).to_be_focused()
    tab = page.get_by_role("tab", name="Top")
    tab.focus()
    page.keyboard.press("ArrowRight")
    expect(page.get_by_role("tab", name="Back")).to_be_focused()
    expect(shown.face("Back")).to_be_visible()


def test_every_control_has_a_name_of_its_own(shown: Shown) -> None:
    shown.legend("RATE").click()
    shown.saw_findings()
    roles = "button|link|textbox|combobox|spinbutton|slider|checkbox|tab|application"
    lines = shown.page.locator("body").aria_snapshot().splitlines()
    controls = [line.strip(" -'") for line in lines if re.match(rf" *- '?({roles})\b", line)]
    named = [re.match(r'\w+ "(?:[^"\\]|\\.)+"', control) for control in controls]
    assert len(controls) > 25
    assert [control for control, name in zip(controls, named, strict=True) if not name] == []
    assert len({name[0] for name in named if name}) == len(controls)


def test_a_face_twice_as_large_is_worked_on_as_before(browser: Browser, server: Served) -> None:
    page = a_page(browser, PHONE)
    shown = open_page(page, server, server.add(), listen(page))
    fits = shown.scale()
    page.get_by_role("checkbox", name="Twice as large").check()
    assert shown.scale() == pytest.approx(2 * fits, rel=0.01)
    shown.legend("SWELL").scroll_into_view_if_needed()
    drag(shown, shown.legend("SWELL"), -20, 0)
    expect(page.get_by_role("status", name="What was done")).to_have_text(f"SWELL: {10 / fits:.1f} mm left")
    # A place that a finding is at is brought into sight.
    shown.legend("SWELL").evaluate("one => one.blur()")
    spoil(shown).click()
    mark = page.get_by_role("img", name="Here: ")
    page.wait_for_timeout(900)
    box, stage = mark.bounding_box(), page.get_by_role("tabpanel", name="Top").bounding_box()
    assert box and stage
    assert stage["x"] <= box["x"] and box["x"] + box["width"] <= stage["x"] + stage["width"]
    assert box["y"] >= 0 and box["y"] + box["height"] <= PHONE[1]
    page.context.close()


def test_nothing_moves_by_itself_where_motion_is_unwanted(browser: Browser, server: Served) -> None:
    page = a_page(browser, reduced_motion="reduce")
    shown = open_page(page, server, server.add(), listen(page))
    spoil(shown).click()
    mark = page.get_by_role("img", name="Here: ")
    expect(mark).to_be_visible()
    assert mark.evaluate("one => getComputedStyle(one).animationName") == "none"
    assert page.evaluate("document.getAnimations().length") == 0
    page.context.close()


@pytest.mark.parametrize(("scheme", "size"), [("light", WIDE), ("dark", PHONE)])
def test_axe_finds_no_serious_fault(browser: Browser, server: Served, scheme: str, size: tuple[int, int]) -> None:
    page = a_page(browser, size, scheme)
    shown = open_page(page, server, server.add(), listen(page))
    faults = grave_faults(page)
    shown.legend("RATE").click()
    finding = spoil(shown)
    finding.click()
    page.wait_for_timeout(500)
    faults += grave_faults(page)
    page.get_by_role("tab", name="Sheet").click()
    shown.write('"pot-16"', '"pot-61"')
    expect(page.get_by_role("region", name="Faults in the file")).to_be_visible()
    page.get_by_text("jobs", exact=False).first.click()
    faults += grave_faults(page)
    assert faults == []
    page.context.close()


def test_axe_would_find_a_planted_fault(shown: Shown) -> None:
    shown.page.evaluate("document.getElementById('make').textContent = ''")
    assert any(fault.startswith("button-name") for fault in grave_faults(shown.page))


def test_read_only_has_nothing_to_edit_with_and_says_so(browser: Browser, tmp_path: Path) -> None:
    job = tmp_path / "buoy.toml"
    job.write_text(JOB, encoding="utf-8")
    with served(tmp_path, "--read-only") as running:
        page = a_page(browser)
        wrong = listen(page)
        shown = open_page(page, running, job, wrong)
        expect(page.get_by_text("Read only", exact=True)).to_be_visible()
        expect(page.get_by_text("this page shows the box and changes nothing")).to_be_visible()
        for role in ("textbox", "combobox", "spinbutton"):
            expect(page.get_by_role(role)).to_have_count(0)  # type: ignore[arg-type]
        for name in ("Undo", "Redo", "Make the files"):
            expect(page.get_by_role("button", name=name)).to_have_count(0)
        drag(shown, shown.legend("RATE"), 20, 20)
        shown.legend("RATE").click()
        shown.legend("RATE").press("ArrowRight")
        page.wait_for_timeout(800)
        assert [asked for asked in shown.asked if asked.method == "POST"] == []
        expect(page.get_by_role("group", name="Legend in hand")).to_contain_text("RATE, label of rate")
        assert wrong == []
        page.context.close()
    assert job.read_text(encoding="utf-8") == JOB
