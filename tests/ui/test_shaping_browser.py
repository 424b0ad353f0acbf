"""Drawing and mending flaws in a real browser, with mouse and with fingers."""

import pytest
from shapely.geometry import Polygon

from scanner.app.lot.open_lot import open_lot
from scanner.board.flaw import FlawKind, FlawState
from tests.ui.conftest import DESK, PHONE, at_rest, until

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000


class _Hand:
    """A mouse or a finger on the loupe, which counts what it does."""

    def __init__(self, page, is_touch):
        self.page, self.is_touch, self.taps = page, is_touch, 0

    def on(self, name):
        self.taps += 1
        target = self.page.get_by_role("button", name=name, exact=True)
        target.tap() if self.is_touch else target.click()

    def at(self, x, y):
        """Tap on a place of the window, in shares of it."""
        self.taps += 1
        loupe = self.page.locator(".loupe")
        box = at_rest(loupe)
        on_it = {"position": {"x": x * box["width"], "y": y * box["height"]}}
        loupe.tap(**on_it) if self.is_touch else loupe.click(**on_it)

    def more(self):
        self.taps += 1
        more = self.page.locator("summary", has_text="Draw and mend")
        more.tap() if self.is_touch else more.click()


def _open(visit, lot, size):
    page = visit(size).page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(lot.address)
    page.get_by_role("button", name="Yes, a flaw").wait_for()
    return page, _Hand(page, size is PHONE)


def _kept(lot, name):
    kept = open_lot(lot.file)
    try:
        return next(flaw for flaw in kept.board("B01").flaws if flaw.id == name)
    finally:
        kept.close()


def _undo_title(page, words):
    page.locator(f"button[title*='{words}']").wait_for()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_flaw_is_drawn_with_seven_taps(lot, visit, size):
    page, hand = _open(visit, lot, size)
    hand.more()
    hand.on("Draw a flaw")
    view = [float(value) for value in page.locator(".loupe").get_attribute("viewBox").split()]
    for x, y in ((0.3, 0.6), (0.5, 0.6), (0.5, 0.75), (0.3, 0.75)):
        hand.at(x, y)
    until(page, lambda: page.locator(".edit .corner").count() == 4)
    hand.on("Done")
    assert hand.taps == 7
    _undo_title(page, "a flaw drawn")
    flaw = _kept(lot, "F6")
    assert flaw.state is FlawState.ADDED and flaw.kind is FlawKind.KNOT
    x0, _, x1, _ = flaw.outlines[1].bounds
    # On a phone the board stands upright: along it is down the screen.
    begin, room, low, high = view[0], view[2], 0.3, 0.5
    if size is PHONE:
        begin, room, low, high = view[1], view[3], 0.6, 0.75
    assert x0 == pytest.approx(begin + low * room, abs=0.02 * room)
    assert x1 == pytest.approx(begin + high * room, abs=0.02 * room)
    page.reload()
    page.locator(".list button").filter(has_text="F6").wait_for()


