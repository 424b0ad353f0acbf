"""Sets of boards are refuted just where no choice of one pattern a board holds all parts."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from scanner.placement.proof import whole_copies
from scanner.placement.proof.class_bound import class_area_bound
from scanner.placement.proof.closer_look import CloserLook, Maker
from scanner.placement.proof.pricing import Pricing
from scanner.placement.proof.rich_patterns import RichPatterns
from scanner.placement.proof.whole_copies import WholeCopies

if TYPE_CHECKING:
    from collections.abc import Sequence

    from scanner.placement.wanted.items import Floats


@dataclass(frozen=True)
class Listed:
    """A board that gives one of some patterns (P, T), priced as a grid is."""

    patterns: Floats
    levels: tuple[None, ...] = (None,)

    def near_best(
        self, price: Floats, wanted: Floats, least: float, deep: int, most: int, work: int = 0
    ) -> Floats | None:
        """Return what the patterns hold, and all that is less, as a grid lists it."""
        listed = {
            held
            for pattern in np.minimum(self.patterns, wanted * (price > 0))
            for held in product(*(range(int(n) + 1) for n in pattern))
            if np.array(held) @ price >= least
        }
        return (
            np.array(sorted(listed), float).reshape(-1, len(price))
            if listed
            else np.zeros((0, len(price)))
        )

    def most(self, price: Floats, share: float, deep: int) -> tuple[float, float, Floats]:
        worth = self.patterns @ np.maximum(price, 0.0)
        best = int(np.argmax(worth))
        return float(worth[best]), 1.0, self.patterns[best] * (price > 0)


def hold(boards: Sequence[Listed], wanted: Floats) -> bool:
    """Whether some choice of a pattern a board gives every copy: all are tried."""
    return any(
        np.all(np.sum(chosen, axis=0) >= wanted)
        for chosen in product(*(b.patterns for b in boards))
    )


def refutes(
    boards: Sequence[Listed],
    size: Floats,
    wanted: Floats,
    closer: CloserLook | None = None,
    maker: Maker | None = None,
) -> bool:
    copies = WholeCopies(
        Pricing(cast("Any", boards)), size, wanted, 1, lambda: False,
        closer or CloserLook(), maker=maker,
    )  # fmt: skip
    every = range(len(boards))
    return copies.refutes(every, size / float(size @ wanted)) or copies.refutes_closely(every)


def test_two_boards_that_give_the_wrong_pairs_hold_not_all() -> None:
    """In halves both pairs of each board give one copy of each part; no whole pairs do."""
    first = Listed(np.array([[1.0, 1, 0, 0], [0, 0, 1, 1]]))
    second = Listed(np.array([[1.0, 0, 1, 0], [0, 1, 0, 1]]))
    size, wanted = np.array([3.0, 4.0, 5.0, 6.0]), np.ones(4)
    assert not hold((first, second), wanted)
    assert refutes((first, second), size, wanted)
    third = Listed(np.array([[0.0, 0, 1, 1]]))
    assert not refutes((first, second, third), size, wanted)


def test_copies_that_nobody_wants_do_not_stand_in_for_others() -> None:
    """Half of three rails on one board and half of three stiles pass for one of each and more."""
    one = Listed(np.array([[3.0, 0], [0, 3]]))
    size, wanted = np.array([4.0, 4.0]), np.ones(2)
    assert refutes((one,), size, wanted)
    assert not refutes((Listed(np.array([[3.0, 0], [0, 3], [1, 1]])),), size, wanted)


@pytest.mark.parametrize(
    "seed", [0, 1, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(2, 24))]
)
def test_boards_are_refuted_just_where_no_choice_of_patterns_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    boards = [Listed(rng.integers(0, 3, (4, 4)).astype(float)) for _ in range(3)]
    size = rng.uniform(1, 9, 4)
    chosen = np.sum([board.patterns[rng.integers(4)] for board in boards], axis=0)
    assert not refutes(boards, size, chosen)
    more = chosen + rng.integers(0, 2, 4)
    assert refutes(boards, size, more) != hold(boards, more)


def test_what_a_closer_look_refuses_a_board_does_not_give() -> None:
    """The first board gives the tall pair by rounding only; then it must give the other one."""
    first = Listed(np.array([[1.0, 1, 0], [1, 0, 1]]))
    second = Listed(np.array([[0.0, 0, 1]]))
    size, wanted = np.array([3.0, 4.0, 5.0]), np.ones(3)

    def may_hold(board: int, counts: Floats) -> bool:
        return board != 0 or not np.all(counts[:2] >= 1)

    assert not refutes((first, second), size, wanted)
    assert refutes((first, second), size, wanted, CloserLook(may_hold))
    third = Listed(np.array([[0.0, 1, 0]]))
    assert not refutes((first, second, third), size, wanted, CloserLook(may_hold))


def test_what_only_the_closest_look_refuses_is_not_given_either() -> None:
    first = Listed(np.array([[1.0, 1, 0], [1, 0, 1]]))
    second = Listed(np.array([[0.0, 0, 1]]))
    size, wanted = np.array([3.0, 4.0, 5.0]), np.ones(3)

    def closest(board: int, counts: Floats) -> bool:
        return board != 0 or not np.all(counts[:2] >= 1)

    assert refutes((first, second), size, wanted, CloserLook(closest=closest))
    # What was laid out is not asked again, and stands.
    laid = Maker(CloserLook(), lambda held: float(held.sum()))
    assert not refutes((first, second), size, wanted, CloserLook(closest=closest), laid)


def test_lists_of_a_closer_look_stand_in_for_the_first_ones() -> None:
    boards = (Listed(np.array([[1.0, 1, 0]])), Listed(np.array([[0.0, 0, 1]])))
    size, wanted = np.array([3.0, 4.0, 5.0]), np.ones(3)

    def listed(board: int, price: Floats, copies: Floats, least: float) -> Floats | None:
        found = boards[board].near_best(price, copies, least, 1, 99)
        return found if found is None or board else found[found.sum(axis=1) < 2]

    assert not refutes(boards, size, wanted)
    assert refutes(boards, size, wanted, CloserLook(listed=listed))


def test_what_boards_surely_hold_is_laid_where_the_first_choices_were_not() -> None:
    """Of eight kinds of rail the first board gives the last alone; what is sure says so."""
    rails = np.eye(8)
    boards = (Listed(rails), Listed(np.ones((8, 8)) - rails))
    size, wanted = np.linspace(3, 4, 8), np.ones(8)
    taken: list[Floats] = []
    sure: list[int] = []

    def listed(board: int, price: Floats, copies: Floats, least: float) -> Floats | None:
        sure.append(board)
        found = boards[board].near_best(price, copies, least, 1, 999)
        return found if found is None or board else found[found[:, 7] > 0]

    def take(held: Floats) -> float:
        taken.append(held)
        return float(held.sum())

    refused: list[Floats] = []

    def lays(board: int, counts: Floats) -> bool:
        is_laid = board != 0 or (counts[7] > 0 and len(sure) > 0)
        if not is_laid:
            refused.append(counts)
        return is_laid

    assert not refutes(boards, size, wanted, None, Maker(CloserLook(lays, listed), take))
    assert taken[0][0].tolist() == rails[7].tolist()
    assert len(refused) == 3


@dataclass(frozen=True)
class OftenTooMany(Listed):
    """A board whose patterns worth enough for the answer are too many, unless very many may be."""

    def near_best(
        self, price: Floats, wanted: Floats, least: float, deep: int, most: int, work: int = 0
    ) -> Floats | None:
        if most < 50_000:
            return None
        return super().near_best(price, wanted, least, deep, most, work)


def test_lists_that_take_long_are_not_begun_shortly_before_the_end() -> None:
    first = OftenTooMany(np.array([[1.0, 1, 0, 0], [0, 0, 1, 1]]))
    second = OftenTooMany(np.array([[1.0, 0, 1, 0], [0, 1, 0, 1]]))
    size, wanted = np.array([3.0, 4.0, 5.0, 6.0]), np.ones(4)
    # At last there is time for the first board's list, but for no other.
    for seconds, is_refuted in (([60.0] * 9, True), ([1.0] * 9, False), ([9.0, 9.0, 1.0], False)):
        left = iter(seconds)
        copies = WholeCopies(
            Pricing(cast("Any", [first, second])), size, wanted, 1, lambda: False, CloserLook(),
            seconds_left=left.__next__,
        )  # fmt: skip
        assert copies.refutes([0, 1], size / float(size.sum())) is is_refuted


def rail_and_rest(kinds: int) -> tuple[list[Listed], Floats, Floats]:
    """One rail of some kind on the first board, all others on the second: size and wanted, too."""
    rails = np.eye(kinds)
    boards = [Listed(rails), Listed(np.ones((kinds, kinds)) - rails)]
    return boards, np.linspace(3, 4, kinds), np.ones(kinds)


def test_what_no_board_surely_holds_is_not_laid_twice() -> None:
    """Three kinds were tried before the sure lists, which say nothing for them; then the others."""
    boards, size, wanted = rail_and_rest(8)
    tried: list[int] = []

    def lays(board: int, counts: Floats) -> bool:
        if board == 0:
            tried.append(int(np.argmax(counts)))
        return board != 0

    def listed(board: int, price: Floats, copies: Floats, least: float) -> Floats | None:
        return np.zeros((0, 8)) if board == 0 else boards[1].near_best(price, copies, least, 1, 9)

    maker = Maker(CloserLook(lays, listed), lambda held: float(held.sum()))
    copies = WholeCopies(
        Pricing(cast("Any", boards)), size, wanted, 1, lambda: False, CloserLook(),
        maker=maker,
    )  # fmt: skip
    assert not copies.refutes([0, 1], size / float(size.sum()))
    assert sorted(tried[:8]) == list(range(8))


def test_where_each_choice_was_tried_in_vain_some_closest_looks_are_taken_at_once() -> None:
    """Eight of nine kinds are refused at once, the last one later, and none is asked again."""
    boards, size, wanted = rail_and_rest(9)
    asked: list[int] = []

    def closest(board: int, counts: Floats) -> bool:
        asked.append(int(np.argmax(counts)))
        return board != 0

    maker = Maker(CloserLook(lambda board, _: board != 0), lambda held: float(held.sum()))
    copies = WholeCopies(
        Pricing(cast("Any", boards)), size, wanted, 1, lambda: False, CloserLook(closest=closest),
        maker=maker,
    )  # fmt: skip
    assert not copies.refutes([0, 1], size / float(size.sum()))
    assert len(asked) == 8
    assert copies.refutes_closely([0, 1])
    assert sorted(asked) == list(range(9))


def test_what_the_closest_look_allows_is_not_asked_again() -> None:
    boards, size, wanted = rail_and_rest(3)
    asked: list[int] = []

    def closest(board: int, counts: Floats) -> bool:
        asked.append(board)
        return True

    maker = Maker(CloserLook(lambda board, _: board != 0), lambda held: float(held.sum()))
    assert not refutes(boards, size, wanted, CloserLook(closest=closest), maker)
    assert asked == [0]


@pytest.mark.parametrize(("is_asked", "least"), [(False, 1.0), (True, 2.0)])
def test_boards_further_on_are_laid_before_what_stands_is_refuted(
    is_asked: bool, least: float
) -> None:
    """The first board seems to hold both parts; the second does, which is found in any case."""
    boards = [Listed(np.ones((1, 2)), (None, None)) for _ in range(2)]
    size, wanted, area = np.array([3.0, 4.0]), np.ones(2), np.array([1.0, 2.0])
    laid: list[list[float]] = []

    def take(held: Floats) -> float:
        laid.append(held.sum(axis=1).tolist())
        return float(held.sum())

    closer = CloserLook(closest=lambda board, _: board == 1 or not is_asked)
    maker = Maker(CloserLook(lambda board, counts: board == 1 or not counts.any()), take)
    bound = class_area_bound(
        Pricing(cast("Any", boards)), size, wanted, area, 3.0, lambda: False, closer, maker
    )
    assert bound == pytest.approx(least, rel=1e-5)
    assert laid == [[0.0, 2.0]]


def test_boards_with_much_to_spare_are_searched_once_whatever_cells_are_asked() -> None:
    """Either board gives two of one kind, in halves one of each; no list says that it does not."""
    boards = [Unlisted(2 * np.eye(2), (None, None, None)) for _ in range(2)]
    searched: list[list[int]] = []

    def search(boards: Sequence[int]) -> bool:
        searched.append(list(boards))
        return len(searched) > 1

    maker = Maker(CloserLook(lambda _board, _counts: False), lambda held: 0.0, search)
    size, wanted, area = np.ones(2), np.ones(2), np.array([1.0, 2.0])
    bound = class_area_bound(
        Pricing(cast("Any", boards)), size, wanted, area, 9.0, lambda: False, CloserLook(), maker
    )
    assert bound == pytest.approx(1.0, rel=1e-5)
    assert searched == [[0], [1]]


@pytest.mark.slow
@pytest.mark.parametrize("seed", [48, 206, 212, 257, 258, 271])
def test_refusals_of_single_boards_refute_no_set_that_holds_all(seed: int) -> None:
    """Where boards answer quickly, all that was found may be refused before prices are sought."""
    rng = np.random.default_rng(seed)
    boards = [Listed(rng.integers(0, 3, (4, 3)).astype(float)) for _ in range(3)]
    wanted, size = rng.integers(1, 5, 3).astype(float), rng.uniform(1, 9, 3)
    refused = [rng.integers(0, 3, (int(rng.integers(1, 5)), 3)) for _ in boards]
    refused = [own[own.any(axis=1)] for own in refused]

    def may_hold(board: int, counts: Floats) -> bool:
        return not np.any(np.all(counts >= refused[board], axis=1))

    left = []
    for b, one in enumerate(boards):
        held = {h for p in one.patterns.astype(int) for h in product(*map(range, p + 1))}
        left.append(Listed(np.array([h for h in held if may_hold(b, np.array(h))], float)))
    closer = CloserLook(may_hold, closest=may_hold, is_quick=True)
    is_refuted = refutes(boards, size, wanted, closer)
    assert not (is_refuted and hold(left, wanted))


@dataclass(frozen=True)
class LongListed(Listed):
    """Such a board of which too many patterns are not listed."""

    def near_best(
        self, price: Floats, wanted: Floats, least: float, deep: int, most: int, work: int = 0
    ) -> Floats | None:
        found = Listed.near_best(self, price, wanted, least, deep, most)
        return None if found is None or len(found) > most else found


@dataclass(frozen=True)
class Unlisted(Listed):
    """Such a board of which no patterns are listed."""

    def near_best(
        self, price: Floats, wanted: Floats, least: float, deep: int, most: int, work: int = 0
    ) -> Floats | None:
        return None


def test_boards_that_may_give_more_than_can_be_listed_are_laid_out_of_their_richest_patterns(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Three boards, each of which holds four of the nine parts that are wanted."""
    monkeypatch.setattr(whole_copies, "_MANY", 12)
    monkeypatch.setattr(whole_copies, "_MOST_AT_LAST", 12)
    boards = [LongListed(np.array([[2.0, 1, 1], [1, 2, 1], [1, 1, 2]])) for _ in range(3)]
    size, wanted = np.array([3.0, 3.1, 3.2]), np.array([3.0, 3, 3])
    taken: list[Floats] = []

    def take(held: Floats) -> float:
        taken.append(held)
        return float(held.sum())

    searched: list[list[int]] = []

    def search(boards: Sequence[int]) -> bool:
        searched.append(list(boards))
        return False

    assert not refutes(boards, size, wanted, None, Maker(CloserLook(), take))
    assert taken[0].sum(axis=0).tolist() == wanted.tolist()
    # Nothing can be laid as it is listed: then the boards are searched.
    maker = Maker(CloserLook(lambda _board, _counts: False), take)
    copies = WholeCopies(
        Pricing(cast("Any", boards)), size, wanted, 1, lambda: False, CloserLook(), maker=maker,
        search=search,
    )  # fmt: skip
    assert not copies.refutes([0, 1, 2], size / float(size @ wanted))
    assert searched == [[0, 1, 2]]


def test_single_boards_are_asked_only_near_to_prices_that_leave_little_to_spare() -> None:
    asked: list[int] = []

    def may_hold(board: int, counts: Floats) -> bool:
        asked.append(board)
        return True

    boards = [Listed(np.eye(2)), Listed(np.eye(2))]
    closer = CloserLook(may_hold, is_quick=True)
    wanted = np.ones(2)
    rich = RichPatterns(Pricing(cast("Any", boards)), wanted, 1, lambda: False, closer)
    assert rich.worths([0, 1], np.array([0.7, 0.3])) == pytest.approx([0.7, 0.7])
    assert asked == []
    assert rich.worths([0, 1], np.array([0.49, 0.51])) == pytest.approx([0.51, 0.51])
    assert asked == [0, 1]
