"""What is cut stays as it was cut: a list or shop that no longer allows it is refused in words."""

from dataclasses import replace

import pytest

from scanner.app.placing.given_layout import read_given
from scanner.app.placing.kept_sizes import as_listed
from scanner.app.placing.place_parts import place_parts
from scanner.app.placing.plan_cuts import plan_cuts
from scanner.app.placing.spoiled_wood import with_spoiled, without_former, without_spoiled
from scanner.errors import PlacementError
from scanner.files.board_file import board_json
from scanner.files.layout_file import layout_json, read_layout
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.stop import Work
from tests.common import plain_board

pytestmark = pytest.mark.slow

LEG = Part("leg", 2, 300.0, 40.0, 19.0, Faces.SOUND)
# The same name begins another part's.
LONG_LEG = Part("leg long", 1, 400.0, 40.0, 19.0, Faces.SOUND)


def laid(part=LEG, shop=None, keep=None):
    parts = (part, LONG_LEG)
    return plan_cuts((plain_board(),), parts, shop or Shop(), Work(5), keep=keep).layout


@pytest.fixture(scope="module")
def cut():
    layout = laid()
    return replace(
        layout,
        placements=tuple(
            replace(p, state="cut") if p.part == "leg" else p for p in layout.placements
        ),
    )


@pytest.mark.parametrize(
    ("part", "shop", "said"),
    [
        (replace(LEG, length_mm=310.0), Shop(), "300.0 mm long when finished, not 310.0"),
        (
            replace(LEG, length_mm=290.0, length_min_mm=280.0),
            Shop(),
            "finished, not 280.0 to 290.0",
        ),
        (replace(LEG, quantity=1), Shop(), "2 placed, 1 asked for"),
        (LEG, replace(Shop(), length_allowance_mm=40.0), "long when finished, not 300.0"),
    ],
)
def test_a_cut_part_that_the_list_no_longer_asks_for_so_is_named(part, shop, said, cut):
    with pytest.raises(PlacementError, match="stays from the former layout") as caught:
        laid(part, shop, cut)
    assert said in caught.value.what and caught.value.what.startswith("leg ")


def test_a_cut_part_that_the_list_now_asks_smaller_stays_as_it_was_cut(cut):
    """It gives the smaller one still; what is not cut yet is laid at the new size."""
    again = replace(LEG, quantity=3, length_mm=280.0, width_mm=35.0)
    result = plan_cuts((plain_board(),), (again, LONG_LEG), Shop(), Work(5), keep=cut)
    legs = {p.copy: p for p in result.layout.placements if p.part == "leg"}
    assert {(p.length_mm, p.width_mm) for p in (legs[1], legs[2])} == {(325.0, 52.0)}
    assert (legs[3].length_mm, legs[3].width_mm) == (305.0, 47.0)
    # Yield counts what the list asks for: three legs and the long one.
    (board,) = (plain_board(),)
    finished = 3 * 280 * 35 + 400 * 40
    area = board.faces[1].outline.area
    assert result.layout.summary.yield_share == pytest.approx(finished / area)
    assert any(
        line.startswith(
            "leg 1, 2 were cut larger than the list asks now: cut them down to 305 × 47"
        )
        for line in result.advice
    )
    assert not any("within its range" in line for line in result.advice)


def test_a_cut_part_within_the_range_that_the_list_gives_now_stays_and_sets_the_size(cut):
    """What is cut cannot grow: the others are made as long."""
    again = replace(LEG, quantity=3, length_mm=310.0, length_min_mm=290.0)
    result = plan_cuts((plain_board(),), (again, LONG_LEG), Shop(), Work(5), keep=cut)
    legs = [p for p in result.layout.placements if p.part == "leg"]
    assert [p.length_mm for p in legs] == [325.0] * 3
    said = "leg is 300 mm long here instead of 310 mm: within its range, and cut so already."
    assert said in result.advice


def test_a_cut_part_that_still_fits_stays(cut):
    kept = [p for p in laid(keep=cut).placements if p.part == "leg"]
    assert kept == [p for p in cut.placements if p.part == "leg"]


def test_of_two_names_that_end_alike_the_part_at_fault_is_named():
    """Only the left leg is asked for otherwise than it was cut."""
    left = replace(LEG, name="left leg", quantity=1)
    former = plan_cuts((plain_board(),), (LEG, left), Shop(), Work(5)).layout
    placed = sorted(
        (replace(p, state="cut") for p in former.placements), key=lambda p: -len(p.part)
    )
    other = (LEG, replace(left, length_mm=310.0))
    for order in (placed, placed[::-1]):
        keep = replace(former, placements=tuple(order))
        with pytest.raises(PlacementError, match="stays from the former layout") as caught:
            plan_cuts((plain_board(),), other, Shop(), Work(5), keep=keep)
        assert caught.value.what.startswith("left leg on P01 stays")


