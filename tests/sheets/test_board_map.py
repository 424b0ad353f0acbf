"""The layout sheet, and all sheets as files."""

import io
import pickle
from dataclasses import replace

import pytest
from PIL import Image, ImageChops, ImageStat
from pypdf import PdfReader

from scanner.errors import PlacementError, SettingsError
from scanner.files.picture_file import read_picture
from scanner.lot.money import money_of
from scanner.lot.totals import board_totals, layout_totals
from scanner.placement.layout import Unplaced
from scanner.placement.shop import FootPrice, Shop
from scanner.sheets.board_map import board_maps, draw_sheet
from scanner.sheets.content import map_content
from scanner.sheets.drawing import Sketch
from scanner.sheets.face_view import draw_face, view_of
from scanner.sheets.layout_sheet import layout_sheet
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
from tests.sheets.golden import assert_like_golden
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on

PARTS = bench_parts() + shelf_parts()
BOARDS = (ash_board(), walnut_board())
PICTURES = {(board.id, face): flat_picture(board, face) for board in BOARDS for face in (1, 2)}


def pages_of(layout, boards=BOARDS, shop=None, paper="a4", money=None):
    figures = layout_totals(layout)
    contents = [
        map_content(
            board, totals, layout, figures, PARTS, shop or Shop(),
            {face: PICTURES.get((board.id, face)) for face in (1, 2)},
        )
        for board, totals in zip(boards, board_totals(boards), strict=True)
    ]  # fmt: skip
    return layout_sheet(contents, figures, paper, money)


@pytest.fixture(scope="module")
def files():
    return board_maps(small_layout(), BOARDS, PARTS, Shop(), PICTURES)


@pytest.mark.parametrize(("shop", "paper"), [(Shop(), "a4"), (Shop.inch(), "letter")])
def test_no_words_lie_over_others_on_the_layout(shop, paper):
    for page in pages_of(small_layout(), shop=shop, paper=paper):
        assert overlapping_texts(page) == []
        assert texts_off_the_page(page) == []


@pytest.mark.slow
def test_golden_layout():
    assert_like_golden(page_image(pages_of(small_layout())[0], 1000), "layout")


def test_the_layout_says_what_was_placed_what_not_and_why():
    said = "\n".join(words_on(page) for page in pages_of(small_layout()))
    for words in (
        "8 of 9 parts placed on 2 boards, 11.25 board feet", "Yield 43 %", "waste 57 %",
        "Not placed: 1 × seat slat\nNo place 1025 × 82 mm", "NOT LOOKED OVER: B01",
        "Possible flaws that nobody looked at were avoided", "not a promise of clear wood",
        "Cut list, in sawing order", "B02", "bracket 2 to 107",
    ):  # fmt: skip
        assert words in said, words


def test_every_cut_stands_in_the_list():
    said = [row for page in pages_of(small_layout()) for row in words_on(page).splitlines()]
    assert said.count("crosscut") == 6 + 4
    assert said.count("rip") == 10 + 6


@pytest.mark.slow
def test_many_boards_run_over_several_pages():
    layout = small_layout()
    boards = [plain_board(f"P{n:02d}", 2400 + 10 * n, 180, looked_over=False) for n in range(14)]
    placements = tuple(replace(layout.placements[0], board=board.id) for board in boards)
    many = replace(layout, placements=placements, pieces=(), cuts=(), offcuts=())
    pages = pages_of(many, boards)
    assert len(pages) > 1
    said = "\n".join(words_on(page) for page in pages)
    assert all(board.id in said for board in boards)
    assert all(texts_off_the_page(page) == [] for page in pages)


def test_beside_a_short_board_its_face_is_named_at_its_side():
    layout = small_layout()
    short = replace(plain_board("P01", 300, 280), turned="end_over_end")
    peg = replace(layout.placements[0], board="P01", x_mm=20.0, length_mm=200.0)
    (page, *_) = pages_of(
        replace(layout, placements=(peg,), pieces=(), cuts=(), offcuts=()), [short]
    )
    assert "face 2, turned over end over end" in words_on(page)
    assert overlapping_texts(page) == [] and texts_off_the_page(page) == []


def test_a_cut_list_too_long_for_its_sheet_goes_on_on_the_next_with_its_heading():
    layout = small_layout()
    first, more = layout.cuts[0], 120
    cuts = tuple(
        replace(first, order=n, from_mm=(150.0 + 15 * n, 0.0), to_mm=(150.0 + 15 * n, 187.0))
        for n in range(1, more + 1)
    )
    pages = pages_of(replace(layout, cuts=cuts))
    listed = [page for page in pages if "Cut list, in sawing order" in words_on(page)]
    assert len(listed) > 1
    rows = [row for page in listed for row in words_on(page).splitlines()]
    assert rows.count("crosscut") == more
    assert all(texts_off_the_page(page) == [] for page in pages)


