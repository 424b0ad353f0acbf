"""Labels in a row never touch."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.sheets.labels import spread


def test_labels_with_room_stay_at_their_places():
    assert spread([50.0, 150.0, 250.0], [20.0] * 3, 0.0, 300.0) == [50.0, 150.0, 250.0]


def test_two_that_press_move_apart_evenly():
    assert spread([100.0, 102.0], [20.0, 20.0], 0.0, 300.0, 4.0) == pytest.approx([89.0, 113.0])


def test_labels_at_the_rim_stay_inside():
    assert spread([2.0, 298.0], [20.0, 20.0], 0.0, 300.0) == [10.0, 290.0]


def test_labels_for_which_the_row_is_too_short_stand_at_even_steps():
    assert spread([5.0, 6.0, 7.0], [20.0] * 3, 0.0, 60.0) == [10.0, 30.0, 50.0]


def test_no_labels_need_no_places():
    assert spread([], [], 0.0, 10.0) == []


@pytest.mark.slow
@given(
    st.lists(st.tuples(st.floats(0, 1000), st.floats(5, 60)), min_size=1, max_size=14).map(sorted)
)
def test_labels_never_touch_nor_leave_the_row_nor_change_order(labels):
    wanted, widths = [x for x, _ in labels], [w for _, w in labels]
    centres = spread(wanted, widths, 0.0, 1000.0, 3.0)
    lefts = [c - w / 2 for c, w in zip(centres, widths, strict=True)]
    rights = [c + w / 2 for c, w in zip(centres, widths, strict=True)]
    assert min(lefts) >= -1e-6 and max(rights) <= 1000 + 1e-6
    assert all(r + 3.0 <= left + 1e-6 for r, left in zip(rights, lefts[1:], strict=False))
