"""Boards kept for some parts or whole, fillers, priority, jobs: from the files to the layout."""

from __future__ import annotations

import json

import pytest

from scanner.app.placing.place_parts import place_parts

pytestmark = pytest.mark.usefixtures("no_sheets")

BOARDS = """id,thickness,length,width,species,looked_over,only_parts,keep_whole
B1,27,1000,80,ash,yes,,yes
B2,27,1000,80,ash,yes,shelf | cleat,
B3,27,1000,80,ash,yes,,
"""
HEADER = "name,quantity,length,width,thickness,faces,priority,filler,only_boards,not_boards,job\n"


def placed(tmp_path, rows: str, boards: str = BOARDS):
    (tmp_path / "boards.csv").write_text(boards)
    (tmp_path / "parts.csv").write_text(HEADER + rows)
    result, _ = place_parts(
        tmp_path / "parts.csv", (tmp_path / "boards.csv",), tmp_path / "out", work=20
    )
    layout = json.loads((tmp_path / "out" / "layout.json").read_text())
    return sorted((p["part"], p["board"]) for p in layout["placements"]), result


def test_a_board_kept_whole_and_one_kept_for_other_parts_give_nothing(tmp_path):
    found, result = placed(tmp_path, "rail,3,900,60,20,both,1,,,,\n")
    assert found == [("rail", "B3")]
    (missing,) = result.layout.unplaced
    assert missing.copies == 2


def test_a_board_gives_the_parts_it_is_kept_for(tmp_path):
    found, _ = placed(tmp_path, "rail,1,900,60,20,both,1,,,,\nshelf,1,900,60,20,both,1,,,,\n")
    assert found == [("rail", "B3"), ("shelf", "B2")]


def test_the_larger_priority_gets_the_only_place(tmp_path):
    rows = "one,1,900,60,20,both,1,,B3,,\ntwo,1,900,60,20,both,2,,B3,,\n"
    assert placed(tmp_path, rows)[0] == [("two", "B3")]


def test_a_filler_comes_only_into_what_is_left_and_opens_no_board(tmp_path):
    """B3 gives the rail of 525 mm and, of the 411 mm left, three cleats of 125; B2 stays shut."""
    rows = "rail,1,500,60,20,both,1,,,,\ncleat,9,100,60,20,both,9,yes,,,\n"
    found, result = placed(tmp_path, rows)
    assert found == [*[("cleat", "B3")] * 3, ("rail", "B3")]
    (rest,) = result.layout.unplaced
    assert (rest.part, rest.copies) == ("cleat", 6)
    assert rest.reason.startswith("fillers: no left-over of the boards used")
    total = result.layout.summary
    assert total.placed + rest.copies == total.asked


def test_where_no_board_is_opened_each_filler_hears_why(tmp_path):
    found, result = placed(tmp_path, "cleat,1,100,60,20,both,9,yes,,,\n")
    assert found == []
    assert [(row.copies, row.reason) for row in result.layout.unplaced] == [
        (1, "filler: no board is used, so none has left-overs")
    ]


def test_a_part_stays_off_the_boards_it_must_not_come_from(tmp_path):
    found, result = placed(tmp_path, "rail,1,900,60,20,both,1,,,B3,\n")
    assert found == []
    assert "B3 is ruled out for this part" in result.layout.unplaced[0].reason


def test_each_of_several_jobs_hears_what_it_got(tmp_path):
    rows = "rail,1,900,60,20,both,2,,,,hall bench\nshelf,2,900,60,20,both,1,,,,wall shelf\n"
    found, result = placed(tmp_path, rows)
    assert found == [("rail", "B3"), ("shelf", "B2")]
    assert "Job hall bench: 1 of 1 parts placed." in result.advice
    assert "Job wall shelf: 1 of 2 parts placed." in result.advice


def test_a_name_that_ties_to_nothing_is_said(tmp_path):
    _, result = placed(tmp_path, "rail,1,900,60,20,both,1,,B3 B9,,\n")
    assert "rail: only_boards names B9, not among these boards." in result.advice
    assert "B2: only_parts names shelf, cleat, not in this parts list." in result.advice
