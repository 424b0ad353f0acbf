"""Very many boards, district by district: some fifty of them are laid out anew at a time.

A district may take what its boards hold now and whatever lies nowhere; it is priced and chosen as a
lot of its own. So the time for one grows with the district and not with the lot, and what one gains
is shown at once (E. D. Taillard and S. Voss, "POPMUSIC - partial optimization metaheuristic under
special intensification conditions", in: Essays and Surveys in Metaheuristics (2002)).
"""

from collections.abc import Iterator

from scanner.placement.choosing import rhythm
from scanner.placement.choosing.choice import counts_of
from scanner.placement.choosing.master import Pool
from scanner.placement.choosing.search import Campaign

# From so many boards on, a round of prices for all of them and a dive take most of a minute.
FROM_BOARDS = 100
BOARDS = 50
# On 50 boards of development seed 41 four, six and nine rounds gave 7.8, 9.2 and 11.0 % more than a
# first layout, after 9, 10 and 12 CPU seconds.
ROUNDS = 9
# Where less time is left than a district takes, one that fits; so few boards are not worth it.
_FEWEST, _FITS = 5, 0.9


def search(every: Campaign, goal: float) -> None:
    """Search for most value until the goal's is reached or time is up."""
    if len(every.boards) < FROM_BOARDS or every.start:
        every.advance(2**62, goal)
        return
    every.advance(1, goal)
    stop = every.clock.stop
    took = 0.0
    for district in _districts(every):
        if every.clock.is_over() or every.best_value >= goal * rhythm.ALMOST:
            return
        left = stop.seconds_left(every.clock.steps)
        if left < took:
            fits = int(len(district) * left / took * _FITS)
            if fits < _FEWEST:
                return
            district = district[:fits]
        _lay_out_anew(every, frozenset(district))
        is_timed = left < float("inf")
        took = left - stop.seconds_left(every.clock.steps) if is_timed else 0.0


def _districts(every: Campaign) -> Iterator[list[int]]:
    """Yield the boards in districts of about one size, drawn anew after each time round."""
    boards = sorted(every.boards)
    many = max(1, round(len(boards) / BOARDS))
    while True:
        drawn = [boards[i] for i in every.rng.permutation(len(boards))]
        yield from (drawn[n::many] for n in range(many))


def _lay_out_anew(every: Campaign, district: frozenset[int]) -> None:
    others = {b: pattern for b, pattern in every.best.items() if b not in district}
    left = every.pool.wanted - counts_of(others, len(every.pool.value))
    pool = Pool(every.pool.value, left)
    for pattern in every.pool.patterns:
        if pattern.board in district:
            pool.add(pattern)
    campaign = Campaign(every.problem, pool, district, every.clock, every.rng)
    campaign.price_then_choose(ROUNDS)
    for pattern in pool.patterns:
        every.pool.add(pattern)
    if campaign.best:
        every.take({**others, **campaign.best})
