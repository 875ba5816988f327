"""The turning box in a browser: what stands where, which way round, and what turns it.

Places are held against OpenCV's projectPoints, which computes them from the camera alone.
"""

import json
import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
import numpy.typing as npt
import pytest
from helpers.browser import a_browser, listen, shot
from helpers.shown_boxes import DEEP, HIGH, POSES, SIDES, SIZES, WIDE, box, patches, plain
from playwright.sync_api import Browser, Page

from facegraphic.output.small_pictures import data_url, of_pixels
from facegraphic.output.web_files import box_view
from facegraphic.preview.camera import camera_for
from facegraphic.preview.model import FaceLook, Looks, Model
from facegraphic.preview.packed import packed
from facegraphic.stock.faces import Side

Array = npt.NDArray[np.float64]
SIZE = (420, 300)
SEEN: dict[Side, tuple[float, float]] = {
    "top": (0, 80), "front": (12, 22), "back": (170, 25), "left": (-80, 20), "right": (100, 28)
}  # fmt: skip
SCALE = 2  # device pixels a CSS pixel, where places are measured
CORNERS = ("#ff0000", "#00ff00", "#0000ff", "#ffff00")
PAGE = """<!doctype html><html><body style="margin:0;background:#777"><canvas id="box" tabindex="0"
style="display:block;width:420px;height:300px"></canvas></body></html>"""
OPEN = """async ({script, model, looks}) => {
  const {BoxView} = await import(URL.createObjectURL(new Blob([script], {type: "text/javascript"})));
  window.view = new BoxView(document.getElementById("box"));
  view.load(model);
  await window.wear(looks);
}"""
# A quick pull, all at once: a busy browser would take a hand that is slow for one that rests.
FLING = """() => {
  const canvas = document.getElementById("box");
  canvas.setPointerCapture = () => {};
  const send = (kind, x) => canvas.dispatchEvent(
    new PointerEvent(kind, {pointerId: 7, button: 0, clientX: x, clientY: 150, bubbles: true}));
  send("pointerdown", 100);
  for (let x = 110; x <= 200; x += 10) send("pointermove", x);
  send("pointerup", 200);
  return view.view.azimuth;
}"""
WEAR = """window.wear = async (looks) => {
  const image = async (source) => {
    if (!source) return null;
    const one = new Image(); one.src = source; await one.decode(); return one;
  };
  for (const [side, {picture, film, extent}] of Object.entries(looks)) {
    view.look(side, await image(picture), {extent, film: await image(film)});
  }
}"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with a_browser() as found:
        yield found


def in_words(look: FaceLook) -> dict[str, Any]:
    film = None if look.film is None else data_url(of_pixels(look.film))
    return {"picture": data_url(of_pixels(look.picture)), "film": film, "extent": list(look.extent)}


def opened(browser: Browser, model: Model, looks: Looks, **wishes: Any) -> tuple[Page, list[str]]:
    """A page with the view alone."""
    page = browser.new_context(viewport={"width": SIZE[0], "height": SIZE[1]}, **wishes).new_page()
    wrong = listen(page)
    page.set_content(PAGE)
    page.add_script_tag(content=WEAR)
    worn = {side: in_words(look) for side, look in looks.items()}
    page.evaluate(OPEN, {"script": box_view(), "model": packed(model), "looks": worn})
    settle(page)
    return page, wrong


def settle(page: Page) -> None:
    """Wait until the view has drawn what it was told."""
    page.evaluate("() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def turned(page: Page, azimuth: float, elevation: float, zoom: float = 1) -> None:
    page.evaluate("([a, e, z]) => view.turn(a, e, z)", [azimuth, elevation, zoom])
    settle(page)


def view(page: Page) -> dict[str, float]:
    return dict(page.evaluate("view.view"))


def projected(page: Page, points: npt.ArrayLike) -> Array:
    """Box space to CSS pixels by OpenCV, from the camera that the page tells of."""
    told = page.evaluate("view.camera")
    turn = np.array([told["right"], -np.array(told["up"]), told["forward"]])
    assert np.allclose(turn @ turn.T, np.eye(3)) and np.linalg.det(turn) == pytest.approx(1)
    focal, (cx, cy) = told["focal"], told["centre"]
    lens = np.array([[focal, 0, cx], [0, focal, cy], [0, 0, 1]])
    spin, _ = cv2.Rodrigues(turn)
    move = -turn @ np.array(told["position"])
    seen, _ = cv2.projectPoints(np.asarray(points, float).reshape(-1, 1, 3), spin, move, lens, None)
    return np.asarray(seen, float).reshape(-1, 2)


def square(side: Side, number: int) -> Array:
    """A corner patch's corners in box space: upper left, upper right, lower right, lower left."""
    width, height = SIZES[side]
    x = -width / 2 if number % 2 == 0 else width / 2 - 8
    y = height / 2 if number < 2 else -height / 2 + 8
    corners = [(x, y, 0), (x + 8, y, 0), (x + 8, y - 8, 0), (x, y - 8, 0)]
    return POSES[side].carry(corners)


