"""The bound of the cut class: exact where everything can be tried, never below any layout."""

from __future__ import annotations

from dataclasses import replace
from functools import cache, partial

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from shapely.geometry import box

from scanner.board.flaw import FlawKind
from scanner.placement.choosing.programme import Found
from scanner.placement.giving.sizes import givings_of, sized
from scanner.placement.proof import class_bound
from scanner.placement.proof.bound_of_class import Proof, bound_of_class, can_be_proven
from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.section_grid import section_grid
from scanner.placement.shop import Shop
from scanner.placement.solve import solve, warm_up
from scanner.placement.stop import Seconds, Work
from tests.instances.tiny import SHOP, SIX, TINY, Instance, board, flaw, part
from tests.placement.lots import LOTS

RIGHT = 1 - 1e-6
WHOLE_CLASSES = ("three_stage", "three_stage_trimmed")
# Without sets and sizes that give: the others are judged as the solver lays them out.
PLAIN = [one for one in TINY if not any(p.match or p.length_min_mm for p in one.parts)]
UNIT = 20  # mm: all sizes of the boards that are tried out are multiples of it


def of_class(boards, parts, wanted, shop, achieved, is_complete, fixed=True):
    gross = [b.wood(1).area for b in boards]
    proof = Proof(lambda: False, fixed)
    return bound_of_class(boards, parts, wanted, gross, shop, achieved, is_complete, proof)


def tried_out(long, wide, bad, sizes, exact) -> int:
    """Return the most of all three-stage layouts of one board on a grid of units, no kerf.

    bad: the units that are blocked; sizes: length, width and value of each part, any copies.
    """

    def is_clear(x, y, length, width):
        return not any(x <= i < x + length and y <= j < y + width for i, j in bad)

    @cache
    def along(x, stop, y, height):
        """Return the most of one strip."""
        if x >= stop:
            return 0
        best = along(x + 1, stop, y, height)
        for length, width, value in sizes:
            if x + length > stop or (width != height if exact else width > height):
                continue
            if any(is_clear(x, y + up, length, width) for up in range(height - width + 1)):
                best = max(best, value + along(x + length, stop, y, height))
        return best

    @cache
    def across(start, stop, y):
        """Return the most of one section, from y on."""
        if y >= wide:
            return 0
        return max(
            across(start, stop, y + 1),
            *(
                along(start, stop, y, height) + across(start, stop, y + height)
                for height in range(1, wide - y + 1)
            ),
        )

    @cache
    def sections(x):
        if x >= long:
            return 0
        return max(across(x, stop, 0) + sections(stop) for stop in range(x + 1, long + 1))

    return sections(0)


def held_in_all_ways(long, wide, bad, sizes, wanted, exact) -> set[tuple[int, ...]]:
    """Return all copies of each part that a board of units holds, none more often than wanted."""
    none = (0,) * len(sizes)

    def is_clear(x, y, length, width):
        return not any(x <= i < x + length and y <= j < y + width for i, j in bad)

    def both(first, second):
        found = {tuple(map(sum, zip(a, b, strict=True))) for a in first for b in second}
        return {held for held in found if all(n <= m for n, m in zip(held, wanted, strict=True))}

    @cache
    def along(x, stop, y, height):
        found = {none} if x >= stop else along(x + 1, stop, y, height)
        for n, (length, width) in enumerate(sizes):
            if x + length > stop or (width != height if exact else width > height):
                continue
            if any(is_clear(x, y + up, length, width) for up in range(height - width + 1)):
                one = {tuple(int(m == n) for m in range(len(sizes)))}
                found = found | both(one, along(x + length, stop, y, height))
        return found

    @cache
    def across(start, stop, y):
        found = {none} if y >= wide else across(start, stop, y + 1)
        for height in range(1, wide - y + 1):
            found = found | both(along(start, stop, y, height), across(start, stop, y + height))
        return found

    @cache
    def sections(x):
        found = {none}
        for stop in range(x + 1, long + 1):
            found = found | both(across(x, stop, 0), sections(stop))
        return found

    return sections(0)


