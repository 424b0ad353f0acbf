"""Which widths to ask for: strips side by side, worked by hand.

A strip is the part and 12 mm allowance, a kerf 3.2 mm; each edge loses 1 mm (U) and 1.5 mm
(tolerance).
"""

import pytest

from scanner.lot.need import needs_of
from scanner.lot.strip_widths import board_for, strips_in, width_lines, width_uses
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop

RAIL = Part("rail", 4, 900.0, 101.6, 19.0, Faces.BOTH, species="white ash")
SLAT = Part("slat", 10, 500.0, 60.0, 19.0, Faces.BOTH, species="white ash")


def need_of(*parts):
    (need,) = needs_of(parts, Shop())
    return need


def test_seven_inch_boards_give_no_two_parts_of_four_inches():
    # 2 x 113.6 + 3.2 + 2 x 2.5 = 235.4 mm; 7 in are 177.8 mm.
    assert board_for(2, RAIL, Shop()) == pytest.approx(235.4)
    assert strips_in(177.8, RAIL, Shop()) == 1
    assert [strips_in(width, RAIL, Shop()) for width in (118.5, 118.6, 235.3, 235.4)] == [
        0,
        1,
        1,
        2,
    ]
    (words, ask) = width_lines(need_of(RAIL), Shop())
    assert "a board 7 in (178 mm) wide gives 1: it lacks 57.6 mm for 2" in words
    assert ask.startswith("ask for boards 5 in (127 mm) wide")


def test_one_part_alone_uses_what_its_strips_use():
    # 5 in hold one strip, 10 in two, 4 in none: 101.6 / 127, 203.2 / 254.
    used = {round(u.width_mm): u.used for u in width_uses(need_of(RAIL), Shop())}
    assert used[102] is None
    assert used[127] == pytest.approx(0.8)
    assert used[178] == pytest.approx(101.6 / 177.8)
    assert used[254] == pytest.approx(0.8)


def test_two_widths_share_a_board_where_that_pays():
    # 203.2 mm: rail and slat side by side (113.6 + 3.2 + 72 + 5 = 193.8) on 3600 mm for all rails
    # and 3600 mm of slats; 1400 mm of slats are left, two side by side (3 need 227.4): 700 mm more.
    need = need_of(RAIL, SLAT)
    (use,) = width_uses(need, Shop(), (203.2,))
    assert use.used == pytest.approx((3600 * 101.6 + 5000 * 60) / (203.2 * (3600 + 700)))


def test_a_part_wider_than_any_board_is_said():
    top = Part("top", 1, 900.0, 320.0, 19.0, Faces.BOTH, species="white ash")
    assert "glue the widest up" in width_lines(need_of(top), Shop())[-1]


def test_a_panel_of_staves_asks_for_boards_as_wide_as_a_stave():
    # 332 mm rough in three, and 6 mm each for jointing: 116.7 mm, 121.7 mm with both edges.
    top = Part("top", 1, 900.0, 320.0, 19.0, Faces.BOTH, species="white ash", staves="3")
    words, ask = width_lines(need_of(top), Shop())
    assert words.startswith("top, stave: one strip needs a board 121.7 mm wide")
    assert ask.startswith("ask for boards 5 in (127 mm) wide")
