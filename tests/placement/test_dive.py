"""A dive settles a pattern for every board, never more copies than are wanted."""

import numpy as np

from scanner.placement.choosing.dive import dive
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import Pattern

# Counts of two types that one board holds at most.
MENU = ((2, 0), (1, 1), (0, 3), (0, 0))


def pattern(board, counts):
    places = np.zeros((max(1, sum(counts)), 7), dtype=np.int32)
    return Pattern(board, np.array(counts, dtype=np.int32), places)


def pool_of(boards, wanted, value=(5.0, 2.0)):
    pool = Pool(np.array(value), np.array(wanted, dtype=np.int32))
    for board in boards:
        pool.add(pattern(board, MENU[0]))
    return pool


def layer(pool):
    """Return what lays out a board: the best of the menu that the copies left allow."""

    def lay_out(board, price, left):
        fit = [counts for counts in MENU if np.all(np.array(counts) <= left)]
        best = pattern(board, max(fit, key=lambda counts: float(np.array(counts) @ price)))
        pool.add(best)
        return best

    return lay_out


def test_every_board_gets_a_pattern_and_no_copy_is_laid_twice():
    boards = frozenset(range(8))
    pool = pool_of(boards, (6, 9))
    choice = dive(pool, boards, layer(pool), lambda: False)
    assert choice.keys() == boards
    assert all(one.board == board for board, one in choice.items())
    laid = sum(one.counts for one in choice.values())
    assert np.all(laid <= pool.wanted)
    # Six of the first type and nine of the second go into three boards and three.
    assert laid.tolist() == [6, 9]


def test_boards_that_no_known_pattern_fits_are_laid_out_anew():
    boards = frozenset((3, 7))
    pool = pool_of((), (1, 1))
    choice = dive(pool, boards, layer(pool), lambda: False)
    assert choice.keys() == boards
    assert sum(one.counts for one in choice.values()).tolist() == [1, 1]


def test_a_dive_that_runs_out_of_time_says_nothing():
    boards = frozenset(range(4))
    pool = pool_of(boards, (6, 9))
    assert dive(pool, boards, layer(pool), lambda: True) == {}
    asked = iter([False] + [True] * 9)
    assert dive(pool, boards, layer(pool), lambda: next(asked)) == {}
