"""When the bound of the cut class is sought: after the search, where time or work allows it."""

from collections.abc import Mapping, Sequence
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from scanner.board.board import Board
from scanner.placement.kernels import near_best, one_board, sections, whole_choice
from scanner.placement.parts import Part
from scanner.placement.proof.bound_of_class import Proof, can_be_proven
from scanner.placement.shop import Shop
from scanner.placement.stop import Earlier, Stop

# From so many seconds on this share of them is kept for the bound, and no more than so many. What
# is looked at at once has the quick bound.
_LEAST_TO_PROVE_S, _MOST_TO_PROVE_S, _SHARE_TO_PROVE = 15.0, 60.0, 0.4
_LEAST_LEFT_S = 2.0
# Where all parts lie the proof lays out what boards may hold and finds more than a search for
# fewer boards would after this share of the time, or after so many seconds.
_SHARE_BEFORE_LAYING, _MOST_BEFORE_LAYING_S = 0.3, 12.0
_WORK_TO_PROVE = 5000


def with_time_to_prove(
    stop: Stop, boards: Sequence[Board], parts: Sequence[Part], shop: Shop
) -> Stop:
    """Return the stop rule of the search; what the bound needs is loaded before time counts."""
    seconds = stop.seconds_left(0)
    if _LEAST_TO_PROVE_S <= seconds < float("inf") and can_be_proven(boards, parts, shop):
        _warm_up()
        return Earlier(stop, min(_MOST_TO_PROVE_S, _SHARE_TO_PROVE * seconds))
    return stop


def share_before_laying(seconds: float) -> float:
    """Return the share of so many seconds after which a search for fewer boards ends."""
    share = min(_SHARE_BEFORE_LAYING, _MOST_BEFORE_LAYING_S / seconds)
    return max(share, 1 - _MOST_TO_PROVE_S / seconds)


def proof_within(
    stop: Stop,
    steps: int,
    sizes_are_fixed: bool,
    is_glued: bool,
    prices: Mapping[str, float],
) -> Proof | None:
    """Return how the bound may be sought after so many steps of search, or None.

    ``prices``: of a copy of each part by name, as the search knows them. Staves of an open number
    are reckoned by narrow ones side by side, which no one strip holds.
    """
    left = stop.seconds_left(steps)
    is_by_work = left == float("inf") and not stop.is_over(0) and stop.is_over(steps)
    has_time = _LEAST_LEFT_S <= left < float("inf")
    if is_glued or not (has_time or (is_by_work and steps >= _WORK_TO_PROVE)):
        return None
    is_over = (lambda: False) if is_by_work else partial(stop.is_over, steps)
    return Proof(is_over, sizes_are_fixed, prices, partial(stop.seconds_left, steps))


@cache
def _warm_up() -> None:
    """Load the compiled kernels, or compile them."""
    mask = np.zeros((1, 2, 2), np.uint32)
    starts = np.zeros((1, 2), np.int32)
    sections.fill_mask(np.array([0, 1], np.int32), starts, 1, 1, 0, 0, mask[0])
    one = np.ones(1, np.int64)
    strips = sections.Strips(
        sections.drifted(sections.coarser(mask, 1, 1), 1), np.array([0, 1]), one, 0 * one, 0 * one,
        np.ones(1, np.float32), one,
    )  # fmt: skip
    nothing = sections.SectionTables(0 * one, np.zeros((1, 1), np.float32), np.zeros(1))
    _, begin, tables = sections.best_sections(strips, 1, 0, nothing, 0.0)
    sections.counts_between(strips, 0 * one, begin, np.zeros(1))
    near_best.near_best(
        strips._replace(value=np.ones(1)), near_best.KeyFields(one, 0, 2), tables, 1.0, 10, 10
    )
    whole_choice.first_choice(
        np.ones((1, 1), np.int64), np.array([0, 1]), np.ones((1, 1)), np.ones((1, 1)),
        np.ones((1, 3)), np.ones((3, 1), np.int64), one, one, one, np.ones((1, 1), np.int64), 9,
        True,
    )  # fmt: skip
    _warm_up_one_board(one)


def _warm_up_one_board(one: NDArray[np.int64]) -> None:
    pointer, starts, less = np.array([[0, 1]]), np.array([[0, 5]]), np.array([[-1], [0]])
    ends, first, behind = np.zeros((1, 1), np.int64), np.array([0, 1]), np.array([-1])
    one_board.joined_rows(pointer[0], starts, 1)
    alike = one_board.alike_rows(pointer, starts)
    one_board.strip_ends(pointer, starts, alike, one, first, 0 * one, behind, 0, 9, ends)
    rows_of = np.zeros(2, np.int64)
    one_board.stacked(ends, one, less, one, 9, np.zeros_like(ends), -one, rows_of)
    pair_ptr, pair_set = one_board.pairs(np.array([[0], [1]]), one)
    reached, section, _, _ = one_board.first_ends(
        pointer, starts, one, one, first, 0 * one, behind, less, pair_ptr, pair_set, 0 * one,
        rows_of, np.array([9, 9]), 0, 9, 1, 8, True, 100,
    )  # fmt: skip
    one_board.still_known(pair_ptr, pair_set, section, reached)
