"""Writing the parts list in a real browser, at a desk and on a phone."""

import re
from pathlib import Path

import pytest

from scanner.app.lot.open_lot import open_lot, parts_of
from scanner.app.lot.parts_table import COLUMNS, SHOWN
from tests.ui.conftest import DESK, PHONE

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
_PASTED = "Part\tHow many\tLength\tWidth\tThickness\tFaces\tMax knot\n" + "\n".join(
    ["rail\t2\t24 in\t2 3/4 in\t3/4 in\tboth\t", "leg\t4\t450\t40 im\t40\tsound\t6"]
)
# What a spreadsheet does to the cell under the cursor.
_PASTE = """(field, text) => {
    const clipboardData = new DataTransfer();
    clipboardData.setData("text", text);
    field.dispatchEvent(new ClipboardEvent("paste", { clipboardData, bubbles: true }));
}"""


def _open_parts(window, lot):
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(lot.address.replace("/?", "/parts?"))
    page.get_by_label("Part, row 1").wait_for()
    return page


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_pasted_list_is_marked_mended_and_kept(empty_lot, visit, size):
    page = _open_parts(visit(size), empty_lot)
    first = page.get_by_label("Part, row 1")
    first.focus()
    first.evaluate(_PASTE, _PASTED)
    # The cell under the cursor shows what was pasted as the others do.
    assert first.input_value() == "rail"
    assert page.get_by_label("max knot, row 2").input_value() == "6"
    if size is PHONE:
        page.get_by_role("button", name="2 × rail").tap()
    page.locator("td.rough output").first.get_by_text("635 \u00d7 82 mm").wait_for()
    wrong = page.get_by_label("Width, row 2")
    page.get_by_text("One cell is to mend").wait_for()
    assert wrong.get_attribute("aria-invalid") == "true"
    assert "40 im" in page.locator(f"#{wrong.get_attribute('aria-describedby')}").inner_text()
    # What was typed outlives a reload even though it cannot be kept yet.
    page.reload()
    page.get_by_text("One cell is to mend").wait_for()
    page.get_by_label("Width, row 2").fill("40 mm")
    page.get_by_text("Not kept yet.").wait_for()
    page.get_by_role("button", name="Keep this list").click()
    page.get_by_text("Kept: 6 pieces.").wait_for()
    page.reload()
    page.get_by_text("Kept: 6 pieces.").wait_for()
    lot = open_lot(empty_lot.file)
    parts = parts_of(lot)
    lot.close()
    assert [(part.name, part.quantity, part.width_mm) for part in parts] == [
        ("rail", 2, pytest.approx(69.85)),
        ("leg", 4, 40.0),
    ]


@pytest.mark.parametrize("width", [1280, 1024])
def test_a_laptop_shows_the_rough_sizes_of_a_list_with_a_furniture_makers_columns(
    empty_lot, visit, width
):
    page = _open_parts(visit(DESK), empty_lot)
    page.set_viewport_size({"width": width, "height": 720})
    columns = "\tSpecies\tSapwood\tMax knot\tPriority\tJob\tNote"
    cells = "\twhite ash\tback\t15 mm\t1.5\thall bench\tbelow the seat"
    head, rail, _ = _PASTED.replace("\tMax knot", "").split("\n")
    page.get_by_label("Part, row 1").evaluate(_PASTE, f"{head}{columns}\n{rail.rstrip()}{cells}")
    rough = page.locator("td.rough output").first
    rough.get_by_text("635 \u00d7 82 mm").wait_for()
    box, table = rough.bounding_box(), page.locator(".wide").bounding_box()
    assert box["x"] + box["width"] <= table["x"] + table["width"]
    assert page.locator(".wide").evaluate("node => node.scrollWidth <= node.clientWidth")


def test_what_each_choice_asks_of_the_faces_is_drawn_beside_its_words(empty_lot, visit):
    page = _open_parts(visit(PHONE), empty_lot)
    drawn = page.locator(".legend > div").evaluate_all("""all => all.map(one => {
        const box = one.querySelector("svg").getBoundingClientRect();
        return [one.querySelector("dt").textContent, one.querySelectorAll("rect").length,
            one.querySelectorAll("ellipse").length, one.querySelectorAll("path").length,
            box.width > 60 && box.height > 20 && one.querySelector("dd").textContent.length > 10];
    })""")
    # Front beside back; dots are knots, a corner is wane.
    assert drawn == [
        ["both", 2, 0, 0, True],
        ["show", 2, 1, 0, True],
        ["sound", 2, 3, 0, True],
        ["hidden", 2, 3, 1, True],
    ]


