"""A part is called alike whether its parts list or only a layout is at hand."""

from dataclasses import replace

import pytest

from scanner.placement.copy_names import names_in, names_of
from scanner.placement.layout import Unplaced
from scanner.placement.parts import Faces, Part
from tests.app.placed_lot import PLACED
from tests.lot.laid import layout_of

FRONT = Part("front", 3, 400.0, 60.0, 19.0, Faces.BOTH)
LEG = Part("leg", 1, 400.0, 60.0, 19.0, Faces.BOTH)


@pytest.mark.parametrize("copy", [1, 2])
def test_a_part_asked_for_once_has_no_number_and_one_of_several_has(copy):
    layout = layout_of(*(p for p in PLACED if (p.part, p.copy) != ("leg", 2)))
    of_list, of_layout = names_of((FRONT, LEG)), names_in(layout)
    assert of_layout("leg", 1) == of_list("leg", 1) == "leg"
    assert of_layout("front", copy) == of_list("front", copy) == f"front {copy}"


def test_a_copy_without_a_place_numbers_the_one_that_has_one():
    one = layout_of(*(p for p in PLACED if (p.part, p.copy) == ("leg", 1)))
    missing = replace(one, unplaced=(Unplaced("leg", 1, "too short", ""),))
    assert names_in(one)("leg", 1) == "leg"
    assert names_in(missing)("leg", 1) == "leg 1"


def test_staves_of_one_panel_are_one_copy():
    leg = next(p for p in PLACED if p.part == "leg")
    staves = layout_of(*(replace(leg, stave=n) for n in (1, 2)))
    assert names_in(staves)("leg", 1) == "leg"