def areas(picture: npt.NDArray[np.uint8], number: int) -> npt.NDArray[np.uint8]:
    """Where one of the patches' colours is: light in just its channels."""
    red, green, blue = (picture[:, :, channel].astype(int) for channel in range(3))
    want = CORNERS[number]
    on = [red, green, blue]
    bright = [on[i] for i in range(3) if want[1 + 2 * i : 3 + 2 * i] == "ff"]
    dim = [on[i] for i in range(3) if want[1 + 2 * i : 3 + 2 * i] == "00"]
    apart = np.min(bright, axis=0) - np.max(dim, axis=0)
    return np.asarray((apart > 70) * 255, np.uint8)


@pytest.mark.parametrize("side", SIDES)
def test_a_look_is_the_right_way_round_and_in_its_place(browser: Browser, side: Side) -> None:
    looks = {each: plain(each, "#808080") for each in SIDES} | {side: patches(side, CORNERS)}
    page, wrong = opened(browser, box(parts=False), looks, device_scale_factor=SCALE)
    turned(page, *SEEN[side])
    picture = shot(page)
    for number in range(4):
        expected = projected(page, square(side, number)) * SCALE
        outlines, _ = cv2.findContours(areas(picture, number), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        largest = max(outlines, key=cv2.contourArea)
        found = cv2.approxPolyDP(largest, 4, True).reshape(-1, 2) + 0.5
        assert len(found) == 4, (side, number)
        for corner in expected:
            off = np.hypot(*(found - corner).T).min() / SCALE
            assert off <= 1.0, (side, number, off)
    assert wrong == []
    page.context.close()


def test_a_mirrored_look_would_be_seen(browser: Browser) -> None:
    red, green, blue, yellow = CORNERS
    page, _ = opened(
        browser, box(parts=False), {"top": patches("top", (green, red, yellow, blue))}, device_scale_factor=SCALE
    )
    turned(page, *SEEN["top"])
    expected = projected(page, square("top", 0)) * SCALE
    place = cv2.moments(areas(shot(page), 0), True)
    middle = np.array([place["m10"], place["m01"]]) / place["m00"]
    assert np.hypot(*(middle - expected.mean(axis=0))) > 100
    page.context.close()


@pytest.mark.parametrize(("azimuth", "elevation", "zoom"), [(24, 47, 1), (-130, 10, 0.8), (179, 88, 2.5)])
def test_places_are_told_as_opencv_projects_them(
    browser: Browser, azimuth: float, elevation: float, zoom: float
) -> None:
    page, _ = opened(browser, box(), {})
    turned(page, azimuth, elevation, zoom)
    for side in SIDES:
        told = page.evaluate("(side) => view.projected(side, 3, -7, 2)", side)
        expected = projected(page, POSES[side].carry([(3, -7, 2)]))[0]
        assert (told["x"], told["y"]) == pytest.approx(tuple(expected), abs=0.01)
    page.context.close()


def test_the_first_view_is_that_of_the_still_picture(browser: Browser) -> None:
    model = box()
    page, _ = opened(browser, model, {})
    told = page.evaluate("view.camera")
    still = camera_for(model)
    ahead = np.subtract(still.target, still.position)
    assert np.array(told["forward"]) @ ahead / np.linalg.norm(ahead) == pytest.approx(1, abs=1e-4)
    near = np.linalg.norm(np.subtract(told["position"], (0, 0, HIGH / 2))) / np.linalg.norm(ahead)
    assert near == pytest.approx(1, abs=0.1)
    page.context.close()


def test_the_whole_box_stays_in_sight_while_it_turns(browser: Browser) -> None:
    page, _ = opened(browser, box(), {})
    rim = [(x, y, z) for x in (-WIDE / 2, WIDE / 2) for y in (-DEEP / 2, DEEP / 2) for z in (0, HIGH + 14)]
    for azimuth in range(-180, 180, 30):
        for elevation in (5, 45, 88):
            page.evaluate("([a, e]) => view.turn(a, e, 1)", [azimuth, elevation])
            seen = projected(page, rim)
            assert (seen >= 0).all() and (seen <= SIZE).all(), (azimuth, elevation)
    page.context.close()


def test_keys_turn_zoom_and_lead_home_within_limits(browser: Browser) -> None:
    page, wrong = opened(browser, box(), {}, reduced_motion="reduce")
    first = view(page)
    page.focus("#box")
    page.keyboard.press("ArrowRight")
    assert view(page)["azimuth"] == pytest.approx(first["azimuth"] - 7.5)
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("ArrowLeft")
    assert view(page)["azimuth"] == pytest.approx(first["azimuth"] + 7.5)
    page.keyboard.press("+")
    assert view(page)["zoom"] > first["zoom"]
    for _ in range(30):
        page.keyboard.press("ArrowUp")
    assert 0 < view(page)["elevation"] < 10
    for _ in range(30):
        page.keyboard.press("ArrowDown")
    assert 80 < view(page)["elevation"] < 90
    for _ in range(60):
        page.keyboard.press("-")
    assert view(page)["zoom"] > 0.3
    page.keyboard.press("Home")
    assert view(page) == pytest.approx(first)
    assert wrong == []
    page.context.close()


def drag(page: Page, by: tuple[int, int]) -> None:
    page.mouse.move(210, 150)
    page.mouse.down()
    for step in range(1, 5):
        page.mouse.move(210 + by[0] * step / 4, 150 + by[1] * step / 4)
    page.mouse.up()


def test_a_drag_turns_the_box_with_the_hand(browser: Browser) -> None:
    page, _ = opened(browser, box(), {}, reduced_motion="reduce")
    before, seen = view(page), page.evaluate("view.projected('top', 0, -40)")
    drag(page, (80, 0))
    after, then = view(page), page.evaluate("view.projected('top', 0, -40)")
    assert after["azimuth"] == pytest.approx(before["azimuth"] - 32)
    assert then["x"] > seen["x"] + 20  # what is near the viewer goes along
    drag(page, (0, 50))
    assert view(page)["elevation"] == pytest.approx(before["elevation"] + 20)
    page.context.close()


@pytest.mark.parametrize("motion", ["no-preference", "reduce"])
def test_the_box_runs_on_only_where_motion_is_wanted(browser: Browser, motion: str) -> None:
    page, _ = opened(browser, box(), {}, reduced_motion=motion)
    let_go = page.evaluate(FLING)
    for _ in range(4):
        settle(page)
    assert (abs(view(page)["azimuth"] - let_go) > 0.5) == (motion == "no-preference")
    page.context.close()


def test_a_finger_turns_and_two_zoom(browser: Browser) -> None:
    page, _ = opened(browser, box(), {}, has_touch=True, reduced_motion="reduce")
    before = view(page)
    touch = page.context.new_cdp_session(page)

    def send(kind: str, *at: tuple[float, float]) -> None:
        points = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(at)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    send("touchStart", (150, 150))
    for x in range(160, 241, 10):
        send("touchMove", (x, 150))
    send("touchEnd")
    settle(page)
    assert view(page)["azimuth"] < before["azimuth"] - 10
    send("touchStart", (160, 150), (260, 150))
    for step in range(1, 6):
        send("touchMove", (160 - 10 * step, 150), (260 + 10 * step, 150))
    send("touchEnd")
    settle(page)
    assert view(page)["zoom"] == pytest.approx(before["zoom"] * 2, rel=0.15)
    page.context.close()


def test_nothing_is_drawn_while_nothing_changes(browser: Browser) -> None:
    page, _ = opened(browser, box(), {})
    page.wait_for_timeout(200)
    drawn = page.evaluate("view.frames")
    page.wait_for_timeout(400)
    assert page.evaluate("view.frames") == drawn
    page.evaluate("view.nudge(5, 0)")
    settle(page)
    assert page.evaluate("view.frames") == drawn + 1
    page.context.close()


def test_a_point_is_ringed_and_turned_to(browser: Browser) -> None:
    page, _ = opened(
        browser, box(parts=False), {side: plain(side, "#404040") for side in SIDES}, reduced_motion="reduce"
    )
    turned(page, 0, 40)
    before = shot(page)
    page.evaluate("view.point('top', 10, 20)")
    settle(page)
    changed = np.argwhere(np.abs(shot(page).astype(int) - before).max(axis=2) > 60)
    at = page.evaluate("view.projected('top', 10, 20, 0.5)")
    ring = (changed.min(axis=0) + changed.max(axis=0))[::-1] / 2
    assert tuple(ring) == pytest.approx((at["x"], at["y"]), abs=2)
    page.evaluate("view.point(null)")
    settle(page)
    assert np.array_equal(shot(page), before)
    page.evaluate("view.point('back', 0, 0)")
    settle(page)
    assert abs(view(page)["azimuth"]) > 120
    page.context.close()


def test_a_whole_face_is_framed(browser: Browser) -> None:
    page, _ = opened(
        browser, box(parts=False), {side: plain(side, "#404040") for side in SIDES}, reduced_motion="reduce"
    )
    turned(page, 0, 78)
    before = shot(page)
    width, height = SIZES["top"]
    page.evaluate(f"view.point('top', 0, 0, {{ size: [{width}, {height}] }})")
    settle(page)
    changed = np.argwhere(np.abs(shot(page).astype(int) - before).max(axis=2) > 60)
    low, high = changed.min(axis=0)[::-1], changed.max(axis=0)[::-1]
    inset = 1.5 * 0.13 * 6 - 0.58 * 0.13 * 6  # the bright line's outer rim lies so far inside the face
    edge = [(-width / 2 + inset, -height / 2 + inset, 0.5), (width / 2 - inset, height / 2 - inset, 0.5)]
    lower, upper = projected(page, POSES["top"].carry(edge))
    assert (low[0], high[1]) == pytest.approx(tuple(lower), abs=3)
    assert low[1] == pytest.approx(upper[1], abs=3)
    middle = changed[(abs(changed - (low + high)[::-1] / 2) < (high - low)[::-1] / 4).all(axis=1)]
    assert len(middle) == 0  # nothing lies over the face itself
    page.context.close()


def test_the_box_comes_back_after_the_graphics_were_lost(browser: Browser) -> None:
    page, wrong = opened(browser, box(), {side: patches(side, CORNERS) for side in SIDES})
    before = shot(page)
    page.evaluate(
        "window.loser = document.getElementById('box').getContext('webgl2').getExtension('WEBGL_lose_context')"
    )
    page.evaluate("loser.loseContext()")
    page.wait_for_timeout(100)
    assert not np.array_equal(shot(page), before)
    page.evaluate("loser.restoreContext()")
    page.wait_for_timeout(300)
    settle(page)
    assert np.abs(shot(page).astype(int) - before).max() <= 2
    assert wrong == []
    page.context.close()


def at(page: Page, x: float, y: float) -> npt.NDArray[np.int_]:
    """The colour that is seen at a place on the top."""
    place = page.evaluate("([x, y]) => view.projected('top', x, y)", [x, y])
    return shot(page)[round(place["y"]), round(place["x"])].astype(int)


def test_film_shines_where_it_mirrors_a_light(browser: Browser) -> None:
    page, _ = opened(browser, box(parts=False), {})
    gained = []
    for elevation in (15, 25, 35, 50, 65, 80):
        turned(page, 0, elevation)
        seen = []
        for film in (None, 255):
            page.evaluate("(look) => wear({top: look})", in_words(plain("top", "#303030", film)))
            settle(page)
            seen.append(at(page, 0, -30).sum())
        gained.append(seen[1] - seen[0])
    assert max(gained) > 20 and max(gained) > min(gained) + 15
    page.context.close()


def test_a_lamp_throws_its_colour_on_what_is_round_it(browser: Browser) -> None:
    page, _ = opened(browser, box(), {side: plain(side, "#606060") for side in SIDES})
    turned(page, 0, 45)
    beside, away = at(page, 0, -4), at(page, 0, -40)
    assert beside[0] - beside[2] > away[0] - away[2] + 5
    page.context.close()


def test_parts_stand_before_the_look_and_throw_shadows(browser: Browser) -> None:
    looks = {side: plain(side, "#b0b0b0") for side in SIDES}
    without, _ = opened(browser, box(parts=False), looks)
    turned(without, 0, 60)
    empty = shot(without).astype(int)
    without.context.close()
    page, _ = opened(browser, box(), looks)
    turned(page, 0, 60)
    # The frame is fitted to knobs too, so each is asked at the place where it sees the knob's right.
    full = shot(page).astype(int)
    at = page.evaluate("view.projected('top', -4, 30)")
    shadow = full[round(at["y"]), round(at["x"])].sum()
    away = page.evaluate("view.projected('top', -4, -20)")
    lit = full[round(away["y"]), round(away["x"])].sum()
    assert shadow < lit - 40
    knob = page.evaluate("view.projected('top', -15, 30, 14)")
    assert full[round(knob["y"]), round(knob["x"])].max() < 120
    assert empty.max() > 150
    page.context.close()


def test_the_shell_wears_what_it_is_told(browser: Browser) -> None:
    page, _ = opened(browser, box(parts=False), {})
    turned(page, 0, 60)
    own = shot(page)[SIZE[1] // 2, SIZE[0] // 2].astype(int)
    page.evaluate("view.shell({colour: '#d02020', rough: 0.4, metal: 0})")
    settle(page)
    red = shot(page)[SIZE[1] // 2, SIZE[0] // 2].astype(int)
    assert red[0] > 150 and red[2] < 100 and own[0] < own[2]
    page.evaluate("view.shell(null)")
    settle(page)
    assert np.array_equal(shot(page)[SIZE[1] // 2, SIZE[0] // 2], own)
    page.context.close()


def test_what_is_thrown_away_draws_no_more(browser: Browser) -> None:
    page, wrong = opened(browser, box(), {})
    page.evaluate("view.dispose()")
    drawn = page.evaluate("view.frames")
    page.set_viewport_size({"width": 500, "height": 400})
    page.focus("#box")
    page.keyboard.press("ArrowLeft")
    page.wait_for_timeout(100)
    assert page.evaluate("view.frames") == drawn
    assert wrong == []
    page.context.close()


def test_the_module_stands_alone() -> None:
    text = box_view()
    lines = text.splitlines()
    assert [line for line in lines if line.startswith(("import", "export"))] == ["export { BoxView };"]
    assert "http" not in text
    assert all(before or after for before, after in pairwise(lines[-3:]))


def test_a_packed_model_is_json_of_a_modest_size() -> None:
    text = json.dumps(packed(box()))
    assert len(text) < 40_000
    assert math.isfinite(sum(json.loads(text)["size"]))
