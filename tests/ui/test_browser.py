"""The page in a real browser, at a desk and on a phone."""

import re
from dataclasses import replace
from urllib.parse import urlsplit

import pytest

from scanner.app.lot.open_lot import new_stamp
from scanner.board.flaw import FlawState
from scanner.storage.lots import open_lot
from tests import common
from tests.ui.conftest import (
    DESK,
    PHONE,
    all_sent,
    at_rest,
    serious_in,
    settle,
    start_page,
    until,
    wider_than_screen,
)

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_STEPS = ("Parts", "Boards", "Flaws", "Layout", "Cut")
# The first layout of a fresh worker also compiles the search.
_LAYOUT_MS = 240_000


def _open(window, address):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(address)
    page.get_by_role("button", name="Yes, a flaw").wait_for()
    return page


def _to_step(page, title):
    page.locator(".road button").filter(has_text=title).click()
    page.locator(".road button[aria-current]").filter(has_text=title).wait_for()


def _row(page, flaw):
    return page.locator(".list button").filter(has=page.get_by_text(flaw, exact=True))


def _state_in_file(file, flaw):
    kept = open_lot(file)
    try:
        return next(one.state for one in kept.board("B01").flaws if one.id == flaw)
    finally:
        kept.close()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_struck_flaw_is_kept_and_the_layout_follows(lot, visit, size):
    window = visit(size)
    page = _open(window, lot.address)
    page.locator(".part.current").first.wait_for(state="attached")
    _row(page, "F5").click()
    page.get_by_role("button", name="Not a flaw").click()
    page.get_by_text("being placed again").wait_for()
    assert _row(page, "F5").inner_text().split()[-2:] == ["no", "flaw"]
    page.get_by_text("being placed again").wait_for(state="detached", timeout=_LAYOUT_MS)
    page.locator(".part.current").first.wait_for(state="attached")
    _to_step(page, "Cut")
    with page.expect_download(timeout=_LAYOUT_MS) as download:
        page.get_by_role("link", name="Board maps to print (PDF)").click()
    assert download.value.path().read_bytes().startswith(b"%PDF")
    _to_step(page, "Flaws")
    page.get_by_role("button", name="Undo").wait_for()
    page.reload()
    page.get_by_role("button", name="Undo").wait_for()
    assert _row(page, "F5").inner_text().split()[-2:] == ["no", "flaw"]
    assert _state_in_file(lot.file, "F5") is FlawState.STRUCK
    kept = open_lot(lot.file)
    saved = kept.layout()
    assert saved is not None and saved.revision == kept.revision
    kept.close()
    assert window.problems == []
    # data: and blob: stay inside the browser.
    outside = [url for url in window.asked if urlsplit(url).scheme not in ("data", "blob")]
    assert {urlsplit(url).hostname for url in outside} == {"127.0.0.1"}


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_whole_board_is_looked_over_with_one_button_after_the_other(lot, visit, size):
    window = visit(size)
    page = _open(window, lot.address)
    main = page.locator(".bar .main:visible")
    # Five flaws, and both faces at once; then there is nothing left to tap.
    for _ in range(6):
        main.tap() if size is PHONE else main.click()
    page.get_by_text("2 of 2 boards looked over").wait_for()
    page.reload()
    page.get_by_text("2 of 2 boards looked over").wait_for()
    assert window.problems == []


def test_undo_and_redo_and_the_keyboard(lot, visit):
    page = _open(visit(DESK), lot.address)
    _row(page, "F1").click()
    page.keyboard.press("x")
    page.get_by_role("button", name="Undo").and_(
        page.locator("[title*='F1 is no flaw']")
    ).wait_for()
    page.keyboard.press("u")
    page.locator("button[title='Redo: B01: F1 is no flaw']").wait_for()
    # A phone shows no title.
    page.get_by_text("Taken back: B01: F1 is no flaw.").wait_for()
    assert "seen" in _row(page, "F1").inner_text()
    page.get_by_role("button", name="Redo").click()
    page.locator("button[title='Undo: B01: F1 is no flaw']").wait_for()
    page.get_by_text("Done again: B01: F1 is no flaw.").wait_for()
    assert "no flaw" in _row(page, "F1").inner_text()
    # On another step it would speak of what nobody sees there.
    page.locator(".road button").filter(has_text="Cut").click()
    page.get_by_role("button", name="Marked").first.wait_for()
    settle(page)
    assert page.get_by_text("Done again").count() == 0


