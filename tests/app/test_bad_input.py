"""Bad input gets one sentence (what, where, what to do), status 2; nothing is half-written."""

import json

import pytest
from PIL import Image

from scanner.files.board_file import board_json
from tests.command import run
from tests.common import ash_board

GOOD = "name,quantity,length,width,thickness,faces\nrail,2,600,60,19,both\n"


@pytest.fixture
def board_file(tmp_path):
    path = tmp_path / "B01" / "board.json"
    path.parent.mkdir()
    path.write_text(board_json(ash_board()))
    return path


def refused(ran, *words: str) -> None:
    assert ran.status == 2, ran.err
    assert "Traceback" not in ran.err
    assert ran.sentence.endswith(".")
    for word in words:
        assert word in ran.sentence


PARTS = {
    "a missing column": ("name,quantity,length,width,thickness\nrail,2,600,60,19\n", "faces"),
    "an unknown column": (
        "name,quantity,length,width,thickness,faces,colour\nrail,2,600,60,19,both,red\n",
        "colour",
    ),
    "a column as the page's table heads it": (GOOD.replace("quantity", "How many"), "quantity"),
    "a word for a number": (GOOD.replace("600", "long"), "long"),
    "a zero size": (GOOD.replace("600", "0"), "length"),
    "a negative size": (GOOD.replace("60,19", "-60,19"), "width"),
    "an unknown faces value": (GOOD.replace("both", "front"), "front"),
    "two parts of one name": (GOOD + "rail,1,300,60,19,both\n", "rail"),
    "no rows": ("name,quantity,length,width,thickness,faces\n", "no"),
    "a broken quantity": (GOOD.replace("rail,2", "rail,2.5"), "2.5"),
    "a figure without end": (GOOD.replace("600", "9" * 5000), "no length"),
    "a name without end": (GOOD.replace("rail", "r" * 300), "60 letters at most"),
    "a name that cannot be printed": (GOOD.replace("rail", "ra\x1bil"), "cannot be printed"),
    "one name with its accent written two ways": (
        GOOD.replace("rail", "pi\u00e8ce") + GOOD.replace("rail", "pie\u0300ce").split("\n")[1],
        "also the name in row 2",
    ),
}


@pytest.mark.parametrize("case", sorted(PARTS))
def test_a_parts_list_that_cannot_be_meant_is_refused(
    case, tmp_path, board_file, capsys, monkeypatch
):
    text, word = PARTS[case]
    parts = tmp_path / "parts.csv"
    parts.write_text(text)
    out = tmp_path / "layout"
    ran = run(capsys, monkeypatch, "place", parts, board_file, "-o", out)
    refused(ran, "parts.csv", word)
    assert not out.exists() or not list(out.iterdir())


def test_a_board_file_that_is_none_is_refused(tmp_path, capsys, monkeypatch):
    parts, board = tmp_path / "parts.csv", tmp_path / "board.json"
    parts.write_text(GOOD)
    board.write_text("{}")
    refused(run(capsys, monkeypatch, "place", parts, board, "-o", tmp_path / "o"), "board.json")


def test_an_unknown_field_in_a_board_file_is_named(tmp_path, board_file, capsys, monkeypatch):
    parts = tmp_path / "parts.csv"
    parts.write_text(GOOD)
    record = json.loads(board_file.read_text()) | {"colour": "red"}
    board_file.write_text(json.dumps(record))
    ran = run(capsys, monkeypatch, "place", parts, board_file, "-o", tmp_path / "o")
    refused(ran, "board.json", "colour")


def test_two_boards_of_one_name_are_refused(tmp_path, board_file, capsys, monkeypatch):
    parts = tmp_path / "parts.csv"
    parts.write_text(GOOD)
    ran = run(capsys, monkeypatch, "place", parts, board_file, board_file, "-o", tmp_path / "o")
    refused(ran, "B01")


def test_an_output_folder_that_is_a_file_is_refused_before_the_work(
    tmp_path, board_file, capsys, monkeypatch
):
    parts, out = tmp_path / "parts.csv", tmp_path / "taken"
    parts.write_text(GOOD)
    out.write_text("keep me")
    refused(run(capsys, monkeypatch, "place", parts, board_file, "-o", out), "taken")
    assert out.read_text() == "keep me"


