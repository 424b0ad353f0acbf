"""Results become a lot; the parts list is read before it is kept."""

import pytest

from scanner.app.lot.open_lot import begin_lot, fill_from_results, open_lot, parts_of, set_parts
from scanner.errors import LotError, PartsListError
from tests import common
from tests.ui.made_results import PARTS, write_results


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


def test_a_results_folder_becomes_a_lot(lot, tmp_path):
    results = write_results(tmp_path / "out")
    assert fill_from_results(lot, results) == 2
    assert [board.id for board in lot.boards()] == ["B01", "B02"]
    assert [part.name for part in parts_of(lot)][:2] == ["rail", "seat slat"]
    saved = lot.layout()
    assert saved is not None and saved.revision == lot.revision
    assert saved.layout.summary.placed == common.small_layout().summary.placed


def test_the_lot_has_the_pictures_itself(lot, tmp_path):
    results = write_results(tmp_path / "out")
    fill_from_results(lot, results)
    picture = lot.board("B01").faces[1].picture
    assert picture is not None
    path = lot.picture(picture)
    assert path is not None
    assert path.read_bytes() == (results / "B01" / "B01-face1.jpg").read_bytes()


def test_an_empty_results_folder_gives_no_boards(lot, tmp_path):
    assert fill_from_results(lot, tmp_path / "nothing") == 0
    assert lot.boards() == ()


def test_a_parts_list_with_a_mistake_is_not_kept(lot):
    set_parts(lot, PARTS, "bench.csv")
    with pytest.raises(PartsListError):
        set_parts(lot, PARTS.replace("610", "long"), "worse.csv")
    kept = lot.parts_text()
    assert kept is not None and kept.name == "bench.csv"


def test_a_lot_takes_a_plain_name(tmp_path):
    assert begin_lot(tmp_path, "  hall   bench ") == tmp_path / "hall bench.lot"
    (tmp_path / "shelf.lot").touch()
    for name in ("../shelf", "a/b", "", " ", "x" * 61, "shelf"):
        with pytest.raises(LotError):
            begin_lot(tmp_path, name)