def test_quick_taps_all_arrive(lot, visit):
    page = _open(visit(DESK), lot.address)
    _row(page, "F1").click()
    strike = page.get_by_role("button", name="Not a flaw")
    for _ in range(3):
        strike.click(no_wait_after=True)
    page.get_by_text("Flaws found: 5, 2 open").wait_for()
    all_sent(page)
    page.reload()
    page.get_by_text("Flaws found: 5, 2 open").wait_for()


def test_a_late_tap_of_a_second_window_is_answered(lot, visit):
    first = _open(visit(DESK), lot.address)
    second = _open(visit(DESK), lot.address)
    _row(first, "F1").click()
    _row(second, "F1").click()
    first.get_by_role("button", name="Not a flaw").click()
    first.locator("button[title*='F1 is no flaw']").wait_for()
    second.get_by_role("button", name="Yes, a flaw").click()
    second.get_by_text("Another window changed this").wait_for()
    assert "no flaw" in _row(second, "F1").inner_text()


@pytest.mark.parametrize("reload", [False, True], ids=["stayed", "reloaded"])
def test_what_was_said_while_the_program_was_away_arrives(own_page, visit, reload):
    page = visit(DESK).page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(own_page.address)
    page.get_by_role("button", name="Open the sample lot").click()
    _row(page, "F4").click()
    own_page.stop()
    page.get_by_role("button", name="Not a flaw").dispatch_event("click")
    assert "no flaw" in _row(page, "F4").inner_text()
    port = own_page.address.rsplit(":", 1)[1]
    own_page.process = start_page(own_page.home, "--port", port).process
    if reload:
        page.reload()
    page.locator("button[title*='F4 is no flaw']").wait_for()
    file = own_page.home / "out" / "demo" / "demo.lot"
    assert _state_in_file(file, "F4") is FlawState.STRUCK


def test_tapping_a_mark_on_the_face_chooses_it(lot, visit):
    page = _open(visit(PHONE), lot.address)
    page.get_by_role("button", name="The whole face").tap()
    mark = page.locator(".loupe [data-flaw='F1'] .halo")
    at_rest(mark)
    mark.tap(force=True)
    page.locator(".about b").get_by_text(re.compile("^F1, knot")).wait_for(state="attached")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_tap_on_the_small_whole_board_brings_that_place_into_view(lot, visit, size):
    page = _open(visit(size), lot.address)
    settle(page)
    strip = page.locator(".strip").first.locator("svg")
    face = [float(value) for value in strip.get_attribute("viewBox").split()]
    # On a phone the board stands upright: along it is down the screen.
    along = 1 if size is PHONE else 0
    seen = []
    for share in (0.15, 0.85):
        before = _window(page)
        box = at_rest(strip)
        spot = [box["width"] / 2, box["height"] / 2]
        spot[along] *= 2 * share
        on_it = {"position": {"x": spot[0], "y": spot[1]}}
        strip.tap(**on_it) if size is PHONE else strip.click(**on_it)
        until(page, lambda before=before: _window(page) != before)
        view = _window(page)
        wanted = face[along] + share * face[2 + along]
        assert view[along] <= wanted <= view[along] + view[2 + along]
        # A part of the face, framed on the strip as well.
        assert view[2 + along] < 0.6 * face[2 + along]
        frame, box = page.locator(".strip.here .frame").bounding_box(), strip.bounding_box()
        where = (frame["x"] - box["x"], frame["y"] - box["y"])[along] - 2
        assert where <= spot[along] <= where + (frame["width"], frame["height"])[along] + 4
        seen.append(view[along])
    assert seen[1] > seen[0] + 0.3 * face[2 + along]


def _window(page):
    return [float(value) for value in page.locator(".loupe").get_attribute("viewBox").split()]


