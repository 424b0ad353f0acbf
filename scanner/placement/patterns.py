"""One board laid out: `Pattern`, and the best one for given prices."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.placement import kernels
from scanner.placement.problem import Floats, Ints, Problem

# Of all places where a section may begin, one a bucket is kept (tenths of a millimetre). True
# positions are kept inside the bucket, so a coarse one costs little: 16 mm and 4 mm gave the same
# values on the generated jobs of seed 100.
BUCKET = 160
# Small pieces of wood need finer buckets: at least this many along the board.
LEAST_BUCKETS = 60
LONGEST_SECTION = 24000


@dataclass(frozen=True, slots=True, eq=False)
class Pattern:
    """Parts laid on one board.

    Attributes
    ----------
    board
        Index of the board.
    counts
        Copies of each type, (T,) int32.
    places
        (n, 7) int32 as ``kernels.best_pattern`` gives them.
    """

    board: int
    counts: Ints
    places: Ints


def best_pattern(
    problem: Problem, board: int, price: Floats, left: Ints, bucket: int = BUCKET
) -> Pattern:
    """Return the best layout of one board for a price per copy, within the copies left."""
    types, ground = problem.types, problem.grounds[board]
    exact = problem.shop.cut_class == "three_stage"
    prices = price.astype(np.float32)
    width = max(1, min(bucket, (ground.x1 - ground.x0) // LEAST_BUCKETS))
    places = kernels.best_pattern(
        ground.pointer,
        ground.runs,
        types.length,
        types.pitch,
        prices,
        left,
        types.kerf,
        width,
        ground.x0,
        ground.x1,
        _reach(types.length, left, prices),
    )
    if len(places):
        places = kernels.filled(
            ground.pointer,
            ground.runs,
            types.length,
            types.width,
            types.deep,
            prices,
            left,
            types.kerf,
            exact,
            places,
        )
    return pattern_of(board, places, len(types))


def pattern_of(board: int, places: Ints, types: int) -> Pattern:
    """Return the pattern of these places."""
    counts = np.bincount(places[:, 0], minlength=types).astype(np.int32)
    return Pattern(board, counts, places)


def _reach(length: Ints, left: Ints, price: NDArray[np.float32]) -> int:
    """Return the longest section worth trying: the longest part asked for."""
    asked = length[(left > 0) & (price > 0)]
    return max(int(asked.max()), LONGEST_SECTION) if len(asked) else 0
