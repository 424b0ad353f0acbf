"""How much wood a list needs, against worked examples.

Mean rough-mill yields by an extension specialist (FDMC); a dealer's text prints that 50 % more
ordered is 33 % waste; the rest by hand.
"""

from dataclasses import replace

import pytest

from scanner.lot.buying import ChanceCurve, Trial
from scanner.lot.buying_words import buying_lines
from scanner.lot.need import class_for, needs_of, waste_of
from scanner.lot.ripped import resawn_blanks
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop

IN = 25.4
TRIALS = (Trial(1, 5.0),) * 10


def part(name="stave", quantity=4, length_in=24.0, width_in=5.0, thickness_in=0.75, **more):
    return Part(
        name, quantity, length_in * IN, width_in * IN, thickness_in * IN, Faces.BOTH, **more
    )


@pytest.mark.parametrize(
    ("waste", "extra"),
    [(0.10, 0.1111), (0.15, 0.1765), (0.20, 0.25), (0.30, 0.4286), (1 / 3, 0.5), (0.5, 1.0)],
)
def test_waste_and_extra_are_never_the_same(waste, extra):
    assert waste_of(extra) == pytest.approx(waste, abs=1e-4)


@pytest.mark.parametrize(
    ("feet", "waste"), [(28.57, 0.30), (33.90, 0.41), (46.51, 0.57), (66.67, 0.70)]
)
def test_what_is_bought_for_twenty_feet_loses_what_mills_lose_by_grade(feet, waste):
    assert waste_of(feet / 20 - 1) == pytest.approx(waste, abs=1e-4)


@pytest.mark.parametrize(
    ("thickness_in", "width_in", "length_in", "feet"),
    [
        pytest.param(0.75, 9, 96, 6.0, id="V-1"),
        pytest.param(1.25, 9, 96, 9.0, id="V-2"),
        pytest.param(1.0, 6, 72, 3.75, id="V-3"),
        pytest.param(0.75, 6, 96, 4.0, id="V-4"),
        pytest.param(0.75, 9, 156, 9.75, id="V-5"),
        pytest.param(0.75, 10, 120, 25 / 3, id="V-6"),
    ],
)
def test_board_feet_of_parts_are_their_volume_at_the_rough_thickness(
    thickness_in, width_in, length_in, feet
):
    # From a magazine's tip, a shop, a dealer, a book's lumber table and the Navy builder manual
    # 14044. Finished sizes are what the dealer's classes plane to.
    one = part("rail", 1, length_in, width_in, thickness_in)
    (need,) = needs_of((one,), Shop.inch())
    assert need.net_feet == pytest.approx(feet, abs=1e-6)


def test_four_staves_need_what_was_worked_out():
    # At rough thickness 3.333, with 1 in and 1/2 in 3.819 board feet.
    (need,) = needs_of((part(),), Shop.inch())
    assert need.quarters == 4
    assert need.net_feet == pytest.approx(3.3333, abs=1e-4)
    assert need.rough_feet == pytest.approx(3.8194, abs=1e-4)
    assert 1.2 * need.rough_feet == pytest.approx(4.583, abs=1e-3)


def test_species_and_thickness_are_bought_apart_and_fillers_not_at_all():
    parts = (
        part("a", species="Walnut"),
        part("b", species="walnut", thickness_in=1.0),
        part("c", species="walnut"),
        part("d", species="white ash", filler=True),
    )
    found = {(need.species, need.quarters): len(need.parts) for need in needs_of(parts, Shop())}
    assert found == {("walnut", 4): 2, ("walnut", 5): 1}


def test_a_bookmatched_pair_is_bought_as_thick_as_one_blank_of_both():
    """Both slices of 9 mm stood under 3/4, of which no blank of two can be sawn."""
    doors = [part(name, 1, 20, 5, 9 / IN, match="doors:bookmatch") for name in ("left", "right")]
    (need,) = needs_of(tuple(doors), Shop())
    # 2 x (9 + 3.2) and a kerf of 3.2: 27.6 mm. A blank's ground is bought once for both.
    assert need.quarters == 5 and [row.name for row in need.parts] == ["left", "right"]
    (one,) = needs_of((part("door", 1, 20, 5, 1.0),), Shop())
    assert (need.net_feet, need.rough_feet) == (one.net_feet, one.rough_feet)
    said = "\n".join(buying_lines((ChanceCurve(need, "FAS", TRIALS),), Shop()))
    assert "  left + right: two are sawn out of one piece 27.6 mm thick when flat" in said
    # Side by side they ask no more than each of them.
    beside = tuple(replace(door, match="doors") for door in doors)
    assert [one.quarters for one in needs_of(beside, Shop())] == [3]
    # Unlike members, a lone one, and wood as thick as none is sold are not sawn apart.
    unlike = (doors[0], replace(doors[1], width_mm=90.0))
    thick = tuple(replace(door, thickness_mm=47.0) for door in doors)
    for parts in (unlike, doors[:1], thick):
        assert resawn_blanks(parts, Shop()) == {}


@pytest.mark.parametrize(("finished_in", "quarters"), [(0.75, 4), (1.0, 5), (1.25, 6), (1.75, 8)])
def test_the_class_is_the_one_that_the_trade_planes_from(finished_in, quarters):
    # Dealers' lists: 4/4 planes to 3/4, 5/4 to 1, 6/4 to 1 1/4, 8/4 to 1 3/4.
    assert class_for(part(thickness_in=finished_in), Shop()) == quarters


def test_no_class_is_thick_enough_for_a_post():
    assert class_for(part(thickness_in=4.0), Shop()) is None


def test_nobody_buys_less_than_is_needed():
    with pytest.raises(ValueError, match="never negative"):
        waste_of(-0.1)
