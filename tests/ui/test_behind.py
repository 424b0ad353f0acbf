"""A page knows when its road tells less of the layout than there is."""

from types import SimpleNamespace

from scanner.app.lot.open_lot import new_stamp
from scanner.app.showing.page_state import lot_view
from scanner.storage.lots import Lot
from tests.common import plain_board, small_layout
from ui.frame import OpenPage


def test_a_page_is_behind_once_a_layout_came_after_its_road_was_drawn(tmp_path):
    lot = Lot(tmp_path / "bench.lot")
    lot.save_board(plain_board(), new_stamp(lot))
    page = OpenPage(SimpleNamespace(lot=lot), lot_view(lot))
    assert not page.is_behind()
    lot.save_layout(small_layout(), lot.revision)
    assert page.is_behind()
    assert not OpenPage(page.desk, lot_view(lot)).is_behind()