def drawn_in_units(rng: np.random.Generator, copies: int):
    """Return a small board with holes, three parts, how many are wanted, and what tries all ways.

    All sizes are whole units, so that the board can be gone through cell by cell.
    """
    long, wide = 8, 4
    bad = {(int(rng.integers(long)), int(rng.integers(wide))) for _ in range(3)}
    sizes = tuple((int(rng.integers(2, 5)), int(rng.integers(1, 3))) for _ in range(3))
    wanted = tuple(int(n) for n in rng.integers(1, 4, 3))
    flaws = [
        flaw(
            f"F{i}{j}", FlawKind.HOLE, box(i * UNIT, j * UNIT, (i + 1) * UNIT, (j + 1) * UNIT),
            (1, 2),
        )
        for i, j in sorted(bad)
    ]  # fmt: skip
    one = board("B1", long * UNIT, wide * UNIT, *flaws)
    parts = [part(f"p{n}", copies, a * UNIT, b * UNIT) for n, (a, b) in enumerate(sizes)]
    return one, parts, wanted, partial(held_in_all_ways, long, wide, frozenset(bad), sizes, wanted)


@pytest.mark.parametrize("cut_class", WHOLE_CLASSES)
@pytest.mark.parametrize("seed", range(4))
def test_all_that_a_board_may_hold_is_listed_and_nothing_else(seed: int, cut_class) -> None:
    rng = np.random.default_rng(seed)
    shop = replace(SHOP, kerf_mm=0.0, cut_class=cut_class)
    one, parts, wanted, all_ways = drawn_in_units(rng, 9)
    grid = section_grid(one, parts, shop, 20, 5, (8, 4))
    price = rng.uniform(1, 3, 3)
    every = all_ways(cut_class == "three_stage")
    worth = {held: float(np.array(held) @ price) for held in every}
    # What is kept of one question must not change the next, which may ask for more or less.
    for share in (0.5, 1.0, 0.0, 0.8, 0.5):
        least = share * max(worth.values()) - 1e-6
        listed = grid.near_best(price, np.array(wanted, float), least, 3, 1000)
        assert listed is not None
        assert len({tuple(held) for held in listed}) == len(listed)
        truth = {held for held, w in worth.items() if w >= least}
        assert {tuple(int(n) for n in held) for held in listed} == truth
    assert grid.near_best(price, np.array(wanted, float), 0.0, 3, 2) is None


@pytest.mark.parametrize("cut_class", WHOLE_CLASSES)
@pytest.mark.parametrize("seed", range(8))
def test_pricing_is_exact_where_every_layout_can_be_tried(seed: int, cut_class) -> None:
    rng = np.random.default_rng(seed)
    long, wide = int(rng.integers(10, 17)), int(rng.integers(4, 7))
    shop = replace(SHOP, kerf_mm=0.0, cut_class=cut_class)
    bad = {(int(rng.integers(long)), int(rng.integers(wide))) for _ in range(int(rng.integers(6)))}
    sizes = tuple(
        (int(rng.integers(2, 8)), int(rng.integers(1, 4)), int(rng.integers(5, 60)))
        for _ in range(4)
    )
    flaws = tuple(
        flaw(f"F{n}", FlawKind.HOLE, box(i, j, i + 1, j + 1).buffer(0), (1, 2))
        for n, (i, j) in enumerate(sorted(bad))
    )
    scaled = tuple(
        replace(f, outlines={k: box(*(v * UNIT for v in o.bounds)) for k, o in f.outlines.items()})
        for f in flaws
    )
    one = board("B1", long * UNIT, wide * UNIT, *scaled)
    parts = [part(f"p{n}", 9, a * UNIT, b * UNIT) for n, (a, b, _) in enumerate(sizes)]
    grid = section_grid(one, parts, shop, 20, 5, (8, 4))
    price = np.array([value for _, _, value in sizes], float)
    truth = tried_out(long, wide, frozenset(bad), sizes, cut_class == "three_stage")
    for guess in (0.0, 0.9, 1.0):
        worth, _, counts = grid.most(price, guess, len(grid.levels))
        assert worth == pytest.approx(truth, rel=1e-5)
        assert counts @ price == pytest.approx(worth, rel=1e-5)


