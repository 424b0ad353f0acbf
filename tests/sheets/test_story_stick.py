"""The story stick: a full-size paper tape with the cuts of one board."""

import json
import re
from dataclasses import replace

import pytest
from pypdf import PdfReader
from shapely.geometry import box

from scanner.app.lot.given_boards import boards_and_parts
from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.errors import PlacementError, SettingsError
from scanner.sheets.fonts import text_width
from scanner.sheets.stick_pages import stick_pages
from scanner.sheets.story_stick import StickKnot, story_stick
from scanner.sheets.strip_shapes import Area, Stroke, Words
from scanner.sheets.words import by_name
from tests.command import run
from tests.common import ash_board, bench_parts, shelf_parts, small_layout, walnut_board

PARTS = by_name(bench_parts() + shelf_parts())
# The block of pieces stands in the middle of an A4 page, 258 mm wide (geometry of the strip).
LEFT_MM = (297.0 - 258.0) / 2


def stick_of(board):
    return story_stick(small_layout(), board, PARTS, "mm")


def full_lines(page, row):
    """Return where heavy lines cross a whole piece of a page, mm from its left joint line."""
    middle = 105.0 + (1 - row) * 64.0
    return sorted(
        shape.start[0] - LEFT_MM
        for shape in page.shapes
        if isinstance(shape, Stroke)
        and shape.width == 0.5
        and abs((shape.start[1] + shape.stop[1]) / 2 - middle) < 1
        and abs(shape.start[1] - shape.stop[1]) == pytest.approx(60.0)
    )


def words_on(page):
    return " ".join(shape.text for shape in page.shapes if isinstance(shape, Words))


def test_every_crosscut_is_a_line_at_its_running_distance_from_end_a():
    # By hand from the layout: pieces 150 to 785, 850 to 1875 and 1885 to 2160 mm of the ash board.
    pages = stick_pages(stick_of(ash_board()), "a4")
    lines = [
        (3 * number + row) * 250.0 + x
        for number, page in enumerate(pages)
        for row in range(3)
        for x in full_lines(page, row)
    ]
    assert lines == pytest.approx([150, 785, 850, 1875, 1885, 2160], abs=0.05)


def test_a_board_takes_a_piece_for_every_250_mm_and_three_pieces_a_page():
    # 2462 mm: ten pieces on four pages.
    pages = stick_pages(stick_of(ash_board()), "letter")
    assert len(pages) == 4
    assert "piece 10 of 10" in words_on(pages[-1])


def test_the_kerf_falls_on_the_side_that_is_not_a_piece():
    sides = [cut.kerf_side for cut in stick_of(ash_board()).cuts]
    assert sides == [-1, 1, -1, 1, -1, 1]


def test_parts_and_rips_are_named_as_on_the_board_map():
    words = words_on(stick_pages(stick_of(ash_board()), "a4")[0])
    assert "rail 1" in words
    assert "rips in from the far edge, A end to B end: 7 to 5, 89 to 87" in words


def test_a_left_over_worth_keeping_is_not_called_waste():
    # The walnut board's left-over: 400 x 220 mm, 1372 mm from end A.
    stick = stick_of(walnut_board())
    (kept,) = [span for span in stick.spans if span.keep]
    assert (kept.piece, kept.keep) == (None, "400 × 220 mm")
    assert kept.to_mm - kept.from_mm == pytest.approx(400.0, abs=0.5)
    ends = [(span.from_mm, span.to_mm) for span in stick.spans]
    assert [b for _, b in ends[:-1]] == [a for a, _ in ends[1:]]
    pages = stick_pages(stick, "a4")
    assert "keep 400 × 220 mm, see the map" in words_on(pages[1])
    # 1372 to 1772 mm: the whole piece from 1500 to 1750 mm has no waste on it.
    hatched = [s for s in pages[2].shapes if isinstance(s, Stroke) and s.width == 0.15]
    assert not any(s.start[1] > 140.0 and s.start[0] < LEFT_MM + 250.0 for s in hatched)


