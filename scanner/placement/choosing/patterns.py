"""One board laid out: `Pattern`, and the best one for given prices."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scanner.placement.choosing.problem import Problem
from scanner.placement.ground.clear_ground import Ground
from scanner.placement.kernels import board as kernels_board
from scanner.placement.rules import need_of
from scanner.placement.wanted.items import Floats, Ints

Singles = NDArray[np.float32]

# Types whose ground a first look finds: more than it lays out, as some find none.
FIRST_TYPES = 14

# Small pieces of wood need finer buckets: at least this many along the board.
LEAST_BUCKETS = 60

# On so little wood (tenths along) every place to a millimetre is looked at.
SMALL = 5000

# Up to so much wood along, parts of one width share strips in the search itself (further on only
# the gaps of strips are filled, which is far quicker); on a board no longer than that every place
# to a millimetre and every type are looked at, too.
MIXED = 12000

DRAW_SPREAD = 0.3


@dataclass(frozen=True, slots=True)
class Look:
    """How closely a board is looked at.

    Attributes
    ----------
    bucket
        Of all places where a section may begin, one a bucket is kept (tenths of a millimetre).
        True positions are kept inside the bucket, so a coarse one costs little: 16 mm and 4 mm
        gave the same values on the generated jobs of seed 100.
    many_types, few_types
        A long parts list is looked at in part: where more than ``many_types`` are worth something,
        ``few_types`` are drawn, the dearest for their size first, at random within reason. One
        large job (seed 100, 51 types, 10 s): value 19.0 against 17.7 with all; up to 20 types all
        of them did better.
    is_close
        Whether the copies left count where sections are weighed, and parts of one width share
        strips there; on small boards always.
    """

    bucket: int
    many_types: int
    few_types: int
    is_close: bool = False


THOROUGH = Look(160, 20, 14)
# Sections are weighed within the copies left, which takes half as long again.
CLOSE = Look(160, 20, 14, is_close=True)
# For the first layout of many boards: one lot of 200 (seed 300) in 1.8 CPU s on a busy machine
# against 2.4 s with (320, 6, 6), for 97 % of its value.
QUICK = Look(480, 4, 4)


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
        (n, 7) int32 as ``kernels_board.best_pattern`` gives them.
    """

    board: int
    counts: Ints
    places: Ints


def best_pattern(
    problem: Problem,
    board: int,
    price: Floats,
    left: Ints,
    rng: np.random.Generator,
    look: Look = THOROUGH,
) -> Pattern:
    """Return the best layout of one board for a price per copy, within the copies left."""
    types = problem.types
    if look is QUICK and not types.sets:
        ground = _first_ground(problem, board, price, left, rng)
    else:
        ground = problem.grounds[board]
    prices = _drawn(problem, board, price, left, rng, look).astype(np.float32)
    places = best_between(problem, board, prices, left, look, (ground.x0, ground.x1))
    if len(places):
        # A set lies whole where the stages put it; only parts that stand alone fill gaps.
        prices[len(types.parts) :] = 0
        places = filled(problem, board, prices, left, places, same_width=True)
    return pattern_of(board, places, len(types))


