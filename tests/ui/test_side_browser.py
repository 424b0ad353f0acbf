"""Pages beside the steps in a real browser: wood put together by hand, an end read off a photo."""

import io

import pytest
from PIL import Image

from scanner.app.fitting.fit_in_lot import fit_view
from scanner.app.lot.open_lot import open_lot
from tests.bench.ends_edges import END_PX_MM
from tests.render.draw_boards import draw_board
from tests.render.second_look.ends import render_end
from tests.render.second_look.side_photo import side_photo
from tests.ui.conftest import (
    DESK,
    PHONE,
    all_sent,
    at_rest,
    serious_in,
    settle,
    until,
    wider_than_screen,
)
from tests.ui.test_layout_browser import _Finger, _Mouse
from ui.side_pages import SIDE_PAGES

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_LAYOUT_MS = 240_000
_HANDS = [pytest.param(DESK, _Mouse, id="desk"), pytest.param(PHONE, _Finger, id="phone")]


def _open_side(window, lot, name):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(lot.address.replace("/?", f"/{name}?"))
    page.locator("h2").first.wait_for()
    return page


def _placed(lot, part):
    kept = open_lot(lot.file)
    try:
        placements = kept.layout().layout.placements
        return [p for p in sorted(placements, key=lambda p: p.copy) if p.part == part]
    finally:
        kept.close()


def _take_hold(page, hand, number):
    """Choose a piece and return where its middle is."""
    piece = page.locator(".piece").nth(number - 1)
    piece.evaluate("node => node.scrollIntoView({block: 'center'})")
    at_rest(piece.locator(".rim"))
    # Its picture reaches beyond it, out of sight.
    hand.tap(piece.locator(".rim"))
    page.locator(".fit .about b").get_by_text(f"{number}. ").wait_for()
    box = at_rest(piece.locator(".rim"))
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _part_shown(page):
    """Return the part that a group's pieces are copies of: "1. rail 1, B01, ..." is a rail."""
    label = page.locator(".piece").first.get_attribute("aria-label")
    return label.split(". ", 1)[1].split(",")[0].rsplit(" ", 1)[0]


def _drag(hand, start, by):
    (x, y), (dx, dy) = start, by
    hand.press(x, y)
    for step in range(1, 9):
        hand.move(x + dx * step / 8, y + dy * step / 8)


@pytest.mark.parametrize(("size", "hand"), _HANDS)
def test_pieces_are_slid_along_their_board_and_refused_with_the_reason(lot, visit, size, hand):
    window = visit(size)
    page = _open_side(window, lot, "fit")
    hand = hand(page)
    group = page.locator(".piece").first
    group.wait_for()
    title = _part_shown(page)
    before = _placed(lot, title)
    start = _take_hold(page, hand, 1)
    # Far to the right the wood goes, so the piece goes far towards end A: off its board.
    width = group.locator(".rim").bounding_box()["width"]
    _drag(hand, start, (0.45 * width, 0))
    page.locator(".fit .verdict.refused").wait_for()
    hand.lift()
    page.locator(".fit .message").get_by_text("stays where it was").wait_for()
    assert _placed(lot, title) == before
    start = _take_hold(page, hand, 1)
    _drag(hand, start, (-0.03 * width, 0))
    page.locator(".fit .verdict").get_by_text("it can be cut there").wait_for()
    hand.lift()
    moved = lambda: _placed(lot, title)[0].x_mm > before[0].x_mm + 5  # noqa: E731
    until(page, moved)
    assert window.problems == []


def test_two_pieces_change_places_by_dragging_one_onto_the_other(lot, visit):
    page = _open_side(visit(PHONE), lot, "fit")
    hand = _Finger(page)
    page.locator(".piece").first.wait_for()
    title = _part_shown(page)
    before = _placed(lot, title)
    start = _take_hold(page, hand, 1)
    other = page.locator(".piece").nth(1).locator(".rim").bounding_box()
    _drag(hand, start, (0, other["y"] + other["height"] / 2 - start[1]))
    page.locator(".fit .verdict").get_by_text("swap 1 and 2").wait_for()
    hand.lift()

    def changed():
        now = _placed(lot, title)
        return abs(now[0].y_mm - before[1].y_mm) < 40 and abs(now[1].y_mm - before[0].y_mm) < 40

    until(page, changed)


def _lies(lot, title):
    kept = open_lot(lot.file)
    try:
        return fit_view(kept, title).pieces[0].lies
    finally:
        kept.close()


