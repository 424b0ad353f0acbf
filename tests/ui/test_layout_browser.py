"""The layout taken in hand in a real browser: by mouse at a desk, by finger on a phone."""

import pytest

from scanner.app.lot.open_lot import new_stamp, open_lot, set_parts
from scanner.placement.layout import Placement
from tests.common import plain_board
from tests.lot.laid import layout_of
from tests.ui.conftest import DESK, PHONE, at_rest, settle, start_page, until

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_LAYOUT_MS = 240_000


def _open_layout(window, lot):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(lot.address.replace("/?", "/layout?"))
    page.locator(".laid").first.wait_for()
    return page


def _part(page, label):
    return page.locator(f".laid[aria-label^='{label} on']")


def _placed(lot, part, copy=1):
    kept = open_lot(lot.file)
    try:
        placements = kept.layout().layout.placements
        return next(p for p in placements if (p.part, p.copy) == (part, copy))
    finally:
        kept.close()


class _Finger:
    """Real touch events: the browser itself decides whether they scroll or carry."""

    def __init__(self, page):
        self.page = page
        self.session = page.context.new_cdp_session(page)

    def tap(self, locator):
        locator.tap(force=True)

    def press(self, x, y):
        self._send("touchStart", [{"x": x, "y": y}])

    def move(self, x, y):
        self._send("touchMove", [{"x": x, "y": y}])

    def lift(self):
        self._send("touchEnd", [])

    def _send(self, kind, points):
        self.session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


class _Mouse:
    def __init__(self, page):
        self.mouse = page.mouse

    def tap(self, locator):
        locator.click()

    def press(self, x, y):
        self.mouse.move(x, y)
        self.mouse.down()

    def move(self, x, y):
        self.mouse.move(x, y)

    def lift(self):
        self.mouse.up()


_HANDS = [pytest.param(DESK, _Mouse, id="desk"), pytest.param(PHONE, _Finger, id="phone")]


def _choose(page, hand, label):
    """Choose a part and return where on the screen it can be taken hold of."""
    part = _part(page, label)
    _bring(part)
    hand.tap(part)
    page.locator("aside .about b").get_by_text(label, exact=True).wait_for()
    # What is told of it may still move it.
    box, board = at_rest(part), _scroll_of(page, part).bounding_box()
    left, right = max(box["x"], board["x"]), min(
        box["x"] + box["width"], board["x"] + board["width"]
    )  # fmt: skip
    return (left + right) / 2, box["y"] + box["height"] / 2


def _bring(locator):
    """Scroll something to the middle of the screen, clear of the panel at its foot."""
    locator.evaluate("node => node.scrollIntoView({block: 'center', inline: 'center'})")
    at_rest(locator)


def _scroll_of(page, part):
    return page.locator(".scroll").filter(has=part)


def _on_screen(size, along, across):
    """Return a way over the wood in px right and down: on a phone boards stand upright."""
    return (-across, along) if size is PHONE else (along, across)


