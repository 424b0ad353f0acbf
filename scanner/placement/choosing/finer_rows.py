"""The same search on finer rows, where it found nothing more on rows of a millimetre.

Each strip loses up to a row of wood, so that finer rows hold layouts that coarse ones do not; but a
board takes three times as long on them. So prices, patterns and a first good layout come from
coarse rows, and all patterns known go along.
"""

from collections.abc import Callable, Mapping

import numpy as np

from scanner.placement.choosing import districts
from scanner.placement.choosing.choice import Choice
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.patterns import Pattern, pattern_of
from scanner.placement.choosing.problem import Problem
from scanner.placement.choosing.search import Campaign


def search(
    every: Campaign,
    goal: float,
    finer: Callable[[], Problem] | None,
    tell: Callable[[Problem, Choice], None],
) -> Campaign:
    """Search for most value until the goal's is reached or time is up; return where that ended.

    ``finer``: the problem on finer rows, which the campaign returned has where the search came to
    them; None where it is not to be tried.
    """
    if finer is None:
        districts.search(every, goal)
        return every
    every.advance(2**62, goal, until_stuck=True)
    if not every.is_stuck or every.clock.is_over():
        return every
    found = _taken_along(every, finer(), tell)
    found.advance(2**62, goal)
    return found


def _taken_along(
    every: Campaign, fine: Problem, tell: Callable[[Problem, Choice], None]
) -> Campaign:
    """Return a campaign on finer rows that knows all that this one does.

    That is this one itself where some pattern of the best layout does not lie on the finer ground.
    """
    best, finest = (_moved_choice(every.problem, fine, c) for c in (every.best, every.finest))
    if best is None or finest is None:
        return every
    pool = Pool(every.pool.value, every.pool.wanted)
    for pattern in every.pool.patterns:
        if (moved := _moved(every.problem, fine, pattern)) is not None:
            pool.add(moved)
    campaign = Campaign(
        fine, pool, every.boards, every.clock, every.rng, lambda choice: tell(fine, choice),
        best=best, best_value=every.best_value, best_worth=every.best_worth,
        finest=finest, finest_value=every.finest_value, finest_worth=every.finest_worth,
    )  # fmt: skip
    campaign.go_on_from(best)
    return campaign


def _moved_choice(
    coarse: Problem, fine: Problem, choice: Mapping[int, Pattern]
) -> dict[int, Pattern] | None:
    moved = {b: _moved(coarse, fine, pattern) for b, pattern in choice.items()}
    found = {b: pattern for b, pattern in moved.items() if pattern is not None}
    return found if len(found) == len(choice) else None


def _moved(coarse: Problem, fine: Problem, pattern: Pattern) -> Pattern | None:
    """Return a pattern with its rows counted in finer ones; None where it does not lie on them."""
    old, new = coarse.grounds[pattern.board], fine.grounds[pattern.board]
    at = old.y0 - new.y0 + pattern.places[:, 2] * coarse.types.row
    if np.any(at % fine.types.row) or np.any(at < 0):
        return None
    places = pattern.places.copy()
    places[:, 2] = at // fine.types.row
    if any(new.run_around(t, x, row) is None for t, x, row in places[:, :3].tolist()):
        return None
    return pattern_of(pattern.board, places, len(fine.types))