def test_a_text_file_is_not_a_picture(tmp_path, capsys, monkeypatch):
    photo = tmp_path / "front.jpg"
    photo.write_text("not a picture")
    out = tmp_path / "B01"
    refused(run(capsys, monkeypatch, "scan", photo, "-o", out), "front.jpg")
    assert not (out / "board.json").exists()


def test_a_photo_that_is_missing_is_named(tmp_path, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "scan", tmp_path / "gone.jpg", "-o", tmp_path / "B01")
    refused(ran, "gone.jpg")


def test_a_truncated_photo_is_refused(tmp_path, capsys, monkeypatch):
    whole = tmp_path / "whole.jpg"
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(whole, quality=90)
    cut = tmp_path / "cut.jpg"
    cut.write_bytes(whole.read_bytes()[: whole.stat().st_size // 2])
    refused(run(capsys, monkeypatch, "scan", cut, "-o", tmp_path / "B01"), "cut.jpg")


@pytest.mark.slow
def test_a_photo_without_a_rule_is_refused(tmp_path, capsys, monkeypatch):
    photo = tmp_path / "floor.jpg"
    Image.effect_noise((1600, 1200), 30).convert("RGB").save(photo, quality=90)
    out = tmp_path / "B01"
    refused(run(capsys, monkeypatch, "scan", photo, "-o", out), "floor.jpg", "rule")
    assert not (out / "board.json").exists()


@pytest.mark.parametrize(
    ("options", "word"),
    [
        (["--thickness", "fat"], "--thickness"),
        (["--rule", "1 elbow"], "--rule"),
        (["--corners1", "1,2", "--rule", "36in"], "--corners1"),
        (["--corners1", "1,2 3,4 5,6 7,8"], "corners"),
        (["--id", "../B01"], "--id"),
        (["--rule-on", "roof"], "--rule-on"),
        (["--strip-taped", "2501", "--rule", "36in"], "--strip-taped"),
        (["--more2", "x.jpg"], "--more2"),
        (["--bow", "much"], "--bow"),
        (["--bow", "999"], "--bow"),
        (["--batten", "500 mm"], "--batten"),
        (["--taped", "10mm"], "--taped"),
        (["--units", "yard"], "--units"),
    ],
)
def test_options_that_cannot_be_meant_are_refused_before_any_photo_is_read(
    options, word, tmp_path, capsys, monkeypatch
):
    ran = run(capsys, monkeypatch, "scan", tmp_path / "gone.jpg", "-o", tmp_path / "B", *options)
    refused(ran, word)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["a.jpg", "a.jpg"], "a.jpg is given twice: give the photo of the other face."),
        (["a.jpg", "b.jpg"], "a.jpg and b.jpg are one photo: give the photo of the other face."),
        (["a.jpg", "c.jpg", "--more1", "b.jpg"], "a.jpg and b.jpg are one photo: leave one out."),
        (["c.jpg", "a.jpg", "--more2", "a.jpg"], "a.jpg is given twice: leave one out."),
    ],
)
def test_a_photo_is_no_second_photo_of_itself(given, said, tmp_path, capsys, monkeypatch):
    """A scan looked at it twice over and spoke of two different boards at last."""
    for name, colour in (("a.jpg", "grey"), ("b.jpg", "grey"), ("c.jpg", "red")):
        Image.new("RGB", (600, 400), colour).save(tmp_path / name)
    monkeypatch.chdir(tmp_path)
    refused(run(capsys, monkeypatch, "scan", *given, "-o", "B01"), said)
    assert not (tmp_path / "B01").exists()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["bogus"], "No such command 'bogus': see bothfaces --help."),
        (["place"], "Missing argument 'parts': see bothfaces place --help."),
        (["place", "a", "b", "--seed", "-5"], "'--seed': it must be 0 or more: see"),
        (["place", "a", "b", "--work", "1.5"], "'--work': that is no whole number: see"),
        (["look", "a", "--mm-per-px", "0,5"], "that is no number (write it with a point: 6.5)"),
        (["strip", "--cards", "500"], "'--cards': it must be 499 or less: see"),
        (["place", "a", "b", "--seed"], "'--seed' requires an argument"),
        (["scan", "--colour", "red"], "No such option: --colour"),
        (["place", "gone.csv", "b"], "there is no file gone.csv"),
    ],
)
def test_a_command_that_cannot_be_meant_gets_one_sentence_and_no_more(
    arguments, said, capsys, monkeypatch
):
    ran = run(capsys, monkeypatch, *arguments)
    refused(ran, said)
    assert len(ran.err.strip().splitlines()) == 1


