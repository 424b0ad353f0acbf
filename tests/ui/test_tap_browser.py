"""A rule tapped on its corners in a real browser, and a warp measured by the drawings."""

import io

import pytest
from PIL import Image, ImageDraw, ImageFilter

from tests.ui.conftest import DESK, PHONE, settle

pytestmark = [pytest.mark.browser, pytest.mark.slow]

_PATIENCE_MS = 120_000
# A 36 x 1 1/4 in rule at 1 mm a pixel, slightly turned, on a darker floor.
_CORNERS = ((620.0, 700.0), (619.0, 732.0), (1533.0, 760.0), (1534.0, 728.0))


def _photo_with_rule():
    large = Image.new("RGB", (4000, 3000), (96, 84, 72))
    ImageDraw.Draw(large).polygon([(2 * x, 2 * y) for x, y in _CORNERS], fill=(214, 210, 196))
    photo = large.resize((2000, 1500), Image.Resampling.BOX)
    file = io.BytesIO()
    photo.filter(ImageFilter.GaussianBlur(0.8)).save(file, "JPEG", quality=92)
    return file.getvalue()


def _tap_corner(page, number, corner):
    """Tap near a corner to look close, then on it; each tap is waited for."""
    svg = page.locator(".taps svg")
    hint = page.locator(".taps .hint")
    done = f"Corner {number + 1} of 4," if number < 4 else "All 4 corners are set"
    for near, said in ((12, "tap right on it"), (3, done)):
        box = svg.bounding_box()
        x, y, width, height = (float(one) for one in svg.get_attribute("viewBox").split())
        scale = min(box["width"] / width, box["height"] / height)
        # A place on the picture, not on the screen: what is told above it may come meanwhile.
        at = {
            "x": (box["width"] - width * scale) / 2 + (corner[0] + near - x) * scale,
            "y": (box["height"] - height * scale) / 2 + (corner[1] - near - y) * scale,
        }
        svg.click(position=at)
        hint.get_by_text(said).wait_for()


@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
def test_four_rough_taps_are_moved_onto_the_rule(empty_lot, visit, size):
    window = visit(size)
    page = window.page
    page.set_default_timeout(_PATIENCE_MS)
    page.goto(empty_lot.address.replace("/?", "/boards?"))
    photo = {"mimeType": "image/jpeg", "buffer": _photo_with_rule()}
    # Another field of the page takes a list of boards.
    field = page.get_by_test_id("stFileUploader").filter(has_text="Photos of face 1")
    field.locator("input[type=file]").set_input_files(
        [photo | {"name": "front.jpg"}, photo | {"name": "back.jpg"}]
    )
    page.get_by_text("Board 1: face 1 front.jpg, face 2 back.jpg").wait_for()
    # Until the page has run to its end it shows what it is about to take away as well.
    settle(page)
    page.get_by_role("radiogroup").get_by_text("a plain rule").click()
    page.get_by_text("Tap the rule's corners on the photos").wait_for()
    settle(page)
    page.get_by_text("Tap the rule's corners on the photos").click()
    page.locator(".taps svg").wait_for()
    for number, corner in enumerate(_CORNERS, 1):
        _tap_corner(page, number, corner)
    page.get_by_text("The corners were moved onto the rule").wait_for()
    drawn = page.locator(".taps polygon.line").get_attribute("points").split()
    found = [tuple(float(one) for one in point.split(",")) for point in drawn]
    for (x, y), (true_x, true_y) in zip(found, _CORNERS, strict=True):
        # The rule lies nearly along x: its long edges are found to a pixel, its ends less well.
        assert abs(y - true_y) < 1.5 and abs(x - true_x) < 10
    # The other photo comes next, and what was set on this one stays.
    settle(page)
    page.get_by_role("button", name="On to face 2, back.jpg").click()
    page.get_by_text("Corner 1 of 4").wait_for()
    page.get_by_text("corners set").wait_for()
    settle(page)
    page.get_by_role("radiogroup").get_by_text("face 1, front.jpg").click()
    page.get_by_text("All 4 corners are set").wait_for()
    assert page.locator(".taps polygon.line").get_attribute("points").split() == drawn
    assert window.problems == []
