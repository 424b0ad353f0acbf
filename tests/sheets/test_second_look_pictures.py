"""Pictures to nod at show the wood where it is said to lie."""

import numpy as np

from scanner.sheets.second_look_pictures import piece_under_board, places_on_edge, rings_on_end

RED, BLUE = (200, 20, 20), (20, 20, 200)


def plain(height, width, colour):
    return np.full((height, width, 3), colour, dtype=np.uint8)


def test_the_board_lies_above_the_piece_and_both_are_equally_wide():
    # 1600 px wide: the board 200 high, the piece 400, a white gap of 10 between them.
    sheet = piece_under_board(plain(25, 200, RED), plain(25, 100, BLUE))
    assert sheet.size == (1600, 200 + 10 + 400)
    assert [sheet.getpixel((x, 199)) for x in (0, 1599)] == [RED, RED]
    assert sheet.getpixel((800, 205)) == (255, 255, 255)
    assert [sheet.getpixel((x, 211)) for x in (0, 1599)] == [BLUE, BLUE]


def test_an_edge_is_shown_close_up_where_it_was_read_each_place_in_a_column_of_its_own():
    # 400 mm at 0.5 mm a px, red up to 200 mm; 70 mm about 50 mm, and about a place past the end.
    edge = np.hstack([plain(40, 400, RED), plain(40, 400, BLUE)])
    sheet = places_on_edge(edge, 0.5, 0.0, ((50.0, "27.1 mm"), (900.0, "26.4 mm")))
    assert sheet.width == 1600
    assert {sheet.getpixel((x, 5)) for x in (5, 400, 790)} == {RED}
    assert {sheet.getpixel((x, 5)) for x in (810, 1200, 1595)} == {BLUE}
    words = np.asarray(sheet)[-44:]
    assert (words[:, :795] < 128).any() and (words[:, 805:] < 128).any()


def test_a_stroke_along_the_rings_lies_at_its_place():
    # 100 x 50 mm at 0.25 mm a px becomes 1600 px wide, 16 px a mm; 7 mm to either side, upright.
    picture = rings_on_end(plain(200, 400, BLUE), 0.25, ((25.0, 20.0, 0.0, 3.0),))
    stroke = [picture.getpixel((400, y)) == BLUE for y in (190, 220, 320, 420, 450)]
    assert stroke == [True, False, False, False, True]
    assert picture.getpixel((425, 320)) == BLUE