@pytest.mark.slow
def test_every_board_gets_its_map_in_both_forms(files):
    assert {"B01-map.pdf", "B01-map.png", "B02-map.pdf", "B02-map.png"} <= set(files)
    assert {"layout.pdf", "layout.png"} <= set(files)


@pytest.mark.slow
def test_pdf_and_png_tell_the_same_number_of_pages(files):
    for stem in ("B01-map", "B02-map", "layout"):
        pages = len(PdfReader(io.BytesIO(files[f"{stem}.pdf"])).pages)
        pictures = [name for name in files if name.startswith(stem) and name.endswith(".png")]
        assert len(pictures) == pages


@pytest.mark.slow
def test_the_pictures_are_wide_enough_to_read_and_not_too_heavy(files):
    for name, content in files.items():
        assert len(content) < 1_500_000
        if name.endswith(".png"):
            assert 1600 <= Image.open(io.BytesIO(content)).width <= 2400


@pytest.mark.slow
def test_the_same_layout_gives_the_same_bytes_though_its_jobs_travelled(files):
    done = []

    def elsewhere(jobs):
        return (draw_sheet(pickle.loads(pickle.dumps(job))) for job in jobs)

    drawn = board_maps(
        small_layout(), BOARDS, PARTS, Shop(), PICTURES, work=elsewhere,
        progress=lambda count, of: done.append((count, of)),
    )  # fmt: skip
    assert drawn == files
    # The layout's PDF, two maps, and its pages as pictures.
    jobs = 3 + sum(name.startswith("layout") and name.endswith(".png") for name in files)
    assert done == [(count, jobs) for count in range(1, jobs + 1)]


@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_a_photograph_read_coarser_lies_where_it_lay(form):
    board, view = ash_board(), view_of(ash_board(), 1, 0.0, 0.0, 0.05)
    packed = io.BytesIO()
    flat_picture(board, 1).save(packed, form)
    asked = []

    def opens(coarser):
        asked.append(coarser)
        return read_picture(packed.getvalue(), coarser)

    def shown(picture):
        sketch = Sketch(view.width, view.height)
        draw_face(sketch, board, view, picture)
        return sketch.shapes[0].image.convert("L")

    fine, coarse = shown(flat_picture(board, 1)), shown(opens)
    assert asked[0] > 1
    moved = ImageChops.offset(fine, 1)
    right, wrong = ImageChops.difference(fine, coarse), ImageChops.difference(fine, moved)
    assert ImageStat.Stat(right).mean[0] < 0.3 * ImageStat.Stat(wrong).mean[0]


def test_a_layout_on_an_unknown_board_is_refused():
    with pytest.raises(PlacementError, match="uses board B02"):
        board_maps(small_layout(), BOARDS[:1], PARTS, Shop(), {})


def test_a_paper_we_do_not_know_is_refused():
    with pytest.raises(SettingsError, match="choose a4 or letter"):
        board_maps(small_layout(), BOARDS, PARTS, Shop(), {}, "a3")


def test_an_empty_layout_still_makes_its_sheet():
    layout = small_layout()
    summary = replace(layout.summary, placed=0, boards_opened=0, board_feet=0.0, yield_share=0.0)
    empty = replace(layout, placements=(), pieces=(), cuts=(), offcuts=(), summary=summary)
    assert set(board_maps(empty, BOARDS, PARTS, Shop(), {})) == {"layout.pdf", "layout.png"}


@pytest.mark.slow
def test_the_layout_sheet_tells_what_each_part_costs_where_prices_are_known():
    priced = Shop(foot_prices=(FootPrice("white ash", None, 6.0),), currency="EUR")
    money = money_of(BOARDS, priced, small_layout(), PARTS)
    plain, told = pages_of(small_layout()), pages_of(small_layout(), money=money)
    words = "\n".join(words_on(page) for page in told)
    assert "each costs" in words
    assert "No price is known for B02: not counted" in words
    assert not any("costs" in words_on(page) for page in plain)
    assert not any(overlapping_texts(page) or texts_off_the_page(page) for page in told)


def test_parts_that_share_a_reason_share_a_line():
    rows = [
        Unplaced("leg", 4, "more parts than the wood has room for: B01 could give 455 x 82 mm", ""),
        Unplaced("rail", 2, "more copies than the wood has room for: B02 could give 9 x 9 mm", ""),
        *(
            Unplaced(f"shelf {n}", 1, "no board may give it: B01 is white ash, not walnut", "")
            for n in range(20)
        ),
    ]
    first, *rest = pages_of(replace(small_layout(), unplaced=tuple(rows)))
    said = words_on(first).splitlines()
    assert next(row for row in said if row.startswith("Not placed:")) == (
        "Not placed: 4 × leg, 2 × rail"
    )
    assert sum(row.startswith("Not placed:") for row in said) == 2
    assert texts_off_the_page(first) == []
    # Nothing is left out: the last pages name each.
    last = "\n".join(words_on(page) for page in rest)
    assert "B02 could give 9 x 9 mm" in last and "1 × shelf 19" in last
