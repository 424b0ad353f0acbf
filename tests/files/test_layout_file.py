"""layout.json in and out."""

import json

import pytest

from scanner.errors import PlacementError
from scanner.files.layout_file import layout_json, read_layout
from tests.common import small_layout


def test_a_layout_written_and_read_is_equal(tmp_path):
    path = tmp_path / "layout.json"
    path.write_text(layout_json(small_layout()), encoding="utf-8")
    assert read_layout(path) == small_layout()


def test_the_file_keeps_the_contract_s_names():
    record = json.loads(layout_json(small_layout()))
    assert set(record["summary"]) == {
        "placed", "asked", "boards_opened", "area_opened", "board_feet", "yield",
    }  # fmt: skip
    assert {"from", "to"} < set(record["cuts"][0])
    assert record["placements"][0]["copy"] == 1


def read_again(record, folder):
    path = folder / "layout.json"
    path.write_text(json.dumps(record))
    return read_layout(path)


def test_a_piece_must_name_a_placement_that_exists(tmp_path):
    record = json.loads(layout_json(small_layout()))
    record["pieces"][0]["placements"] = [99]
    with pytest.raises(PlacementError, match="names placement 99"):
        read_again(record, tmp_path)


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("show_face", 3, "must be 1 or 2"),
        ("length", 0, "more than 0"),
        ("state", "sawn", "'planned'"),
        ("lenght", 5, 'write "length"'),
    ],
)
def test_a_wrong_placement_is_named_by_row_and_field(field, value, says, tmp_path):
    record = json.loads(layout_json(small_layout()))
    record["placements"][1][field] = value
    with pytest.raises(PlacementError) as caught:
        read_again(record, tmp_path)
    assert "row 2" in str(caught.value) and says in str(caught.value)
