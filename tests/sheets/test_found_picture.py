"""The picture of what was found."""

import numpy as np
import pytest

from scanner.sheets.found_picture import draw_found
from tests.common import ash_board, flat_picture, plain_board, walnut_board
from tests.sheets.golden import assert_like_golden, differing_share


@pytest.mark.parametrize(("board", "face"), [(ash_board(), 1), (walnut_board(), 2)])
def test_golden_found_picture(board, face):
    picture = draw_found(board, face, flat_picture(board, face))
    assert_like_golden(picture.resize((1000, picture.height // 2 if picture.width == 2000 else
                                       round(picture.height * 1000 / picture.width))),
                       f"found-{board.id}-{face}")  # fmt: skip


@pytest.mark.slow
def test_every_flaw_changes_the_picture():
    board = ash_board()
    picture = flat_picture(board, 1)
    whole = draw_found(board, 1, picture)
    assert len(board.flaws_on(1)) > 2
    for flaw in board.flaws_on(1):
        fewer = board.with_flaws(tuple(f for f in board.flaws if f.id != flaw.id))
        assert differing_share(whole, draw_found(fewer, 1, picture)) > 0.0005


@pytest.mark.slow
def test_marks_are_seen_on_dark_and_on_pale_wood():
    for board in (ash_board(), walnut_board()):
        picture = flat_picture(board, 1)
        bare = np.asarray(draw_found(board.with_flaws(()), 1, picture).convert("L"), np.int16)
        marked = np.asarray(draw_found(board, 1, picture).convert("L"), np.int16)
        assert np.abs(marked - bare).max() > 80


def test_a_face_without_picture_is_a_programmer_s_mistake():
    board = plain_board()
    with pytest.raises(ValueError):
        draw_found(board, 1, flat_picture(board, 1))
