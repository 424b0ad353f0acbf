"""The sheets of an assembled view: a round scale, everything on the paper, nothing over another."""

from dataclasses import replace

import pytest

from scanner.board.assembly import Assembly, Member
from scanner.sheets.assembled import AssembledContent, assembled_sheet, ratio_for
from scanner.sheets.drawing import Picture
from scanner.sheets.piece_picture import PLAIN
from scanner.units import MM_PER_INCH
from tests.common import plain_board
from tests.sheets.texts import overlapping_texts, texts_off_the_page, words_on


def content(count=3, way="edge_to_edge", length=900.0, **more):
    members = tuple(
        Member("top", 1, n, "P01", (60.0, 5.0 + 60 * n), (length, 55.0))
        for n in range(1, count + 1)
    )
    board = plain_board()
    given = {"units": "mm", "hints": ("Look at it again tomorrow.",), "unseen": ("P01",)}
    return AssembledContent(
        Assembly("table top", way, members), "table top", {"P01": board}, {}, **(given | more)
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("way", ["edge_to_edge", "stacked", "upright", "in_a_row"])
def test_nothing_lies_over_anything_or_off_the_paper(paper, way):
    for page in assembled_sheet(content(way=way), paper):
        assert overlapping_texts(page) == []
        assert texts_off_the_page(page) == []
        for shape in page.shapes:
            if isinstance(shape, Picture):
                assert shape.x >= 0 and shape.x + shape.width <= page.width
                assert shape.y >= 0 and shape.y + shape.height <= page.height


def test_wood_is_drawn_at_the_scale_that_is_written():
    page = assembled_sheet(content(), "a4")[0]
    wood = [shape for shape in page.shapes if isinstance(shape, Picture)]
    assert len(wood) == 3
    ratio = 900.0 * 72 / MM_PER_INCH / wood[0].width
    assert f"Scale 1:{ratio:g} printed at 100 %" in words_on(page)
    assert ratio == pytest.approx(round(ratio))
    assert wood[1].y == pytest.approx(wood[0].y + wood[0].height)


def test_the_scale_is_the_largest_round_one_that_fits():
    assert ratio_for((100.0, 50.0), (400.0, 400.0)) == 1
    assert ratio_for((200.0, 50.0), (400.0, 400.0)) == 2
    assert ratio_for((10.0, 1400.0), (400.0, 400.0)) == 10


def test_it_says_that_photos_show_no_shimmer_and_who_looked():
    said = words_on(assembled_sheet(content(), "a4")[0])
    assert "shimmer shows in no photograph" in said and "Not looked over: P01" in said
    looked = words_on(assembled_sheet(content(unseen=()), "a4")[0])
    assert "Not looked over" not in looked


def test_wood_without_a_picture_is_plain():
    page = assembled_sheet(content(), "a4")[0]
    wood = next(shape for shape in page.shapes if isinstance(shape, Picture))
    assert wood.image.getextrema() == tuple((level, level) for level in PLAIN)


def test_the_bench_page_names_each_piece_and_its_end():
    one = content()
    flip = replace(one.assembly.members[1], face=2, is_turned=True)
    turned = replace(one.assembly, members=(one.assembly.members[0], flip, one.assembly.members[2]))
    said = words_on(assembled_sheet(replace(one, assembly=turned), "a4")[1])
    assert "top 1, stave 2" in said and "face 2" in said and "end B" in said
    assert "Look at it again tomorrow." in said


def test_forty_long_hints_run_on_over_pages():
    hint = (
        "Look at the joint of stave 1 and stave 2 again under the light of the room it is for. " * 3
    )
    hints = tuple(f"{number}. {hint}" for number in range(40))
    pages = assembled_sheet(content(hints=hints), "a4")[1:]
    assert len(pages) > 2
    for page in pages:
        assert texts_off_the_page(page) == [] and overlapping_texts(page) == []
    said = "\n".join(words_on(page) for page in pages)
    assert all(f"{number}. Look" in said for number in range(40))


def test_a_long_table_runs_on():
    pages = assembled_sheet(content(count=45, length=300.0), "a4")
    assert len(pages) > 2
    assert all(texts_off_the_page(page) == [] for page in pages)
