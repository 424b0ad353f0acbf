"""A slow line: a tap brings little, is not sent again in haste, and late scripts do no harm."""

import re

import pytest

from tests.ui.conftest import DESK, PHONE, all_sent, settle, until

pytestmark = [pytest.mark.browser, pytest.mark.slow]

# The page's scripts, were they in every answer, would be far more than this.
_MOST_BYTES = 22_000
_SOURCES = "**/browser-part/board-*"
_WATCH = """(bench) => {
    window.wasEmptied = false;
    const look = () => { window.wasEmptied ||= !bench.childElementCount; };
    new MutationObserver(look).observe(bench, {childList: true});
}"""


def _row(page, flaw):
    return page.locator(".list button").filter(has=page.get_by_text(flaw, exact=True))


def _answers(page):
    """Return what comes from the page's program, as it comes."""
    came = []
    page.on("websocket", lambda socket: socket.on("framereceived", lambda one: came.append(one)))
    return came


def _opened(page, address):
    page.goto(address)
    page.get_by_role("button", name="Not a flaw").wait_for()
    settle(page)


def _strike(page, flaw):
    _row(page, flaw).click()
    page.get_by_role("button", name="Not a flaw").click(no_wait_after=True)


def test_a_tap_on_a_phone_brings_no_scripts_only_what_the_board_now_is(lot, visit):
    page = visit(PHONE).page
    came = _answers(page)
    _opened(page, lot.address)
    came.clear()
    _strike(page, "F5")
    all_sent(page)
    assert 0 < sum(len(one) for one in came) < _MOST_BYTES


def _outlines(came):
    return sum(b'"outlines"' in one for one in came)


@pytest.mark.parametrize("step", ["flaws", "layout"])
def test_a_tap_brings_no_outline_that_the_window_has_and_one_it_lost_comes_again(lot, visit, step):
    page = visit(DESK).page
    came = _answers(page)
    page.goto(lot.address.replace("/?", f"/{step}?"))
    undo = page.get_by_role("button", name="Undo", exact=True)
    if step == "flaws":
        page.get_by_role("button", name="Not a flaw").wait_for()
        settle(page)
        tap = page.get_by_role("button", name="Not a flaw")
    else:
        page.locator("g[role=button]").first.click()
        tap = page.get_by_role("button", name="Hold here")
    marks = page.locator(".marks polygon")
    settle(page)
    drawn = marks.count()
    assert _outlines(came) and drawn
    came.clear()
    tap.click()
    all_sent(page)
    settle(page)
    # The layout is placed again meanwhile.
    assert came and not _outlines(came)
    page.evaluate("globalThis.bothfacesShapes.clear()")
    undo.click()
    until(page, lambda: _outlines(came))
    all_sent(page)
    settle(page)
    assert marks.count() == drawn


def test_what_the_page_brings_is_packed(lot, visit):
    page = visit(PHONE).page
    session = page.context.new_cdp_session(page)
    session.send("Network.enable")
    heads = []
    session.on(
        "Network.webSocketHandshakeResponseReceived",
        lambda event: heads.append(str(event["response"]["headers"])),
    )
    page.goto(lot.address)
    until(page, lambda: heads)
    assert "permessage-deflate" in heads[0]


def test_a_board_is_drawn_though_its_scripts_failed_to_come_at_first(lot, visit):
    page = visit(PHONE).page
    failed = []

    def fail_twice(asked):
        if len(failed) == 2:
            asked.continue_()
            return
        failed.append(asked.request.url)
        asked.abort()

    page.route(_SOURCES, fail_twice)
    page.goto(lot.address)
    page.get_by_role("button", name="Not a flaw").wait_for()
    assert len(set(failed)) == 2


def test_what_changed_while_the_scripts_were_on_their_way_is_drawn_and_stays(lot, visit):
    late = visit(PHONE).page
    held = []
    late.route(_SOURCES, lambda asked: held.append(asked))
    came = _answers(late)
    late.goto(lot.address)
    until(late, lambda: held)
    other = visit(DESK).page
    other.goto(lot.address)
    _strike(other, "F5")
    all_sent(other)
    # The late window looks for what others said every few seconds.
    until(late, lambda: any(b"F5 is no flaw" in one for one in came))
    settle(late)
    late.locator(".bench").evaluate(_WATCH)
    held.pop().continue_()
    _row(late, "F5").filter(has_text="no flaw").wait_for()
    _strike(late, "F4")
    late.locator("button[title*='F4 is no flaw']").wait_for()
    assert not late.evaluate("window.wasEmptied")


class _Line:
    """The way from the page's program to the page, on which answers can be held up."""

    def __init__(self, page):
        self.is_held, self._late = False, []
        # Looks by a timer bring the newest try along as well.
        self.newest_try = 0
        page.route_web_socket("**/_stcore/stream", self._open)

    def _open(self, window):
        server = window.connect_to_server()

        def up(message):
            for number in re.findall(rb'"n":"[0-9a-f]+-(\d+)"', message):
                self.newest_try = int(number)
            server.send(message)

        def down(message):
            if self.is_held:
                self._late.append((window, message))
            else:
                window.send(message)

        window.on_message(up)
        server.on_message(down)

    def let_go(self):
        self.is_held = False
        for window, message in self._late:
            window.send(message)
        self._late = []


def test_where_answers_come_late_a_tap_is_sent_again_late_but_it_is_sent(lot, visit):
    page = visit(PHONE).page
    line = _Line(page)
    _opened(page, lot.address)
    line.is_held = True
    _strike(page, "F5")
    page.wait_for_timeout(3000)
    line.let_go()
    all_sent(page)
    settle(page)
    before = line.newest_try
    line.is_held = True
    _strike(page, "F4")
    # As long as the last answer took, and half as long again, this one may be on its way.
    page.wait_for_timeout(4500)
    assert line.newest_try == before + 1
    until(page, lambda: line.newest_try == before + 2)
    line.let_go()
    all_sent(page)
    page.locator("button[title*='F4 is no flaw']").wait_for()


def test_what_an_undo_takes_back_is_not_said_while_the_tap_before_is_unanswered(lot, visit):
    page = visit(DESK).page
    line = _Line(page)
    _opened(page, lot.address)
    _strike(page, "F5")
    all_sent(page)
    page.locator("button[title='Undo: B01: F5 is no flaw']").wait_for()
    line.is_held = True
    _strike(page, "F4")
    page.get_by_role("button", name="Undo").click(no_wait_after=True)
    page.wait_for_timeout(300)
    # It takes back F4, of which the page has not heard yet.
    assert page.get_by_text("Taken back: B01: F5").count() == 0
    line.let_go()
    page.locator("button[title='Redo: B01: F4 is no flaw']").wait_for()
