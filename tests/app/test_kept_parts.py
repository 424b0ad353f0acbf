"""What is cut stays as it was cut: a list or shop that no longer allows it is refused in words."""

from dataclasses import replace

import pytest

from scanner.app.plan_cuts import plan_cuts
from scanner.errors import PlacementError
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.stop import Work
from tests.common import plain_board

pytestmark = pytest.mark.slow

LEG = Part("leg", 2, 300.0, 40.0, 19.0, Faces.SOUND)
# The same name begins another part's.
LONG_LEG = Part("leg long", 1, 400.0, 40.0, 19.0, Faces.SOUND)


def laid(part=LEG, shop=None, keep=None):
    parts = (part, LONG_LEG)
    return plan_cuts((plain_board(),), parts, shop or Shop(), Work(5), keep=keep).layout


@pytest.fixture(scope="module")
def cut():
    layout = laid()
    return replace(
        layout,
        placements=tuple(
            replace(p, state="cut") if p.part == "leg" else p for p in layout.placements
        ),
    )


@pytest.mark.parametrize(
    ("part", "shop", "said"),
    [
        (replace(LEG, length_mm=310.0), Shop(), "300.0 mm long when finished, not 310.0"),
        (replace(LEG, quantity=1), Shop(), "2 placed, 1 asked for"),
        (LEG, replace(Shop(), length_allowance_mm=40.0), "long when finished, not 300.0"),
    ],
)
def test_a_cut_part_that_the_list_no_longer_asks_for_so_is_named(part, shop, said, cut):
    with pytest.raises(PlacementError, match="stays from the former layout") as caught:
        laid(part, shop, cut)
    assert said in caught.value.what and caught.value.what.startswith("leg ")


def test_a_cut_part_that_still_fits_stays(cut):
    kept = [p for p in laid(keep=cut).placements if p.part == "leg"]
    assert kept == [p for p in cut.placements if p.part == "leg"]


def test_of_two_names_that_end_alike_the_part_at_fault_is_named():
    """Only the left leg is asked for otherwise than it was cut."""
    left = replace(LEG, name="left leg", quantity=1)
    former = plan_cuts((plain_board(),), (LEG, left), Shop(), Work(5)).layout
    placed = sorted(
        (replace(p, state="cut") for p in former.placements), key=lambda p: -len(p.part)
    )
    other = (LEG, replace(left, length_mm=310.0))
    for order in (placed, placed[::-1]):
        keep = replace(former, placements=tuple(order))
        with pytest.raises(PlacementError, match="stays from the former layout") as caught:
            plan_cuts((plain_board(),), other, Shop(), Work(5), keep=keep)
        assert caught.value.what.startswith("left leg 1 ")
