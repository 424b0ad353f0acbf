"""Files that are none of ours, and texts that cannot be meant: one sentence each."""

import json
import os
from pathlib import Path

import pytest

from scanner.errors import BoardError, FileError, PartsListError, SettingsError
from scanner.files import board_file, boards_list, parts_list, rows
from scanner.files.boards_list import boards_of_text, read_boards_list
from scanner.files.camera_profiles import read_profiles
from scanner.files.parts_list import read_parts
from scanner.files.sample_set import read_sample_set
from scanner.files.shape_file import is_shape, read_shape, shape_in
from scanner.files.svg_path import path_points
from scanner.files.typed import read_corners, read_taped
from scanner.files.write import refuse_given, write_files
from tests import common

SQUARE = {"outline": [[0, 0], [9, 0], [9, 4], [0, 4]], "grain": [[0, 0], [9, 0]]}


def test_a_file_that_cannot_be_read_says_why(tmp_path, monkeypatch):
    with pytest.raises(FileError, match="is a folder: name a file in it"):
        rows.read_text(tmp_path)
    with pytest.raises(FileError, match=r"cannot be read \(File name too long\)"):
        rows.read_text(tmp_path / ("a" * 300))
    (tmp_path / "long.csv").write_text("name")
    monkeypatch.setattr(rows, "MAX_BYTES", 3)
    with pytest.raises(FileError, match="too big to be one of our files"):
        rows.read_text(tmp_path / "long.csv")
    with pytest.raises(FileError, match="choose another file for --profile"):
        read_profiles(tmp_path)


def test_a_number_without_end_is_refused_in_every_file_of_ours(tmp_path):
    text = '{"format": "parts", "version": 1, "parts": [' + "9" * 5000 + "]}"
    with pytest.raises(PartsListError, match="a number that is far too long"):
        parts_list.read_parts_text(text, "parts.json")
    with pytest.raises(BoardError, match="a number that is far too long"):
        board_file.board_from_text(text, "board.json")
    with pytest.raises(PartsListError, match="neither SVG nor JSON"):
        shape_in(text, "leg.json")
    assert not is_shape(text, "leg.json")


def test_a_device_without_end_is_no_file_of_ours(monkeypatch):
    monkeypatch.setattr(rows, "MAX_BYTES", 3)
    with pytest.raises(FileError, match="too big to be one of our files"):
        rows.read_text(Path("/dev/zero"))


def test_what_is_wrong_with_a_board_is_said_in_plain_words(tmp_path):
    record = json.loads(board_file.board_json(common.ash_board()))
    with pytest.raises(BoardError, match=r"board\.json, field id, becomes part of file names"):
        board_file.board_from_text(json.dumps(record | {"id": "../B01"}), "board.json")
    wide = record | {
        "outline": {"1": [[0, 0], [1e9, 0], [1e9, 1e9]], "2": [[0, 0], [9, 0], [9, 9]]}
    }
    with pytest.raises(BoardError, match="a board is at most 20 x 3 m; lengths are in mm"):
        board_file.board_from_text(json.dumps(wide), "board.json")
    twice = record | {"flaws": record["flaws"][:1] * 2}
    with pytest.raises(BoardError, match=r"board\.json: flaws has the id F1 twice"):
        board_file.board_from_text(json.dumps(twice), "board.json")


def test_a_set_of_samples_is_whole_or_refused(tmp_path):
    with pytest.raises(FileError, match="there is no sample set"):
        read_sample_set(tmp_path)
    board = {"id": "B01", "species": "walnut", "thickness": "4/4", "photos": {"2": []}}
    (tmp_path / "manifest.json").write_text(json.dumps({"boards": [board]}))
    with pytest.raises(FileError, match=r"cannot be read at boards\.0\.photos\.1"):
        read_sample_set(tmp_path)
    board["photos"] = {"1": ["a.jpg"]}
    (tmp_path / "manifest.json").write_text(json.dumps({"boards": [board]}))
    (sample,) = read_sample_set(tmp_path)
    assert sample.photos_1 == (tmp_path / "a.jpg",) and sample.photos_2 == ()


@pytest.mark.parametrize(
    ("drawn", "said"),
    [
        ("no JSON", "is neither SVG nor JSON"),
        ({"outline": []}, "is no shape"),
        (SQUARE | {"grain": [[0, 0]]}, "no list of points"),
        (SQUARE | {"outline": [[0, 0, 0]]}, "no list of points"),
        (SQUARE | {"outline": "all round"}, "no list of points"),
        (SQUARE | {"grain": [[3, 3], [3, 3]]}, "the grain line has no length"),
        (SQUARE | {"outline": [[0, 0], [9, 0]]}, "the outline is no closed shape"),
    ],
)
def test_a_drawing_in_json_that_cannot_be_meant_is_refused(tmp_path, drawn, said):
    text = drawn if isinstance(drawn, str) else json.dumps(drawn)
    (tmp_path / "leg.json").write_text(text)
    with pytest.raises(PartsListError, match=said):
        read_shape(tmp_path / "leg.json")


def test_a_drawing_that_is_far_too_fine_is_refused(tmp_path, monkeypatch):
    (tmp_path / "leg.json").write_text(json.dumps(SQUARE))
    monkeypatch.setattr("scanner.files.shape_file._MOST_POINTS", 3)
    with pytest.raises(PartsListError, match="has 4 points: simplify"):
        read_shape(tmp_path / "leg.json")
    monkeypatch.setattr("scanner.files.shape_file._MOST_LETTERS", 3)
    with pytest.raises(PartsListError, match="too long for a shape"):
        read_shape(tmp_path / "leg.json")