def test_wheel_and_drag_move_the_window_over_the_wood(lot, visit):
    page = _open(visit(DESK), lot.address)
    page.get_by_role("button", name="The whole face").click()
    whole = _window(page)
    box = at_rest(page.locator(".loupe"))
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    for _ in range(8):
        before = _window(page)
        page.mouse.wheel(0, -100)
        # A turn of the wheel is done some time after it was sent.
        until(page, lambda before=before: _window(page)[2] < before[2])
    close = _window(page)
    assert close[2] < whole[2] / 3
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] / 2 - 100, box["y"] + box["height"] / 2, steps=5)
    page.mouse.up()
    until(page, lambda: _window(page)[0] - close[0] > 99 * close[2] / box["width"])
    moved = _window(page)
    # 100 screen px at the scale of the window.
    assert moved[0] - close[0] == pytest.approx(100 * close[2] / box["width"], rel=0.1)
    assert moved[2] == close[2]


def _touch(session, kind, points):
    told = [{"x": x, "y": y, "id": number} for number, (x, y) in enumerate(points)]
    session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": told})


def test_two_fingers_bring_the_wood_closer_and_the_page_stays_as_it_is(lot, visit):
    page = _open(visit(PHONE), lot.address)
    settle(page)
    before = _window(page)
    box = at_rest(page.locator(".loupe"))
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    session = page.context.new_cdp_session(page)
    _touch(session, "touchStart", [(x - 20, y), (x + 20, y)])
    for apart in range(25, 65, 5):
        _touch(session, "touchMove", [(x - apart, y), (x + apart, y)])
    _touch(session, "touchEnd", [])
    # From 40 px apart to 120: three times as close.
    until(page, lambda: _window(page)[2] == pytest.approx(before[2] / 3, rel=0.1))
    assert page.evaluate("visualViewport.scale") == 1


_GROUND = "() => getComputedStyle(document.querySelector('.stApp')).backgroundColor"
# What can be tapped, in the browser's parts too; each is numbered, to be known again.
_TAPPED = """() => {
    const found = [];
    const look = (root) => {
        for (const one of root.querySelectorAll("*")) {
            if (one.shadowRoot) look(one.shadowRoot);
            const box = one.getBoundingClientRect();
            if (one.matches("button, a[href], select, summary, [role=button]")
                && !one.disabled && box.width && one.checkVisibility()) found.push(one);
        }
    };
    look(document);
    found.forEach((one, at) => { one.dataset.tapped = at; });
    return found.map((one) => one.getAttribute("aria-label") || one.textContent.trim());
}"""
_FOCUSED = """() => {
    let one = document.activeElement;
    while (one?.shadowRoot?.activeElement) one = one.shadowRoot.activeElement;
    return one?.dataset?.tapped ?? "";
}"""


@pytest.mark.parametrize("step", _STEPS[1:])
def test_whatever_can_be_tapped_is_reached_with_the_tab_key(lot, visit, step):
    page = _open(visit(DESK), lot.address)
    _to_step(page, step)
    settle(page)
    names = page.evaluate(_TAPPED)
    assert len(names) > 12
    reached = set()
    for _ in range(2 * len(names)):
        page.keyboard.press("Tab")
        reached.add(page.evaluate(_FOCUSED))
        if len(reached - {""}) == len(names):
            break
    assert [name for at, name in enumerate(names) if str(at) not in reached] == []


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_on_every_step_axe_finds_nothing_serious_and_nothing_is_wider_than_the_screen(
    running, lot, visit, size
):
    window = visit(size, color_scheme="light")
    page, found = window.page, []

    def look(step):
        settle(page)
        wide = wider_than_screen(page)
        found.extend([(step, "too wide", wide)] if wide > 0 else [])
        found.extend((step, one) for one in serious_in(page))
        # In the dark nothing is another but the colours.
        light = page.evaluate(_GROUND)
        page.emulate_media(color_scheme="dark")
        until(page, lambda: page.evaluate(_GROUND) != light)
        settle(page)
        found.extend((step, "dark", one) for one in serious_in(page, "color-contrast"))
        page.emulate_media(color_scheme="light")
        until(page, lambda: page.evaluate(_GROUND) == light)

    page.goto(running.address)
    page.get_by_role("button", name="Begin the lot").wait_for()
    look("start")
    _open(window, lot.address)
    for step in _STEPS:
        _to_step(page, step)
        if step == "Boards":
            settle(page)
            page.get_by_text("Add boards from photos").click()
            page.get_by_role("button", name="Scan this board").wait_for()
        settle(page)
        # What lies under a pointer is to be read as well.
        page.get_by_role("button", name="Other lots").hover()
        look(step)
    page.get_by_role("button", name="Help").click()
    page.get_by_role("heading", name="On this page").wait_for()
    look("Help")
    assert found == []