def _carry(hand, start, by):
    (x, y), (dx, dy) = start, by
    hand.press(x, y)
    for step in range(1, 9):
        hand.move(x + dx * step / 8, y + dy * step / 8)


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_a_part_is_carried_to_another_place_and_brought_back_by_undo(lot, visit, size, hand):
    window = visit(size)
    page = _open_layout(window, lot)
    before = _placed(lot, "cleat")
    hand = hand(page)
    start = _choose(page, hand, "cleat")
    _carry(hand, start, _on_screen(size, 30, 6))
    page.get_by_text("It may lie here.").wait_for()
    hand.lift()
    page.locator("button[title='Undo: cleat: moved']").wait_for()
    moved = _placed(lot, "cleat")
    assert moved.locked and moved.x_mm > before.x_mm + 20
    page.locator(".laid.held[aria-label^='cleat on']").wait_for(state="attached")
    page.get_by_text("being placed again").wait_for(state="detached", timeout=_LAYOUT_MS)
    page.reload()
    page.locator(".laid.held[aria-label^='cleat on']").wait_for(state="attached")
    page.get_by_role("button", name="Undo").click()
    page.locator("button[title='Redo: cleat: moved']").wait_for()
    back = _placed(lot, "cleat")
    assert (back.x_mm, back.y_mm, back.locked) == (before.x_mm, before.y_mm, False)
    assert window.problems == []


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_a_part_put_on_a_flaw_goes_back_and_the_reason_is_said(lot, visit, size, hand):
    page = _open_layout(visit(size), lot)
    before = _placed(lot, "shelf")
    hand = hand(page)
    x, y = _choose(page, hand, "shelf")
    # Far over the board's low edge: nothing within reach.
    _carry(hand, (x, y), _on_screen(size, 0, -60))
    page.get_by_text("Not here. In the way: the board's edge").wait_for()
    hand.lift()
    page.get_by_text("shelf stays where it was. In the way: the board's edge").wait_for()
    assert _placed(lot, "shelf") == before


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_a_part_is_held_and_let_go(lot, visit, size, hand):
    page = _open_layout(visit(size), lot)
    hand = hand(page)
    _choose(page, hand, "rail 1")
    hand.tap(page.get_by_role("button", name="Hold here"))
    page.locator(".laid.held[aria-label^='rail 1 on']").wait_for(state="attached")
    page.locator("button[title='Undo: rail 1: to stay where it lies']").wait_for()
    assert _placed(lot, "rail").locked
    hand.tap(page.get_by_role("button", name="Let go"))
    page.locator("button[title='Undo: rail 1: free to move']").wait_for()
    assert not _placed(lot, "rail").locked


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_two_parts_change_places(lot, visit, size, hand):
    page = _open_layout(visit(size), lot)
    hand = hand(page)
    rail, cleat = _placed(lot, "rail", 2), _placed(lot, "rail", 1)
    _choose(page, hand, "rail 1")
    hand.tap(page.get_by_role("button", name="Swap"))
    page.get_by_text("Tap the part to swap it with.").wait_for()
    _bring(_part(page, "rail 2"))
    hand.tap(_part(page, "rail 2"))
    page.locator("button[title='Undo: rail 1 swapped with rail 2']").wait_for()
    one, two = _placed(lot, "rail", 1), _placed(lot, "rail", 2)
    assert (one.x_mm, one.y_mm) == pytest.approx((rail.x_mm, rail.y_mm), abs=30)
    assert (two.x_mm, two.y_mm) == pytest.approx((cleat.x_mm, cleat.y_mm), abs=30)


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_a_part_is_kept_off_a_board_and_let_on_again(lot, visit, size, hand):
    page = _open_layout(visit(size), lot)
    hand = hand(page)
    _choose(page, hand, "cleat")
    hand.tap(page.locator(".more summary"))
    hand.tap(page.get_by_role("button", name="Not from B01"))
    page.get_by_text("cleat: not from B01").wait_for(state="attached")
    missing = page.get_by_text("2 parts not placed, and why")
    missing.wait_for(timeout=_LAYOUT_MS)
    _bring(missing)
    hand.tap(missing)
    page.get_by_text("1 × cleat not placed").wait_for()
    again = page.get_by_role("button", name="Let cleat onto B01 again")
    hand.tap(again)
    page.locator("button[title='Undo: cleat let onto B01']").wait_for()
    # The layout of before holds again, without a search.
    _part(page, "cleat").wait_for(state="attached", timeout=_LAYOUT_MS)


def _sliced_doors(lot):
    """Lay a pair of doors, two slices of one blank, on a thick board of an empty lot."""
    kept = open_lot(lot.file)
    kept.save_board(plain_board("B01", 900.0, 190.0, 52.0), new_stamp(kept))
    row = "door,2,400,120,12,show,doors:bookmatch"
    set_parts(kept, f"name,quantity,length,width,thickness,faces,match\n{row}\n", "parts.csv")
    doors = tuple(
        Placement("door", n, "B01", 60.0, 5.0, 425.0, 132.0, show_face=1, layer=n) for n in (1, 2)
    )
    kept.save_layout(layout_of(*doors), kept.revision)
    kept.close()


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_of_slices_over_each_other_both_are_named_and_a_second_tap_takes_the_lower(
    empty_lot, visit, size, hand
):
    _sliced_doors(empty_lot)
    page = _open_layout(visit(size), empty_lot)
    written = page.locator(".laid text").all_text_contents()
    assert [text for text in written if text] == ["door 1 + door 2 (resaw)"]
    hand, upper, chosen = hand(page), _part(page, "door 2"), page.locator("aside .about b")
    for name, below in (("door 2", "door 1"), ("door 1", "door 2")):
        _bring(upper)
        hand.tap(upper)
        chosen.get_by_text(name, exact=True).wait_for()
        hint = page.locator("aside .hint")
        assert f"{below} is resawn from the same blank" in hint.inner_text()
        # In sight with More open, too.
        assert hint.bounding_box()["y"] < page.locator("aside .more").bounding_box()["y"]
        # Two taps in a row zoom in on a phone.
        page.wait_for_timeout(400)