def test_a_command_without_a_word_tells_what_there_is(capsys, monkeypatch):
    ran = run(capsys, monkeypatch)
    assert ran.status == 2 and "scan" in ran.out + ran.err


@pytest.mark.slow
def test_a_board_whose_flat_picture_is_none_is_refused(tmp_path, capsys, monkeypatch):
    parts, board = tmp_path / "parts.csv", tmp_path / "board.json"
    parts.write_text(GOOD)
    record = json.loads(board_json(ash_board()))
    face = record["faces"]["1"]
    face |= {"picture": "face.jpg", "mm_per_px": 0.5, "picture_origin": [0.0, 0.0]}
    board.write_text(json.dumps(record))
    (tmp_path / "face.jpg").write_bytes(b"no picture")
    out = tmp_path / "o"
    ran = run(capsys, monkeypatch, "place", parts, board, "-o", out, "--work", 1)
    refused(ran, "face.jpg", "damaged")
    assert not out.exists()


@pytest.mark.parametrize("command", [["try"], ["look", "--mm-per-px", "0.5"]])
def test_a_photo_is_never_written_over(command, tmp_path, capsys, monkeypatch):
    photo = tmp_path / "a.jpg"
    Image.new("RGB", (600, 400)).save(photo)
    before = photo.read_bytes()
    ran = run(capsys, monkeypatch, *command, photo, "-o", photo)
    refused(ran, "a file that you gave")
    assert photo.read_bytes() == before


@pytest.mark.parametrize(
    "command", [["strip"], ["try", "a.jpg"], ["tally", "b.csv"], ["buy", "p.csv"]]
)
@pytest.mark.parametrize("output", [".", "..", "made"])
def test_a_folder_is_no_file_to_write(command, output, tmp_path, capsys, monkeypatch):
    (tmp_path / "made").mkdir()
    monkeypatch.chdir(tmp_path)
    refused(run(capsys, monkeypatch, *command, "-o", output), "is a folder")
    assert [path.name for path in tmp_path.iterdir()] == ["made"]


def test_an_output_folder_with_a_name_too_long_is_refused(
    tmp_path, board_file, capsys, monkeypatch
):
    parts = tmp_path / "parts.csv"
    parts.write_text(GOOD)
    ran = run(capsys, monkeypatch, "place", parts, board_file, "-o", tmp_path / ("o" * 300))
    refused(ran, "was not written")


def test_an_unknown_schema_is_refused(capsys, monkeypatch):
    refused(run(capsys, monkeypatch, "schema", "house"), "house")


@pytest.mark.parametrize("name", ["board", "layout", "parts"])
def test_schemas_are_printed(name, capsys, monkeypatch):
    ran = run(capsys, monkeypatch, "schema", name)
    assert ran.status == 0
    assert json.loads(ran.out)["additionalProperties"] is False


def test_an_option_that_does_nothing_is_named(tmp_path, capsys, monkeypatch):
    both = ("place", "gone.csv", "gone.json", "--work", 1, "--seconds", 2, "-o", tmp_path)
    assert "--seconds has no effect beside --work" in run(capsys, monkeypatch, *both).out


def test_the_page_does_not_start_on_what_is_no_lot(tmp_path, capsys, monkeypatch):
    board = tmp_path / "board.json"
    board.write_text("{}")
    refused(run(capsys, monkeypatch, "page", "--lot", board), "board.json is no lot file")
    damaged = tmp_path / "ash.lot"
    damaged.write_text("chalk")
    refused(run(capsys, monkeypatch, "page", "--lot", damaged), "ash.lot is no lot file")
    nowhere = tmp_path / "nowhere" / "ash.lot"
    refused(run(capsys, monkeypatch, "page", "--lot", nowhere), "may not be opened or written")
