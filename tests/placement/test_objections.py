"""An objection of the judge knows whom it concerns, so that nobody has to read its words."""

from dataclasses import replace

import pytest

from scanner.placement.layout import Placement
from scanner.placement.validator.cuts import stage_objections
from scanner.placement.validator.objection import Objection, Rule, copies_of, rows_of
from scanner.placement.validator.sets import set_objections
from scanner.placement.validator.sizes import size_objections
from tests.instances.tiny import SHOP, board, part

LEG = Placement("leg", 1, "B1", 12.34, 5.0, 200.0, 40.0)
# Its name ends as the other's, and its copy's number begins as the other's.
LEFT = replace(LEG, part="left leg", copy=11)


def test_an_objection_to_a_placed_part_says_which_one_where_and_what():
    said = Objection.to(LEG, Rule.ANGLE, "is turned, which it does not ask for")
    assert str(said) == "B1: leg 1 at (12.3, 5.0) is turned, which it does not ask for"
    assert (said.rule, said.board, said.parts) == (Rule.ANGLE, "B1", (("leg", 1),))


@pytest.mark.parametrize(
    ("parts", "whom"),
    [
        (copies_of(LEG), [True, False, False]),
        (rows_of("leg"), [True, True, False]),
        (copies_of(LEFT), [False, False, True]),
        ((), [False, False, False]),
    ],
)
def test_an_objection_concerns_the_copies_it_names_and_no_other(parts, whom):
    placed = (LEG, replace(LEG, copy=11), LEFT)
    for id, is_there in (("B1", True), (None, True), ("B2", False)):
        said = Objection(Rule.CUT, "leg 1 or left leg 11", id, parts)
        assert [said.concerns(p) for p in placed] == [is_there and one for one in whom]


def test_all_parts_that_the_saw_cannot_free_are_concerned_though_four_are_named():
    steps = [Placement("a", n, "B1", 30 * n, 15 * n, 60, 30) for n in range(1, 7)]
    (said,) = stage_objections("B1", steps, SHOP, exact=False)
    assert str(said).count("a ") == 4
    assert all(said.concerns(p) for p in steps)


def test_a_set_cut_from_three_boards_concerns_its_members_and_no_other_part():
    doors = replace(part("door", 3, 200, 40), match="doors")
    own = [replace(LEG, part="door", copy=n, board=f"B{n}", state="cut") for n in (1, 2, 3)]
    boards = {id: board(id, 500, 60) for id in ("B1", "B2", "B3")}
    (said,) = set_objections((*own, LEG), boards, (doors,), SHOP.kerf_mm)
    assert str(said) == "set doors lies on 3 boards"
    assert all(said.concerns(p) for p in own) and not said.concerns(LEG)


def test_rows_that_are_to_be_equal_are_all_concerned_where_they_are_not():
    rows = [
        replace(part(name, 1, 300, 60), length_min_mm=280.0, equal="slats")
        for name in ("high", "low")
    ]
    placed = [Placement(name, 1, "B1", 0, y, 290 + y, 60) for name, y in (("high", 0), ("low", 5))]
    (said,) = size_objections(placed, rows, SHOP)
    assert all(said.concerns(p) for p in placed)


def test_an_objection_is_said_with_the_names_that_people_know_and_no_other_is_touched():
    """A part that is asked for once has no number on the wood; the judge numbers every copy."""
    lone = {("leg", 1): "leg", ("left leg", 1): "left leg"}

    def called(name, copy):
        return lone.get((name, copy), f"{name} {copy}")

    other = replace(LEG, part="left leg")
    said = Objection.to(LEG, Rule.KERF, "and left leg 1 overlap or leave less than a kerf", other)
    told = "B1: leg at (12.3, 5.0) and left leg overlap or leave less than a kerf"
    assert said.said(called) == told
    eleventh = Objection.to(LEG, Rule.KERF, "and left leg 11 overlap", LEFT)
    assert eleventh.said(called) == "B1: leg at (12.3, 5.0) and left leg 11 overlap"
    assert Objection(Rule.CUT, "piece 1 of leg 1", "B1").said(called) == "piece 1 of leg 1"