def test_a_piece_is_slid_turned_and_flipped_by_its_buttons_and_one_undo_takes_each_back(lot, visit):
    window = visit(PHONE)
    page = _open_side(window, lot, "fit")
    page.locator(".piece").first.wait_for()
    title = _part_shown(page)

    def seen():
        return round(_placed(lot, title)[0].x_mm), _lies(lot, title)

    at, lay = seen()
    assert lay == "face 1 up, end A at the left"
    _take_hold(page, _Finger(page), 1)
    for _ in range(2):
        page.get_by_role("button", name="← Slide").tap()
    page.locator(".fit .verdict").get_by_text("it can be cut there").wait_for()
    page.get_by_role("button", name="Cut it there").tap()
    until(page, lambda: seen() == (at + 10, lay))
    turned, over = "face 1 up, end B at the left", "face 2 up, end B at the left"
    for button, now in (
        ("End for end", (at + 10, turned)), ("Other face up", (at + 10, over)),
        ("Undo", (at + 10, turned)), ("Undo", (at + 10, lay)), ("Undo", (at, lay)),
    ):  # fmt: skip
        # The next tap is about what the last one made.
        all_sent(page)
        settle(page)
        page.get_by_role("button", name=button, exact=True).tap()
        until(page, lambda now=now: seen() == now)
    assert window.problems == []


def test_an_end_is_photographed_tapped_and_agreed_with_on_a_phone(lot, visit, tmp_path):
    light, wood = render_end(draw_board(8004), "A", 30.0, END_PX_MM, supersample=1)
    photo = tmp_path / "end.jpg"
    corners = side_photo(light, wood, END_PX_MM, 16008, photo)
    window = visit(PHONE)
    page = _open_side(window, lot, "end_grain")
    read = page.get_by_role("button", name="Read the rings")
    read.click()
    page.get_by_text("There is no photo yet").wait_for()
    page.locator("input[type=file]").set_input_files(photo)
    svg = page.locator(".taps svg")
    svg.wait_for()
    for number, (x, y) in enumerate(corners, 1):
        page.get_by_text(f"Corner {number} of 4,").wait_for()
        # A place on the picture, not on the screen: what is told above it may come meanwhile.
        left, top = svg.evaluate(
            """(node, [x, y]) => {
              const at = new DOMPoint(x, y).matrixTransform(node.getScreenCTM());
              const box = node.getBoundingClientRect();
              return [at.x - box.x, at.y - box.y];
            }""",
            [float(x), float(y)],
        )
        svg.tap(position={"x": left, "y": top})
        page.get_by_text("tap right on it").wait_for()
        svg.tap()
    page.get_by_text("All 4 corners are set").wait_for()
    settle(page)
    # Who looks at the boards meanwhile has neither to choose nor to tap again.
    page.get_by_role("button", name="Back to Boards").tap()
    page.get_by_role("button", name="Look at an end").tap()
    page.get_by_text("Still here: end.jpg.").wait_for()
    page.get_by_text("All 4 corners are set").wait_for()
    settle(page)
    read.click()
    page.get_by_text("Do the strokes lie along the rings?").wait_for(timeout=_LAYOUT_MS)
    settle(page)
    page.get_by_role("button", name="Yes, that is right").click()
    page.get_by_text("You agreed").wait_for()
    kept = open_lot(lot.file)
    assert any(said.startswith("rings on end A") for said in kept.board("B01").notes)
    kept.close()
    assert window.problems == []


_TAP_ALL = """(photo) => {
  const {x, y, width, height} = photo.getBoundingClientRect();
  for (const [right, down] of [[0.02, 0.3], [0.65, 0.3], [0.65, 0.7], [0.02, 0.7]])
    for (let tap = 0; tap < 2; tap += 1)
      photo.dispatchEvent(new MouseEvent("click",
        {clientX: x + width * right, clientY: y + height * down}));
  [...document.querySelectorAll("button")].find((one) => one.textContent === "Read the rings")
    .click();
}"""


def test_the_button_tapped_right_after_the_last_corner_is_heard_and_the_rim_is_a_corner(lot, visit):
    """It was lost with the run that kept the corners; one tapped beside the photo was none."""
    window = visit(DESK)
    page = _open_side(window, lot, "end_grain")
    file = io.BytesIO()
    Image.new("RGB", (900, 700), "tan").save(file, "JPEG")
    end = {"name": "end.jpg", "mimeType": "image/jpeg", "buffer": file.getvalue()}
    page.locator("input[type=file]").set_input_files([end])
    photo = page.locator(".taps svg")
    photo.wait_for()
    settle(page)
    photo.evaluate(_TAP_ALL)
    page.get_by_text("Reading the rings on end A of B01").wait_for()
    page.get_by_text("All 4 corners are set").wait_for()
    assert window.problems == []


@pytest.mark.parametrize(("size", "scheme"), [(DESK, "light"), (PHONE, "dark")])
def test_no_side_page_has_a_serious_axe_finding_or_is_too_wide(lot, visit, size, scheme):
    window = visit(size, color_scheme=scheme)
    found = []
    for side in SIDE_PAGES:
        page = _open_side(window, lot, side.name)
        settle(page)
        wide = wider_than_screen(page)
        found += [(side.name, "too wide", wide)] if wide > 0 else []
        found += [(side.name, one) for one in serious_in(page)]
    assert found == []
    assert window.problems == []