def test_the_keyboard_carries_a_part_as_well(lot, visit):
    page = _open_layout(visit(DESK), lot)
    before = _placed(lot, "cleat")
    _part(page, "cleat").focus()
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.get_by_text("It may lie here.").wait_for()
    page.keyboard.press("Enter")
    page.locator("button[title='Undo: cleat: moved']").wait_for()
    assert _placed(lot, "cleat").x_mm == pytest.approx(before.x_mm + 20, abs=1)


def test_a_slice_that_is_carried_takes_its_blank_along(empty_lot, visit):
    _sliced_doors(empty_lot)
    page = _open_layout(visit(DESK), empty_lot)
    _part(page, "door 2").focus()
    page.keyboard.press("Enter")
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.get_by_text("It may lie here.").wait_for()
    page.keyboard.press("Enter")
    page.locator("button[title='Undo: door 2: moved']").wait_for()
    one, two = (_placed(empty_lot, "door", n) for n in (1, 2))
    assert (one.x_mm, one.y_mm) == (two.x_mm, two.y_mm) and one.x_mm > 60.0
    written = page.locator(".laid text").all_text_contents()
    assert [text for text in written if text] == ["door 1 + door 2 (resaw)"]


def test_a_swipe_over_the_boards_scrolls_and_moves_no_part(lot, visit):
    page = _open_layout(visit(PHONE), lot)
    before = _placed(lot, "shelf")
    finger = _Finger(page)
    _bring(_part(page, "shelf"))
    scrolled = "() => document.querySelector('[data-testid=stMain]').scrollTop"
    was = page.evaluate(scrolled)
    box = at_rest(_part(page, "shelf"))
    _carry(finger, (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2), (0, -180))
    finger.lift()
    until(page, lambda: page.evaluate(scrolled) > was + 60)
    assert _placed(lot, "shelf") == before


def test_boards_stand_upright_on_a_phone_and_nothing_scrolls_sideways(lot, visit):
    page = _open_layout(visit(PHONE), lot)
    settle(page)
    for board in page.locator(".tool .scroll").all():
        wide, room = board.evaluate("node => [node.scrollWidth, node.clientWidth]")
        box = board.bounding_box()
        assert wide <= room + 1 and box["height"] > 2 * box["width"]
        assert box["x"] >= 0 and box["x"] + box["width"] <= PHONE["viewport"]["width"]


def test_a_search_is_watched_and_stopped_and_its_best_is_kept(lot, visit):
    page = _open_layout(visit(DESK), lot)
    page.get_by_role("button", name="Improve while I watch").click()
    page.get_by_text("parts placed on").and_(page.get_by_text("Improving")).wait_for(
        timeout=_LAYOUT_MS
    )
    page.get_by_role("button", name="Stop, keep the best").click()
    page.get_by_role("button", name="Improve while I watch").wait_for(timeout=_LAYOUT_MS)

    def is_kept():
        kept = open_lot(lot.file)
        try:
            return kept.layout_revision() == kept.revision
        finally:
            kept.close()

    until(page, is_kept)


def test_a_move_made_while_the_program_was_away_arrives(own_page, visit):
    page = visit(DESK).page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(own_page.address)
    page.get_by_role("button", name="Open the sample lot").click()
    page.locator(".road button").filter(has_text="Layout").click()
    page.locator(".laid").first.wait_for()
    settle(page)
    hand = _Mouse(page)
    start = _choose(page, hand, "cleat")
    own_page.stop()
    _carry(hand, start, (30, 6))
    hand.lift()
    port = own_page.address.rsplit(":", 1)[1]
    own_page.process = start_page(own_page.home, "--port", port).process
    page.reload()
    page.locator("button[title='Undo: cleat: moved']").wait_for(timeout=_LAYOUT_MS)