def best_between(
    problem: Problem, board: int, prices: Singles, left: Ints, look: Look, ends: tuple[int, int]
) -> Ints:
    """Return the best places between two places along the board, tenths."""
    ground = problem.grounds.at_hand(board)
    x0, x1 = ends
    is_small = ground.x1 - ground.x0 <= MIXED
    bucket = max(1, min(look.bucket, (x1 - x0) // LEAST_BUCKETS))
    if is_small or x1 - x0 <= SMALL:
        bucket = 10
    found: Ints = kernels_board.best_pattern(
        ground.pointer,
        ground.runs,
        ground.length,
        ground.width,
        ground.fills,
        ground.pitch,
        prices,
        left,
        problem.types.kerf,
        bucket,
        x0,
        x1,
        x1 - x0,
        is_small or look.is_close,
    )
    return found


def patched(
    problem: Problem, choice: Mapping[int, Pattern], wanted: Ints, boards: Iterable[int]
) -> dict[int, Pattern]:
    """Return the choice with further parts in the free stretches of these boards.

    What lies stays where it is; so a former layout takes up a part that was spoiled or added.
    """
    left = wanted - sum((p.counts for p in choice.values()), np.zeros_like(wanted))
    price = problem.types.value.astype(np.float32)
    patched = dict(choice)
    empty = pattern_of(0, np.zeros((0, 7), np.int32), len(problem.types))
    for board in boards:
        if not np.any(left > 0):
            break
        pattern = choice.get(board, empty)
        ground, places = problem.grounds[board], [pattern.places]
        sections = {int(p[3]): (int(p[5]), int(p[6])) for p in pattern.places}
        at, new = ground.x0, len(sections)
        for start, stop in [*sorted(sections.values()), (ground.x1 + problem.types.kerf, 0)]:
            ends = (at, start - problem.types.kerf)
            if ends[1] > at:
                found = best_between(problem, board, price, left, THOROUGH, ends)
                left = left - np.bincount(found[:, 0], minlength=len(left)).astype(np.int32)
                found[:, 3] += new
                new += len(np.unique(found[:, 3]))
                places.append(found)
            at = stop + problem.types.kerf
        if sum(map(len, places)) > len(pattern.places):
            patched[board] = pattern_of(board, np.concatenate(places), len(problem.types))
    return patched


def widened(problem: Problem, choice: Mapping[int, Pattern], wanted: Ints) -> dict[int, Pattern]:
    """Return the choice with the gaps of its strips filled by parts narrower than the strip.

    Such parts are ripped to width after milling, so every cut class but the exact one allows them.
    """
    left = wanted - sum((p.counts for p in choice.values()), np.zeros_like(wanted))
    price = problem.types.value.astype(np.float32)
    price[len(problem.types.parts) :] = 0
    wide = dict(choice)
    for board, pattern in choice.items():
        if not np.any(left[: len(problem.types.parts)] > 0):
            break
        if len(pattern.places):
            free = left + pattern.counts
            places = filled(problem, board, price, free, pattern.places, same_width=False)
            wide[board] = pattern_of(board, places, len(problem.types))
            left = free - wide[board].counts
    return wide


def filled(
    problem: Problem, board: int, price: Singles, left: Ints, places: Ints, same_width: bool
) -> Ints:
    """Return places with further parts in the gaps of their strips."""
    ground = problem.grounds.at_hand(board)
    # Strip by strip: what filled a gap before stands behind all strips.
    places = places[np.lexsort((places[:, 1], places[:, 4], places[:, 3]))]
    found: Ints = kernels_board.filled(
        ground.pointer,
        ground.runs,
        ground.length,
        ground.width,
        ground.deep,
        ground.fills,
        price,
        left,
        problem.types.kerf,
        same_width,
        places,
    )
    return found


def pattern_of(board: int, places: Ints, types: int) -> Pattern:
    """Return the pattern of these places."""
    counts = np.bincount(places[:, 0], minlength=types).astype(np.int32)
    return Pattern(board, counts, places)


def _drawn(
    problem: Problem,
    board: int,
    price: Floats,
    left: Ints,
    rng: np.random.Generator,
    look: Look,
) -> Floats:
    """Return the prices, those of types that are not looked at this time set to 0."""
    ground = problem.grounds.at_hand(board)
    pointer = ground.pointer
    worth = np.flatnonzero((price > 0) & (left > 0) & (pointer[:, -1] > pointer[:, 0]))
    if len(worth) <= look.many_types or ground.x1 - ground.x0 <= MIXED:
        return price
    density = price[worth] / (ground.length[worth].astype(np.float64) * ground.pitch[worth])
    density *= 1 + DRAW_SPREAD * rng.standard_normal(len(worth))
    drawn = np.zeros_like(price)
    chosen = worth[np.argsort(-density)[: look.few_types]]
    drawn[chosen] = price[chosen]
    return drawn


def _first_ground(
    problem: Problem, board: int, price: Floats, left: Ints, rng: np.random.Generator
) -> Ground:
    """Return ground of a board for some types that all ask the same of the wood.

    That need is the dearest part's that the board has ground for; so ground is found once for all.
    """
    of_need: dict[object, list[int]] = {}
    for t in _dearest(problem, board, price, left, rng):
        of_need.setdefault(need_of(problem.boards[board], problem.types.parts[t]), []).append(t)
    for types in of_need.values():
        ground = problem.grounds.look_at(board, frozenset(types[:FIRST_TYPES]))
        if len(ground.runs):
            return ground
    return problem.grounds.look_at(board, ())


def _dearest(
    problem: Problem, board: int, price: Floats, left: Ints, rng: np.random.Generator
) -> list[int]:
    """Return wanted types that fit on a board, about the dearest for their size first."""
    low, near, high, far = problem.boards[board].faces[1].outline.bounds
    worth = []
    for t, part in enumerate(problem.types.parts):
        size = problem.types.sizes[part.name]
        fits = size.length <= 10 * (high - low) and size.width <= 10 * (far - near)
        if left[t] > 0 and price[t] > 0 and fits:
            spread = 1 + DRAW_SPREAD * rng.standard_normal()
            worth.append((-spread * price[t] / (size.length * size.pitch), t))
    return [t for _, t in sorted(worth)]
