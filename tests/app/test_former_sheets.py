"""No map of a former layout stays beside the maps of the one that took its place."""

import pytest

from scanner.app.former_sheets import former_sheets, take_away, taken_away_line
from scanner.files.layout_file import layout_json
from scanner.placement.layout import Placement
from tests.command import run
from tests.lot.laid import layout_of

HEADER = "name,quantity,length,width,thickness,faces\n"
BOARDS = "id,thickness,length,width\nB01,4/4,1000 mm,100 mm\nB02,4/4,1000 mm,100 mm\n"


@pytest.fixture
def folder(tmp_path):
    """A folder with a layout of B01, its sheets, and files of other people."""
    (tmp_path / "layout.json").write_text(
        layout_json(layout_of(Placement("rail", 1, "B01", 20.0, 10.0, 800.0, 60.0)))
    )
    for name in (
        "B01-map.pdf", "B01-map-2.png", "layout-3.png", "layout.pdf",
        "B02-map.pdf", "garden-map.png", "B01-map.txt", "B01-map-old.pdf",
    ):  # fmt: skip
        (tmp_path / name).write_text(name)
    (tmp_path / "B01-map.png").mkdir()
    return tmp_path


def test_only_sheets_of_the_layout_in_the_folder_are_its_sheets(folder):
    names = [path.name for path in former_sheets(folder)]
    assert names == ["B01-map-2.png", "B01-map.pdf", "layout-3.png", "layout.pdf"]


def test_what_was_written_anew_stays(folder):
    gone = take_away(former_sheets(folder), (folder / "layout.pdf", folder / "layout.json"))
    assert gone == 3
    left = {path.name for path in folder.iterdir()}
    assert "layout.pdf" in left and "B02-map.pdf" in left and "B01-map.pdf" not in left
    assert taken_away_line(gone) == ("taken away: 3 sheets of the layout that was there before",)
    assert taken_away_line(0) == ()


def test_a_folder_without_a_layout_of_ours_keeps_all(tmp_path):
    (tmp_path / "layout.pdf").write_text("mine")
    assert former_sheets(tmp_path) == former_sheets(tmp_path / "none") == ()
    (tmp_path / "layout.json").write_text("{}")
    assert former_sheets(tmp_path) == ()


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
