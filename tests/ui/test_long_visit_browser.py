"""Nothing said is lost: 120 flaws, a hidden tab, a reload in the same moment, a dropped network."""

import itertools
from dataclasses import replace

import pytest

from scanner.app.lot.open_lot import fill_from_results, open_lot
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.storage.journal import Stamp
from scanner.storage.lots import Action
from tests import common
from tests.ui.conftest import DESK, PHONE, LotOnPage, all_sent, until

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_MANY = 120
_numbers = itertools.count(1)


def _open(window, address):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(address)
    page.get_by_role("button", name="Yes, a flaw").wait_for()
    return page


def _states(file):
    kept = open_lot(file)
    try:
        return {flaw.id: flaw.state for flaw in kept.board("B01").flaws}
    finally:
        kept.close()


def _row(page, flaw):
    return page.locator(".list button").filter(has=page.get_by_text(flaw, exact=True))


@pytest.fixture
def crowded(running):
    """A lot whose ash board has 120 possible flaws."""
    # The page keeps a lot open: each test has a file of its own.
    file = running.home / f"crowded-{next(_numbers)}.lot"
    lot = open_lot(file)
    fill_from_results(lot, running.home / "results")

    def with_many(board):
        knots = (common.ellipse(30 + 19.5 * n, 40 + 60 * (n % 3), 6, 5) for n in range(_MANY))
        flaws = tuple(
            Flaw(f"F{n}", FlawKind.KNOT, {1: knot, 2: knot}, None, True, None,
                 FlawState.POSSIBLE, 0.5 + n / 1000, "dark round spot", 1.0)
            for n, knot in enumerate(knots, 1)
        )  # fmt: skip
        return replace(board, flaws=flaws)

    lot.record(Action(Stamp("many-1", lot.revision, "test"), "B01", "many flaws", with_many))
    lot.close()
    return LotOnPage(file, f"{running.address}/flaws?lot={file.stem}")


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_board_with_120_flaws_is_walked_through_and_every_tap_arrives(crowded, visit, size):
    window = visit(size)
    page = _open(window, crowded.address)
    page.get_by_text(f"Flaws found: {_MANY}, {_MANY} open").wait_for()
    assert page.locator(".list li").count() == _MANY
    for _ in range(10):
        # One after the other, none waits for the server.
        page.get_by_role("button", name="Not a flaw").click(no_wait_after=True)
    page.get_by_text(f"Flaws found: {_MANY}, {_MANY - 10} open").wait_for()
    all_sent(page)
    struck = [state for state in _states(crowded.file).values() if state is FlawState.STRUCK]
    assert len(struck) == 10
    # The list shows where the walk is.
    if size is DESK:
        row, rows = page.locator(".list [aria-current]"), page.locator(".list")

        def is_in_sight():
            top, frame = row.bounding_box(), rows.bounding_box()
            below = frame["y"] + frame["height"]
            return frame["y"] <= top["y"] and top["y"] + top["height"] <= below

        until(page, is_in_sight)
    assert window.problems == []


def test_a_tab_that_was_hidden_and_frozen_sends_what_was_said_in_it(lot, visit):
    hidden = _open(visit(PHONE), lot.address)
    _row(hidden, "F5").click()
    # Taps in the very turn in which the phone puts the page to sleep.
    session = hidden.context.new_cdp_session(hidden)
    hidden.get_by_role("button", name="Not a flaw").click(no_wait_after=True)
    session.send("Page.setWebLifecycleState", {"state": "frozen"})
    other = _open(visit(DESK), lot.address)
    _row(other, "F4").click()
    other.get_by_role("button", name="Not a flaw").click()
    other.locator("button[title*='F4 is no flaw']").wait_for()
    session.send("Page.setWebLifecycleState", {"state": "active"})
    hidden.locator(".list em").get_by_text("no flaw").nth(0).wait_for()
    _row(hidden, "F1").click()
    hidden.get_by_role("button", name="Not a flaw").click()
    hidden.locator("button[title*='F1 is no flaw']").wait_for()
    states = _states(lot.file)
    assert {states[name] for name in ("F1", "F4", "F5")} == {FlawState.STRUCK}


def test_a_tap_in_the_moment_of_a_reload_is_kept_over_it(lot, visit):
    page = _open(visit(PHONE), lot.address)
    _row(page, "F5").click()
    # Both in one turn of the browser: nothing was sent yet when the page goes.
    page.evaluate("""() => {
        const inside = (name) => [...document.querySelectorAll("*")]
            .map((node) => node.shadowRoot?.querySelector(name)).find(Boolean);
        [...inside(".bench").querySelectorAll("button")]
            .find((node) => node.textContent === "Not a flaw").click();
        location.reload();
    }""")
    page.locator("button[title*='F5 is no flaw']").wait_for()
    assert _states(lot.file)["F5"] is FlawState.STRUCK


class _Network:
    """The way between a page and its program, which can be cut."""

    def __init__(self, page):
        self.is_down, self.sockets = False, []
        page.route_web_socket("**/_stcore/stream", self._open)

    def _open(self, socket):
        if self.is_down:
            socket.close()
            return
        socket.connect_to_server()
        self.sockets.append(socket)

    def cut(self):
        self.is_down = True
        for socket in self.sockets:
            socket.close()
        self.sockets = []

    def mend(self):
        self.is_down = False


def test_what_was_said_while_the_network_was_down_arrives(lot, visit):
    window = visit(PHONE)
    network = _Network(window.page)
    page = _open(window, lot.address)
    for flaw in ("F5", "F4"):
        network.cut()
        _row(page, flaw).click()
        page.get_by_role("button", name="Not a flaw").dispatch_event("click")
        assert "no flaw" in _row(page, flaw).inner_text()
        network.mend()
        page.locator(f"button[title*='{flaw} is no flaw']").wait_for()
    states = _states(lot.file)
    assert states["F5"] is states["F4"] is FlawState.STRUCK
