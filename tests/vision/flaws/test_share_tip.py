import numpy as np
import pytest

from scanner.vision.flaws.share_tip import tip_by_share


def along(*pieces, length_mm=500):
    """Return shares in steps of 1 mm: (from, to, share), none elsewhere."""
    share = np.full(length_mm, 0.01, np.float32)
    for low, high, value in pieces:
        share[low:high] = value
    return share


def test_a_check_ends_where_its_share_falls():
    tip, nearest, _ = tip_by_share(along((0, 80, 0.95)), 1.0)
    assert tip == nearest == pytest.approx(80, abs=5)


def test_a_long_split_that_fades_and_is_plain_again_is_one_and_may_end_at_the_gap():
    tip, nearest, far = tip_by_share(along((0, 150, 0.95), (150, 200, 0.15), (200, 240, 0.9)), 1.0)
    assert tip == pytest.approx(240, abs=5)
    assert nearest == pytest.approx(150, abs=5)
    assert far >= tip


@pytest.mark.parametrize(
    "other", [(60, 100, 0.95), (250, 300, 0.95), (170, 178, 0.95), (170, 220, 0.5)]
)
def test_what_is_far_short_or_faint_is_another_line(other):
    first = 30 if other[0] == 60 else 150
    tip, _, _ = tip_by_share(along((0, first, 0.95), other), 1.0)
    assert tip == pytest.approx(first, abs=5)


def test_a_share_faint_from_the_end_on_tells_no_tip():
    assert tip_by_share(along((0, 80, 0.3)), 1.0) is None