@pytest.mark.parametrize(("cut_class", "most"), [("three_stage", 4), ("three_stage_trimmed", 5)])
def test_a_strip_wider_than_all_its_parts_is_of_the_wider_class(cut_class, most) -> None:
    """Two feet lie in one strip three units high, one low, one high, beside a rail.

    y 0 +---------+----###--+     # flaws: no rip frees both feet in strips as wide as they are,
        |  foot   |  foot   |       and a crosscut between them would go through the rail.
      3 +---###---+---------+
        |       rail        |
      5 +-------------------+
    """
    bad = frozenset({(1, 2), (4, 0)})
    sizes = ((3, 2, 1), (6, 2, 3))
    assert tried_out(6, 5, bad, sizes, cut_class == "three_stage") == most
    flaws = [
        flaw(
            f"F{i}", FlawKind.HOLE, box(i * UNIT, j * UNIT, (i + 1) * UNIT, (j + 1) * UNIT), (1, 2)
        )
        for i, j in bad
    ]
    one = board("B1", 6 * UNIT, 5 * UNIT, *flaws)
    shop = replace(SHOP, kerf_mm=0.0, cut_class=cut_class)
    parts = [part(f"p{a}", 2, a * UNIT, b * UNIT) for a, b, _ in sizes]
    grid = section_grid(one, parts, shop, 20, 5, (8, 4))
    assert grid.most(np.array([1.0, 3.0]), 0.9, 3)[0] == pytest.approx(most, rel=1e-5)


@pytest.mark.parametrize("cut_class", WHOLE_CLASSES)
@pytest.mark.parametrize("instance", PLAIN, ids=lambda one: one.name.replace(" ", "_"))
def test_no_answer_found_by_hand_is_above_the_bound(instance: Instance, cut_class) -> None:
    shop = replace(instance.shop, cut_class=cut_class)
    wanted = [p.quantity for p in instance.parts]
    found = of_class(instance.boards, instance.parts, wanted, shop, (0.0, 1e9), False)
    assert found is not None and found.cut_class == cut_class
    assert found.value >= instance.value * RIGHT


def test_the_pinwheel_needs_a_cut_that_the_class_has_not() -> None:
    """Any placement holds all four, three stages hold three: the class's own bound says so."""
    pinwheel = next(one for one in TINY if one.name == "pinwheel")
    wanted = [p.quantity for p in pinwheel.parts]
    found = of_class(pinwheel.boards, pinwheel.parts, wanted, pinwheel.shop, (0.0, 1e9), False)
    assert found is not None
    assert found.value == pytest.approx(pinwheel.value, rel=1e-4)


def test_the_bound_of_six_of_a_kind_is_six() -> None:
    found = of_class(SIX.boards, SIX.parts, [9], SIX.shop, (0.0, 1e9), False)
    assert found is not None
    assert found.value == pytest.approx(SIX.value, rel=1e-4)


def test_boards_that_all_parts_need_are_the_bound_on_area() -> None:
    """Three of four boards of 300 x 60 must be opened for three parts of 290 x 60."""
    boards = tuple(board(f"B{n}", 300, 60) for n in range(4))
    found = of_class(boards, (part("slat", 3, 290, 60),), [3], SHOP, (0.0, 4 * 18000.0), True)
    assert found is not None
    assert found.value == pytest.approx(3 * 18000, rel=1e-4)
    assert found.gap == pytest.approx(0.25, rel=1e-3)


@pytest.mark.parametrize(("long", "opened"), [(330.5, 1), (331.5, 2)])
def test_slats_that_only_cells_of_two_millimetres_have_room_for_need_a_second_board(
    long: float, opened: int
) -> None:
    """Three slats and two kerfs of 4 on 1000 mm: a slat is 330.67 mm long at most."""
    boards = (board("B1", 1000, 60), board("B2", 1000, 60))
    slats = (part("slat", 3, long, 60),)
    found = of_class(boards, slats, [3], SHOP, (0.0, 2 * 60_000.0), True)
    assert found is not None
    assert found.value == pytest.approx(opened * 60_000, rel=1e-4)


def test_a_layout_above_the_bound_is_not_of_the_class_and_has_none() -> None:
    assert of_class(SIX.boards, SIX.parts, [9], SIX.shop, (2 * SIX.value, 1e9), False) is None


