"""The parts list as a table: cells, mistakes, rough sizes, what is kept."""

import pytest

from scanner.app.lot.open_lot import open_lot, parts_of, set_parts
from scanner.app.lot.parts_table import (
    clean_table,
    columns_of,
    keep_table,
    read_table,
    set_units,
    table_of,
)
from scanner.errors import PartsListError
from scanner.placement.shop import Shop

_RAIL = {"name": "rail", "quantity": "2", "length": "24 in", "width": "2 3/4 in",
         "thickness": "3/4 in", "faces": "both"}  # fmt: skip


@pytest.fixture
def lot(tmp_path):
    lot = open_lot(tmp_path / "bench.lot")
    yield lot
    lot.close()


def test_a_size_that_may_give_shows_the_rough_sizes_it_may_take():
    row = _RAIL | {"width": "70", "width_min": "60", "width_max": "90"}
    assert read_table([row], Shop()).rough == ("635 \u00d7 72 mm to 635 \u00d7 102 mm",)


def test_the_rough_size_is_the_finished_one_with_the_shops_allowances():
    assert read_table([_RAIL], Shop()).rough == ("635 \u00d7 82 mm",)
    # 24 + 1 and 2 3/4 + 1/2 inches.
    assert read_table([_RAIL], Shop.inch()).rough == ("25 \u00d7 3 1/4 in",)


def test_an_allowance_of_the_parts_own_wins():
    row = _RAIL | {"length_allowance": "100 mm"}
    assert read_table([row], Shop()).rough == ("710 \u00d7 82 mm",)


def test_pieces_are_counted_and_empty_rows_passed_over():
    reading = read_table([_RAIL, {}, _RAIL | {"name": "leg", "quantity": "4"}], Shop())
    assert (reading.pieces, reading.mistakes) == (6, ())
    assert reading.rough[1] == ""


@pytest.mark.parametrize(
    ("column", "cell", "says"),
    [
        ("quantity", "two", "two"),
        ("length", "24 im", "24 im"),
        ("faces", "front", "both"),
        ("thickness", "-3", "-3"),
        ("width", "2 3/4", "write 2 3/4 in"),
    ],
)
def test_a_mistake_names_its_cell_and_what_was_written(column, cell, says):
    reading = read_table([_RAIL, _RAIL | {"name": "leg", column: cell}], Shop())
    (mistake,) = reading.mistakes
    assert (mistake.row, mistake.column) == (1, column)
    assert says in mistake.what
    assert reading.rough[1] == ""


def test_every_mistake_of_a_row_is_said_at_once():
    reading = read_table([{"name": "leg", "length": "long"}], Shop())
    assert {one.column for one in reading.mistakes if one.is_empty} == {
        "quantity", "width", "thickness", "faces",
    }  # fmt: skip
    assert [one.column for one in reading.mistakes if not one.is_empty] == ["length"]


def test_two_parts_of_one_name_are_marked():
    reading = read_table([_RAIL, _RAIL | {"name": "Rail"}], Shop())
    assert [(one.row, one.column) for one in reading.mistakes] == [(1, "name")]


def test_a_kept_table_comes_back_as_it_was_written(lot):
    rows = [_RAIL, _RAIL | {"name": "leg, front", "match": "legs", "note": 'with "a" quote'}]
    keep_table(lot, rows)
    back = [{name: cell for name, cell in row.items() if cell} for row in table_of(lot)]
    assert back == rows
    assert columns_of(back) == (
        "name", "quantity", "length", "width", "thickness", "faces", "species", "match", "note",
    )  # fmt: skip


def test_a_table_with_a_mistake_is_not_kept(lot):
    keep_table(lot, [_RAIL])
    for bad in ([_RAIL | {"faces": ""}], [{}], []):
        with pytest.raises(PartsListError):
            keep_table(lot, bad)
    assert [part.name for part in parts_of(lot)] == ["rail"]


def test_a_list_from_a_file_is_shown_with_the_columns_it_uses(lot):
    set_parts(lot, "Name;Quantity;Length;Width;Thickness;Faces;Max Knot\nleg;4;450;40;40;show;6",
              "legs.csv")  # fmt: skip
    (row,) = table_of(lot)
    assert row["max_knot"] == "6" and row["faces"] == "show"


@pytest.mark.parametrize(
    ("change", "to"),
    [
        ((",", "\t"), "600,5"),
        ((",", ";"), "600,5"),
        (("\n", "\r"), "600.5"),
        (("\n", "\n\n"), "600.5"),
    ],
)
def test_a_list_of_any_spreadsheet_is_shown_and_keeps_its_sizes_in_other_units(lot, change, to):
    """Of tabs the page showed one column, and changing the units then lost the list."""
    text = "name,quantity,length,width,thickness,faces\nrail,2,LONG,60,20,both\n"
    set_parts(lot, text.replace(*change).replace("LONG", to), "bench.csv")
    (row,) = table_of(lot)
    assert (row["name"], row["length"]) == ("rail", to)
    before = parts_of(lot)
    set_units(lot, "inch")
    assert parts_of(lot) == before


def test_a_list_whose_first_line_names_its_sign_is_shown(lot):
    text = "sep=;\nname;quantity;length;width;thickness;faces\nrail;2;600;60;20;both\n"
    set_parts(lot, text, "bench.csv")
    assert table_of(lot)[0]["name"] == "rail"


def test_a_json_list_is_shown_in_millimetres(lot):
    text = (
        '{"format": "parts", "version": 1, "parts": [{"name": "leg", "quantity": 4, "length": 450,'
        ' "width": 40, "thickness": 40, "faces": "show"}]}'
    )
    set_parts(lot, text, "legs.json")
    assert table_of(lot)[0]["length"] == "450 mm"


def test_other_units_leave_every_size_as_it_was(lot):
    keep_table(lot, [_RAIL | {"width": "70", "length_min": "600"}])
    before = parts_of(lot)
    set_units(lot, "inch")
    assert parts_of(lot) == before
    assert lot.shop() == Shop.inch()
    set_units(lot, "mm")
    assert parts_of(lot) == before
    assert lot.shop() == Shop()


def test_what_no_table_is_comes_in_as_nothing():
    assert clean_table("rows") == []
    assert clean_table([1, {"name": " leg ", "unknown": "x", "width": None}]) == [{"name": "leg"}]
    assert len(clean_table([{"name": "x" * 9999}] * 9999)) == 500
