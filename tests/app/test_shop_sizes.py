"""The shop's own sizes, typed on the page."""

import pytest

from scanner.app.lot.open_lot import open_lot
from scanner.app.lot.parts_table import set_units
from scanner.app.lot.shop_sizes import GROUPS, are_usual, set_shop_sizes, shop_sizes
from scanner.errors import SettingsError
from scanner.files.shop_file import ShopRow


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "ash.lot")
    yield lot
    lot.close()


def test_every_length_of_a_shop_file_can_be_typed_on_the_page():
    named = {name for group in GROUPS.values() for name in group}
    assert named == {name for name in ShopRow.model_fields if name.endswith("_mm")}


def test_a_typed_kerf_is_kept_and_an_emptied_one_is_the_usual_one_again(lot):
    set_shop_sizes(lot, {"kerf_mm": "1.6"})
    assert lot.shop().kerf_mm == 1.6
    assert shop_sizes(lot)["kerf_mm"].text == "1.6 mm"
    assert not are_usual(lot)
    set_shop_sizes(lot, {"kerf_mm": " "})
    assert lot.shop().kerf_mm == 3.2
    assert are_usual(lot)


def test_a_bare_fraction_is_inches_in_a_lot_that_thinks_in_inches(lot):
    set_units(lot, "inch")
    set_shop_sizes(lot, {"width_allowance_mm": "3/8"})
    assert lot.shop().width_allowance_mm == pytest.approx(9.525)
    assert shop_sizes(lot)["width_allowance_mm"].text == "3/8 in"
    set_shop_sizes(lot, {"kerf_mm": "3/32"})
    assert shop_sizes(lot)["kerf_mm"].text == "3/32 in"


def test_an_inch_lot_says_the_usual_sizes_in_inches_and_its_own_as_they_were_typed(lot):
    set_units(lot, "inch")
    assert not [name for name, size in shop_sizes(lot).items() if "mm" in size.text + size.usual]
    assert shop_sizes(lot)["end_trim_seen_mm"].text == "1/2 in"
    set_shop_sizes(lot, {"jointer_width_mm": "250 mm"})
    assert shop_sizes(lot)["jointer_width_mm"].text == "250 mm"
    assert shop_sizes(lot)["jointer_width_mm"].usual == "5 7/8 in"


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_what_nobody_touched_stays_to_the_last_digit(lot, units):
    set_units(lot, units)
    set_shop_sizes(lot, {"kerf_mm": "2.4 mm", "snipe_mm": "3 mm"})
    before = lot.shop()
    set_shop_sizes(lot, {name: size.text for name, size in shop_sizes(lot).items()})
    assert lot.shop() == before


def test_a_size_out_of_range_is_refused_in_the_lots_units_and_none_is_kept(lot):
    set_units(lot, "inch")
    with pytest.raises(SettingsError, match=r"Saw kerf: 3 is too much.*3/4 in or less"):
        set_shop_sizes(lot, {"length_allowance_mm": "2", "kerf_mm": "3"})
    with pytest.raises(SettingsError, match=r"On the width: .*is no length"):
        set_shop_sizes(lot, {"width_allowance_mm": "a bit"})
    with pytest.raises(SettingsError, match="Widest on the jointer: 0 is too little"):
        set_shop_sizes(lot, {"jointer_width_mm": "0"})
    assert are_usual(lot)


def test_other_sizes_are_one_step_to_undo(lot):
    set_shop_sizes(lot, {"kerf_mm": "2", "snipe_mm": "50"})
    assert lot.next_undo() == "changed the shop settings"
