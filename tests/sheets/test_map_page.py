"""Board maps tell what a person at the bench needs, and nothing lies over anything else."""

from dataclasses import replace
from functools import cache

import pytest
from shapely.geometry import box

from scanner.board.flaw import Flaw, FlawKind, FlawState
from scanner.lot.saws import Danger, Mind
from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.layout import Cut
from scanner.placement.shop import Shop
from scanner.sheets.content import map_content
from scanner.sheets.drawing import Picture, Text
from scanner.sheets.map_page import map_page
from scanner.sheets.map_tables import Listed, Room, draw_what_fits
from scanner.sheets.paper import new_sheet
from scanner.sheets.png import page_image
from tests.common import (
    ash_board,
    bench_parts,
    flat_picture,
    plain_board,
    shelf_parts,
    small_layout,
    walnut_board,
)
from tests.sheets.golden import assert_like_golden, differing_share
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on

PARTS = bench_parts() + shelf_parts()
BOARDS = (ash_board(), walnut_board())


def content_of(board, shop=None, layout=None, photographed=True):
    layout = layout or small_layout()
    (totals,) = board_totals([board])
    pictures = {f: flat_picture(board, f) for f in (1, 2)} if photographed else {}
    figures = layout_totals(layout)
    return map_content(board, totals, layout, figures, PARTS, shop or Shop(), pictures)


@cache
def the_page(number, units="mm"):
    """Return the map of the ash (0) or walnut (1) board; drawn once, as pages are values."""
    shop, paper = (Shop.inch(), "letter") if units == "inch" else (Shop(), "a4")
    (page,) = map_page(content_of(BOARDS[number], shop), paper)
    return page


ASH, WALNUT = 0, 1


@pytest.mark.slow
@pytest.mark.parametrize("number", [ASH, WALNUT])
@pytest.mark.parametrize("units", ["mm", "inch"])
def test_no_words_lie_over_others_or_off_the_paper(number, units):
    page = the_page(number, units)
    assert overlapping_texts(page) == []
    assert texts_off_the_page(page) == []


@pytest.mark.slow
@pytest.mark.parametrize("number", [ASH, WALNUT])
def test_golden_board_map(number):
    # Without the notes, which other tests read.
    bare = replace(content_of(BOARDS[number]), cares=(), landmark="")
    (page,) = map_page(bare, "a4")
    assert_like_golden(page_image(page, 800), f"map-{BOARDS[number].id}")


@pytest.mark.slow
@pytest.mark.parametrize("number", [ASH, WALNUT])
def test_the_words_beside_the_cuts_are_explained_on_the_map(number):
    said = " ".join(words_on(the_page(number)).split())
    cares = content_of(BOARDS[number], photographed=False).cares
    assert "Saws for cuts" in said and "no table saw yet" in said
    for danger in {mind.danger for care in cares for mind in care.minds}:
        assert f"{danger.value}: " in said


def test_a_big_knot_tells_the_right_end_and_face():
    said = " ".join(words_on(the_page(WALNUT)).split())
    assert "the middle of knot F1 lies " in said
    assert content_of(plain_board(), photographed=False).landmark == ""


@pytest.mark.parametrize("number", [ASH, WALNUT])
def test_a_map_with_many_cuts_gets_smaller_faces_rather_than_a_second_sheet(number):
    full = map_page(replace(content_of(BOARDS[number]), cuts=(), cares=()), "a4")[0]
    pages = (full, the_page(number))
    wide = [next(s.width for s in page.shapes if isinstance(s, Picture)) for page in pages]
    assert 0.6 * wide[0] < wide[1] < wide[0]


@pytest.mark.parametrize("number", [ASH, WALNUT])
def test_the_cut_list_is_whole_in_type_that_is_read_at_arm_s_length(number):
    texts = [s for s in the_page(number).shapes if isinstance(s, Text)]
    cuts = content_of(BOARDS[number], photographed=False).cuts
    for cut in cuts:
        assert min(t.size for t in texts if t.text == cut.text) >= 8.0
    assert not any(t.text.endswith("…") for t in texts)


def test_the_bench_finds_what_it_needs():
    said = words_on(the_page(ASH))
    for words in (
        "B01", "white ash", "2457 ± 3 mm", "Hook the tape at end A", "End A is not square",
        "150", "785", "2160", "rail 1", "635 × 82", "610 × 70", "SHOW", "F1 knot?", "F4 wane?",
        "yield 43 %, waste 57 %", "Parts keep 2.6 mm", "table saw", "manuals of your machines",
    ):  # fmt: skip
        assert words in said, words


def test_a_board_nobody_looked_over_says_so_and_that_flaws_were_avoided():
    said = words_on(the_page(ASH))
    assert "NOT LOOKED OVER" in said.splitlines()
    assert "Possible flaws that nobody looked at were avoided" in said
    assert "not a promise of clear wood" in said


def test_a_board_looked_over_makes_no_promise_either():
    said = words_on(the_page(WALNUT))
    assert "NOT LOOKED OVER" not in said and "looked over" in said
    assert "not a promise of clear wood" in said


def test_struck_flaws_are_not_on_the_map():
    assert "F3" not in words_on(the_page(WALNUT))


def test_face_2_is_shown_as_the_turned_board_is_seen():
    sideways, over = the_page(ASH), the_page(WALNUT)
    assert "end A stays at the left" in words_on(sideways)
    assert "end A is now at the right" in words_on(over)


@pytest.mark.slow
def test_the_way_of_turning_moves_the_wood_too():
    other = replace(ash_board(), turned="end_over_end")
    turned = map_page(content_of(other), "a4")[0]
    assert differing_share(page_image(the_page(ASH), 500), page_image(turned, 500)) > 0.005


