"""Lots that several errands are tried on: empty, and with parts placed on a board."""

from dataclasses import replace

import pytest

from scanner.app.lot import add_board as errand
from scanner.app.lot.open_lot import new_stamp, open_lot, set_parts
from scanner.app.scanning.scan_board import ScanResult
from tests import common
from tests.app.placed_lot import KNOT, PARTS, PLACED
from tests.lot.laid import layout_of


@pytest.fixture
def empty_lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


@pytest.fixture
def placed_lot(empty_lot):
    empty_lot.save_board(common.plain_board().with_flaws((KNOT,)), new_stamp(empty_lot))
    set_parts(empty_lot, PARTS, "parts.csv")
    empty_lot.save_layout(layout_of(*PLACED), empty_lot.revision)
    return empty_lot


@pytest.fixture
def scanned(monkeypatch):
    """Stand in for the scan (it has tests of its own): the drawn ash board, whatever is asked."""
    requests = []

    def scan(request, folder, progress):
        requests.append(request)
        board = common.ash_board(request.id)
        photos = {1: request.photos_1, 2: request.photos_2}
        for number in board.faces:
            common.flat_picture(board, number).save(folder / f"{request.id}-face{number}.jpg")
        faces = {
            number: replace(face, photos=tuple(path.name for path in photos[number]))
            for number, face in board.faces.items()
        }
        note = f"face 1: {request.photos_1[0].name} is a little dark"
        return ScanResult(replace(board, faces=faces, notes=(note,)), folder, ())

    monkeypatch.setattr(errand, "scan_board", scan)
    return requests
