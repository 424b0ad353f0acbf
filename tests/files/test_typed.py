"""What a person typed about a board."""

import pytest

from scanner.board.form import Warp
from scanner.errors import SettingsError
from scanner.files.typed import (
    read_corners,
    read_rule,
    read_taped,
    read_taped_strip,
    read_thickness,
    read_warp,
)


def test_quarters_are_a_rough_board_a_little_thicker_and_less_sure():
    # NHLA: 4/4 is 1 in at least in the rough; the extra 1.6 mm and U 2 mm are this project's own.
    thickness = read_thickness("4/4")
    assert (thickness.value_mm, thickness.u_mm) == (27.0, 2.0)


def test_a_measured_thickness_is_surer_than_quarters():
    assert read_thickness("1 1/8 in").u_mm < read_thickness("4/4").u_mm
    assert read_thickness("1 1/8", "inch").value_mm == pytest.approx(28.575)


@pytest.mark.parametrize("text", ["1.5", "300 mm", "thick", "0", "1 1/8", "99/4"])
def test_a_thickness_that_cannot_be_one_is_refused(text):
    with pytest.raises(SettingsError):
        read_thickness(text)


def test_a_rule_is_read_with_its_width_and_thickness():
    rule = read_rule("36in x 28mm x 1mm")
    assert (rule.length_mm, rule.width_mm, rule.thickness_mm) == (pytest.approx(914.4), 28, 1)
    assert read_rule("1m").width_mm is None


@pytest.mark.parametrize("text", ["36", "36in x", "a rule", "36in x 1in x 1mm x 2mm", "-3in"])
def test_a_rule_that_cannot_be_read_is_refused_with_its_option(text):
    with pytest.raises(SettingsError, match="--rule"):
        read_rule(text)


def test_what_is_no_length_is_shown_as_it_was_typed():
    for text in ("x", "8ftx", "36in x"):
        with pytest.raises(SettingsError, match=f'"{text}" is no length'):
            read_taped(text, "--taped")


def test_a_taped_length_carries_its_own_or_the_usual_uncertainty():
    assert read_taped_strip("2501.5mm x 1mm", "--strip-taped").u_mm == 1
    assert read_taped("2441mm x 1mm", "--taped").u_mm == 1
    assert read_taped("96in", "--taped").u_mm > read_taped_strip("96in", "--strip-taped").u_mm


def test_corners_are_four_points():
    assert read_corners("1,2 3,4.5 5,6 7,8", "--corners1")[1] == (3, 4.5)
    with pytest.raises(SettingsError, match="--corners1"):
        read_corners("1,2 3,4", "--corners1")
    for nothing in ("0,0 0,0 0,0 0,0", "0,0 5,5 9,9 2,2", "nan,0 9,0 9,9 0,9", "inf,0 9,0 9,9 0,9"):
        with pytest.raises(SettingsError, match="enclose nothing"):
            read_corners(nothing, "--corners1")


def test_a_bow_without_a_sign_may_go_either_way():
    assert read_warp(None, None, None) is None
    unsigned, signed = read_warp("4mm", None, None), read_warp("-4mm", "+1mm", "3mm")
    assert not unsigned.sign_known
    assert signed.sign_known
    assert (signed.bow_mm, signed.cup_mm, signed.twist_mm) == (-4, 1, 3)
    # Told to be flat is more than nothing told, and flat has no direction to be unsure of.
    assert read_warp("0", "0,0", None) == Warp(0.0, 0.0, None, sign_known=True)
