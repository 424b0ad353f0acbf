"""shop.toml."""

import pytest

from scanner.errors import SettingsError
from scanner.files.shop_file import read_shop
from scanner.placement.shop import FootPrice, Shop


def shop_from(text, tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text(text, encoding="utf-8")
    return read_shop(path)


def test_no_file_means_the_defaults():
    assert read_shop(None) == Shop()
    assert read_shop(None, "inch") == Shop.inch()


def test_what_is_set_wins_over_the_defaults(tmp_path):
    shop = shop_from('kerf_mm = 2.4\ncut_class = "any"\n', tmp_path)
    assert (shop.kerf_mm, shop.cut_class, shop.end_trim_seen_mm) == (2.4, "any", 12.0)


def test_an_inch_shop_has_inch_native_defaults(tmp_path):
    shop = shop_from('units = "inch"\nkerf_mm = "1/8 in"\n', tmp_path)
    assert shop.kerf_mm == pytest.approx(3.175)
    assert (shop.length_allowance_mm, shop.width_allowance_mm) == (25.4, 12.7)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("kerf = 3.2", 'write "kerf_mm"'),
        ("kerf_mm = -1", "0 or more"),
        ("kerf_mm = 32", "20 or less"),
        ('kerf_mm = "thin"', "is no length"),
        ('cut_class = "two_stage"', "must be 'three_stage'"),
        ('units = "cm"', "must be 'mm' or 'inch'"),
        ("kerf_mm 3.2", "is no TOML"),
        ("kerf_mm = nan", "must be a number"),
        ("kerf_mm = 3,2", "numbers with a point"),
        ("units = inch", "words in quote marks"),
        ('kerf_mm = "1/8"', '"1/8" has no unit (write "1/8 in")'),
        ("piece_length_mm = 0", "more than 0"),
        ("kerf_mm = " + "9" * 5000, "far too long"),
        ("price_per_board_foot = 3", "must be a record"),
    ],
)
def test_a_wrong_setting_is_named(text, says, tmp_path):
    with pytest.raises(SettingsError) as caught:
        shop_from(text, tmp_path)
    assert says in str(caught.value) and "shop.toml" in str(caught.value)


def test_prices_are_read_by_species_and_thickness(tmp_path):
    path = tmp_path / "shop.toml"
    path.write_text('[price_per_board_foot]\n"White ash" = 6\n"white ash 8/4" = 8.25\n')
    assert read_shop(path).foot_prices == (
        FootPrice("white ash", None, 6.0),
        FootPrice("white ash", 8, 8.25),
    )


@pytest.mark.parametrize("line", ['"ash" = -1', '"ash" = "six"', '"8/4" = 3'])
def test_a_price_that_is_none_is_refused_by_its_key(tmp_path, line):
    path = tmp_path / "shop.toml"
    path.write_text(f"[price_per_board_foot]\n{line}\n")
    with pytest.raises(SettingsError, match="price_per_board_foot"):
        read_shop(path)
