"""The validator must condemn bad layouts before anybody relies on its silence."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from shapely.geometry import box

from scanner.board.board import End
from scanner.board.flaw import FlawState
from scanner.board.form import Warp
from scanner.placement.finish.assemble import assemble
from scanner.placement.layout import Cut, Layout, Offcut, Unplaced
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve
from scanner.placement.stop import Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP as TINY_SHOP
from tests.instances.tiny import FlawKind, board, flaw, part
from tests.placement.lots import named_lot

if TYPE_CHECKING:
    from collections.abc import Callable

    from scanner.board.board import Board

SHOP = Shop()


@pytest.fixture(scope="module")
def good() -> Layout:
    boards, parts = named_lot()
    found = solve(boards, parts, SHOP, Work(60), in_full=False)
    # The quick bound will do here: the other takes ten times longer than the search.
    return assemble(
        boards, parts, SHOP, found.placements, found.seed, found.work, is_final=True, is_quick=True
    )


def objections(layout: Layout) -> str:
    boards, parts = named_lot()
    return "; ".join(map(str, validate_layout(layout, boards, parts, SHOP)))


def test_a_good_layout_meets_no_objection(good: Layout) -> None:
    assert objections(good) == ""
    assert good.summary.placed >= 8


def moved(layout: Layout, n: int, **changes: object) -> Layout:
    placements = list(layout.placements)
    placements[n] = replace(placements[n], **changes)
    return replace(layout, placements=tuple(placements))


def changed_summary(layout: Layout, **changes: object) -> Layout:
    return replace(layout, summary=replace(layout.summary, **changes))


def without_cut(layout: Layout, n: int) -> Layout:
    return replace(layout, cuts=layout.cuts[:n] + layout.cuts[n + 1 :])


MUTATIONS: dict[str, tuple[Callable[[Layout], Layout], str]] = {
    "beyond the end": (lambda b: moved(b, 0, x_mm=-5.0), "wood|margin|loses"),
    "over the edge": (lambda b: moved(b, 0, y_mm=-3.0), "wood of face"),
    "in the margin": (lambda b: moved(b, 4, y_mm=b.placements[4].y_mm - 3.0), "margin"),
    "into the end trim": (lambda b: moved(b, 0, x_mm=20.0), "loses"),
    "on its neighbour": (
        lambda b: moved(b, 1, x_mm=b.placements[0].x_mm, y_mm=b.placements[0].y_mm),
        "overlap",
    ),
    "less than a kerf": (lambda b: moved(b, 1, y_mm=b.placements[1].y_mm + 2.0), "kerf"),
    "too short": (
        lambda b: moved(b, 0, length_mm=b.placements[0].length_mm - 1),
        "long when finished",
    ),
    "too narrow": (
        lambda b: moved(b, 0, width_mm=b.placements[0].width_mm - 1),
        "wide when finished",
    ),
    "turned": (lambda b: moved(b, 0, angle_deg=5.0), "turned"),
    "on an unknown board": (lambda b: moved(b, 0, board="B99"), "no board"),
    "of an unknown part": (lambda b: moved(b, 0, part="door"), "no part"),
    "the same copy twice": (lambda b: moved(b, 8, copy=1), "2 times"),
    "wrong species": (lambda b: moved(b, 0, board="B02"), "white ash"),
    "no show face": (lambda b: moved(b, 1, show_face=None), "which face shows"),
    "needless show face": (lambda b: moved(b, 0, show_face=1), "needs none"),
    "a part vanished": (
        lambda b: replace(b, placements=b.placements[:-1]),
        "do not make|wrongly|placed",
    ),
    "said unplaced": (
        lambda b: replace(b, unplaced=(Unplaced("rail", 1, "no room", ""),)),
        "unplaced do not make",
    ),
    "unplaced without a reason": (
        lambda b: replace(b, unplaced=(Unplaced("rail", 1, " ", ""),)),
        "needs a number of copies and a reason",
    ),
    "placed miscounted": (lambda b: changed_summary(b, placed=3), "placed 3"),
    "area miscounted": (lambda b: changed_summary(b, area_opened_mm2=1.0), "area opened"),
    "yield too good": (lambda b: changed_summary(b, yield_share=0.99), "yield"),
    "board feet wrong": (lambda b: changed_summary(b, board_feet=1.0), "board feet"),
    "bound below": (
        lambda b: replace(b, bound=replace(b.bound, of="value", value=5.0, gap=0.0)),
        "more than its bound",
    ),
    "gap wrong": (lambda b: replace(b, bound=replace(b.bound, gap=0.5)), "gap"),
    "says all were looked over": (lambda b: replace(b, not_looked_over=()), "not looked over"),
    "says too many were not": (
        lambda b: replace(b, not_looked_over=("B01", "B02")),
        "not looked over",
    ),
    "a crosscut left out": (lambda b: without_cut(b, 0), "cut|numbered"),
    "a final cut left out": (lambda b: without_cut(b, len(b.cuts) - 1), "cut to length"),
    "a cut through a part": (
        lambda b: replace(
            b, cuts=(*b.cuts[:-1], replace(b.cuts[-1], from_mm=(300, -50), to_mm=(300, 400)))
        ),
        "goes through|cut to length|right through",
    ),
    "a cut on an unused board": (
        lambda b: replace(b, cuts=(*b.cuts, Cut("B77", 1, "rip", (0, 9), (9, 9)))),
        "no part lies on it",
    ),
    "cuts out of order": (
        lambda b: replace(
            b,
            cuts=(
                replace(b.cuts[0], order=b.cuts[4].order),
                *b.cuts[1:4],
                replace(b.cuts[4], order=b.cuts[0].order),
                *b.cuts[5:],
            ),
        ),
        "right through",
    ),
    "a piece lost": (lambda b: replace(b, pieces=b.pieces[1:]), "lie in no piece"),
    "a piece too short": (
        lambda b: replace(b, pieces=(replace(b.pieces[0], x1_mm=300.0), *b.pieces[1:])),
        "does not hold",
    ),
    "pieces without a kerf": (
        lambda b: replace(
            b, pieces=(b.pieces[0], replace(b.pieces[1], x0_mm=b.pieces[0].x1_mm), *b.pieces[2:])
        ),
        "no kerf",
    ),
    "an offcut on a part": (
        lambda b: replace(b, offcuts=(Offcut("B01", 100.0, 60.0, 400.0, 60.0),)),
        "lies on",
    ),
    "an offcut over a flaw": (
        lambda b: replace(b, offcuts=(Offcut("B01", 810.0, 100.0, 20.0, 20.0),)),
        "not clear of F1",
    ),
    "another cut class": (lambda b: replace(b, cut_class="any"), "asks for"),
    "another kerf": (lambda b: replace(b, kerf_mm=1.0), "kerf"),
}


@pytest.mark.parametrize("name", MUTATIONS)
def test_a_bad_layout_is_condemned(good: Layout, name: str) -> None:
    change, words = MUTATIONS[name]
    said = objections(change(good))
    assert any(word in said for word in words.split("|")), said


def one_part_layout(board: Board, wanted: Part, shop: Shop = TINY_SHOP) -> Layout:
    """Lay a part on a clear twin of the board, where nothing hinders it."""
    twin = replace(
        board,
        flaws=(),
        warp=None,
        sapwood=None,
        species=wanted.species or board.species,
        keep_whole=False,
        only_parts=None,
        ends={"A": End(True), "B": End(True)},
    )
    layout = solve((twin,), (wanted,), shop, Work(20))
    assert layout.summary.placed == 1
    return layout


def condemned(board: Board, wanted: Part, shop: Shop = TINY_SHOP) -> str:
    layout = one_part_layout(board, wanted, shop)
    return "; ".join(map(str, validate_layout(layout, (board,), (wanted,), shop)))


CLEAR = board("B1", 500, 60)
ALONG = box(100, 10, 130, 50)


def knotty(**kinds: object) -> Board:
    return replace(CLEAR, flaws=(flaw("F1", FlawKind.KNOT, ALONG, **kinds),))


def test_a_knot_under_a_clear_part_is_condemned() -> None:
    assert "knot F1" in condemned(knotty(sound=True), part("a", 1, 480, 60, "both"))


def test_a_possible_flaw_is_condemned_for_every_part() -> None:
    for faces in Faces:
        found = condemned(
            knotty(sound=True, state=FlawState.POSSIBLE), part("a", 1, 480, 60, faces)
        )
        assert "knot F1" in found, faces


def test_a_struck_flaw_is_no_flaw() -> None:
    for faces in Faces:
        struck = knotty(sound=False, state=FlawState.STRUCK, faces=(1, 2), is_through=True)
        assert condemned(struck, part("a", 1, 480, 60, faces)) == ""


def test_a_sound_knot_is_allowed_where_the_part_allows_it() -> None:
    assert condemned(knotty(sound=True), part("a", 1, 480, 60, "sound")) == ""
    assert "knot F1" in condemned(knotty(sound=False), part("a", 1, 480, 60, "sound"))
    small = replace(part("a", 1, 480, 60, "sound"), max_knot_mm=20.0)
    assert "knot F1" in condemned(knotty(sound=True), small)


def test_a_show_part_may_not_show_the_knot() -> None:
    show = part("a", 1, 480, 60, "show")
    layout = one_part_layout(CLEAR, show)
    for face, is_bad in ((1, True), (2, False)):
        turned = replace(layout, placements=(replace(layout.placements[0], show_face=face),))
        found = validate_layout(turned, (knotty(sound=True),), (show,), TINY_SHOP)
        assert bool(found) is is_bad, face


def test_wild_grain_at_the_arris_is_condemned_and_in_the_core_allowed() -> None:
    wide = board("B1", 500, 120)
    rim = replace(wide, flaws=(flaw("F1", FlawKind.WILD_GRAIN, box(100, 10, 130, 30)),))
    core = replace(wide, flaws=(flaw("F1", FlawKind.WILD_GRAIN, box(100, 45, 130, 75)),))
    sound = part("a", 1, 500, 120, "sound")
    assert "wild grain" in condemned(rim, sound) or "wild_grain" in condemned(rim, sound)
    assert condemned(core, sound) == ""
    assert "wild" in condemned(core, part("a", 1, 500, 120, "show"))


def test_a_hidden_part_carries_ten_mm_of_wane_on_one_edge() -> None:
    hidden = part("a", 1, 500, 60, "hidden")
    for depth, is_bad in ((9.5, False), (11.0, True)):
        waney = replace(CLEAR, flaws=(flaw("F1", FlawKind.WANE, box(0, 0, 500, depth)),))
        assert ("too near to wane F1" in condemned(waney, hidden)) is is_bad, depth
    waney = replace(CLEAR, flaws=(flaw("F1", FlawKind.WANE, box(0, 0, 500, 8)),))
    assert "too near to wane F1" in condemned(waney, part("a", 1, 500, 60, "sound"))


def test_a_board_too_thin_for_the_piece_is_condemned() -> None:
    shop = replace(TINY_SHOP, cleanup_mm=3.2)
    thick = replace(part("a", 1, 480, 60), thickness_mm=23.8)
    assert condemned(CLEAR, thick, shop) == ""
    bowed = replace(CLEAR, warp=Warp(bow_mm=4.0))
    assert "left when flat" in condemned(bowed, thick, shop)


def test_other_rules_of_whole_boards_are_judged() -> None:
    wanted = part("a", 1, 480, 60)
    assert "kept whole" in condemned(replace(CLEAR, keep_whole=True), wanted)
    assert "other parts" in condemned(replace(CLEAR, only_parts=("b",)), wanted)
    layout = one_part_layout(CLEAR, wanted)
    for changed in (
        replace(wanted, only_boards=("B2",)),
        replace(wanted, not_boards=("B1",)),
        replace(wanted, species="walnut"),
    ):
        assert validate_layout(layout, (CLEAR,), (changed,), TINY_SHOP)


def test_a_trim_the_user_set_wins() -> None:
    trimmed = replace(CLEAR, ends={"A": End(True, 15.0), "B": End(True)})
    assert "loses" in condemned(trimmed, part("a", 1, 490, 60))


def test_sapwood_is_judged_by_face() -> None:
    sappy = replace(CLEAR, sapwood={1: (box(0, 0, 500, 10),), 2: ()})
    assert "sapwood" in condemned(sappy, replace(part("a", 1, 480, 60), sapwood="no"))
    assert condemned(sappy, part("a", 1, 480, 60)) == ""


def test_a_pinwheel_is_not_three_stage() -> None:
    shop = TINY_SHOP
    pieces = (part("a", 2, 120, 80), part("b", 2, 80, 120))
    square = board("B1", 204, 204)
    base = solve((square,), pieces, shop, Work(20))
    one = base.placements[0]
    four = tuple(
        replace(one, part=name, copy=copy, x_mm=x, y_mm=y, length_mm=length, width_mm=width)
        for name, copy, x, y, length, width in (
            ("a", 1, 0.0, 0.0, 120.0, 80.0),
            ("b", 1, 124.0, 0.0, 80.0, 120.0),
            ("a", 2, 84.0, 124.0, 120.0, 80.0),
            ("b", 2, 0.0, 84.0, 80.0, 120.0),
        )
    )
    said = "; ".join(
        map(str, validate_layout(replace(base, placements=four), (square,), pieces, shop))
    )
    assert "cannot free" in said
    assert "overlap" not in said
