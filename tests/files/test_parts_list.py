"""Parts lists as people save them, and every way they go wrong."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.errors import FileError, PartsListError
from scanner.files.parts_list import COLUMNS, parts_json, read_parts, read_parts_text
from scanner.placement.parts import Faces, Part
from tests.common import bench_parts, shelf_parts

HEADER = "name,quantity,length,width,thickness,faces"
RAIL = f"{HEADER}\nrail,2,610,70,19,both\n"


def one(text, units="mm", name="parts.csv"):
    (part,) = read_parts_text(text, name, units)
    return part


def refusal(text, units="mm", name="parts.csv"):
    with pytest.raises(PartsListError) as caught:
        read_parts_text(text, name, units)
    sentence = str(caught.value)
    assert sentence.startswith(name) and sentence.endswith(".") and "\n" not in sentence
    return sentence


def test_a_plain_row_is_read():
    assert one(RAIL) == Part("rail", 2, 610.0, 70.0, 19.0, Faces.BOTH)


@pytest.mark.parametrize(
    "text",
    [
        "\ufeff" + RAIL,
        RAIL.replace("\n", "\r\n"),
        RAIL.replace("\n", "\r"),
        RAIL.replace(",", ";"),
        RAIL.replace(",", "\t"),
        "sep=;\n" + RAIL.replace(",", ";"),
        f"\n{RAIL}\n,,,,,\n",
        RAIL.replace("name,quantity", "Name, Quantity"),
        RAIL.replace("rail,2", '"rail","2"'),
        RAIL.replace("both\n", "Both ,\n").replace("faces\n", "faces,\n"),
        "width,name,thickness,faces,length,quantity\n70,rail,19,both,610,2\n",
        RAIL.replace("610,70,19", "61 cm,70 mm,0.019 m"),
        RAIL.replace("name", "\u200bname").replace("610", "\u200e610\u00a0"),
        RAIL.replace("rail", "\u202arail\u202c\u200b"),
    ],
)
def test_the_ways_spreadsheets_save_it_make_no_difference(text):
    assert one(text) == one(RAIL)


def test_semicolons_go_with_decimal_commas():
    part = one(f"{HEADER};priority\n".replace(",", ";") + "rail;2;610,5;70,25;19;both;1,5\n")
    assert (part.length_mm, part.width_mm, part.priority) == (610.5, 70.25, 1.5)


def test_bare_numbers_take_the_units_and_marked_ones_keep_their_own():
    part = one(f'{HEADER}\nrail,2,23 1/2,"2 3/4""",19 mm,both\n', "inch")
    assert part.length_mm == pytest.approx(596.9)
    assert part.width_mm == pytest.approx(69.85)
    assert part.thickness_mm == 19.0


def test_every_column_is_read():
    row = {
        "name": "top", "quantity": "1", "length": "900", "width": "300", "thickness": "19",
        "faces": "show", "species": "walnut", "sapwood": "back", "max_knot": "12",
        "priority": "3", "match": "top:bookmatch", "spares": "1", "straight_grain": "1 in 15",
        "shape": "top.svg", "length_min": "880", "length_max": "920", "width_min": "290",
        "width_max": "310", "equal": "tops", "length_allowance": "0", "width_allowance": "6",
        "staves": "auto", "filler": "yes", "only_boards": "B01 B02", "not_boards": "B03",
        "job": "shelf", "note": "straight, please",
    }  # fmt: skip
    assert tuple(row) == COLUMNS
    cells = ",".join(f'"{cell}"' for cell in row.values())
    part = one(f"{','.join(row)}\n{cells}\n")
    assert (part.sapwood, part.max_knot_mm, part.match) == ("back", 12.0, "top:bookmatch")
    assert (part.length_allowance_mm, part.width_allowance_mm) == (0.0, 6.0)
    assert (part.only_boards, part.filler, part.staves) == (("B01", "B02"), True, "auto")


