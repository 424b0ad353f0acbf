"""Three boards of a lot against the tape: what the page says of a phone's lengths."""

from dataclasses import replace

import numpy as np
import pytest

from scanner.app.lot.open_lot import new_stamp, open_lot
from scanner.app.lot.tape_board import tape_board
from scanner.app.lot.trust_test import PHONES, trust_test
from scanner.board.measured import Measured
from scanner.files.camera_profiles import PhoneProfile, write_profiles
from scanner.vision.evidence.lens_evidence import LensEvidence, Phone
from tests import common


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    for id in ("B01", "B02", "B03", "B04"):
        board = replace(common.ash_board(), id=id, length=Measured(2440.0, 4.0))
        lot.save_board(board, new_stamp(lot))
    lot.folder.mkdir(exist_ok=True)
    lens = LensEvidence(Phone("Maker Phone 7", 26, (4032, 3024)), np.eye(4), np.zeros(4))
    write_profiles(lot.folder / PHONES, [PhoneProfile(lens, ("B01", "B02", "B03"))])
    yield lot
    lot.close()


def test_three_boards_that_hold_are_said_to_hold(lot):
    assert trust_test(lot).lines == ()
    for id in ("B01", "B02", "B03"):
        assert not trust_test(lot).is_enough
        tape_board(lot, id, "2441 mm")
    test = trust_test(lot)
    assert test.is_enough and len(test.lines) == 3
    assert test.verdict == "U held on all 3 boards taped so far with Maker Phone 7."


def test_a_board_that_does_not_hold_is_named(lot):
    tape_board(lot, "B02", "2460 mm")
    assert "U did not hold on B02 (0 of 1 held" in trust_test(lot).verdict


def test_a_taping_taken_back_counts_no_more(lot):
    tape_board(lot, "B01", "2441 mm")
    lot.undo(new_stamp(lot, "page"))
    assert trust_test(lot).lines == ()


def test_a_board_that_no_phone_scanned_proves_nothing(lot):
    tape_board(lot, "B04", "2441 mm")
    assert trust_test(lot).lines == ()


def test_a_lot_of_typed_boards_has_no_test(lot):
    (lot.folder / PHONES).unlink()
    tape_board(lot, "B01", "2441 mm")
    assert trust_test(lot) is None
