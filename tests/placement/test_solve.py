"""The front door: true layouts, repeatable, better with time, keeping what is cut."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest
from hypothesis import HealthCheck, given, settings
from shapely.affinity import scale as mirror
from shapely.geometry import box

from scanner.board.flaw import FlawState
from scanner.errors import PlacementError
from scanner.placement import solve as solver
from scanner.placement.layout import Layout
from scanner.placement.parts import Faces, Part
from scanner.placement.shop import Shop
from scanner.placement.solve import solve, warm_up
from scanner.placement.stop import AnyOf, Seconds, WhenSaid, Work
from scanner.placement.validator.judge import validate_layout
from tests.instances.tiny import SHOP as TINY_SHOP
from tests.instances.tiny import TINY, FlawKind, board, flaw, part
from tests.placement.lots import LOTS, named_lot

# Where only the placements are asked about: the bound takes longer than such a search.
quick = partial(solve, in_full=False)

FEW = settings(
    max_examples=15,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.mark.slow
@FEW
@given(LOTS)
def test_every_layout_passes_the_validator(lot) -> None:
    """Parts never overlap, leave the wood or touch a flaw they must not (the validator judges)."""
    boards, parts = lot
    layout = solve(boards, parts, Shop(), Work(12))
    assert validate_layout(layout, boards, parts, Shop()) == ()


@pytest.mark.slow
@settings(FEW, max_examples=25)
@given(LOTS)
def test_every_layout_of_the_exact_class_passes_the_validator(lot) -> None:
    boards, parts = lot
    shop = replace(Shop(), cut_class="three_stage")
    layout = solve(boards, parts, shop, Work(30))
    assert validate_layout(layout, boards, parts, shop) == ()


@settings(FEW, max_examples=3)
@given(LOTS)
def test_same_seed_and_work_same_layout(lot) -> None:
    boards, parts = lot
    assert solve(boards, parts, Shop(), Work(15), 3) == solve(boards, parts, Shop(), Work(15), 3)


@pytest.mark.parametrize("turned", ["along", pytest.param("across", marks=pytest.mark.slow)])
@pytest.mark.parametrize("instance", TINY, ids=lambda instance: instance.name.replace(" ", "_"))
def test_a_mirrored_board_is_worth_the_same(instance, turned) -> None:
    factors = (-1, 1) if turned == "along" else (1, -1)

    def mirrored(board):
        x0, y0, x1, y1 = board.faces[1].outline.bounds
        centre = ((x0 + x1) / 2, (y0 + y1) / 2)
        return replace(
            board,
            faces={
                n: replace(face, outline=mirror(face.outline, *factors, origin=centre))
                for n, face in board.faces.items()
            },
            flaws=tuple(
                replace(
                    flaw,
                    outlines={
                        n: mirror(shape, *factors, origin=centre)
                        for n, shape in flaw.outlines.items()
                    },
                )
                for flaw in board.flaws
            ),
        )

    boards = tuple(mirrored(board) for board in instance.boards)
    layout = quick(boards, instance.parts, instance.shop, Work(24))
    area = {part.name: part.length_mm * part.width_mm for part in instance.parts}
    assert sum(area[p.part] for p in layout.placements) == pytest.approx(instance.value)


def test_a_possible_flaw_nobody_looked_at_is_avoided_and_striking_it_frees_the_wood() -> None:
    stain = flaw("F1", FlawKind.STAIN, box(200, 10, 260, 50), state=FlawState.POSSIBLE)
    slat = (part("slat", 1, 450, 60, "sound"),)

    def placed(state: FlawState) -> int:
        seen = board("B1", 500, 60, replace(stain, state=state))
        return solve((seen,), slat, TINY_SHOP, Work(10)).summary.placed

    assert placed(FlawState.POSSIBLE) == 0
    assert placed(FlawState.CONFIRMED) == 1, "a stain does not weaken"
    assert placed(FlawState.STRUCK) == 1


@pytest.mark.slow
def test_better_layouts_are_told_as_they_come_and_each_is_good() -> None:
    boards, parts = named_lot()
    many = tuple(replace(p, quantity=4 * p.quantity) for p in parts)
    seen: list[Layout] = []
    shares: list[float] = []
    final = quick(boards, many, Shop(), Work(50), on_better=seen.append, progress=shares.append)
    values = [sum(p.length_mm * p.width_mm for p in layout.placements) for layout in seen]
    assert seen
    assert final.placements == seen[-1].placements
    assert values[-1] >= values[0]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


@pytest.mark.slow
def test_more_work_is_never_worse() -> None:
    boards, parts = named_lot()
    many = tuple(replace(p, quantity=4 * p.quantity, priority=1.0) for p in parts)
    value = [
        sum(p.length_mm * p.width_mm for p in quick(boards, many, Shop(), Work(n)).placements)
        for n in (3, 20, 50)
    ]
    assert value == sorted(value)


def test_the_search_stops_when_somebody_says_so() -> None:
    boards, parts = named_lot()
    asked = []

    def is_said() -> bool:
        asked.append(1)
        return len(asked) > 20

    layout = quick(boards, parts, Shop(), AnyOf(Seconds(60.0), WhenSaid(is_said)))
    assert len(asked) < 60
    assert layout.summary.placed > 0


def test_a_fresh_machine_compiles_before_the_clock_starts() -> None:
    warm_up()
    boards, parts = named_lot()
    assert quick(boards, parts, Shop(), Seconds(0.3)).summary.placed > 0


def test_no_boards_places_nothing_and_says_so() -> None:
    layout = solve((), (part("a", 2, 100, 50),), Shop(), Work(5))
    assert layout.summary.placed == 0
    assert layout.unplaced[0].copies == 2
    assert validate_layout(layout, (), (part("a", 2, 100, 50),), Shop()) == ()


def test_an_empty_list_and_doubled_names_are_refused_in_one_sentence() -> None:
    boards, _ = named_lot()
    with pytest.raises(PlacementError, match="no rows"):
        solve(boards, (), Shop(), Work(1))
    with pytest.raises(PlacementError, match="two parts are called a"):
        solve(boards, (part("a", 1, 9, 9), part("a", 1, 8, 8)), Shop(), Work(1))


@pytest.mark.slow
def test_what_is_cut_or_locked_stays_and_what_is_spoiled_is_asked_again() -> None:
    boards, parts = named_lot()
    first = quick(boards, parts, Shop(), Work(40))
    states = ["cut", "spoiled", "planned"]
    changed = tuple(
        replace(p, state=states[n]) if n < 3 else replace(p, locked=n == 3)
        for n, p in enumerate(first.placements)
    )
    again = quick(boards, parts, Shop(), Work(40), 2, keep=replace(first, placements=changed))
    assert changed[0] in again.placements
    assert changed[3] in again.placements
    spoiled = changed[1]
    assert sum(p.part == spoiled.part and p.copy == spoiled.copy for p in again.placements) <= 1
    assert all(p.state != "spoiled" for p in again.placements)
    assert again.summary.placed == first.summary.placed
    assert validate_layout(again, boards, parts, Shop()) == ()


def test_a_kept_part_that_is_not_in_the_list_is_refused() -> None:
    boards, parts = named_lot()
    first = quick(boards, parts, Shop(), Work(5))
    locked = replace(first, placements=tuple(replace(p, locked=True) for p in first.placements))
    with pytest.raises(PlacementError, match="not in the parts list"):
        solve(boards, parts[1:], Shop(), Work(5), keep=locked)
    with pytest.raises(PlacementError, match="not among the boards"):
        solve(boards[1:], parts, Shop(), Work(5), keep=locked)


def test_fillers_and_spares_only_take_what_is_left_over() -> None:
    long = board("B1", 1100, 100)
    spare = board("B2", 900, 100)
    main = replace(part("rail", 1, 500, 100), spares=1)
    filler = replace(part("cleat", 9, 90, 100), filler=True)
    layout = solve((long, spare), (main, filler), TINY_SHOP, Work(60))
    assert validate_layout(layout, (long, spare), (main, filler), TINY_SHOP) == ()
    counts = {name: sum(p.part == name for p in layout.placements) for name in ("rail", "cleat")}
    assert layout.summary.boards_opened == 1, "a filler opens no board"
    assert counts["rail"] >= 1
    assert counts["cleat"] >= 3
    assert all(row.reason.startswith(("spare:", "filler")) for row in layout.unplaced)


def test_priority_decides_where_wood_is_short() -> None:
    short = board("B1", 500, 60)
    parts = (part("a", 1, 490, 60), replace(part("b", 1, 400, 60), priority=2.0))
    layout = solve((short,), parts, TINY_SHOP, Work(10))
    assert [p.part for p in layout.placements] == ["b"]


def test_a_board_kept_whole_is_left_alone() -> None:
    boards = (replace(board("B1", 500, 60), keep_whole=True), board("B2", 500, 60))
    layout = solve(boards, (part("a", 2, 480, 60),), TINY_SHOP, Work(10))
    assert {p.board for p in layout.placements} == {"B2"}
    assert layout.unplaced[0].copies == 1


@pytest.mark.slow
def test_a_part_for_any_face_asks_less_and_so_places_no_less() -> None:
    boards, _ = named_lot()
    counts = []
    for faces in (Faces.BOTH, Faces.SHOW, Faces.HIDDEN):
        if faces is Faces.SHOW:
            continue
        wanted = (Part("x", 20, 400.0, 60.0, 19.0, faces),)
        counts.append(quick(boards, wanted, Shop(), Work(40)).summary.placed)
    assert counts == sorted(counts)


@pytest.mark.parametrize("quantity", [2, 30])
@pytest.mark.slow
def test_more_work_never_finds_less(quantity: int) -> None:
    """What a longer search finds is never worse: scarce wood by value, ample wood by area."""
    boards = tuple(board(f"B{n}", 900 + 70 * n, 90 + 9 * n) for n in range(4))
    parts = tuple(part(f"p{n}", quantity, 170 + 61 * n, 31 + 7 * n) for n in range(5))
    found = []
    for work in (5, 20, 80):
        layout = solve(boards, parts, TINY_SHOP, Work(work))
        area = {one.name: one.length_mm * one.width_mm for one in parts}
        value = sum(area[p.part] for p in layout.placements)
        found.append((value, -layout.summary.area_opened_mm2 if not layout.unplaced else 0.0))
    assert found == sorted(found)


@pytest.mark.parametrize("quantity", [2, 30])
@pytest.mark.parametrize("work", [7, 40])
@pytest.mark.slow
def test_narrower_parts_in_a_strip_never_make_a_layout_worse(quantity: int, work: int) -> None:
    """The class that allows them finds at least what the exact class finds, by construction."""
    boards = tuple(board(f"B{n}", 900 + 70 * n, 90 + 9 * n) for n in range(4))
    parts = tuple(part(f"p{n}", quantity, 170 + 61 * n, 31 + 7 * n) for n in range(5))
    found = []
    for cut_class in ("three_stage", "three_stage_trimmed"):
        layout = solve(boards, parts, replace(TINY_SHOP, cut_class=cut_class), Work(work))
        area = {one.name: one.length_mm * one.width_mm for one in parts}
        value = sum(area[p.part] for p in layout.placements)
        found.append((value, -layout.summary.area_opened_mm2 if not layout.unplaced else 0.0))
    assert found[1] >= found[0]


@pytest.mark.slow
def test_a_layout_made_again_is_the_old_one_where_nothing_is_gained() -> None:
    boards = tuple(board(f"B{n}", 900 + 70 * n, 90 + 9 * n) for n in range(3))
    parts = tuple(part(f"p{n}", 2, 170 + 61 * n, 31 + 7 * n) for n in range(4))
    first = solve(boards, parts, TINY_SHOP, Work(60), seed=1)
    again = solve(boards, parts, TINY_SHOP, Work(3), seed=7, keep=first)
    assert again.summary.area_opened_mm2 == first.summary.area_opened_mm2
    assert {(p.part, p.board, p.x_mm, p.y_mm) for p in again.placements} == {
        (p.part, p.board, p.x_mm, p.y_mm) for p in first.placements
    }


@pytest.mark.slow
def test_a_flaw_found_later_moves_only_what_lies_on_it() -> None:
    boards = tuple(board(f"B{n}", 620, 60) for n in range(4))
    parts = (part("slat", 6, 300, 60),)
    first = solve(boards, parts, TINY_SHOP, Work(60))
    assert first.summary.boards_opened == 3
    (spared,) = {b.id for b in boards} - {p.board for p in first.placements}
    hit = next(b for b in boards if b.id != spared)
    found = replace(hit, flaws=(flaw("F1", FlawKind.KNOT, box(500, 20, 540, 40)),))
    later = tuple(found if b is hit else b for b in boards)
    again = solve(later, parts, TINY_SHOP, Work(40), seed=5, keep=first)
    assert validate_layout(again, later, parts, TINY_SHOP) == ()
    assert again.summary.placed == 6

    def on_others(layout: Layout) -> set[tuple[str, float, float]]:
        return {(p.board, p.x_mm, p.y_mm) for p in layout.placements if p.board not in
                (hit.id, spared)}  # fmt: skip

    assert on_others(again) == on_others(first)


@pytest.mark.parametrize("is_long", [False, True])
def test_a_long_search_finds_what_rows_of_a_millimetre_have_no_room_for(
    is_long: bool, monkeypatch
) -> None:
    """Three strips of 31.4 and two kerfs of 3.2 fill a board of 100.6 mm to the tenth."""
    if is_long:
        monkeypatch.setattr(solver, "with_time_to_prove", lambda stop, *_: AnyOf(stop))
    boards = (board("just", 300, 100.6), board("wide", 300, 180))
    strips = (part("strip", 3, 290, 31.4),)
    shop = replace(TINY_SHOP, kerf_mm=3.2, cut_class="three_stage")
    layout = quick(boards, strips, shop, Work(300))
    assert len(layout.placements) == 3
    opened = {p.board for p in layout.placements}
    assert opened == ({"just"} if is_long else {"wide"})
    assert validate_layout(layout, boards, strips, shop) == ()
