import cv2
import numpy as np
import pytest

from scanner.vision.cv import pieces_in
from scanner.vision.grain import carried_out, masked_blur
from scanner.vision.rim import parts_round, share_over


def bowed_board(rows=90, columns=260):
    y, x = np.indices((rows, columns))
    bow = 6.0 * (2.0 * x / columns - 1.0) ** 2
    return (y > 12 + bow) & (y < rows - 18 + bow) & (x > 9 + 0.05 * y) & (x < columns - 11)


def with_gap(there):
    there = there.copy()
    there[40:50, 100:110] = False
    return there


@pytest.mark.parametrize(
    "there", [bowed_board(), with_gap(bowed_board()), np.zeros((20, 30), bool)]
)
def test_the_parts_round_a_board_hold_every_place_off_it_once(there):
    held = np.zeros(there.shape, int)
    for part, inner in parts_round(there, (7, 5)):
        held[part][inner] += 1
    assert held.max() == 1
    assert (held[~there] == 1).all()


def test_strips_along_the_rim_spare_most_of_a_board():
    there = bowed_board(300, 1200)
    size = sum(there[part].size for part, _ in parts_round(there, (7, 7)))
    assert size < 0.4 * there.size


@pytest.mark.parametrize("there", [bowed_board(), with_gap(bowed_board())])
def test_wood_carried_out_along_the_rim_is_as_over_the_whole_map(there):
    values = np.random.default_rng(1).random((*there.shape, 2), dtype=np.float32)
    carried = carried_out(values, there, 3.0)
    for channel in range(2):
        mean = masked_blur(values[..., channel], there.astype(np.float32), 3.0, 3.0)
        assert np.allclose(carried[..., channel][~there], mean[~there], atol=1e-5)
    assert (carried[there] == values[there]).all()


def test_what_lies_far_enough_inside_has_all_its_share_over_the_board():
    there = bowed_board()
    share = cv2.GaussianBlur(there.astype(np.float32), (0, 0), 9.0, sigmaY=4.0)
    assert (share_over(there.astype(np.float32), (9.0, 4.0), 0.2) == (share > 0.2)).all()


@pytest.mark.parametrize("share", [0.01, 0.04, 0.3])
@pytest.mark.parametrize("connectivity", [4, 8])
def test_pieces_have_the_boxes_that_the_slow_way_gives_them(share, connectivity):
    where = (np.random.default_rng(2).random((60, 200)) < share).astype(np.uint8)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(where, connectivity=connectivity)
    found, boxes = pieces_in(where, connectivity)
    assert (found == labels).all()
    assert (boxes[1:] == stats[1:]).all()


def test_an_empty_map_has_no_pieces():
    assert pieces_in(np.zeros((5, 5), np.uint8), 8)[1].shape == (1, 5)