def test_an_svg_says_a_width_that_is_one_and_numbers_that_are_some(tmp_path):
    line = '<line x1="0" y1="0" x2="9" y2="0"/>'
    for drawn, said in (
        ('<svg width="wide" viewBox="0 0 9 9"><path d="M0 0H9V9Z"/>', "is no length"),
        ('<svg><path d="M0 0 9"/>', "too few numbers"),
        ('<svg><polygon points="0,0 1.2.3,4 5,6"/>', "export it again"),
    ):
        (tmp_path / "leg.svg").write_text(drawn + line + "</svg>")
        with pytest.raises(PartsListError, match=said):
            read_shape(tmp_path / "leg.svg")


@pytest.mark.parametrize(
    ("name", "text", "is_one"),
    [
        ("leg.SVG", "", True),
        ("leg.json", json.dumps(SQUARE), True),
        ("parts.json", '{"parts": []}', False),
        ("parts.json", "[", False),
        ("parts.csv", json.dumps(SQUARE), False),
    ],
)
def test_a_drawing_is_told_from_a_parts_list(name, text, is_one):
    assert is_shape(text, name) is is_one


def test_a_smooth_curve_goes_on_from_the_handle_before_it():
    # The second arch mirrors the first about its end, so both are as high.
    points = path_points("M0 0 C 0 10 20 10 20 0 S 40 -10 40 0 Z")
    assert max(y for _, y in points) == pytest.approx(-min(y for _, y in points))
    # Without a curve before it the first handle is the point itself; an arc of no radius is a line.
    assert path_points("M0 0 S 5 0 5 0")[-1] == path_points("M0 0 A 0 9 0 0 0 5 0")[-1] == (5, 0)
    with pytest.raises(ValueError, match="too few numbers"):
        path_points("M0 0 C 1 1 L 5 5")


def test_texts_of_options_that_cannot_be_meant_name_their_option():
    with pytest.raises(SettingsError, match=r"--taped: .* more than two sizes"):
        read_taped("2m x 1mm x 1mm", "--taped")
    with pytest.raises(SettingsError, match="longer than any board"):
        read_taped("96m", "--taped")
    with pytest.raises(SettingsError, match='--corners2: "a,b c,d e,f g,h" is not four points'):
        read_corners("a,b c,d e,f g,h", "--corners2")


def test_a_list_of_boards_has_an_end_and_flaws_have_lengths(tmp_path, monkeypatch):
    head = "id,species,length,width,thickness,flaws\n"
    with pytest.raises(BoardError, match="no boards"):
        boards_of_text(head, "boards.csv")
    monkeypatch.setattr(boards_list, "MAX_BOARDS", 1)
    row = "{},walnut,2000,150,4/4,\n"
    (tmp_path / "boards.csv").write_text(head + row.format("B01") + row.format("B02"))
    with pytest.raises(BoardError, match="has 2 rows: keep to 1 at most"):
        read_boards_list(tmp_path / "boards.csv")


def test_a_typed_board_no_saw_made_is_refused():
    head = "id,length,width,thickness\nB01,2000,"
    for rest, said in (
        ("150,99/4", "no thickness"),
        ("150,1 m", "no thickness"),
        ("4000,4/4", "3000"),
    ):
        with pytest.raises(BoardError, match=said):
            boards_of_text(head + rest, "boards.csv")


def test_nobody_s_own_file_is_written_over(tmp_path):
    photo, link = tmp_path / "a.jpg", tmp_path / "b.jpg"
    photo.write_bytes(b"a photo")
    link.symlink_to(photo)
    with pytest.raises(FileError, match=r"b\.jpg is a file that you gave"):
        refuse_given(link, tmp_path / "other.jpg", photo, ending=".jpg")
    refuse_given(tmp_path / "new.json", photo, None, ending=".json")
    with pytest.raises(FileError, match="was not written"):
        refuse_given(tmp_path / ("n" * 300), photo, ending=".json")


def test_a_file_of_another_kind_is_not_written_over(tmp_path):
    """``strip -o board.json`` would be the end of a scan."""
    board, strip, plain = (tmp_path / name for name in ("board.json", "strip.PDF", "strip"))
    for path in (board, strip, plain):
        path.write_bytes(b"kept")
    with pytest.raises(FileError, match=r"board\.json is there already and is no \.pdf file"):
        refuse_given(board, ending=".pdf")
    with pytest.raises(FileError, match=r"new\.json is no name for a \.pdf file"):
        refuse_given(tmp_path / "new.json", ending=".pdf")
    for mine in (strip, plain, tmp_path / "strip 2.5m"):
        refuse_given(mine, ending=".pdf")


def test_a_size_in_json_is_a_number_or_a_text(tmp_path):
    part = {"name": "rail", "quantity": 1, "length": True, "width": 70, "thickness": 19}
    (tmp_path / "parts.json").write_text(
        json.dumps({"format": "parts", "version": 1, "parts": [part | {"faces": "both"}]})
    )
    with pytest.raises(PartsListError, match="is no length"):
        read_parts(tmp_path / "parts.json")


def test_where_a_disk_knows_no_links_a_former_file_is_still_put_back(tmp_path, monkeypatch):
    (tmp_path / "layout.json").write_text("former")
    made = os.replace

    def no_links(*paths):
        raise OSError("no links here")

    def torn(source, target):
        if str(target).endswith("maps.pdf"):
            raise OSError(28, "No space left on device")
        return made(source, target)

    monkeypatch.setattr(os, "link", no_links)
    monkeypatch.setattr(os, "replace", torn)
    with pytest.raises(FileError):
        write_files(tmp_path, {"layout.json": b"new", "maps.pdf": b"new"})
    assert (tmp_path / "layout.json").read_text() == "former"
    assert [path.name for path in tmp_path.iterdir()] == ["layout.json"]
