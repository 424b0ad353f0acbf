"""What the bound says that boards may hold is laid out, where it can be."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from scanner.placement.choosing.problem import problem_of
from scanner.placement.finish.assemble import assemble, placements_of
from scanner.placement.proof.bound_of_class import Proof, bound_of_class
from scanner.placement.proof.laying import Laying
from scanner.placement.proof.proof_time import share_before_laying
from scanner.placement.proof.section_grid import section_grid
from scanner.placement.solve import solve
from scanner.placement.stop import Clock, Work
from scanner.placement.validator.judge import validate_layout
from scanner.placement.wanted.items import FINE_ROW_HEIGHTS
from tests.instances.tiny import SHOP, board, part

if TYPE_CHECKING:
    from scanner.board.board import Board
    from scanner.placement.layout import Bound
    from scanner.placement.parts import Part
    from scanner.placement.wanted.items import Floats

PARTS = (part("rail", 2, 300, 40), part("stile", 1, 500, 60), part("slat", 3, 180, 30))
NAMES = [p.name for p in PARTS]
WANTED = np.array([p.quantity for p in PARTS], float)


def laying(boards: tuple[Board, ...], is_value_sought: bool) -> Laying:
    wanted = [p.quantity for p in PARTS]
    problem = problem_of(boards, PARTS, wanted, SHOP, row_heights=FINE_ROW_HEIGHTS)
    return Laying(problem, np.random.default_rng(1), is_value_sought)


def proven(
    one: Laying,
    boards: tuple[Board, ...],
    achieved: tuple[float, float],
    is_all: bool,
    seconds: float = float("inf"),
) -> Bound | None:
    gross = [b.wood(1).area for b in boards]
    proof = Proof(lambda: False, seconds_left=lambda: seconds, laying=one)
    wanted = [p.quantity for p in PARTS]
    return bound_of_class(boards, PARTS, wanted, gross, SHOP, achieved, is_all, proof)


def judged(one: Laying, boards: tuple[Board, ...]) -> list[str]:
    placed = tuple(placements_of(one.problem, one.best, ()))
    layout = assemble(boards, PARTS, SHOP, placed, 1, 1, is_final=True)
    return list(map(str, validate_layout(layout, boards, PARTS, SHOP)))


def value_of_all(parts: tuple[Part, ...]) -> float:
    return sum(p.quantity * p.length_mm * p.width_mm for p in parts)


@pytest.mark.slow
def test_the_smaller_board_that_the_proof_cannot_refute_is_laid_out() -> None:
    """A layout on the large board is known; everything has room on the small one, just."""
    boards = (board("large", 2400, 200), board("small", 900, 160))
    one = laying(boards, is_value_sought=False)
    large, small = (b.wood(1).area for b in boards)
    bound = proven(one, boards, (value_of_all(PARTS), large), is_all=True)
    assert bound is not None
    assert bound.value == pytest.approx(small, rel=1e-4)
    assert list(one.best) == [1]
    assert not judged(one, boards)


@pytest.mark.slow
def test_boards_that_are_searched_alone_hold_everything_or_no_layout_is_noted() -> None:
    boards = (board("large", 2400, 200), board("small", 900, 160), board("short", 640, 90))
    one = laying(boards, is_value_sought=False)
    assert not one.searched([2], lambda: False, lambda: float("inf"))
    assert not one.best
    assert one.searched([1, 2], lambda: False, lambda: float("inf"))
    assert set(one.best) <= {1, 2}
    assert not judged(one, boards)


@pytest.mark.slow
def test_the_best_that_the_proof_says_a_short_board_may_hold_is_laid_out() -> None:
    boards = (board("short", 640, 90),)
    one = laying(boards, is_value_sought=True)
    bound = proven(one, boards, (1.0, boards[0].wood(1).area), is_all=False)
    assert bound is not None
    placed = sum(
        p.length_mm * p.width_mm * n for p, n in zip(PARTS, one.best[0].counts, strict=True)
    )
    assert placed == pytest.approx(bound.value, rel=1e-3)
    assert not judged(one, boards)


@pytest.mark.slow
def test_a_board_is_laid_out_section_by_section_and_not_with_more_than_it_holds() -> None:
    boards = (board("B", 900, 160),)
    one = laying(boards, is_value_sought=False)
    grid = section_grid(boards[0], PARTS, SHOP, 5, 5, (32, 8, 2))
    size = np.array([p.length_mm * p.width_mm for p in PARTS])
    sections = grid.sections_of(size / float(size @ WANTED), WANTED, 30_000)
    assert sections
    assert np.sum([s.counts for s in sections], axis=0).tolist() == WANTED.tolist()
    assert all(a.end <= b.begin for a, b in pairwise(sections))
    assert one.lays(0, WANTED, NAMES, lambda: sections)
    assert not one.lays(0, WANTED + np.array([0, 3, 0]), NAMES, lambda: sections)


@pytest.mark.slow
def test_only_what_a_board_surely_holds_is_tried_again(monkeypatch: pytest.MonkeyPatch) -> None:
    boards = (board("B", 900, 160),)
    one = laying(boards, is_value_sought=False)
    asked: list[float] = []

    def lays(counts: Floats) -> bool:
        return one.lays(0, counts, NAMES, lambda: asked.append(counts.sum()))

    few, too_many = np.array([1.0, 1, 1]), WANTED + np.array([0, 3, 0])
    with monkeypatch.context() as patch:
        patch.setattr(Laying, "_as_one", lambda *_: None)
        assert not lays(few)
        assert not lays(too_many)
        none = one.listed(0, NAMES, np.ones(3), WANTED, 7.0)
        assert none is not None
        assert not len(none)
        assert not lays(few)
        assert one.listed(0, NAMES, np.ones(3), WANTED, 3.0) is not None
        assert lays(few)
        assert not lays(too_many)
    assert asked == [3, 9]


@pytest.mark.slow
@pytest.mark.parametrize(("seconds", "is_listed"), [(60.0, True), (2.0, False)])
def test_what_takes_seconds_is_not_begun_in_the_last_ones(
    seconds: float, is_listed: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing can be laid out; what the small board surely holds is listed for it, in time."""
    boards = (board("large", 2400, 200), board("small", 900, 160))
    one, listed = laying(boards, is_value_sought=False), list[int]()
    monkeypatch.setattr(Laying, "lays", lambda *_: False)
    monkeypatch.setattr(Laying, "listed", lambda _, board, *__: listed.append(board))
    large = boards[0].wood(1).area
    proven(one, boards, (value_of_all(PARTS), large), is_all=True, seconds=seconds)
    assert bool(listed) == is_listed