def test_a_row_is_typed_with_the_keyboard_alone(empty_lot, visit):
    page = _open_parts(visit(DESK), empty_lot)
    page.get_by_label("Part, row 1").focus()
    for cell in ("rail", "2", "610", "70", "19"):
        page.keyboard.type(cell)
        page.keyboard.press("Tab")
    # The first letter chooses.
    page.keyboard.type("bo")
    page.get_by_text("635 \u00d7 82 mm").wait_for()
    page.get_by_role("button", name="Keep this list").press("Enter")
    page.get_by_text("Kept: 2 pieces.").wait_for()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_a_column_is_asked_for_explained_and_kept(empty_lot, visit, size):
    page = _open_parts(visit(size), empty_lot)
    page.get_by_label("Part, row 1").evaluate(_PASTE, _PASTED.replace("40 im", "40"))
    more = page.get_by_label("Ask more of the parts")
    more.select_option("spares")
    # The cursor stands in the new column, and what it means is said.
    page.keyboard.type("1")
    page.locator(".legend dt", has_text="Spares").wait_for()
    assert "spares" not in more.locator("option").evaluate_all("all => all.map(one => one.value)")
    page.get_by_text("Not kept yet.").wait_for()
    page.get_by_role("button", name="Keep this list").click()
    page.get_by_text("Kept: 6 pieces.").wait_for()
    page.reload()
    if size is PHONE:
        page.get_by_role("button", name="2 × rail").tap()
    page.get_by_label("Spares, row 1").wait_for()
    lot = open_lot(empty_lot.file)
    assert [part.spares for part in parts_of(lot)] == [1, 0]
    lot.close()


def test_on_a_phone_a_kept_part_is_one_line_that_opens_and_closes_under_no_finger(empty_lot, visit):
    page = _open_parts(visit(PHONE), empty_lot)
    page.get_by_label("Part, row 1").evaluate(_PASTE, _PASTED.replace("40 im", "40"))
    page.get_by_role("button", name="Keep this list").tap()
    page.get_by_text("Kept: 6 pieces.").wait_for()
    lines = page.locator("button.fold")
    assert [" ".join(one.split()) for one in lines.all_inner_texts()] == [
        "2 × rail 24 in × 2 3/4 in × 3/4 in both",
        "4 × leg 450 × 40 × 40 sound",
    ]
    assert all(44 <= line.bounding_box()["height"] <= 70 for line in lines.all())
    width = page.get_by_label("Width, row 2")
    assert not width.is_visible()
    lines.nth(1).tap()
    # What is being written stays open though it has all it needs, and what is wrong cannot close.
    width.fill("42")
    page.get_by_text("Not kept yet.").wait_for()
    assert width.is_visible() and not page.get_by_label("Width, row 1").is_visible()
    width.fill("42 im")
    page.get_by_text("One cell is to mend").wait_for()
    assert lines.nth(1).is_hidden() and width.is_visible()
    width.fill("42")
    page.get_by_text("Not kept yet.").wait_for()
    lines.nth(1).tap()
    width.wait_for(state="hidden")
    assert "450 × 42 × 40" in lines.nth(1).inner_text().replace("\u00a0", " ")


def test_every_column_that_is_not_always_shown_can_be_asked_for():
    words = (Path(__file__).parents[2] / "ui" / "parts_table" / "more.js").read_text("utf-8")
    offered = set(re.findall(r"^  (\w+): \"", words, re.MULTILINE))
    # A drawing brings its own column.
    assert offered == {*COLUMNS} - {*SHOWN, "shape"}


def test_a_list_written_over_one_kept_in_another_window_says_so(empty_lot, visit):
    page = _open_parts(visit(PHONE), empty_lot)
    page.get_by_label("Part, row 1").fill("leg")
    page.get_by_text("Not kept yet.").wait_for()
    desk = _open_parts(visit(DESK), empty_lot)
    desk.get_by_label("Part, row 1").evaluate(_PASTE, _PASTED.replace("40 im", "40"))
    desk.get_by_role("button", name="Keep this list").click()
    desk.get_by_text("Kept: 6 pieces.").wait_for()
    page.get_by_text("Meanwhile the kept list changed").wait_for()
    # Over a reload, too; and the kept one is a tap away.
    page.reload()
    page.get_by_text("Meanwhile the kept list changed").wait_for()
    page.get_by_role("button", name="Back to the kept list").tap()
    page.get_by_text("Kept: 6 pieces.").wait_for()
    assert page.get_by_label("Part, row 1").input_value() == "rail"


def test_missing_cells_are_asked_for_when_the_list_is_to_be_kept(empty_lot, visit):
    page = _open_parts(visit(DESK), empty_lot)
    page.get_by_label("Part, row 1").fill("rail")
    page.get_by_text("Not kept yet.").wait_for()
    assert page.locator("[aria-invalid=true]").count() == 0
    page.get_by_role("button", name="Keep this list").click()
    page.get_by_text("5 cells are to mend").wait_for()
