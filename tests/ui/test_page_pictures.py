"""The pictures of every page in docs/pages: all there, small, and named in the guide to them."""

from PIL import Image

from tests.ui.conftest import DESK, PHONE
from tests.ui.take_pictures import MOST_BYTES, PAGES, PICTURES, guide
from ui.side_pages import SIDE_PAGES

_STEPS = ("parts", "boards", "flaws", "layout", "cut")


def test_every_page_has_its_picture_at_both_sizes():
    shown = {page.at or page.name for page in PAGES} | {page.name for page in PAGES}
    assert {"start", "help", *_STEPS, *(side.name for side in SIDE_PAGES)} <= shown
    for page in PAGES:
        for name, size in (("desk", DESK), ("phone", PHONE)):
            file = PICTURES / f"{page.name}-{name}.webp"
            assert file.stat().st_size <= MOST_BYTES, file.name
            with Image.open(file) as picture:
                assert picture.size == tuple(size["viewport"].values()), file.name
    assert sum(file.stat().st_size for file in PICTURES.iterdir()) < 1_300_000
    assert (PICTURES / "README.md").read_text("utf-8") == guide()