def test_a_layout_that_lacks_a_part_is_none_where_everything_is_sought() -> None:
    boards = (board("B", 640, 90),)
    one = laying(boards, is_value_sought=False)
    stile = np.array([0.0, 1.0, 0.0])
    assert one.lays(0, stile, NAMES, lambda: None)
    assert one.take(stile[None], NAMES) == 0
    assert not one.best


@pytest.mark.slow
def test_what_the_proof_lays_out_is_the_layout_where_it_is_worth_more(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A search that finds nothing leaves the dearest part to the last fill, which bars the rest."""
    boards = (board("short", 640, 90),)

    def nothing(_task: object, _main: object, clock: Clock, *_: object) -> list[object]:
        clock.steps += 1
        return []

    monkeypatch.setattr("scanner.placement.solve._main_search", nothing)
    monkeypatch.setattr("scanner.placement.proof.proof_time._WORK_TO_PROVE", 0)
    layout = solve(boards, PARTS, SHOP, Work(1))
    assert sum(p.part == "rail" for p in layout.placements) == 2
    assert layout.bound.gap < 1e-3
    assert not list(validate_layout(layout, boards, PARTS, SHOP))


def test_the_search_leaves_most_of_a_minute_but_no_more_than_one_to_the_proof() -> None:
    assert share_before_laying(60) == pytest.approx(0.2)
    assert share_before_laying(20) == pytest.approx(0.3)
    assert share_before_laying(300) == pytest.approx(0.8)
