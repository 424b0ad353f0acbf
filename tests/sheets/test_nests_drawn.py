"""Curved parts nested in one blank: one blank on map, cut list and story stick, every curve named.

Two wedges of 400 x 100 mm, one turned end for end, each 5 mm from the other: a blank 420 mm long.
"""

from dataclasses import replace

import pytest

from scanner.board.board import Station
from scanner.board.measured import Measured
from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.laid.cuts import pieces_and_cuts
from scanner.placement.layout import Placement
from scanner.sheets.content import map_content
from scanner.sheets.cut_list import cut_rows
from scanner.sheets.map_page import map_page
from scanner.sheets.story_stick import story_stick
from scanner.sheets.tape import hooked_edge
from scanner.sheets.words import by_name
from tests.common import small_layout
from tests.instances.tiny import SHOP, board, part
from tests.sheets.texts import overlapping_texts, words_on

BOARD = replace(board("B1", 700, 130), widths=(Station(300.0, Measured(130.0, 0.0)),))
WEDGE = replace(
    part("wedge", 2, 400, 100), shape="w.svg", outline_mm=((0.0, 0.0), (400.0, 0.0), (0.0, 100.0))
)
PARTS = (WEDGE,)
NEST = (
    Placement("wedge", 1, "B1", 100.0, 10.0, 400.0, 100.0, nest=1),
    Placement("wedge", 2, "B1", 120.0, 10.0, 400.0, 100.0, nest=1, half_turn=True),
)


def layout(placements=NEST):
    pieces, cuts = pieces_and_cuts(BOARD, list(enumerate(placements)), SHOP)
    return replace(
        small_layout(), placements=placements, pieces=tuple(pieces), cuts=tuple(cuts),
        offcuts=(), kerf_mm=SHOP.kerf_mm,
    )  # fmt: skip


def rows(placements=NEST):
    return cut_rows(layout(placements), BOARD, by_name(PARTS), hooked_edge(BOARD), "mm")


def test_the_cut_list_names_a_nest_once_and_ends_with_its_curves_sawn_apart():
    texts = [row.text for row in rows()]
    assert "nest wedge 1, 2 to 100" in texts
    last = rows()[-1]
    assert (last.number, last.kind, last.piece) == ("", "band saw", "1")
    assert (last.text, last.mind) == ("curves apart: wedge 1, 2", "mill first")


def test_where_one_of_two_is_spoiled_nothing_is_left_to_saw_apart():
    spoiled = (NEST[0], replace(NEST[1], state="spoiled"))
    assert rows(spoiled)
    assert all(row.order is not None and "nest" not in row.text for row in rows(spoiled))


def test_the_story_stick_shows_the_blank_of_a_nest_once():
    stick = story_stick(layout(), BOARD, by_name(PARTS), "mm")
    (blank,) = stick.parts
    assert (blank.title, blank.row) == ("nest of wedge 1, 2", 0)
    assert (blank.from_mm, blank.to_mm) == pytest.approx((100.0, 520.0))
    assert [cut.at_mm for cut in stick.cuts] == pytest.approx([100.0, 520.0])


@pytest.mark.slow
def test_the_map_writes_every_name_inside_its_curve():
    (totals,) = board_totals([BOARD])
    content = map_content(BOARD, totals, layout(), layout_totals(layout()), PARTS, SHOP, {})
    pages = map_page(content, "a4")
    assert not any(overlapping_texts(page) for page in pages)
    words = [word for page in pages for word in words_on(page).splitlines()]
    # On both faces and in the table of parts.
    assert words.count("wedge 1") == words.count("wedge 2") == 3
    assert "nest 420 × 100" in words