def test_left_overs_that_lie_beside_each_other_are_one_stretch():
    layout = small_layout()
    (first,) = [one for one in layout.offcuts if one.board == "B02"]
    both = replace(layout, offcuts=(first, replace(first, x_mm=1500.0, y_mm=100.0, width_mm=60.0)))
    stick = story_stick(both, walnut_board(), PARTS, "mm")
    (kept,) = [span for span in stick.spans if span.keep]
    assert kept.keep == "400 × 220 mm, 400 × 60 mm"
    assert kept.to_mm - kept.from_mm == pytest.approx(528.0, abs=1.0)


def test_more_rips_than_a_piece_has_room_for_are_left_to_the_map():
    stick = stick_of(ash_board())
    piece = next(span for span in stick.spans if span.piece is not None)
    crowded = replace(piece, rips=tuple(f"{n}.5 to {n}.25" for n in range(60)))
    spans = tuple(crowded if span is piece else span for span in stick.spans)
    assert "the rest on the board's map" not in words_on(stick_pages(stick, "a4")[0])
    said = " ".join(words_on(page) for page in stick_pages(replace(stick, spans=spans), "a4"))
    assert "… the rest on the board's map" in said and "59.5" not in said


def test_the_tape_says_which_edge_it_lies_on():
    assert "ruled edge on the far edge" in words_on(stick_pages(stick_of(ash_board()), "a4")[0])
    assert "ruled edge on the near edge" in words_on(stick_pages(stick_of(walnut_board()), "a4")[0])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("name", ["B01", "white-ash-left-over-of-the-hall-bench-7"])
def test_every_sheet_of_a_tape_that_goes_to_the_saw_says_what_to_mind(paper, name):
    unseen = replace(stick_of(ash_board()), is_looked_over=False, board=name)
    for page in stick_pages(unseen, paper):
        (foot,) = (s for s in page.shapes if isinstance(s, Words) and "table saw" in s.text)
        assert "NOT LOOKED OVER" in foot.text
        assert text_width(foot.text, foot.height / 0.729) <= 258.0
    seen = replace(unseen, is_looked_over=True)
    assert "NOT LOOKED OVER" not in words_on(stick_pages(seen, paper)[0])


def test_a_print_that_came_out_short_is_made_up_for():
    (first, *_) = stick_pages(stick_of(ash_board()), "a4", measured_mm=249.0)
    line = min(s.start[0] for s in first.shapes if isinstance(s, Stroke) and s.width == 0.5)
    left = (297.0 - 258.0 * 250 / 249) / 2
    assert (line - left) * 249 / 250 == pytest.approx(150.0, abs=0.05)
    with pytest.raises(SettingsError, match=r"250\.0 mm line cannot measure"):
        stick_pages(stick_of(ash_board()), "a4", measured_mm=180.0)


@pytest.mark.slow
def test_the_command_writes_a_pdf_and_tells_to_check_its_line(tmp_path, capsys, monkeypatch):
    boards, parts = tmp_path / "boards.csv", tmp_path / "parts.csv"
    boards.write_text("id,thickness,length,width,species\nB01,4/4,8 ft,7 1/4 in,white ash\n")
    parts.write_text("name,quantity,length,width,thickness,faces\nrail,2,600,60,20,both\n")
    run(capsys, monkeypatch, "place", parts, boards, "--work", 10, "-o", tmp_path)
    layout = tmp_path / "layout.json"
    assert json.loads(layout.read_text())["cuts"]
    ran = run(capsys, monkeypatch, "stick", layout, boards, parts, "-o", tmp_path / "s.pdf")
    assert ran.status == 0
    assert "measure the 250.0 mm" in ran.out
    assert len(PdfReader(tmp_path / "s.pdf").pages) == 4
    ran = run(
        capsys, monkeypatch, "stick", layout, boards, parts, "--board", "B07", "-o", tmp_path / "t"
    )
    assert ran.status == 2
    assert not (tmp_path / "t").exists()
    boards.write_text(boards.read_text().replace("8 ft,7 1/4 in", "300 mm,70 mm"))
    ran = run(capsys, monkeypatch, "stick", layout, boards, parts, "-o", tmp_path / "t")
    assert ran.status == 2 and "where B01 has no wood: give the boards that it was" in ran.sentence