def test_old_spreadsheets_that_do_not_save_utf_8_are_read(tmp_path):
    path = tmp_path / "parts.csv"
    path.write_bytes(RAIL.replace("rail", "Füllung").encode("cp1252"))
    assert read_parts(path)[0].name == "Füllung"
    path.write_text(RAIL.replace("rail", "Füllung").replace(",", "\t"), encoding="utf-16")
    assert read_parts(path)[0].name == "Füllung"
    path.write_text(RAIL, encoding="utf-16-le")
    with pytest.raises(FileError, match="is no UTF-8 text"):
        read_parts(path)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"{HEADER}\n", ["has no parts"]),
        ("", ["is empty", "name, quantity"]),
        (RAIL.replace(",width", "").replace(",70", ""), ["row 1", "lacks the column width"]),
        (RAIL.replace("width", "widht"), ["row 1", '"widht"', "write width"]),
        (RAIL.replace("faces", "faces,colour").replace("both", "both,red"), ['"colour"']),
        (RAIL.replace("70", "wide"), ["row 2", '("rail")', "column width", '"wide" is no length']),
        (RAIL.replace("rail,2", "rail,two"), ["column quantity", '"two" is no whole number']),
        (RAIL.replace("rail,2", "rail,1.5"), ["column quantity", "no whole number"]),
        (RAIL.replace("rail,2", "rail,0"), ["column quantity", "1 or more"]),
        (RAIL.replace("610", "0"), ["column length", "more than 0"]),
        (
            RAIL.replace("faces", "faces,length_allowance").replace("both", "both,-1"),
            ["column length_allowance", "0 or more"],
        ),
        (RAIL.replace("610", "-610"), ["column length", "more than 0", "-610"]),
        (RAIL.replace("19,", "0 mm,"), ["column thickness", "more than 0"]),
        (RAIL.replace("19,", "4/4,"), ["column thickness", "finished thickness"]),
        (RAIL.replace("19,", "3/4,"), ["column thickness", "is the unit missing"]),
        (RAIL.replace("610", "61000"), ["column length", "over 20 m"]),
        (RAIL.replace("610", '"1,610"'), ["column length", "may mean 1610 or 1.610"]),
        (RAIL.replace("both", "front"), ["column faces", "'both', 'show', 'sound' or 'hidden'"]),
        (RAIL.replace("both", ""), ["column faces is empty"]),
        (RAIL + "Rail,1,500,70,19,show\n", ["row 3", "column name", "row 2"]),
        (RAIL.replace("610", "610,5"), ["row 2 has 7 cells", "semicolons"]),
        (RAIL.replace("name,", "name,name,"), ["the column name twice"]),
        (RAIL.replace("rail", '"rail'), ["no proper CSV", "quote"]),
        (f"{HEADER},match\nrail,2,610,70,19,both,a:b\n", ["column match", "bookmatch"]),
        (f"{HEADER},straight_grain\nrail,2,610,70,19,both,15\n", ["1 in 15"]),
        (f"{HEADER},filler\nrail,2,610,70,19,both,maybe\n", ["must be yes or no"]),
        (f"{HEADER},length_min\nrail,2,610,70,19,both,700\n", ["length_min is more than length"]),
        (f"{HEADER},width_max\nrail,2,610,70,19,both,60\n", ["width_max is less than width"]),
        (
            f"{HEADER},only_boards,not_boards\nrail,2,610,70,19,both,B01 B02,B02\n",
            ["B02 stands in only_boards and in not_boards", "take one out"],
        ),
        (f"{HEADER}\n" + "rail,2,610,70,19,both\n" * 5001, ["has 5001 rows", "5000"]),
        (f"{HEADER},staves\nrail,2,610,70,19,both,0\n", ["column staves"]),
        ("PK\x03\x04", ["no text file", "CSV"]),
    ],
)
def test_a_wrong_list_is_refused_in_one_sentence_that_says_where(text, says):
    sentence = refusal(text)
    for piece in says:
        assert piece in sentence


def test_row_numbers_are_the_spreadsheet_s():
    sentence = refusal(f"{HEADER}\nrail,2,610,70,19,both\n\nleg,4,wide,60,40,both\n")
    assert "row 4" in sentence


@pytest.mark.parametrize("parts", [bench_parts(), shelf_parts()])
def test_parts_json_gives_the_same_parts_back(parts, tmp_path):
    path = tmp_path / "parts.json"
    path.write_text(parts_json(parts), encoding="utf-8")
    assert read_parts(path, "inch") == parts


def test_json_numbers_are_mm_and_json_texts_may_carry_units():
    row = {"name": "rail", "quantity": 2, "length": "24 in", "width": 70, "thickness": 19,
           "faces": "both"}  # fmt: skip
    part = one(json.dumps([row]), "inch", "parts.json")
    assert (part.length_mm, part.width_mm) == (pytest.approx(609.6), 70.0)


