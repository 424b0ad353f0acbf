"""All parts placed: the same from fewer boards.

The cheapest set of boards whose worth, at every price vector met so far, covers the parts with
some room to spare is tried next; the room asked for shrinks after each success. For prices p a
board b gives at most z_b(p), so a set that holds all parts has sum z_b(p) >= wanted . p.

With many boards opened such a search soon finds nothing more in the time there is; then sets near
to the best one are tried in turn with it, each from the layout as it lies.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from scanner.placement.choosing import rhythm
from scanner.placement.choosing.choice import Choice, as_it_lay, stays, value_of
from scanner.placement.choosing.near_sets import nearest_untried
from scanner.placement.choosing.patterns import Pattern
from scanner.placement.choosing.programme import least_whole
from scanner.placement.choosing.search import Campaign
from scanner.placement.stop import Clock
from scanner.placement.wanted.items import Floats, Ints

FIRST_ROOM = 0.30
# Boards that were not priced are only guessed at, so sets that seem a little too small count too.
LEAST_ROOM = -0.15
# Where all boards were priced a set may seem too small by so much only: their best patterns are
# found by and large.
SURE_ROOM = -0.005
# Narrower parts in a strip, which prices know nothing of, may make up for some more.
SURE_ROOM_OF_WIDER = -0.02
# The room asked for halves down to this, and goes on in steps of so much.
SMALL_ROOM, ROOM_STEP = 0.01, 0.03
SET_NODES = 500
# So many of the last cuts are looked at.
CUTS_KEPT = 60
SURE_CUTS_KEPT = 200
# Of more boards than these not all are priced for each set.
MANY_PRICED = 24
# Search steps spent on a set of boards before another is tried; sets come back with more.
FIRST_STEPS_A_BOARD = 25
# With so many boards opened a set is only laid out board after board, quickly and closely; where
# that does not do, sets near to the best get so many steps a board each, and so many of them are
# tried without success before one further off. On large ample jobs of seeds 1, 45 and 49, 22 CPU
# seconds of search, this opened 5.5 and 2.7 % less wood and 1.2 % more than sets further off alone.
MANY_OPENED = 12
FAR_STEPS_A_BOARD, NEAR_STEPS_A_BOARD = 2, 4
NEAR_TRIES = 12
# A near set shall save this share of the wood, more after a success and less after a failure.
FIRST_SAVED, LEAST_SAVED, MORE_SAVED, LESS_SAVED = 0.03, 0.0005, 1.3, 0.6


@dataclass(slots=True)
class FewerBoards:
    """The search for a set of boards of least area that still holds every part."""

    start: Campaign
    area: Floats
    free: frozenset[int]
    on_best: Callable[[Choice], None]
    best: dict[int, Pattern] = field(default_factory=dict)
    finest: dict[int, Pattern] = field(default_factory=dict)
    _cuts: list[tuple[Floats, float]] = field(default_factory=list)
    _sure_cuts: list[tuple[Floats, float]] = field(default_factory=list)
    _tried: dict[frozenset[int], Campaign] = field(default_factory=dict)
    _hopeless: set[frozenset[int]] = field(default_factory=set)
    _base: Floats = field(default_factory=lambda: np.zeros(0))
    _near: set[frozenset[int]] = field(default_factory=set)
    _saved: float = FIRST_SAVED

    @property
    def wood_mm2(self) -> float:
        """The area of the boards opened, those that are opened anyway left out."""
        return self._wood(self.finest)

    def run(self, goal: float, share: float = 1.0) -> None:
        """Search until time, or this share of it, is up or no cheaper set is left."""
        clock = self.start.clock
        self.best = {b: p for b, p in self.start.best.items() if len(p.places)}
        self.finest = self.best
        self.start.price_round_at(self.start.pool.value)
        self._base = self.start.priced[-1][1] if self.start.priced else self.area
        self._learn(self.start)
        room, patience = FIRST_ROOM, 1
        skipped: set[frozenset[int]] = set()
        while not clock.is_over() and clock.stop.share(clock.steps) < share:
            boards = self._cheapest(room, skipped)
            if boards is None and room > LEAST_ROOM:
                room = room / 2 if room > SMALL_ROOM else room - ROOM_STEP
                continue
            if boards is None:
                if not skipped - self._hopeless:
                    return
                skipped, patience, room = set(self._hopeless), patience * 2, FIRST_ROOM / 2
                continue
            if not boards:
                skipped.add(boards)
                continue
            campaign = self._campaign(boards, clock)
            steps = FAR_STEPS_A_BOARD if self._has_near else FIRST_STEPS_A_BOARD
            campaign.advance(patience * steps * max(1, len(boards)), goal, True, share)
            self._learn(campaign)
            if campaign.finest_value >= goal * (1 - 1e-12):
                self._take(campaign.finest)
            if campaign.best_value >= goal * (1 - 1e-12):
                self.best = {b: p for b, p in campaign.best.items() if len(p.places)}
                self._take(self.best)
                skipped = set(self._hopeless)
                room = room * 0.7 if room > 0 else room
            else:
                skipped.add(boards)
                if campaign.falls_short(goal):
                    self._hopeless.add(boards)
                if self._has_near:
                    self._try_near(goal)

    @property
    def _has_near(self) -> bool:
        """Whether sets near to the best are tried; where a lot is laid out again none are."""
        return len(self.best) >= MANY_OPENED and not self.start.start

    def _try_near(self, goal: float) -> None:
        """Try sets near to the best one until several in turn do not do."""
        clock, failed = self.start.clock, 0
        capacity = np.array([worth / need for worth, need in self._cuts[-CUTS_KEPT:] if need > 0])
        while failed < NEAR_TRIES and not clock.is_over():
            opened = frozenset(self.best) | self.free
            boards = nearest_untried(
                opened, self.free, self.area, capacity, self._near, self._saved
            )
            if boards is None and self._saved > LEAST_SAVED:
                self._saved = LEAST_SAVED
                continue
            if boards is None:
                return
            self._near.add(boards)
            as_it_lies = {b: p for b, p in self.best.items() if b in boards}
            campaign = replace(self._new_campaign(boards, clock), begin=as_it_lies)
            campaign.advance(NEAR_STEPS_A_BOARD * len(boards), goal)
            if campaign.finest_value >= goal * (1 - 1e-12):
                self._take(campaign.finest)
            failed, self._saved = failed + 1, max(LEAST_SAVED, LESS_SAVED * self._saved)
            if campaign.best_value >= goal * (1 - 1e-12):
                self.best = {b: p for b, p in campaign.best.items() if len(p.places)}
                self._take(self.best)
                failed, self._saved = 0, min(FIRST_SAVED, self._saved / LESS_SAVED * MORE_SAVED)

    def _take(self, choice: Choice) -> None:
        """Keep what opens least wood in the shop's own cut class, and moves little for it."""
        opened = as_it_lay({b: p for b, p in choice.items() if len(p.places)}, self.start.start)
        if self._cost(opened) < self._cost(self.finest) * (1 - 1e-9):
            self.finest = opened
            self.on_best(self.finest)

    def _cost(self, choice: Choice) -> float:
        """Return the wood opened, and a share of what no longer lies where a former layout had it.

        So a few square inches saved are no reason to lay half the lot anew.
        """
        former, value = self.start.start, self.start.pool.value
        stay = sum(stays(pattern, former, value) for pattern in choice.values())
        return self._wood(choice) + rhythm.MOVED_WOOD * (value_of(former, value) - stay)

    def _wood(self, choice: Choice) -> float:
        return float(sum(self.area[b] for b in choice if b not in self.free))

    def _campaign(self, boards: frozenset[int], clock: Clock) -> Campaign:
        if boards not in self._tried:
            self._tried[boards] = self._new_campaign(boards, clock)
        return self._tried[boards]

    def _new_campaign(self, boards: frozenset[int], clock: Clock) -> Campaign:
        return Campaign(
            self.start.problem, self.start.pool, boards, clock, self.start.rng,
            start={b: p for b, p in self.start.start.items() if b in boards},
        )  # fmt: skip

    def _learn(self, campaign: Campaign) -> None:
        """Turn the pricing rounds of a campaign into capacity cuts; unpriced boards by area.

        Prices that refute a set are asked of all other boards, too, since they refute most sets
        that are alike; not of many boards, where that takes as long as the set itself.
        """
        pool = self.start.pool
        if campaign.priced and len(self.area) <= MANY_PRICED:
            shares = [_capacity(price, worth, pool.wanted) for price, worth in campaign.priced]
            tightest = int(np.argmin(shares))
            if shares[tightest] < 1:
                self._cut_of_all(*campaign.priced[tightest], campaign.boards)
        for price, worth in campaign.priced:
            full = worth.copy()
            missing = [b for b in range(len(self.area)) if b not in campaign.boards]
            if missing:
                known = sorted(campaign.boards)
                full[missing] = self._base[missing] * (
                    worth[known].sum() / max(1.0, self._base[known].sum())
                )
            self._cuts.append((full, float(price @ pool.wanted)))
        campaign.priced.clear()

    def _cut_of_all(self, price: Floats, worth: Floats, known: frozenset[int]) -> None:
        """Keep a capacity cut, the boards not ``known`` priced for it, too."""
        full = worth.copy()
        for board in sorted(set(range(len(self.area))) - known):
            if self.start.clock.is_over():
                return
            full[board] = self.start.worth_at(board, price)
        self._sure_cuts.append((full, float(price @ self.start.pool.wanted)))

    def _cheapest(self, room: float, skipped: set[frozenset[int]]) -> frozenset[int] | None:
        """Return the cheapest set of boards with that much room and not tried yet, or None."""
        count = len(self.area)
        cost = np.where([b in self.free for b in range(count)], 0.0, self.area)
        known = float(sum(cost[b] for b in self.best))
        rows, least = [], []
        for worth, need in self._cuts[-CUTS_KEPT:]:
            if need > 0:
                rows.append(worth / need)
                least.append(1.0 + room)
        sure_room = SURE_ROOM if self.start.is_exact else SURE_ROOM_OF_WIDER
        for worth, need in self._sure_cuts[-SURE_CUTS_KEPT:]:
            rows.append(worth / need)
            least.append(1.0 + max(room, sure_room))
        for boards in skipped | self._hopeless:
            # A set that did not do: any set within it will not do either.
            rows.append(np.array([0.0 if b in boards else 1.0 for b in range(count)]))
            least.append(1.0)
        rows.append(-cost)
        least.append(1.0 - known * (1 - 1e-6))
        found = least_whole(
            cost + 1e-3,
            np.array(rows),
            np.array(least),
            np.array([1.0 if b in self.free else 0.0 for b in range(count)]),
            np.ones(count),
            SET_NODES,
        )
        if found.x is None:
            return None
        return frozenset(int(b) for b in np.flatnonzero(found.x > 0.5))


def _capacity(price: Floats, worth: Floats, wanted: Ints) -> float:
    """Return what boards are worth at these prices, as a share of what is wanted."""
    need = float(price @ wanted)
    return float(worth.sum()) / need if need > 0 else float("inf")