@pytest.mark.slow
def test_all_boards_that_are_cut_come_in_one_pdf(tmp_path, capsys, monkeypatch):
    boards, parts = tmp_path / "boards.csv", tmp_path / "parts.csv"
    rows = "".join(f"B0{n},4/4,900 mm,80 mm\n" for n in (1, 2, 3))
    boards.write_text("id,thickness,length,width\n" + rows)
    parts.write_text("name,quantity,length,width,thickness,faces\nrail,2,700,60,20,both\n")
    run(capsys, monkeypatch, "place", parts, boards, "--work", 10, "-o", tmp_path)
    cut = {line["board"] for line in json.loads((tmp_path / "layout.json").read_text())["cuts"]}
    assert len(cut) == 2
    stick = ("stick", tmp_path / "layout.json", boards, parts, "-o", tmp_path / "s.pdf")
    ran = run(capsys, monkeypatch, *stick)
    assert ran.status == 0 and f"for boards {', '.join(sorted(cut))}" in ran.out
    pages = [page.extract_text() for page in PdfReader(tmp_path / "s.pdf").pages]
    assert {id for id in cut if any(f"of board {id}" in page for page in pages)} == cut
    assert run(capsys, monkeypatch, *stick, "--board", min(cut)).status == 0
    assert len(PdfReader(tmp_path / "s.pdf").pages) == len(pages) // 2
    # Parts first and a file for each board, as every other command takes them.
    single = []
    for n, row in enumerate(rows.splitlines()):
        single.append(tmp_path / f"one-{n}.csv")
        single[-1].write_text(f"id,thickness,length,width\n{row}\n")
    ran = run(capsys, monkeypatch, "stick", stick[1], parts, *single, "-o", tmp_path / "s.pdf")
    assert ran.status == 0 and f"for boards {', '.join(sorted(cut))}" in ran.out


def test_which_file_is_the_parts_list_its_content_says(tmp_path):
    parts, boards, lot = tmp_path / "p.csv", tmp_path / "b.csv", tmp_path / "ash.lot"
    parts.write_text("name;quantity;length;width;thickness;faces\n")
    boards.write_text("id,thickness,length,width\n")
    as_json = tmp_path / "p.json"
    as_json.write_text('{"format": "parts", "version": 1, "parts": []}')
    for order in ([parts, boards, lot], [boards, parts, lot], [boards, lot, parts]):
        assert boards_and_parts(order) == ((boards, lot), parts)
    assert boards_and_parts([as_json, boards]) == ((boards,), as_json)
    as_json.write_text("[]")
    assert boards_and_parts([as_json, boards]) == ((boards,), as_json)
    as_json.write_text('{"format": "parts", "version": 1, "parts": []}')
    parts.write_text("sep=;\nname;quantity;length;width;thickness;faces\n")
    assert boards_and_parts([boards, parts]) == ((boards,), parts)
    for given, says in (
        ([boards, lot], "no parts list"),
        ([parts, as_json, boards], "are both parts lists"),
        ([parts], "no board"),
    ):
        with pytest.raises(PlacementError, match=says):
            boards_and_parts(given)


def test_knots_that_lie_close_share_their_words_and_stay_on_the_piece():
    """Words over each other, or on the tab that the next piece is glued to, cannot be read."""
    knots = (StickKnot(240.0, "knot on face 2"), StickKnot(245.0, "knot on face 1"))
    (page, *_) = stick_pages(replace(stick_of(ash_board()), knots=knots), "a4")
    said = [shape for shape in page.shapes if isinstance(shape, Words) and "knot" in shape.text]
    assert [shape.text for shape in said] == ["knots, left to right on face 2, 1"]
    assert LEFT_MM + 150 < said[0].at[0] < LEFT_MM + 240 - 30
    apart = (StickKnot(20.0, "knot on face 2"), StickKnot(120.0, "knot on face 1"))
    (page, *_) = stick_pages(replace(stick_of(ash_board()), knots=apart), "a4")
    said = [shape for shape in page.shapes if isinstance(shape, Words) and "knot" in shape.text]
    assert [shape.text for shape in said] == ["knot on face 2", "knot on face 1"]
    assert [shape.at[0] - LEFT_MM for shape in said] == pytest.approx([23.2, 123.2], abs=5.0)


