"""Cuts and cautions in plain words."""

from dataclasses import replace

from scanner.board.flaw import FlawState
from scanner.placement.shop import Shop
from scanner.sheets.part_marks import placements_on
from scanner.sheets.tape import hooked_edge
from scanner.sheets.words import (
    by_name,
    cautions,
    crosscut_line_mm,
    cut_rows,
    part_title,
    rip_line_mm,
)
from tests.common import ash_board, bench_parts, plain_board, small_layout, walnut_board

PARTS = by_name(bench_parts())


def ash_cuts(layout=None, units="mm"):
    board = ash_board()
    return cut_rows(layout or small_layout(), board, PARTS, hooked_edge(board), units)


def ash_cautions(board, shop=None):
    placements = placements_on(small_layout(), "B01")
    return " ".join(cautions(board, placements, PARTS, shop or Shop()))


def test_cuts_stand_in_sawing_order_with_what_they_make():
    rows = ash_cuts()
    assert [row.order for row in rows] == list(range(1, 18))
    assert (rows[0].at, rows[0].piece, rows[0].text) == ("150", "1", "starts; end A comes off")
    assert (rows[1].piece, rows[1].text) == ("1", "ends")
    assert (rows[7].piece, rows[7].text) == ("1", "rail 1 to 82")
    assert (rows[14].kind, rows[14].text) == ("crosscut", "stretcher to 700")


def test_a_rip_line_is_found_from_the_far_edge_at_both_its_ends():
    # The far edge of the ash board bows in: y is 0.6 mm at x = 150 and 3.1 mm at x = 785.
    rip = ash_cuts()[6]
    assert (rip.kind, rip.at, rip.text) == ("rip", "7 to 5", "rail 1, far side")
    assert ash_cuts(units="inch")[6].at == "5/16 to 3/16"


def test_a_line_to_mark_is_the_edge_of_the_piece_not_the_middle_of_the_kerf():
    rows = ash_cuts()
    assert [row.at for row in rows[:6]] == ["150", "785", "850", "1875", "1885", "2160"]


def test_cuts_given_at_the_edges_themselves_make_the_same_list():
    layout = small_layout()

    def at_the_edge(cut):
        if cut.kind == "crosscut":
            x = crosscut_line_mm(layout, cut)
            return replace(cut, from_mm=(x, cut.from_mm[1]), to_mm=(x, cut.to_mm[1]))
        if cut.kind == "rip":
            y = rip_line_mm(layout, cut)
            return replace(cut, from_mm=(cut.from_mm[0], y), to_mm=(cut.to_mm[0], y))
        return cut

    moved = tuple(at_the_edge(cut) for cut in layout.cuts)
    assert moved != layout.cuts
    assert ash_cuts(replace(layout, cuts=moved)) == ash_cuts()


def test_one_cut_between_two_pieces_names_both():
    layout = small_layout()
    pieces = (
        replace(layout.pieces[0], x1_mm=846.8),
        *layout.pieces[1:],
    )
    rows = ash_cuts(replace(layout, pieces=pieces))
    assert ("1, 2", "1 ends, 2 starts") in {(row.piece, row.text) for row in rows}


def test_a_part_wanted_once_needs_no_number():
    layout = small_layout()
    titles = [part_title(p, PARTS) for p in layout.placements[:5]]
    assert titles == ["rail 1", "rail 2", "seat slat 1", "stretcher", "cleat"]


def test_cautions_defer_to_manuals_and_people():
    text = ash_cautions(plain_board())
    assert "does not go on a table saw" in text
    assert "manuals of your machines" in text
    assert "Never stand in line with the blade" in text


def test_cautions_speak_of_this_board():
    text = ash_cautions(ash_board())
    assert "cleat: shorter than 305 mm" in text
    assert "push stick" in text
    assert "Cut loose knots out" in text
    assert "Look at every fresh end" in text
    assert "Look at both faces" in text


def test_a_board_looked_over_is_not_nagged():
    board = ash_board(looked_over=True)
    knots = tuple(replace(f, sound=True, state=FlawState.CONFIRMED) for f in board.flaws)
    text = ash_cautions(board.with_flaws(knots))
    assert "Look at every fresh end" not in text
    assert "Cut loose knots out" not in text


def test_many_short_parts_are_counted_not_listed():
    layout = small_layout()
    shorts = tuple(replace(layout.placements[4], copy=n) for n in range(1, 8))
    parts = {"cleat": replace(PARTS["cleat"], quantity=7)}
    text = cautions(walnut_board(), shorts, parts, Shop())[0]
    assert text.startswith("cleat 1, cleat 2, cleat 3 and 4 more: shorter than")