def test_a_search_that_was_told_to_end_has_no_bound_of_its_class() -> None:
    proof = Proof(lambda: True)
    found = bound_of_class(
        SIX.boards, SIX.parts, [9], [1.0], SIX.shop, (SIX.value, 1e9), False, proof
    )
    assert found is None


def test_layouts_of_any_class_have_no_bound_of_a_class() -> None:
    assert not can_be_proven(SIX.boards, SIX.parts, replace(SIX.shop, cut_class="any"))


@pytest.mark.slow
def test_a_search_of_half_a_minute_states_the_bound_of_its_class() -> None:
    pinwheel = next(one for one in TINY if one.name == "pinwheel")
    # The seconds run from here on, and what is loaded first takes some of a slow machine's.
    warm_up()
    layout = solve(pinwheel.boards, pinwheel.parts, pinwheel.shop, Seconds(20))
    assert layout.bound.cut_class == pinwheel.shop.cut_class
    assert layout.bound.gap < 1e-4


@pytest.mark.slow
@pytest.mark.parametrize("cut_class", WHOLE_CLASSES)
@settings(max_examples=12, deadline=None, suppress_health_check=list(HealthCheck))
@given(LOTS)
def test_no_layout_beats_the_bound_of_its_class(cut_class, lot) -> None:
    """The solver's own layouts, on boards with any flaws and parts that may give."""
    boards, parts = lot
    parts = tuple(p for p in parts if p.staves == "1")
    if not parts:
        return
    shop = Shop(cut_class=cut_class)
    layout = solve(boards, parts, shop, Work(12))
    smallest = sized(parts, {g: g.least_mm for g in givings_of(parts)})
    upright = {
        p.name
        for p in parts
        if p.outline_mm is None
        and p.straight_grain != "follow"
        and not (p.match or "").endswith(":bookmatch")
    }
    placed = [q for q in layout.placements if q.part in upright]
    worth = {p.name: p.priority * p.length_mm * p.width_mm for p in parts}
    wanted = [p.quantity + p.spares if p.name in upright else 0 for p in smallest]
    found = of_class(boards, smallest, wanted, shop, (0.0, 1e12), False, smallest == parts)
    value = sum(worth[q.part] for q in placed)
    if placed:
        assert found is not None
        assert found.value >= value * RIGHT
        counts = [sum(q.part == p.name for q in placed) for p in smallest]
        opened = sum(b.wood(1).area for b in boards if any(q.board == b.id for q in placed))
        least = of_class(boards, smallest, counts, shop, (value, 1e12), True, smallest == parts)
        assert least is not None
        assert least.value <= opened * (1 + 1e-6)


def test_time_that_runs_out_within_a_round_of_prices_leaves_no_false_bound() -> None:
    asked = iter([False] * 3 + [True] * 99)
    exact = replace(SHOP, cut_class="three_stage")
    boards = tuple(board(f"B{n}", 700, 120) for n in range(6))
    parts = (part("p", 40, 200, 50),)
    bound = bound_of_class(
        boards, parts, [40], [84_000.0] * 6, exact, (1.0, 1.0), False, Proof(lambda: next(asked))
    )
    assert bound is None
    grids = [section_grid(b, parts, exact, 20, 5, (4,)) for b in boards]
    worth, _ = Pricing(grids, iter([False, True] * 3).__next__).at(np.ones(1), 1)
    assert np.isinf(worth).tolist() == [False, True] * 3


def test_a_board_too_many_among_the_cheapest_does_not_raise_what_is_needed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One of two may do alone: as long as nobody asked it, their area is not what is needed."""
    found = Found(None, np.array([1.0, 1.0, 0.0]), np.zeros(0), 1.0)
    monkeypatch.setattr(class_bound, "least_whole", lambda *_: found)
    area = np.array([1.0, 2.0, 9.0])
    assert class_bound._cheapest(np.ones((1, 3)), area) == ([1], pytest.approx(1.0, rel=1e-5))
    needed = np.array([[0.5, 0.5, 1.0]])
    assert class_bound._cheapest(needed, area) == ([0, 1], pytest.approx(1.0, rel=1e-5))
