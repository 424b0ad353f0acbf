"""board.json in and out."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanner.board.form import Warp
from scanner.errors import BoardError, FileError
from scanner.files.board_file import board_from_text, board_json, read_board
from scanner.geometry.polygons import polygon_of
from tests.common import ash_board, plain_board, walnut_board


def changed(change):
    """Return the ash board's file text after ``change`` was done to its record."""
    record = json.loads(board_json(ash_board()))
    change(record)
    return json.dumps(record)


def refusal(change):
    with pytest.raises(BoardError) as caught:
        board_from_text(changed(change), "B01/board.json")
    return str(caught.value)


@pytest.mark.parametrize("board", [ash_board(), walnut_board(), plain_board()], ids=lambda b: b.id)
def test_a_board_written_and_read_is_the_same_file_again(board, tmp_path):
    text = board_json(board)
    path = tmp_path / "board.json"
    path.write_text(text, encoding="utf-8")
    assert board_json(read_board(path)) == text


def test_the_inner_values_come_back():
    board = walnut_board()
    again = board_from_text(board_json(board), "B02")
    assert (again.turned, again.ends, again.moisture) == ("end_over_end", board.ends, 8.5)
    assert again.faces[1].outline.equals_exact(board.faces[1].outline, 0.01)
    assert again.flaws[0].outlines[1].equals_exact(board.flaws[0].outlines[1], 0.01)
    assert again.sapwood is not None and len(again.sapwood[1]) == 1


def test_fields_after_the_dotted_line_may_be_missing_or_null():
    def bare(record):
        for name in ("warp", "sapwood", "only_parts", "keep_whole", "price", "moisture"):
            del record[name]
        record["notes"] = None

    board = board_from_text(changed(bare), "B01")
    assert (board.warp, board.keep_whole, board.notes) == (None, False, ())


@pytest.mark.parametrize("name", ["id", "thickness", "widths", "outline", "flaws", "ends", "faces"])
def test_a_missing_field_above_it_is_named(name):
    assert f'has no field "{name}"' in refusal(lambda record: record.pop(name))


def test_an_unknown_field_is_refused_with_the_nearest_known_one():
    def misspell(record):
        record["thicknes"] = record.pop("thickness")

    text = refusal(misspell)
    assert '"thicknes"' in text and 'write "thickness"' in text


def test_a_word_where_a_number_belongs_names_its_place():
    def word(record):
        record["flaws"][2]["score"] = "high"

    assert "flaws > row 3 > score, must be a number" in refusal(word)


def test_a_number_in_quotes_is_no_number():
    def quoted(record):
        record["length"]["value"] = "2457"

    assert "length > value, must be a number" in refusal(quoted)


def test_an_outline_without_area_is_refused():
    def flat(record):
        record["outline"]["1"] = [[0, 0], [10, 0], [20, 0]]

    assert "outline > 1, encloses no area" in refusal(flat)


def test_an_outline_that_crosses_itself_is_refused():
    def bow_tie(record):
        record["outline"]["2"] = [[0, 0], [100, 100], [100, 0], [0, 100]]

    assert "crosses itself" in refusal(bow_tie)


def test_four_widths_are_not_enough():
    assert "needs 5 or more entries, not 4" in refusal(lambda record: record["widths"].pop())


def test_two_flaws_of_one_id_are_refused():
    def twice(record):
        record["flaws"][1]["id"] = "F1"

    assert "id F1 twice" in refusal(twice)


def test_a_picture_outside_the_folder_is_refused():
    def wander(record):
        record["faces"]["1"]["picture"] = "../elsewhere.jpg"

    assert "outside its own folder" in refusal(wander)


def test_a_picture_without_its_place_is_refused():
    def lose(record):
        record["faces"]["1"]["picture_origin"] = None

    assert "has a picture but no mm_per_px or picture_origin" in refusal(lose)


def test_two_corners_are_no_outline():
    def cut(record):
        del record["outline"]["2"][2:]

    assert "field outline > 2, needs 3 or more entries, not 2" in refusal(cut)


def test_six_widths_are_too_many():
    assert "field widths, needs 5 entries, not 6" in refusal(
        lambda record: record["widths"].append(record["widths"][-1])
    )


@pytest.mark.parametrize("name", ["../B01", "", "a b", ".hidden", "x" * 41, "a/b"])
def test_an_id_that_could_be_a_path_is_refused(name):
    assert "field id" in refusal(lambda record: record.update(id=name))


def test_nan_is_no_length():
    text = board_json(ash_board()).replace('"value": 2457.0', '"value": NaN')
    with pytest.raises(BoardError):
        board_from_text(text, "B01")


@pytest.mark.slow
@given(
    st.lists(
        st.tuples(st.floats(0, 300), st.floats(50, 50.05)), min_size=3, max_size=12, unique=True
    )
)
def test_a_hair_crack_we_write_can_be_read_again(points):
    crack = polygon_of(points)
    if crack.is_empty:
        return
    board = ash_board()
    flaw = replace(board.flaws[1], outlines={1: crack})
    again = board_from_text(board_json(board.with_flaws((flaw,))), "B01")
    assert again.flaws[0].outlines[1].buffer(0.2).covers(crack)


