"""No map of a former layout stays beside the maps of the one that took its place.

Files are deleted: what is not surely a sheet of that layout, written by this program, stays.
"""

import os

import pytest
from PIL import Image

from scanner.app.placing.former_sheets import former_sheets, take_away, taken_away_line
from scanner.files.layout_file import layout_json
from scanner.placement.layout import Placement
from scanner.sheets.pdf import pdf_bytes
from scanner.sheets.png import png_bytes
from tests.command import run
from tests.lot.laid import layout_of

HEADER = "name,quantity,length,width,thickness,faces\n"
BOARDS = "id,thickness,length,width\nB01,4/4,1000 mm,100 mm\nB02,4/4,1000 mm,100 mm\n"
PICTURE = png_bytes(Image.new("RGB", (20, 10), "white"))
SHEETS = {
    "B01-map.pdf": pdf_bytes((), "Board map B01"),
    "B01-map.png": PICTURE,
    "B01-map-2.png": PICTURE,
    "layout.pdf": pdf_bytes((), "Layout"),
    "layout-13.png": PICTURE,
}
# Ours by their content, but by no name that place gives to a sheet of this layout.
OTHER_NAMES = {
    "B02-map.pdf": pdf_bytes((), "Board map B02"),
    "B02-map.png": PICTURE,
    "B01-map-2.pdf": pdf_bytes((), "Board map B01"),
    "B01-map-1.png": PICTURE,
    "B01-map-02.png": PICTURE,
    "B01-map-\u0662.png": PICTURE,  # a two, but not as place writes it
    "B01-map.png\n": PICTURE,
    "XB01-map.png": PICTURE,
    "B01-map-old.png": PICTURE,
    "layout-map.png": PICTURE,
    "B01-grade.png": PICTURE,
}


def lay(folder, board="B01", files=SHEETS):
    """Write a layout of one board, and files beside it."""
    (folder / "layout.json").write_text(
        layout_json(layout_of(Placement("rail", 1, board, 20.0, 10.0, 800.0, 60.0)))
    )
    for name, content in files.items():
        (folder / name).write_bytes(content)


def names(folder):
    return [path.name for path in former_sheets(folder)]


def test_only_sheets_of_the_layout_in_the_folder_are_its_sheets(tmp_path):
    lay(tmp_path, files=SHEETS | OTHER_NAMES)
    (tmp_path / "layout.png").mkdir()
    assert names(tmp_path) == sorted(SHEETS)
    assert take_away(former_sheets(tmp_path), ()) == len(SHEETS)
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"layout.json", "layout.png", *OTHER_NAMES}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"%PDF-1.4\n/Creator (bothfaces)\n%%EOF",
        pdf_bytes((), "Board map B02"),
        pdf_bytes((), "Story stick B01"),
        pdf_bytes((), "Board map B01").replace(b"(bothfaces)", b"(somebody)"),
        # Notes made in a viewer: a second record, with the day.
        pdf_bytes((), "Board map B01")
        + b"8 0 obj << /Author (me) /ModDate (D:20260501) /Trapped /False >> endobj %%EOF",
        PICTURE,
    ],
    ids=["empty", "forged", "another board", "stick", "another program", "notes", "picture"],
)
def test_what_this_program_did_not_write_as_that_map_stays(tmp_path, content):
    lay(tmp_path, files={"B01-map.pdf": content})
    assert names(tmp_path) == []


def test_a_picture_of_somebody_elses_stays(tmp_path):
    Image.new("RGB", (20, 10)).save(tmp_path / "B01-map.png")
    (tmp_path / "layout.png").write_bytes(b"Software\0bothfaces")
    lay(tmp_path, files={})
    assert names(tmp_path) == []


def test_links_stay_and_what_they_lead_to(tmp_path):
    elsewhere, folder = tmp_path / "kept", tmp_path / "out"
    elsewhere.mkdir()
    folder.mkdir()
    lay(elsewhere)
    lay(folder, files={})
    for name in SHEETS:
        (folder / name).symlink_to(elsewhere / name)
    (folder / "layout-2.png").symlink_to(elsewhere / "nothing.png")
    assert names(folder) == []
    # A sheet that became a link while the parts were placed.
    assert take_away([folder / "layout.pdf"], ()) == 0
    assert (elsewhere / "layout.pdf").is_file() and (folder / "layout.pdf").is_symlink()


