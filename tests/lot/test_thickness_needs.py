"""Which parts need thicker wood on bent boards, and what a bent board gives: worked by hand."""

from dataclasses import replace

import pytest

from scanner.board.form import Warp
from scanner.lot.thickness_needs import class_on, longest_mm, thickness_lines
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from tests.common import plain_board

# 26.99 mm less 3.2 mm clean-up leave 23.79 mm flat. A bow of 16 mm over 2438.4 mm is a sagitta, so
# a piece of length l keeps 16 (l / 2438.4)^2 of it: 1625 mm keep 7.1 mm, 725 mm 1.4 mm.
FLAT = replace(plain_board("B01"), warp=Warp(0.0, 0.0, 0.0))
BOWED = replace(plain_board("B02"), warp=Warp(bow_mm=16.0))
RAIL = Part("rail", 2, 1600.0, 80.0, 19.0, Faces.BOTH, species="white ash")
SLAT = Part("slat", 2, 700.0, 60.0, 19.0, Faces.BOTH, species="white ash")


def test_a_long_part_of_a_bowed_board_needs_the_next_class():
    # 19 + 3.2 + 7.1 = 29.3 mm: 5/4 (31.75); flat 22.2 mm: 4/4 (25.4).
    assert class_on(FLAT, RAIL, Shop()) == 4
    assert class_on(BOWED, RAIL, Shop()) == 5
    assert class_on(BOWED, SLAT, Shop()) == 4
    # 26 + 3.2 + 7.1 = 36.3 mm: 6/4 (38.1); flat 29.2 mm: 5/4.
    thick = replace(RAIL, thickness_mm=26.0)
    assert (class_on(FLAT, thick, Shop()), class_on(BOWED, thick, Shop())) == (5, 6)
    rail, slat, *_ = thickness_lines((FLAT, BOWED), (RAIL, SLAT), Shop())
    assert "4/4 where it is flat; 1 of 2 boards give it; B02 leaves 16.7 mm" in rail
    assert rail.endswith("bent like that it needs 5/4")
    assert slat.endswith("2 of 2 boards give it")


def test_a_bowed_board_is_good_for_what_is_short():
    # 23.79 - 16 (l / 2438.4)^2 = 19: l = 2438.4 sqrt(4.79 / 16) = 1334 mm.
    assert longest_mm(BOWED, 19.0, 92.0, Shop()) == pytest.approx(1334, abs=2)
    assert longest_mm(FLAT, 19.0, 92.0, Shop()) == FLAT.length.value_mm
    assert longest_mm(BOWED, 30.0, 92.0, Shop()) == 0.0
    lines = thickness_lines((FLAT, BOWED), (RAIL, SLAT), Shop())
    (good,) = [line for line in lines if line.startswith("B02")]
    assert good.startswith("B02 (bow 16 mm) is good for: pieces up to 133")
    assert not any(line.startswith("B01") for line in lines)


def test_a_board_of_unknown_bend_is_said_to_count_as_flat():
    lines = thickness_lines((plain_board("B03"),), (SLAT,), Shop())
    assert lines[-1] == "B03: nobody said how flat it is, so it counts as flat"
    # A lot of forty typed boards is one line, not forty.
    two = thickness_lines((plain_board("B03"), plain_board("B04")), (SLAT,), Shop())
    assert len(two) == len(lines)
    assert two[-1] == "B03, B04: nobody said how flat they are, so they count as flat"


def test_what_no_class_and_no_board_gives_is_said_plainly():
    beam = replace(RAIL, name="beam", thickness_mm=120.0)
    other = replace(RAIL, name="lid", species="cherry")
    said_of_beam, said_of_lid, bowed = thickness_lines((BOWED,), (beam, other), Shop())
    assert said_of_beam.endswith("no class is thick enough, glue it up")
    assert said_of_lid == "lid (19 mm thick): 4/4 where it is flat"
    assert bowed == "B02 (bow 16 mm) is good for: nothing 120 mm thick, 92 mm wide"


def test_what_is_so_for_several_parts_is_said_once():
    other = replace(RAIL, name="stile")
    lines = thickness_lines((FLAT,), (RAIL, SLAT, other), Shop())
    assert lines[0].startswith(f"{RAIL.name}, {SLAT.name}, stile (19 mm thick): 4/4")
    assert len(lines) == 1


def test_a_part_of_any_species_counts_on_every_board():
    unsaid = replace(plain_board("B03"), warp=None)
    anything = replace(SLAT, species=None)
    # A scan tells how crooked a board is, and nothing of its bow.
    scanned = replace(unsaid, warp=Warp(crook_mm=4.0))
    assert thickness_lines((scanned,), (anything,), Shop())[-1].startswith("B03: nobody said how")
    assert thickness_lines((unsaid,), (anything,), Shop())[-1].startswith("B03: nobody said how")
    assert len(thickness_lines((unsaid,), (replace(SLAT, species="cherry"),), Shop())) == 1


def test_a_bent_board_is_good_for_nothing_wider_than_itself():
    # The board is 203.2 mm wide: a glued top counts by its staves, 162 mm rough, and what is wider
    # than the board is no word on it.
    top = replace(SLAT, name="top", width_mm=300.0, staves="2")
    door = replace(SLAT, name="door", width_mm=250.0)
    *_, glued = thickness_lines((BOWED,), (SLAT, top), Shop())
    *_, single = thickness_lines((BOWED,), (SLAT, door), Shop())
    assert glued.endswith("long 19 mm thick, 162 mm wide")
    assert single.endswith("long 19 mm thick, 72 mm wide")


def test_a_bookmatched_pair_needs_the_class_that_both_slices_come_out_of():
    # Two slices of 8.1 + 3.2 mm and a kerf of 3.2 mm: 25.8 mm, more than 4/4 has; one alone 11.3.
    door = replace(SLAT, name="door", thickness_mm=8.1, match="pair:bookmatch")
    said, *_ = thickness_lines((FLAT, BOWED), (door,), Shop())
    # FLAT has 26.99 mm; of BOWED's 26.99 mm a piece of 725 mm loses 1.41 mm to bow.
    assert said.startswith("door (two out of one piece 25.8 mm thick): 5/4 where it is flat")
    assert ", 3/4 side by side; 1 of 2 boards give it; B02 leaves 25.6 mm" in said