def test_a_corner_is_dragged_and_undo_brings_it_back(lot, visit):
    page, hand = _open(visit, lot, DESK)
    before = _kept(lot, "F5").outlines[1]
    page.locator(".list button").filter(has_text="F5").click()
    hand.more()
    hand.on("Reshape")
    corner = at_rest(page.locator(".edit .corner").first)
    x, y = corner["x"] + corner["width"] / 2, corner["y"] + corner["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 90, y, steps=6)
    page.mouse.up()
    hand.on("Done")
    _undo_title(page, "Undo: B01: F5 reshaped")
    after = _kept(lot, "F5")
    assert after.state is FlawState.CONFIRMED
    assert not after.outlines[1].equals(before)
    page.get_by_role("button", name="Undo").click()
    _undo_title(page, "Redo: B01: F5 reshaped")
    assert _kept(lot, "F5").outlines[1].equals(before)


def test_a_reload_in_the_middle_of_a_drag_leaves_what_was_kept(lot, visit):
    page, hand = _open(visit, lot, DESK)
    page.locator(".list button").filter(has_text="F5").click()
    page.keyboard.press("k")
    _undo_title(page, "F5 kept as a flaw")
    before = _kept(lot, "F5")
    hand.more()
    hand.on("Reshape")
    corner = at_rest(page.locator(".edit .corner").first)
    page.mouse.move(corner["x"] + 5, corner["y"] + 5)
    page.mouse.down()
    page.mouse.move(corner["x"] + 60, corner["y"] + 30, steps=4)
    page.reload()
    page.get_by_role("button", name="Undo").wait_for()
    after = _kept(lot, "F5")
    assert after.state is FlawState.CONFIRMED and after.outlines[1].equals(before.outlines[1])


def test_a_flaw_is_divided_joined_again_renamed_and_a_drawn_one_deleted(lot, visit):
    page, hand = _open(visit, lot, DESK)
    page.locator(".list button").filter(has_text="F5").click()
    hand.more()
    hand.on("Divide in two")
    hand.at(0.5, 0.15)
    hand.at(0.5, 0.85)
    _undo_title(page, "Undo: B01: F5 divided")
    page.locator(".list button").filter(has_text="F6").wait_for()
    page.locator(".list button").filter(has_text="F5").click()
    hand.more()
    hand.on("Join with another")
    mark = page.locator(".loupe [data-flaw='F6'] .halo")
    at_rest(mark)
    mark.click(force=True)
    _undo_title(page, "Undo: B01: F6 joined with F5")
    page.locator(".list button").filter(has_text="F6").wait_for(state="detached")
    hand.more()
    page.get_by_label("Kind of this flaw").select_option("pitch")
    _undo_title(page, "F5 is of another kind")
    assert _kept(lot, "F5").kind is FlawKind.PITCH


def test_the_other_face_lies_where_it_is_behind_this_one(lot, visit):
    page, hand = _open(visit, lot, DESK)
    hand.on("Lay face 2 over face 1")
    page.locator(".joined .outline.beyond").wait_for(state="attached")
    kept = open_lot(lot.file)
    board = kept.board("B01")
    kept.close()
    # Stored as seen through the board, so a flaw of face 2 lies there as it is stored.
    shapes = [flaw.outlines[2] for flaw in board.flaws if 2 in flaw.outlines]
    drawn = page.locator(".joined .beyond polygon.line").evaluate_all(
        "all => all.map(one => one.getAttribute('points'))"
    )
    assert len(drawn) == len(shapes) > 0
    for points, shape in zip(drawn, shapes, strict=True):
        ring = [tuple(float(value) for value in point.split(",")) for point in points.split()]
        assert Polygon(ring).symmetric_difference(shape).area < 0.02 * shape.area
    through = [flaw for flaw in board.flaws if {1, 2} <= set(flaw.outlines)]
    assert page.locator(".joined .passage").count() == len(through) > 0
    # The other way round, and away again.
    page.locator(".strip").nth(1).click()
    hand.on("Lay face 1 over face 2")
    page.locator(".joined").wait_for(state="detached")


def test_a_board_with_ten_candidates_takes_fewer_than_twelve_taps(lot, visit):
    # One tap a candidate and one for both faces: none is lost to a question or to waiting.
    from dataclasses import replace

    from scanner.app.lot.open_lot import new_stamp
    from scanner.storage.lots import Action
    from tests import common

    def ten(board):
        spots = [common.ellipse(150 + 200 * at, 60, 12, 6) for at in range(10)]
        model = board.flaws[0]
        return board.with_flaws(
            tuple(
                replace(model, id=f"F{at + 1}", outlines={1 + at % 2: spot}, is_through=False)
                for at, spot in enumerate(spots)
            )
        )

    kept = open_lot(lot.file)
    kept.record(Action(new_stamp(kept), "B01", "ten flaws", ten))
    kept.close()
    page, _ = _open(visit, lot, PHONE)
    main = page.locator(".bar .main:visible")
    for _ in range(11):
        main.tap()
    page.get_by_text("2 of 2 boards looked over").wait_for()


def test_a_flaw_is_drawn_round_in_one_stroke(lot, visit):
    page, hand = _open(visit, lot, DESK)
    view = page.locator(".loupe").get_attribute("viewBox")
    hand.more()
    hand.on("Draw a flaw")
    box = at_rest(page.locator(".loupe"))
    x, y = box["x"] + 0.4 * box["width"], box["y"] + 0.6 * box["height"]
    page.get_by_text("A new flaw on face 1").first.wait_for()
    page.mouse.move(x, y)
    # Only the main button draws: another one asks the browser for its list.
    page.mouse.down(button="right")
    for across, down in ((90, 0), (90, 60), (0, 60)):
        page.mouse.move(x + across, y + down, steps=8)
    page.mouse.up(button="right")
    assert page.locator(".edit .corner").count() == 0
    page.mouse.move(x, y)
    page.mouse.down()
    for across, down in ((90, 0), (90, 60), (0, 60), (0, 5)):
        page.mouse.move(x + across, y + down, steps=8)
    page.mouse.up()
    until(page, lambda: page.locator(".edit .corner").count() >= 4)
    # What draws does not move the picture.
    assert page.locator(".loupe").get_attribute("viewBox") == view
    hand.on("Done")
    _undo_title(page, "a flaw drawn")
    mm_per_px = float(view.split()[2]) / box["width"]
    drawn = _kept(lot, "F6").outlines[1]
    assert drawn.area == pytest.approx(90 * 60 * mm_per_px**2, rel=0.15)