def test_no_line_breaks_between_a_figure_and_its_fraction():
    stick = stick_of(ash_board())
    rips = tuple(f"{n} 1/2 to {n} 3/8" for n in range(1, 15))
    spans = tuple(replace(span, rips=rips) for span in stick.spans)
    for length in (100.0, 110.0, 120.0, 130.0):
        short = tuple(replace(span, to_mm=span.from_mm + length) for span in spans)
        for page in stick_pages(replace(stick, spans=short), "a4"):
            for shape in page.shapes:
                if isinstance(shape, Words) and "3/8" in shape.text:
                    assert re.match(r"piece|\d+ 1/2 to", shape.text)
                    assert shape.text.rstrip(",").endswith("3/8")


def words_of(shape):
    """Return from where to where upright words run, mm from the left joint line of a piece."""
    wide = text_width(shape.text, shape.height / 0.729)
    return shape.at[0] - LEFT_MM, shape.at[0] - LEFT_MM + wide


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_cut_crosses_the_words_that_name_a_piece(units):
    for board in (ash_board(), walnut_board()):
        for page in stick_pages(story_stick(small_layout(), board, PARTS, units), "a4"):
            named = [s for s in page.shapes if isinstance(s, Words) and "ruled edge" in s.text]
            assert named
            for words in named:
                low, high = words_of(words)
                row = round(1 + (105.0 - words.at[1]) / 64.0)
                assert not any(low < x < high for x in full_lines(page, row)), words.text


def test_between_cuts_too_close_for_a_pieces_name_it_stands_on_a_clean_ground():
    stick = stick_of(ash_board())
    close = tuple(replace(stick.cuts[0], at_mm=at) for at in (60.0, 120.0, 190.0))
    (page, *_) = stick_pages(replace(stick, cuts=close), "a4")
    at = next(
        n for n, s in enumerate(page.shapes) if getattr(s, "text", "").startswith("board B01")
    )
    low, high = words_of(page.shapes[at])
    sheet = page.shapes[at - 1]
    assert isinstance(sheet, Area) and sheet.grey == 1.0
    xs = [x - LEFT_MM for x, _ in sheet.points]
    assert (min(xs), max(xs)) == pytest.approx((low, high), abs=0.1) and low < 60.0 < high


@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_figure_of_the_graduations_touches_a_joints_triangle(units):
    stick = replace(story_stick(small_layout(), ash_board(), PARTS, units), length_mm=4800.0)
    figures = [
        words_of(shape)
        for page in stick_pages(stick, "a4")
        for shape in page.shapes
        if isinstance(shape, Words) and shape.text.isdigit()
    ]
    assert len(figures) > 40
    # The triangles are 3 mm long, their tips on the joint lines 250 mm apart.
    assert min(low for low, _ in figures) > 3.5 and max(high for _, high in figures) < 246.5


def test_a_left_over_is_never_told_with_half_its_size():
    stick = stick_of(walnut_board())
    (kept,) = [span for span in stick.spans if span.keep]
    for long, said in ((75.0, f"keep {kept.keep}, see the map"), (40.0, "keep, see the map")):
        spans = (replace(kept, from_mm=100.0, to_mm=100.0 + long),)
        (page, *_) = stick_pages(replace(stick, spans=spans), "a4")
        assert said in [shape.text for shape in page.shapes if isinstance(shape, Words)]


def test_a_knot_drawn_off_the_board_is_on_no_tape():
    board = ash_board()
    away = Flaw("F9", FlawKind.KNOT, {1: box(300, 900, 340, 940)}, state=FlawState.CONFIRMED)
    (extra,) = set(stick_of(board.with_flaws((*board.flaws, on_wood(away)))).knots) - set(
        stick_of(board).knots
    )
    assert extra.text == "knot on face 1"
    assert stick_of(board.with_flaws((*board.flaws, away))).knots == stick_of(board).knots


def on_wood(flaw):
    return replace(flaw, outlines={1: box(300, 90, 340, 120)})
