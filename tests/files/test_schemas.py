"""What we write is what our schemas say."""

import json

import pytest
from jsonschema import Draft202012Validator

from scanner.errors import PartsListError
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json
from scanner.files.parts_list import COLUMNS, parts_json, read_parts_text
from scanner.files.schemas import schema
from tests.common import ash_board, bench_parts, plain_board, small_layout, walnut_board

WRITTEN = [
    ("board", board_json(ash_board())),
    ("board", board_json(walnut_board())),
    ("board", board_json(plain_board())),
    ("layout", layout_json(small_layout())),
    ("parts", parts_json(bench_parts())),
]


@pytest.mark.parametrize(("name", "text"), WRITTEN)
def test_our_files_pass_our_schemas(name, text):
    Draft202012Validator.check_schema(schema(name))
    assert list(Draft202012Validator(schema(name)).iter_errors(json.loads(text))) == []


@pytest.mark.parametrize(("name", "text"), WRITTEN)
def test_the_schemas_condemn_an_unknown_field_and_a_missing_one(name, text):
    validator = Draft202012Validator(schema(name))
    record = json.loads(text)
    assert list(validator.iter_errors({**record, "colour": "red"}))
    last_required = schema(name)["required"][-1]
    del record[last_required]
    assert list(validator.iter_errors(record))


@pytest.mark.parametrize("name", ["board", "layout", "parts"])
def test_no_record_in_a_schema_lets_unknown_fields_in(name):
    found = schema(name)
    records = [found, *found.get("$defs", {}).values()]
    assert all(r["additionalProperties"] is False for r in records if "properties" in r)


@pytest.mark.parametrize("staves", [2, "2", "auto"])
def test_staves_may_be_counted_by_a_number_or_left_to_the_program(staves: int | str) -> None:
    list_of_parts = json.loads(parts_json(bench_parts()))
    list_of_parts["parts"][0]["staves"] = staves
    assert Draft202012Validator(schema("parts")).is_valid(list_of_parts)


def _is_read(text: str) -> bool:
    try:
        read_parts_text(text, "parts.json")
    except PartsListError:
        return False
    return True


@pytest.mark.parametrize("column", COLUMNS)
def test_the_schema_of_a_parts_list_takes_an_empty_field_where_the_reader_does(column):
    wanted = json.loads(parts_json(bench_parts()))
    wanted["parts"][0][column] = None
    is_valid = Draft202012Validator(schema("parts")).is_valid(wanted)
    assert is_valid == _is_read(json.dumps(wanted))


@pytest.mark.parametrize("column", ["quantity", "spares"])
@pytest.mark.parametrize("count", [2, "2", 0, -1, 20_000, 1.5, True, []])
def test_the_schema_of_a_parts_list_takes_the_counts_that_the_reader_takes(column, count):
    wanted = json.loads(parts_json(bench_parts()))
    wanted["parts"][0][column] = count
    is_valid = Draft202012Validator(schema("parts")).is_valid(wanted)
    assert is_valid == _is_read(json.dumps(wanted))