def test_inches_come_in_sixteenths():
    said = words_on(the_page(ASH, "inch"))
    assert "96 3/4 in ± 1/8 in" in said and "25 × 3 1/4" in said
    assert " mm" not in said


def test_a_board_without_photos_is_drawn_plain():
    page = map_page(content_of(ash_board(), photographed=False), "a4")[0]
    assert overlapping_texts(page) == []
    assert "rail 1" in words_on(page)
    assert not any(isinstance(shape, Picture) for shape in page.shapes)
    photographed = the_page(ASH).shapes
    assert sum(isinstance(shape, Picture) for shape in photographed) == 2


@pytest.mark.slow
def test_tables_that_do_not_fit_run_on():
    layout = small_layout()
    more = tuple(Cut("B01", 18 + n, "rip", (150.0, 8.0 + n), (785.0, 8.0 + n)) for n in range(60))
    pages = map_page(
        content_of(
            ash_board(), layout=replace(layout, cuts=layout.cuts + more), photographed=False
        ),
        "a4",
    )
    assert len(pages) > 1
    said = [words_on(page) for page in pages]
    assert "continued" in said[1] and "NOT LOOKED OVER" in said[1]
    # No cut list is torn in two where a page holds it.
    assert "Cut list: on the next page" in said[0] and "makes" not in said[0]
    assert not any("…" in words for words in said)
    listed = {row for page in said for row in page.splitlines()}
    assert {str(n) for n in range(1, 78)} <= listed


def test_notes_longer_than_a_page_run_on():
    words = [f"mind{n}" for n in range(900)]
    content, room = content_of(BOARDS[ASH], photographed=False), Room(36.0, 80.0, 500.0, 200.0)
    rest, pages = Listed((), (), (" ".join(words),)), []
    while rest.notes:
        assert len(pages) < 20
        sheet = new_sheet("a4")
        rest = draw_what_fits(sheet, content, rest, room)
        pages.append(sheet.page())
    assert len(pages) > 2
    assert [word for page in pages for word in words_on(page).split()] == words


def test_a_page_without_room_for_tables_is_refused_rather_than_tried_for_ever():
    content, low = content_of(BOARDS[ASH], photographed=False), Room(36.0, 80.0, 500.0, 40.0)
    with pytest.raises(ValueError, match="no room for tables"):
        draw_what_fits(new_sheet("a4"), content, Listed((), (), ("mind",)), low)


@pytest.mark.slow
@pytest.mark.parametrize(("length", "width"), [(2400, 620), (900, 90), (4900, 160), (600, 590)])
def test_slabs_sticks_and_long_boards_fit_the_page(length, width):
    layout = small_layout()
    inside = tuple(
        p for p in layout.placements
        if p.board == "B01" and p.x_mm + p.length_mm < length and p.y_mm + p.width_mm < width
    )  # fmt: skip
    cuts = tuple(c for c in layout.cuts if max(c.from_mm[0], c.to_mm[0]) < length)
    layout = replace(layout, placements=inside, cuts=cuts, pieces=layout.pieces[:1])
    board = plain_board("B01", length, width)
    pages = map_page(content_of(board, layout=layout, photographed=False), "letter")
    for page in pages:
        assert texts_off_the_page(page) == []
        assert overlapping_texts(page) == []


@pytest.mark.slow
def test_parts_that_are_sawn_out_are_told_from_those_still_to_saw():
    layout = small_layout()
    sawn = tuple(
        replace(p, state="milled") if (p.part, p.copy) == ("rail", 1) else p
        for p in layout.placements
    )
    (page,) = map_page(content_of(ash_board(), layout=replace(layout, placements=sawn)), "a4")
    said = words_on(page)
    assert "rail 1 (milled)" in said and "rail 2 (" not in said
    assert overlapping_texts(page) == []


@pytest.mark.slow
def test_what_short_parts_need_is_told_once_on_a_map():
    content = content_of(ash_board())
    short = Mind(Danger.MILL_FIRST)
    cares = tuple(replace(care, minds=(short,)) for care in content.cares)
    said = words_on(map_page(replace(content, cares=cares), "a4")[0])
    # The point among the cautions says it, and to which parts.
    assert "cleat: shorter than 305 mm" in said and "Mill its strip" not in said


@pytest.mark.slow
def test_no_face_of_the_board_is_called_the_show_face_of_a_slice():
    layout = small_layout()
    seat = next(p for p in layout.placements if p.show_face is not None and p.board == "B01")
    sliced = tuple(replace(p, layer=1) if p == seat else p for p in layout.placements)
    whole, resawn = (
        words_on(map_page(content_of(ash_board(), layout=replace(layout, placements=ps)), "a4")[0])
        for ps in (layout.placements, sliced)
    )
    assert whole.count("SHOW\n") > resawn.count("SHOW\n")
    assert "sawn\n" in resawn and "sawn\n" not in whole


def test_a_knot_drawn_off_the_board_is_neither_on_its_map_nor_where_to_look_for_the_right_end():
    board = plain_board("B01")
    away = Flaw("F7", FlawKind.KNOT, {1: box(300, 900, 340, 940)}, state=FlawState.CONFIRMED)
    (page,) = map_page(content_of(replace(board, flaws=(away,)), photographed=False), "a4")
    assert "F7" not in words_on(page)
    on_it = replace(away, outlines={1: box(300, 90, 340, 120)})
    (page,) = map_page(content_of(replace(board, flaws=(on_it,)), photographed=False), "a4")
    said = " ".join(words_on(page).split())
    assert "F7 knot" in said and "the middle of knot F7 lies" in said
