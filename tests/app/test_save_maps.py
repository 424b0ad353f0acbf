"""The board maps of a lot come as one file."""

import io
import json
import zipfile

import pytest

from scanner.app.cutting.save_maps import maps_zip
from scanner.app.lot.open_lot import fill_from_results, new_stamp, open_lot
from scanner.app.nodding.review_flaws import strike
from scanner.errors import PlacementError
from scanner.storage.lots import Action
from tests.ui.made_results import write_results


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    fill_from_results(lot, write_results(tmp_path / "out"))
    yield lot
    lot.close()


@pytest.mark.slow
def test_maps_and_layout_come_in_one_file(lot):
    with zipfile.ZipFile(io.BytesIO(maps_zip(lot))) as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert archive.read("B01-map.pdf").startswith(b"%PDF")
        assert json.loads(archive.read("layout.json"))["not_looked_over"] == ["B01"]
    assert "B02-map.pdf" in names


def test_maps_of_an_old_layout_are_refused(lot):
    lot.record(Action(new_stamp(lot), "B01", "struck", lambda board: strike(board, "F5")))
    with pytest.raises(PlacementError, match="not up to date"):
        maps_zip(lot)