def test_a_tap_just_before_the_page_is_left_is_kept(lot, visit):
    page = _open(visit(DESK), lot.address)
    _row(page, "F5").click()
    # Both in one turn of the browser: the server has no time to answer the first.
    page.evaluate("""() => {
        const inside = (name) => [...document.querySelectorAll("*")]
            .map((node) => node.shadowRoot?.querySelector(name)).find(Boolean);
        const called = (text) => (node) => node.textContent.startsWith(text);
        [...inside(".bench").querySelectorAll("button")].find(called("Not a flaw")).click();
        [...inside(".road").querySelectorAll("button")].find(called("Boards")).click();
    }""")
    page.locator(".road button[aria-current]").filter(has_text="Boards").wait_for()
    all_sent(page)
    assert _state_in_file(lot.file, "F5") is FlawState.STRUCK


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_nothing_is_wider_than_the_screen_and_thumbs_find_the_buttons(lot, visit, size):
    page = _open(visit(size), lot.address)
    wide = wider_than_screen(page)
    assert wide <= 0
    small = page.locator(".bench button:visible").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect()).filter(box => box.height < 44).length"
    )
    assert small == 0
    main = page.get_by_role("button", name="Yes, a flaw").bounding_box()
    assert main["y"] + main["height"] <= size["viewport"]["height"]
    # And what is too wide would be seen to be.
    page.get_by_test_id("stMain").evaluate(
        "main => main.insertAdjacentHTML('beforeend', '<p style=\"min-width: 3000px\">.</p>')"
    )
    assert wider_than_screen(page) > 0


def test_the_board_that_is_looked_at_stands_in_sight_among_many(lot, visit):
    kept = open_lot(lot.file)
    for number in range(3, 10):
        kept.save_board(replace(common.ash_board(), id=f"B{number:02}"), new_stamp(kept))
    kept.close()
    page = _open(visit(PHONE), f"{lot.address}&board=B09".replace("/?", "/flaws?"))
    box = page.locator(".boards [aria-current]").bounding_box()
    assert box["x"] >= 0 and box["x"] + box["width"] <= PHONE["viewport"]["width"]


def test_on_a_phone_on_its_side_the_window_holds_its_own_buttons(lot, visit):
    page = _open(visit({**PHONE, "viewport": {"width": 844, "height": 390}}), lot.address)
    window = page.locator(".window").bounding_box()
    for button in page.locator(".zoom button").all():
        box = button.bounding_box()
        assert window["y"] <= box["y"]
        assert box["y"] + box["height"] <= window["y"] + window["height"]


def test_a_thumb_finds_what_the_page_is_made_of_as_well(lot, visit):
    page = _open(visit(PHONE), lot.address)
    page.goto(lot.address.replace("/?", "/boards?"))
    page.get_by_text("Add boards from photos").tap()
    page.get_by_label("Species").first.wait_for()
    # So does what takes a chosen photo out again.
    photo = {"name": "front.jpg", "mimeType": "image/jpeg", "buffer": b"no photo"}
    page.locator("input[type=file]").first.set_input_files([photo])
    page.get_by_role("button", name="Remove front.jpg").wait_for()
    settle(page)
    found = "button, summary, [data-testid=stTextInputRootElement], [data-testid=stRadioOption]"
    boxes = (
        page.get_by_test_id("stMain")
        .locator(f":is({found}):visible")
        .evaluate_all(
            "all => all.map(one => [one.textContent, one.getBoundingClientRect().height])"
        )
    )
    assert len(boxes) > 10
    assert [box for box in boxes if 0 < box[1] < 44] == []