def test_wood_that_was_spoiled_is_laid_on_by_nothing_again(tmp_path, no_sheets):
    """The command laid the part that was asked for again where the spoiled one had been cut."""
    parts, board, former = (tmp_path / name for name in ("p.csv", "board.json", "layout.json"))
    parts.write_text("name,quantity,length,width,thickness,faces\nseat,1,800,120,19,both\n")
    board.write_text(board_json(plain_board(length_mm=1000.0)))
    first, _ = place_parts(parts, (board,), tmp_path / "one", work=3)
    (laid_there,) = first.layout.placements
    spoiled = replace(first.layout, placements=(replace(laid_there, state="spoiled"),))
    former.write_text(layout_json(spoiled))
    again, _ = place_parts(parts, (board,), tmp_path / "two", work=3, keep=former)
    assert (again.layout.summary.placed, again.layout.summary.asked) == (0, 1)
    assert any("seat was spoiled: its wood on P01 is left out" in said for said in again.advice)


def test_spoiled_wood_stays_spoiled_in_every_layout_that_is_made_from_the_former(
    tmp_path, no_sheets
):
    """The second --keep had no memory of it and laid the seat on the spoiled wood again."""
    parts, board, former = (tmp_path / name for name in ("p.csv", "board.json", "layout.json"))
    parts.write_text("name,quantity,length,width,thickness,faces\nseat,1,800,120,19,both\n")
    board.write_text(board_json(plain_board(length_mm=1000.0)))
    first, _ = place_parts(parts, (board,), tmp_path / "0", work=3)
    gone = replace(first.layout.placements[0], state="spoiled")
    former.write_text(layout_json(replace(first.layout, placements=(gone,))))
    for n in "123":
        again, _ = place_parts(parts, (board,), tmp_path / n, work=3, keep=former)
        assert again.layout.placements == ()
        former = tmp_path / n / "layout.json"
        written = read_layout(former)
        assert [(p.part, p.state) for p in written.placements] == [("seat", "spoiled")]
        assert (written.summary.placed, written.pieces) == (0, ())
    # A list that asks for something else now knows of the wood as well.
    parts.write_text("name,quantity,length,width,thickness,faces\nrail,1,60,60,19,both\n")
    given = read_given(former, parts, (board,))
    assert given.layout.placements == () and given.spoiled == written.placements
    assert [flaw.reason for flaw in given.boards[0].flaws] == ["spoiled in the shop"]
    assert without_spoiled(given.boards[0], given.spoiled) == given.boards[0]


def test_the_pieces_keep_their_parts_where_a_spoiled_one_is_left_out():
    layout = laid()
    gone = replace(layout.placements[0], state="spoiled", x_mm=0.0)
    told = with_spoiled(layout, (gone,))
    assert without_former(told) == layout and with_spoiled(told, (gone,)) == told
    ahead = replace(
        layout,
        placements=(gone, *layout.placements),
        pieces=tuple(
            replace(piece, placements=tuple(n + 1 for n in piece.placements))
            for piece in layout.pieces
        ),
    )
    assert without_former(ahead) == layout


def through_a_file(layout, tmp_path, **change):
    """Return a layout as a file gives it back, its first placement changed."""
    first, *rest = layout.placements
    path = tmp_path / "layout.json"
    path.write_text(layout_json(replace(layout, placements=(replace(first, **change), *rest))))
    return read_layout(path)


@pytest.mark.parametrize("change", [{"state": "cut"}, {"locked": True}])
def test_sixteenths_of_an_inch_stay_what_the_list_asks_though_files_hold_hundredths(
    change, tmp_path
):
    # 30 3/16 and 2 3/16 in, with their allowances 792.1625 and 68.2625 mm.
    slat = Part("slat", 2, 30.1875 * 25.4, 2.1875 * 25.4, 19.0, Faces.BOTH)
    shop = Shop.inch()
    layout = plan_cuts((plain_board(),), (slat,), shop, Work(5)).layout
    keep = through_a_file(layout, tmp_path, **change)
    assert keep.placements[0].length_mm == 792.16
    again = plan_cuts((plain_board(),), (slat,), shop, Work(5), keep=keep).layout
    assert [p.length_mm for p in again.placements] == pytest.approx([792.1625] * 2)


def test_a_third_of_a_panel_stays_a_third(tmp_path):
    # 100 mm rough in three, and 6 mm for jointing: 39.333 mm.
    top = Part("top", 1, 500.0, 88.0, 19.0, Faces.SHOW, staves="3")
    layout = plan_cuts((plain_board(),), (top,), Shop(), Work(5)).layout
    keep = through_a_file(layout, tmp_path, locked=True)
    assert keep.placements[0].width_mm == 39.33
    again = plan_cuts((plain_board(),), (top,), Shop(), Work(5), keep=keep).layout
    assert [p.width_mm for p in again.placements] == pytest.approx([100 / 3 + 6] * 3)


def test_what_was_cut_larger_than_the_list_asks_stays_as_it_was_cut():
    whole = replace(LEG, length_mm=300.3)
    keep = laid(whole)
    was = as_listed(keep, (LEG, LONG_LEG), Shop())
    assert [p.length_mm for p in was.placements] == [p.length_mm for p in keep.placements]