def test_a_bend_that_nobody_measured_may_be_null():
    record = json.loads(board_json(ash_board()))
    record["warp"] = {"bow": None, "cup": 2.0, "twist": None, "crook": None}
    cupped = board_from_text(json.dumps(record), "B01")
    assert cupped.warp == Warp(cup_mm=2.0)
    # Nor does it become a board that was found straight by being written again.
    assert json.loads(board_json(cupped))["warp"] == record["warp"]
    # Of a board that nobody measured at all it is not known how flat it is.
    record["warp"]["cup"] = None
    assert board_from_text(json.dumps(record), "B01").warp is None


def test_unknown_signs_of_warp_are_kept():
    board = replace(ash_board(), warp=Warp(5.0, sign_known=False))
    again = board_from_text(board_json(board), "B01")
    assert again.warp is not None and not again.warp.sign_known


def test_an_unknown_field_is_taken_for_a_misspelling_only_of_one_beside_it(tmp_path):
    # Face 1 has no "turned", and "kind" is a flaw's.
    for place, name, mend in (
        (("faces", "1"), "turned", "take the field out"),
        (("warp",), "kink", "take the field out"),
        (("warp",), "croock", 'write "crook", or take the field out'),
        (("flaws", 0), "raeson", 'write "reason", or take the field out'),
    ):
        record = json.loads(board_json(ash_board()))
        inner = record
        for step in place:
            inner = inner[step]
        inner[name] = 1.0
        with pytest.raises(BoardError, match=f'{name}".*: {mend}.$'):
            board_from_text(json.dumps(record), "B01")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is no JSON"),
        ("[1, 2]", "is no board file (no record)"),
        ('{"format": "layout", "version": 1}', 'its "format" is "layout"'),
        ('{"format": "board", "version": 2}', "update the program"),
        ("[" * 100_000, "nested too deep"),
    ],
)
def test_what_is_no_board_file_is_told_in_one_sentence(text, says):
    with pytest.raises(BoardError) as caught:
        board_from_text(text, "x.json")
    assert says in str(caught.value) and "\n" not in str(caught.value)


def test_a_missing_file_and_a_folder_are_told_apart(tmp_path):
    with pytest.raises(FileError, match="there is no file"):
        read_board(tmp_path / "none.json")
    with pytest.raises(FileError, match="is a folder"):
        read_board(tmp_path)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    path = tmp_path / "board.json"
    path.write_bytes(b"\xff\xd8\xff\xe0 not text")
    with pytest.raises(FileError, match="no UTF-8 text"):
        read_board(path)


def test_sapwood_that_was_looked_for_is_told_of_both_faces():
    board = replace(ash_board(), sapwood={})
    assert json.loads(board_json(board))["sapwood"] == {"1": [], "2": []}
    assert json.loads(board_json(replace(board, sapwood=None)))["sapwood"] is None


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        (("thickness", "value"), 1e308, "field thickness > value, must be 500 or less"),
        (("length", "u"), 1e308, "field length > u, must be 20000 or less"),
        (("flaws",), None, "field flaws, must be a list, not null"),
        (("warp",), {"bow": 1e308}, "field warp > bow, must be 20000 or less"),
        (("faces", "1", "mm_per_px"), 1e-300, "mm_per_px, must be 0.001 or more"),
        (("faces", "1", "picture_origin"), [-1e308, 0.0], "must be -20000 or more"),
        (("outline", "1"), [[1e9, 0], [1e9 + 900, 0], [1e9 + 900, 90]], "lies 40 m or more away"),
        (("outline_u",), 1e308, "field outline_u, must be 20000 or less"),
        (("length", "value"), 1228.0, "length is 1228 mm, but the outline of face 1 is 2462"),
        (("length", "value"), 2510.0, "length is 2510 mm, but the outline of face 1 is 2462"),
    ],
)
def test_a_size_that_the_outline_or_any_board_contradicts_is_refused(field, value, says):
    def absurd(record):
        *above, last = field
        for step in above:
            record = record[step]
        record[last] = value

    assert says in refusal(absurd)


def test_a_length_taped_another_way_than_along_the_middle_is_read():
    """Ends may be out of square and a board crooked; its own U comes on top."""
    for off in (-20.0, 20.0):
        record = json.loads(board_json(ash_board()))
        record["length"]["value"] += off
        assert board_from_text(json.dumps(record), "B01").length.value_mm == pytest.approx(
            ash_board().length.value_mm + off
        )


def test_faces_of_which_one_lies_beside_the_other_are_refused():
    def apart(record):
        record["outline"]["2"] = [[x, y + 150.0] for x, y in record["outline"]["2"]]

    def half_waned(record):
        record["outline"]["2"] = [[x, max(y, 100.0)] for x, y in record["outline"]["2"]]

    assert "do not lie over each other" in refusal(apart)
    record = json.loads(board_json(ash_board()))
    half_waned(record)
    assert board_from_text(json.dumps(record), "B01").faces[2].outline.area > 0
