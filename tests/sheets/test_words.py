"""Part titles and cautions in plain words."""

from dataclasses import replace

from scanner.board.flaw import FlawKind, FlawState
from scanner.placement.shop import Shop
from scanner.sheets.part_marks import placements_on
from scanner.sheets.words import by_name, cautions, finished_text, part_title
from tests.common import ash_board, bench_parts, plain_board, small_layout, walnut_board

PARTS = by_name(bench_parts())


def ash_cautions(board, shop=None):
    placements = placements_on(small_layout(), "B01")
    return " ".join(cautions(board, placements, PARTS, shop or Shop()))


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


def test_a_part_that_no_list_knows_gets_a_dash_for_its_finished_size():
    placement = small_layout().placements[0]
    assert finished_text(placement, PARTS, "mm") == "610 × 70 mm"
    assert finished_text(placement, {}, "mm") == "–"


def test_pith_and_splits_may_pinch_the_blade():
    board = ash_board()
    assert "pinch the blade" not in ash_cautions(replace(board, flaws=()))
    pithy = replace(board.flaws[0], kind=FlawKind.PITH, state=FlawState.CONFIRMED)
    assert "Pith or a split may close the kerf" in ash_cautions(replace(board, flaws=(pithy,)))
    struck = replace(pithy, state=FlawState.STRUCK)
    assert "pinch the blade" not in ash_cautions(replace(board, flaws=(struck,)))


def test_eleven_inches_and_an_inch_over_are_not_shorter_than_twelve():
    # As floats 279.4 + 25.4 mm are a hair under 304.8.
    shop = Shop.inch()
    apron = replace(small_layout().placements[4], length_mm=279.4 + 25.4)
    assert apron.length_mm < shop.shortest_piece_mm
    assert "your shortest" not in " ".join(cautions(plain_board(), (apron,), PARTS, shop))