def test_json_tells_no_allowance_and_filler_in_its_own_words():
    row = {"name": "peg", "quantity": 2, "length": 60, "width": 12, "thickness": 12,
           "faces": "hidden", "length_allowance": 0, "width_allowance": 0.0,
           "filler": True}  # fmt: skip
    part = one(json.dumps([row]), "inch", "parts.json")
    assert (part.length_allowance_mm, part.width_allowance_mm, part.filler) == (0.0, 0.0, True)
    with pytest.raises(PartsListError, match="length_allowance"):
        one(json.dumps([row | {"length_allowance": False}]), "inch", "parts.json")
    # Nothing at all is an allowance: what is refused is less, also where it is a number.
    with pytest.raises(PartsListError, match='must be 0 or more, not "-1"'):
        one(json.dumps([row | {"length_allowance": -1}]), "inch", "parts.json")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{", "is no JSON"),
        ("[]", "has no parts"),
        ('{"format": "board"}', "is no parts list"),
        ('[{"name": "rail"}]', "column quantity is empty"),
        ('[{"nmae": "rail"}]', "write name"),
        ("[5]", "part 1 is no record"),
        ('[{"name": "a", "quantity": true, "length": 1, "width": 1, "thickness": 1, '
         '"faces": "both"}]', "no whole number"),
    ],
)  # fmt: skip
def test_a_wrong_parts_json_is_refused_in_one_sentence(text, says):
    assert says in refusal(text, name="parts.json")


@pytest.mark.slow
@given(st.text(max_size=200))
def test_no_text_at_all_makes_it_stumble(text):
    for name in ("parts.csv", "parts.json"):
        try:
            read_parts_text(text, name)
        except PartsListError as problem:
            assert "\n" not in str(problem).replace(text, "")


@pytest.mark.slow
@given(st.lists(st.text(max_size=12), min_size=6, max_size=6))
def test_no_cell_makes_it_stumble(cells):
    quoted = ",".join('"' + cell.replace('"', '""') + '"' for cell in cells)
    try:
        read_parts_text(f"{HEADER}\n{quoted}\n", "parts.csv")
    except PartsListError as problem:
        assert str(problem).startswith("parts.csv")


def test_a_missing_list_is_a_file_problem(tmp_path):
    with pytest.raises(FileError, match="there is no file"):
        read_parts(tmp_path / "none.csv")


def test_a_long_text_is_shortened_within_its_quote_marks():
    with pytest.raises(PartsListError) as caught:
        read_parts_text(f"{HEADER}\n{'rail ' * 20},1,600,60,20,both\n", "parts.csv")
    assert 'not "rail rail rail rail rail rail rail ra...": mend that cell.' in str(caught.value)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (f"{RAIL}Total,2,,,,\n", "take the row out if it is no part"),
        (RAIL.replace("\nrail", "\n,,mm,mm,mm,\nrail"), "take the row out if it is no part"),
        (f"Hall bench\n\n{RAIL}", '("Hall bench") names no column: begin with a row of columns'),
        (RAIL.replace(",", "|"), "names no column: begin with a row of columns: name, quantity"),
        (RAIL.replace("length", "Length (in)"), "write length, and the unit in its cells"),
        (RAIL.replace("length", "length_mm"), "write length, and the unit in its cells"),
        (RAIL.replace("quantity", "Qty"), "write quantity"),
        (RAIL.replace("quantity", "Qnty"), "write quantity"),
        (RAIL.replace("length", "Len"), "write length"),
        (RAIL.replace("610", "1.200"), "may mean 1200 or 1.2 (write 1200 mm or 1.2 mm)"),
        (RAIL.replace("610", "1.200 mm"), "may mean 1200 or 1.2 (write 1200 mm or 1.2 mm)"),
        (RAIL.replace("70", "1.100"), "may mean 1100 or 1.1 (write 1100 mm or 1.1 mm)"),
        (RAIL.replace("610", "1'200"), "is no length"),
        (f"{RAIL}rail\u200b,2,610,70,19,both\n", "is also the name in row 2"),
    ],
)
def test_what_spreadsheets_add_is_named_with_its_mend(text, says):
    assert says in refusal(text)


def test_three_figures_behind_the_point_are_read_where_they_can_mean_one_thing_only():
    part = one(RAIL.replace("610,70,19", "609.600,6.350,3.175"))
    assert (part.length_mm, part.width_mm, part.thickness_mm) == (609.6, 6.35, 3.175)
    assert one(RAIL.replace("610", "1.200 in")).length_mm == pytest.approx(30.48)
    assert one(RAIL.replace("610,70,19", "1.200,2,1"), "inch").length_mm == pytest.approx(30.48)