@pytest.mark.parametrize("board", ["A.B", "Bo\u0308-\u00f6", "layout", "B01-map"])
def test_a_boards_name_is_no_pattern(tmp_path, board):
    own = {f"{board}-map.pdf": pdf_bytes((), f"Board map {board}"), f"{board}-map.png": PICTURE}
    others = {f"{name}-map.png": PICTURE for name in ("AxB", "BB", "B01", "any")}
    lay(tmp_path, board, own | others)
    assert names(tmp_path) == sorted(own)


def test_what_was_written_anew_stays_under_whatever_name(tmp_path):
    lay(tmp_path)
    # As where capitals make no other name: the new file is the former one.
    os.link(tmp_path / "B01-map.pdf", tmp_path / "b01-map.pdf")
    written = (tmp_path / "b01-map.pdf", tmp_path / "layout.pdf", tmp_path / "layout.json")
    assert take_away(former_sheets(tmp_path), written) == 3
    left = {path.name for path in tmp_path.iterdir()}
    assert left == {"b01-map.pdf", "B01-map.pdf", "layout.pdf", "layout.json"}


def test_what_took_a_sheets_name_while_parts_were_placed_stays(tmp_path):
    lay(tmp_path)
    former = former_sheets(tmp_path)
    (tmp_path / "B01-map.pdf").write_bytes(b"%PDF-1.4 mine")
    (tmp_path / "layout.pdf").unlink()
    assert take_away(former, ()) == len(SHEETS) - 2
    assert (tmp_path / "B01-map.pdf").read_bytes() == b"%PDF-1.4 mine"


def test_of_two_lots_in_one_folder_the_one_without_the_layout_keeps_its_maps(tmp_path):
    first = {"A1-map.pdf": pdf_bytes((), "Board map A1"), "A1-map.png": PICTURE}
    lay(tmp_path, "A1", first)
    lay(tmp_path, "B01")  # the second lot's layout.json took the first one's place
    assert names(tmp_path) == sorted(SHEETS)


def test_it_is_told_how_many_went():
    assert taken_away_line(3) == ("taken away: 3 sheets of the layout that was there before",)
    assert taken_away_line(0) == ()


def test_a_folder_without_a_layout_of_ours_keeps_all(tmp_path):
    lay(tmp_path)
    for text in ("{}", "[", ""):
        (tmp_path / "layout.json").write_text(text)
        assert names(tmp_path) == []
    (tmp_path / "layout.json").unlink()
    assert names(tmp_path) == names(tmp_path / "none") == []
    (tmp_path / "layout.json").mkdir()
    assert names(tmp_path) == []


def test_what_cannot_be_looked_at_or_deleted_is_no_fault(tmp_path, monkeypatch):
    lay(tmp_path)

    def refused(*_):
        raise PermissionError

    former = former_sheets(tmp_path)
    monkeypatch.setattr(type(tmp_path), "unlink", refused)
    assert take_away(former, ()) == 0
    monkeypatch.setattr(type(tmp_path), "iterdir", refused)
    assert names(tmp_path) == []


@pytest.mark.slow
def test_placing_fewer_parts_leaves_no_map_of_a_board_no_longer_used(tmp_path, capsys, monkeypatch):
    boards, parts, out = (tmp_path / name for name in ("boards.csv", "parts.csv", "out"))
    boards.write_text(BOARDS)
    place = ("place", parts, boards, "--work", 5, "-o", out)
    parts.write_text(HEADER + "rail,2,800,60,20,both\n")
    assert run(capsys, monkeypatch, *place).status == 0
    assert len(tuple(out.glob("B*-map.pdf"))) == 2
    parts.write_text(HEADER + "rail,1,800,60,20,both\n")
    ran = run(capsys, monkeypatch, *place)
    assert ran.status == 0 and "taken away: 3 sheets" in ran.out  # the second layout page too
    assert len(tuple(out.glob("B*-map.*"))) == 2
    # A refusal takes nothing away.
    parts.write_text("none")
    assert run(capsys, monkeypatch, *place).status == 2
    assert len(tuple(out.glob("B*-map.*"))) == 2
