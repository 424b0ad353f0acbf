"""Cuts in sawing order, the lines to mark for them, and what they make."""

from dataclasses import replace

from scanner.placement.layout import Cut
from scanner.sheets.board_share import board_share
from scanner.sheets.cut_list import crosscut_line_mm, cut_rows
from scanner.sheets.tape import hooked_edge
from scanner.sheets.words import by_name
from tests.common import ash_board, bench_parts, small_layout, walnut_board

PARTS = by_name(bench_parts())


def ash_cuts(layout=None, units="mm"):
    board = ash_board()
    return cut_rows(layout or small_layout(), board, PARTS, hooked_edge(board), units)


def test_cuts_stand_in_sawing_order_with_what_they_make():
    rows = ash_cuts()
    assert [row.order for row in rows] == list(range(1, 18))
    assert (rows[0].at, rows[0].piece, rows[0].text) == ("150", "1", "starts; end A comes off")
    assert (rows[1].piece, rows[1].text) == ("1", "ends")
    assert (rows[7].piece, rows[7].text) == ("1", "rail 1 to 82")
    assert (rows[14].kind, rows[14].at, rows[14].text) == ("to length", "700", "stretcher to 700")


def test_a_rip_line_is_found_from_the_far_edge_at_both_its_ends():
    # The far edge of the ash board bows in: y is 0.6 mm at x = 150 and 3.1 mm at x = 785.
    rip = ash_cuts()[6]
    assert (rip.kind, rip.at, rip.text) == ("rip", "7 to 5", "far side of rail 1")
    assert ash_cuts(units="inch")[6].at == "5/16 to 3/16"


def test_a_line_to_mark_is_the_edge_of_the_piece_not_the_middle_of_the_kerf():
    rows = ash_cuts()
    assert [row.at for row in rows[:6]] == ["150", "785", "850", "1875", "1885", "2160"]


def edges_along(layout, cut):
    """Return the y of both edges of every part that a rip runs along."""
    return [
        y
        for part in layout.placements
        if part.board == cut.board and part.x_mm < cut.to_mm[0]
        if part.x_mm + part.length_mm > cut.from_mm[0]
        for y in (part.y_mm, part.y_mm + part.width_mm)
    ]


def test_cuts_given_at_the_edges_themselves_make_the_same_list():
    layout = small_layout()

    def at_the_edge(cut):
        if cut.kind == "crosscut":
            x = crosscut_line_mm(layout, cut)
            return replace(cut, from_mm=(x, cut.from_mm[1]), to_mm=(x, cut.to_mm[1]))
        if cut.kind == "rip":
            y = min(edges_along(layout, cut), key=lambda y: abs(y - cut.from_mm[1]))
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


def test_one_rip_that_sizes_a_part_need_not_name_the_next():
    layout = small_layout()
    second = replace(layout.placements[1], y_mm=93.2)
    placements = (layout.placements[0], second, *layout.placements[2:])
    between = Cut("B01", 8, "rip", (150.0, 91.6), (785.0, 91.6))
    cuts = tuple(between if c.board == "B01" and c.order == 8 else c for c in layout.cuts)
    row = ash_cuts(replace(layout, placements=placements, cuts=cuts))[7]
    assert (row.at, row.text) == ("89 to 87", "rail 1 to 82")


def test_two_rips_close_together_are_told_apart():
    layout = small_layout()
    second = replace(layout.placements[1], y_mm=94.0)
    placements = (layout.placements[0], second, *layout.placements[2:])
    cut = Cut("B01", 9, "rip", (150.0, 92.4), (785.0, 92.4))
    cuts = tuple(cut if c.board == "B01" and c.order == 9 else c for c in layout.cuts)
    rows = ash_cuts(replace(layout, placements=placements, cuts=cuts))
    assert [row.text for row in rows[7:9]] == ["rail 1 to 82", "far side of rail 2"]


def test_a_board_s_share_of_a_layout_tells_the_same_cuts_and_pieces():
    layout = small_layout()
    for board in (ash_board(), walnut_board()):
        share = board_share(layout, board.id)
        assert {row.board for row in (*share.placements, *share.cuts)} == {board.id}
        held = [[share.placements[i] for i in piece.placements] for piece in share.pieces]
        pieces = [piece for piece in layout.pieces if piece.board == board.id]
        assert held == [[layout.placements[i] for i in piece.placements] for piece in pieces]
        assert share.summary == layout.summary


def with_states(states, **more):
    """Return the small layout with some parts of the ash board further on."""
    layout = small_layout()
    changed = tuple(
        replace(p, state=states.get((p.part, p.copy), p.state), **more) for p in layout.placements
    )
    return replace(layout, placements=changed)


def test_a_cut_is_called_done_once_all_its_parts_are_sawn_out():
    assert [row.mind for row in ash_cuts()] == [""] * 17
    half = ash_cuts(with_states({("rail", 1): "cut"}))
    # Its own two rips; the crosscuts hold the second rail's piece, too.
    assert [row.text for row in half if row.mind == "done"] == [
        "far side of rail 1",
        "rail 1 to 82",
    ]
    both = ash_cuts(with_states({("rail", 1): "cut", ("rail", 2): "milled"}))
    done = [row for row in both if row.mind == "done"]
    assert {row.piece for row in done} == {"1"} and [row.order for row in done][:2] == [1, 2]


def test_a_blank_of_slices_is_resawn_on_edge_after_all_straight_cuts():
    layout = small_layout()
    rail = layout.placements[0]
    slices = tuple(replace(rail, copy=copy, layer=copy) for copy in (1, 2))

    def rows(state):
        sliced = tuple(replace(p, state=state) for p in slices)
        pieces = (replace(layout.pieces[0], placements=(0, 1)),)
        return ash_cuts(replace(layout, placements=sliced, pieces=pieces))

    *straight, last = rows("planned")
    assert (last.order, last.number, last.kind, last.piece) == (None, "", "resaw", "1")
    assert last.text == "on edge in 2: rail 1, rail 2"
    assert "far side of rail 1, rail 2" in [row.text for row in straight]
    assert last.mind == "joint first"
    assert [row.kind for row in straight].count("resaw") == 0
    assert rows("cut")[-1].kind == "resaw" and rows("milled")[-1].kind != "resaw"
