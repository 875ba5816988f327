"""Legends moved on the local page, and that everybody can work it.

What is good for all readers is held against WCAG 2.2 by axe-core, a checker that we didn't write.
"""

import re
from pathlib import Path

import pytest
from helpers.browser import grave_faults, listen
from helpers.shown_page import (
    HALVED,
    JOB,
    PHONE,
    WIDE,
    Served,
    Shown,
    a_page,
    drag,
    open_page,
    served,
    spoil,
    wait_for_text,
    wait_until,
)
from playwright.sync_api import Browser, expect

# ---- moving legends


def test_a_dragged_legend_is_written_as_a_nudge_and_every_comment_stays(shown: Shown) -> None:
    before = shown.text()
    legend, scale = shown.legend("RATE"), shown.scale()
    at = shown.middle(legend)
    drag(shown, legend, 20, 30)
    expect(legend).to_have_accessible_name(
        f"RATE, label of rate, {round(20 / scale, 1)} mm right, {round(30 / scale, 1)} mm down"
    )
    expect(shown.page.get_by_role("status", name="What was done")).to_contain_text("RATE: ")  # it is in the file now
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


def test_keys_that_still_wait_are_written_when_another_job_is_opened_or_the_page_is_left(shown: Shown) -> None:
    shown.legend("RATE").click()
    shown.page.keyboard.press("ArrowUp")
    shown.page.evaluate("location.hash = '#anchor'")
    expect(shown.page.get_by_role("heading", name="Anchor")).to_be_visible()
    wait_for_text(shown, "nudge = [0, 0.1]")
    shown.page.evaluate(f"location.hash = '#{shown.job.stem}'")
    shown.legend("SWELL").click()
    shown.page.keyboard.press("ArrowRight")
    shown.page.reload()
    wait_for_text(shown, "nudge = [0.1, 0]")


def test_labels_of_holes_of_one_name_on_two_faces_are_nudged_in_one_go(shown: Shown) -> None:
    shown.write('id = "in"', 'id = "rate"')
    shown.write('hole = "in"', 'hole = "rate"')
    shown.saw_findings()
    # By hand this takes two quick ones; the second must not take the place of the first that still waits.
    nudged = """async () => {
        const { nudgeTo } = await import("./web/moving.js");
        const { faceOf, now } = await import("./web/store.js");
        const found = (side) => faceOf(now().job, side)?.legends.find((one) => one.key === "control:rate");
        const renamed = ["top", "back"].map((side) => [side, found(side)]);
        if (!renamed.every(([, legend]) => legend)) return false;
        for (const [side, legend] of renamed) nudgeTo(side, legend, [0.3, 0]);
        return true;
    }"""
    # Not wait_for_function: a promise counts as true there before it has come to anything.
    wait_until(lambda: shown.page.evaluate(nudged), "the page has not heard of the new names")
    wait_for_text(shown, "nudge = [0.3, 0]", times=2)


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


@pytest.mark.parametrize("touch", [True, False])
def test_a_press_below_the_face_is_not_lost_when_it_lets_go_of_a_legend(
    browser: Browser, server: Served, touch: bool
) -> None:
    page = a_page(browser, PHONE, has_touch=touch)
    shown = open_page(page, server, server.add(), listen(page))
    legend, finding = shown.legend("RATE"), page.locator("button.finding").first
    (legend.tap if touch else legend.click)()
    expect(legend).to_have_attribute("aria-pressed", "true")
    shown.saw_findings()
    finding.scroll_into_view_if_needed()
    page.evaluate("scrollBy(0, -30)")  # not at the page's end, where what shrinks above moves nothing
    box = finding.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] - 3  # what moves up by anything leaves this place
    if touch:
        page.touchscreen.tap(x, y)
    else:
        page.mouse.move(x, y)
        page.mouse.down()
        page.wait_for_timeout(120)
        page.mouse.up()
    expect(finding).to_have_attribute("aria-pressed", "true")
    expect(legend).to_have_attribute("aria-pressed", "false")
    page.context.close()


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
